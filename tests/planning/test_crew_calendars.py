"""A crew's calendar, read back by another program: RFC 5545 entries that keep their identity."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.test import Client
from icalendar import Calendar, Event

from planning.models import CalendarEntry, CrewCalendar, WeekPlan
from planning.services.crew_calendars import feed, renew_calendar
from planning.services.publish import publish_plan
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.planning.test_hand_edits import move, take_out
from tests.track_time import at
from turnouts.access import Forbidden

NOW = at(-1, 12)


def publish(week: SmallWeek, plan: WeekPlan) -> WeekPlan:
    plan.refresh_from_db()
    return publish_plan(by=week.supervisor, plan=plan, expected_version=plan.version, at=NOW)


def events(week: SmallWeek) -> dict[str, Event]:
    """The entries of the crew's feed by the job they are about, as another program reads them."""
    read = Calendar.from_ical(feed(CrewCalendar.objects.get(crew=week.crew), at=NOW))
    found = {str(event["summary"]).rpartition(" ")[2]: event for event in read.walk("VEVENT")}
    assert len(found) == len(read.walk("VEVENT"))
    return found


def test_the_feed_holds_each_job_of_the_crew_in_utc(small_week: SmallWeek) -> None:
    plan = publish(small_week, small_week.plan())

    found = events(small_week)

    assert set(found) == {job.reference for job in small_week.jobs}
    for one in plan.placed.select_related("job"):
        event = found[one.job.reference]
        assert event["dtstart"].dt == one.starts_at
        assert event["dtend"].dt == one.ends_at
        assert event["dtstart"].to_ical().endswith(b"Z")
        assert (event["status"], event["sequence"]) == ("CONFIRMED", 0)
        for required in ("uid", "dtstamp"):  # RFC 5545, 3.6.1
            assert required in event


def test_the_calendar_itself_has_what_rfc_5545_asks_for(small_week: SmallWeek) -> None:
    publish(small_week, small_week.plan())
    text = feed(CrewCalendar.objects.get(), at=NOW)

    read = Calendar.from_ical(text)
    assert read["version"] == "2.0"
    assert read["prodid"]
    assert all(len(line) <= 75 for line in text.split(b"\r\n"))  # RFC 5545, 3.1: folded lines
    assert text.endswith(b"END:VCALENDAR\r\n")


def test_an_entry_that_moves_keeps_its_uid_and_counts_up(small_week: SmallWeek) -> None:
    plan = publish(small_week, small_week.plan())
    last = plan.placed.select_related("job").order_by("starts_at").last()
    assert last is not None
    before = events(small_week)[last.job.reference]

    publish(small_week, move(small_week, plan, last.job.reference, 13))

    after = events(small_week)[last.job.reference]
    assert (after["uid"], after["sequence"]) == (before["uid"], 1)
    assert after["dtstart"].dt == at(0, 13)


def test_an_entry_that_stays_is_not_touched(small_week: SmallWeek) -> None:
    publish(small_week, small_week.plan("first"))
    before = list(CalendarEntry.objects.values())
    publish(small_week, small_week.plan("same again"))
    assert list(CalendarEntry.objects.values()) == before


def test_a_job_that_fell_out_stays_as_cancelled_and_comes_back_as_itself(
    small_week: SmallWeek,
) -> None:
    first = publish(small_week, small_week.plan())
    job = small_week.jobs[0].reference
    uid = events(small_week)[job]["uid"]

    without = publish(small_week, take_out(small_week, first, job))
    gone = events(small_week)[job]
    assert (gone["status"], gone["sequence"], gone["uid"]) == ("CANCELLED", 1, uid)

    without.refresh_from_db()
    start = 13 if without.placed.get().starts_at.hour < 12 else 8
    publish(small_week, move(small_week, without, job, start))
    back = events(small_week)[job]
    assert (back["status"], back["sequence"], back["uid"]) == ("CONFIRMED", 2, uid)


