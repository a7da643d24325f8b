"""The network planned territory by territory: idle shared crews are lent, and nothing is lost."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from config.celery import app
from planning.models import Crew, CrewLoan, PlannedJob, Shift, WeekPlan
from planning.services.calendar import Week
from planning.services.network import request_network, step, tell_network
from planning.services.plans import plan_week
from planning.services.week import week_problem
from tests import railway
from tests.network import NetworkSize, Worker, make_network, wait_for
from tests.track_time import MONDAY, at
from turnouts.access import Forbidden
from turnouts.models import LongRun, Person, Territory
from turnouts.services.runs import carry_out, send_again

WEEK = Week(MONDAY)
NOW = at(-1, 12)


@pytest.fixture
def network(db: None) -> LongRun:
    """A small network asked for, with nobody working on it yet."""
    return asked(make_network(NetworkSize(territories=3, jobs=26, crews=1)), seconds=1)


def asked(by: Person, seconds: float = 2) -> LongRun:
    run, _ = request_network(by=by, week=WEEK, request_key="network", seconds=seconds, as_of=NOW)
    return run


def parts(run: LongRun) -> list[LongRun]:
    return list(LongRun.objects.filter(kind="plan", asked__network=run.pk).order_by("pk"))


def work(run: LongRun) -> LongRun:
    """Do what the queue would, until the network is planned."""
    run = step(run_id=run.pk, at=NOW)
    while not run.finished:
        waiting = [part for part in parts(run) if not part.finished]
        assert waiting, "the network waits for nothing"
        for part in waiting:
            carry_out(
                run_id=part.pk,
                work=lambda one, progress: plan_week(run=one, progress=progress, at=NOW),
            )
        run = step(run_id=run.pk, at=NOW)
    return run


def test_every_territory_gets_its_plan_and_one_task_each(network: LongRun) -> None:
    step(run_id=network.pk, at=NOW)
    assert len(parts(network)) == 3
    step(run_id=network.pk, at=NOW)
    assert len(parts(network)) == 3

    done = work(network)

    codes = set(Territory.objects.values_list("code", flat=True))
    assert set(done.result["plans"]) == codes
    assert done.result["failed"] == []


def test_only_idle_shifts_of_shared_crews_are_lent_and_each_once(network: LongRun) -> None:
    work(network)

    loans = CrewLoan.objects.select_related("shift__crew__depot", "territory")
    assert loans
    first = {part.result["plan"] for part in parts(network)[:3]}
    for loan in loans:
        assert loan.shift.crew.shared
        assert loan.territory != loan.shift.crew.depot.territory
        at_home = PlannedJob.objects.filter(
            plan__in=first,
            crew=loan.shift.crew,
            starts_at__gte=loan.shift.starts_at,
            starts_at__lt=loan.shift.ends_at,
        )
        assert not at_home.exists()


def test_what_is_lent_lets_more_in_and_nobody_loses(network: LongRun) -> None:
    done = work(network)

    first = {p.asked["territory"]: p.result["plan"] for p in parts(network)[:3]}
    for code, last in done.result["plans"].items():
        before, after = WeekPlan.objects.get(pk=first[code]), WeekPlan.objects.get(pk=last)
        assert after.value >= before.value * 0.999  # both within the time given
    lent_to = set(done.result["lent"].values())
    assert any(
        WeekPlan.objects.get(pk=done.result["plans"][code]).value
        > WeekPlan.objects.get(pk=first[code]).value
        for code in lent_to
    )


def test_a_lent_shift_is_worked_there_and_not_at_home(network: LongRun) -> None:
    crew = Crew.objects.filter(shared=True).first()
    assert crew is not None
    shift = crew.shifts.earliest("starts_at")
    other = Territory.objects.exclude(pk=crew.depot.territory_id).first()
    assert other is not None
    CrewLoan.objects.create(shift=shift, territory=other)

    there = {c.id: c for c in week_problem(other, WEEK).crews}[crew.code]
    home = {c.id: c for c in week_problem(crew.depot.territory, WEEK).crews}[crew.code]

    assert [s.start_min for s in there.shifts] == [WEEK.minute(shift.starts_at)]
    assert WEEK.minute(shift.starts_at) not in {s.start_min for s in home.shifts}
    assert len(home.shifts) == Shift.objects.filter(crew=crew).count() - 1


def test_a_part_planned_twice_keeps_one_plan(network: LongRun) -> None:
    step(run_id=network.pk, at=NOW)
    part = parts(network)[0]
    answers = [plan_week(run=part, progress=lambda *_: None, at=NOW) for _ in range(2)]
    assert answers[0] == answers[1]
    assert WeekPlan.objects.filter(run=part).count() == 1


def test_a_territory_planned_by_itself_tells_no_network(
    network: LongRun, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[object] = []
    monkeypatch.setattr("planning.services.network.current_app.signature", told.append)
    tell_network(LongRun(asked={"territory": "T1"}))
    assert told == []


@pytest.mark.parametrize("role", ["welder", "engineer", "inspector", "administrator"])
def test_only_a_supervisor_plans_the_network(db: None, role: str) -> None:
    with pytest.raises(Forbidden, match="supervisor"):
        request_network(by=railway.person(role), week=WEEK, request_key="no")


@pytest.fixture
def workers() -> Iterator[list[Worker]]:
    started: list[Worker] = []
    app.control.purge()
    yield started
    for worker in started:
        worker.kill()
    app.control.purge()


@pytest.mark.django_db(transaction=True)
def test_a_worker_killed_half_way_loses_no_plan(workers: list[Worker]) -> None:
    supervisor = make_network(NetworkSize(territories=3, jobs=14))
    workers.append(Worker("first"))
    network = asked(supervisor, seconds=6)
    wait_for(network, lambda run: any(p.state == "running" for p in parts(run)), 90)

    workers[0].kill()

    open_still = [part for part in parts(network) if not part.finished]
    assert open_still
    workers.append(Worker("second"))
    # The scheduler does this every five minutes with whatever was lost ten minutes ago.
    # Its workers go by the real clock, which the clock of these tests is not.
    send_again(now=datetime.now(UTC) + timedelta(hours=1))
    done = wait_for(network, lambda run: run.finished, 150)

    assert done.result["failed"] == []
    assert set(done.result["plans"]) == set(Territory.objects.values_list("code", flat=True))
    for part in parts(network):
        assert WeekPlan.objects.filter(run=part).count() == 1
