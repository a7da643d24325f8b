"""Cooling fitted from signed records: a coefficient that was planted is found again."""

from dataclasses import replace
from datetime import datetime

import pytest
from django.test import Client

from repairs.models import FieldRecord, JobSheet
from repairs.services import cooling
from repairs.services.editions import edition_used
from repairs.services.estimates import ordinary_day, repair_work
from repairs.services.field_records import sign_record
from repairs.services.jobs import work_of
from repairs.welding.heat.passes import passes_of
from repairs.welding.heat.replay import temperatures_at
from repairs.welding.refusals import OutsideValidity
from repairs.welding.waits import heat_job
from repairs.welding.zoneplan import plan_zones
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.access import Forbidden
from turnouts.analysis.terms import Role
from turnouts.models import LongRun
from turnouts.services.runs import carry_out

pytestmark = pytest.mark.django_db

PLANTED = 42.0
"""W/(m2 K): what the casting of this test really loses under the lance."""


def signed(planted: float, keep: int | None = None) -> FieldRecord:
    """A night's work, signed; its temperatures are the model's own at a planted loss.

    ``keep``: so many of them were written down, the first.
    """
    sheet = rows.sheet()
    welder = sheet.people.get()
    night = Night(sheet)
    night.whole(factor=0.9)
    read = [tap for tap in night.taps if tap["kind"] == "pass_temperature"]
    for tap in read[keep:] if keep else []:
        night.taps.remove(tap)
    _plant(sheet, night, planted)
    assert night.send(welder).refused == []
    return sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))


def _plant(sheet: JobSheet, night: Night, loss: float) -> None:
    """Put the model's temperatures in place of those tapped, bead by bead as they are read."""
    taps = [tap for tap in night.taps if tap["kind"] == "pass_temperature"]
    begun = datetime.fromisoformat(night.taps[0]["phone_at"])
    layers = [
        cooling.LayerWorked(
            zone["key"],
            layer["number"],
            layer["beads"],
            layer["arc_min"] / layer["beads"],
            *(_minute(night, kind, f"{zone['key']}.layer-{layer['number']:02d}", begun)
              for kind in ("stage_started", "stage_ended")),
        )
        for zone in sheet.content["zones"]
        for layer in zone["layers"]
    ]  # fmt: skip
    read = [
        cooling.TemperatureRead(
            tap["data"]["zone"],
            (datetime.fromisoformat(tap["phone_at"]) - begun).total_seconds() / 60,
            float(number),
        )
        for number, tap in enumerate(taps)
    ]
    passes = passes_of(layers, read)
    job = _heat_job(sheet)
    model = temperatures_at(
        replace(job, quench_w_per_m2_k=loss),
        [(one.zone, one.layer, one.bead, one.start_min) for one in passes],
    )
    for one, degc in zip(passes, model, strict=True):
        if one.degc is not None:
            taps[int(one.degc)]["data"]["degc"] = round(degc, 1)


def _minute(night: Night, kind: str, key: str, begun: datetime) -> float:
    tap = next(t for t in night.taps if t["kind"] == kind and t["data"]["stage"] == key)
    return (datetime.fromisoformat(tap["phone_at"]) - begun).total_seconds() / 60


def _heat_job(sheet: JobSheet):
    work, edition = repair_work(work_of(sheet.job)), edition_used(sheet.estimate)
    return heat_job(work, plan_zones(work, edition), edition, ordinary_day())


def test_a_planted_loss_is_found_again_within_its_own_doubt() -> None:
    found = cooling.fit_of(signed(PLANTED))
    assert found["loss_w_per_m2_k"] == pytest.approx(PLANTED, rel=0.05)
    assert found["readings"] >= 5
    assert found["of"] == "lance"
    # No record holds the air of its night: the sheet's own is assumed (conditions.toml).
    assert found["air_degc"] == ordinary_day().air_degc


def test_four_temperatures_are_too_few() -> None:
    with pytest.raises(OutsideValidity, match="4 pass temperatures are too few"):
        cooling.fit_of(signed(PLANTED, keep=4))


def test_five_temperatures_are_enough_to_be_looked_at() -> None:
    assert cooling.fit_of(signed(PLANTED, keep=5))["readings"] == 5


def test_the_run_keeps_fits_and_sentences_and_the_page_shows_them(client: Client) -> None:
    record = signed(PLANTED)
    engineer = railway.person(Role.ENGINEER)
    client.force_login(engineer)
    assert client.post("/forecasts/cooling/", {"key": "a"}).status_code == 302
    assert client.post("/forecasts/cooling/", {"key": "a"}).status_code == 302
    run = LongRun.objects.get(kind=cooling.KIND)
    done = carry_out(run_id=run.pk, work=cooling.carry_out_cooling_fit)
    assert [one["sheet"] for one in done.result["fits"]] == [record.sheet.number]
    page = client.get("/forecasts/").content.decode()
    assert "Fitted from signed records" in page


def test_a_welder_may_not_ask_for_a_fit() -> None:
    sheet = rows.sheet()
    with pytest.raises(Forbidden):
        cooling.request_cooling_fit(by=sheet.people.get(), request_key="a")