def test_a_job_given_to_another_crew_is_cancelled_for_the_first(small_week: SmallWeek) -> None:
    first = publish(small_week, small_week.plan())
    other = track_time.crew(small_week.crew.depot)
    later = track_time.window(small_week.track, day=1)
    job = small_week.jobs[0].reference

    publish(
        small_week,
        move(small_week, first, job, 9, day=1, crew=other.code, window=later.reference),
    )

    assert events(small_week)[job]["status"] == "CANCELLED"
    entry = CalendarEntry.objects.get(crew=other)
    assert (entry.cancelled, entry.starts_at) == (False, at(1, 9))
    assert len({one.uid for one in CalendarEntry.objects.filter(job=entry.job)}) == 2


def test_nobodys_name_is_in_the_calendar(small_week: SmallWeek) -> None:
    welder = small_week.crew.members.get().person
    welder.first_name, welder.last_name, welder.email = "Ada", "Brown", "ada@railway.example"
    welder.save()
    publish(small_week, small_week.plan())

    text = feed(CrewCalendar.objects.get(), at=NOW).decode()

    for personal in ("Ada", "Brown", "ada@", welder.username, small_week.supervisor.username):
        assert personal not in text


def test_an_entry_long_over_leaves_the_feed(small_week: SmallWeek) -> None:
    publish(small_week, small_week.plan())
    calendar = CrewCalendar.objects.get()
    last = max(entry.ends_at for entry in CalendarEntry.objects.all())

    def count(days: float) -> int:
        text = feed(calendar, at=last + timedelta(days=days))
        return len(Calendar.from_ical(text).walk("VEVENT"))

    assert (count(28), count(28.001)) == (1, 0)


def test_the_address_is_open_to_whoever_knows_it_and_to_nobody_else(
    client: Client, small_week: SmallWeek, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("planning.pages.calendars.timezone.now", lambda: NOW)
    publish(small_week, small_week.plan())
    calendar = CrewCalendar.objects.get()

    answer = client.get(f"/calendars/{calendar.key}.ics")

    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert "no-store" in answer["Cache-Control"]
    assert len(Calendar.from_ical(answer.content).walk("VEVENT")) == 2
    assert client.get(f"/calendars/{calendar.key[:-1]}.ics").status_code == 404
    assert len(calendar.key) == 43  # 256 bits in base 64


def test_a_renewed_address_ends_the_old_one(client: Client, small_week: SmallWeek) -> None:
    publish(small_week, small_week.plan())
    old = CrewCalendar.objects.get().key

    new = renew_calendar(by=small_week.supervisor, crew=small_week.crew, at=NOW).key

    assert new != old
    assert client.get(f"/calendars/{old}.ics").status_code == 404
    assert client.get(f"/calendars/{new}.ics").status_code == 200


@pytest.mark.parametrize("role", ["welder", "engineer", "inspector"])
def test_only_a_supervisor_renews_the_address(small_week: SmallWeek, role: str) -> None:
    person = railway.person(role, small_week.territory)
    with pytest.raises(Forbidden, match="supervisor"):
        renew_calendar(by=person, crew=small_week.crew, at=NOW)


def test_the_key_is_not_kept_in_the_audit(small_week: SmallWeek) -> None:
    publish(small_week, small_week.plan())
    renew_calendar(by=small_week.supervisor, crew=small_week.crew, at=at(0, 1))

    event = apps.get_model("planning", "CrewCalendarEvent")
    assert "key" not in {field.name for field in event._meta.get_fields()}
    assert event.objects.count() == 2


def test_the_key_does_not_reach_the_log(
    client: Client, small_week: SmallWeek, caplog: pytest.LogCaptureFixture
) -> None:
    publish(small_week, small_week.plan())
    key = CrewCalendar.objects.get().key

    client.get(f"/calendars/{key}.ics")

    logged = caplog.text
    assert "GET /calendars/(key).ics" in logged
    assert key not in logged
