"""The form of a paper sheet: its boxes, and the entries that the filled ones make."""

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils import timezone

from repairs.field.events import Kind, PenetrantStep, Shape, TrackState
from repairs.field.sheet import FieldSheet
from repairs.models import JobSheet
from repairs.pages.paper_fields import AmountField, ClockField
from repairs.services.field_paper import PaperEntry
from turnouts.analysis.terms import Quantity, Zone
from turnouts.analysis.units import Dimension
from turnouts.models import Person

READINGS = 12
INDICATIONS = 3
EARLY = timedelta(hours=6)
"""A time on the paper lies at most so long before the planned start; an earlier one is of the
next day."""


class PaperForm(forms.Form):
    """One sheet as it came back on paper. Boxes left empty enter nothing."""

    def __init__(self, *args: Any, sheet: JobSheet, facts: FieldSheet, by: Person, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.sheet, self.facts, self.units = sheet, facts, by.units
        self.people = {p.username: p for p in sheet.people.order_by("username")}
        self.groups: list[tuple[str, list[str]]] = []
        zones = [(zone.key, zone.key.replace(".", " ").replace("_", " ")) for zone in facts.zones]
        self._work()
        self._stages(dict(zones))
        self._readings(zones)
        self._penetrant(zones)
        self._finals()
        self._back()
        self._broken_off()
        self._corrections()

    def panels(self) -> Iterator[tuple[str, list[BoundField]]]:
        """Each heading with its boxes, as they stand on the paper."""
        for title, names in self.groups:
            yield title, [self[name] for name in names]

    def _group(self, title: str, fields: dict[str, forms.Field]) -> None:
        if fields:
            self.fields.update(fields)
            self.groups.append((title, list(fields)))

    def _amount(self, label: str, dimension: Dimension) -> AmountField:
        return AmountField(label, self.units.unit_of(dimension).symbol, dimension)

    def _work(self) -> None:
        who = [(key, str(person)) for key, person in self.people.items()]
        fields: dict[str, forms.Field] = {
            "worked_by": forms.ChoiceField(label="Who led the work", choices=who),
            "started": ClockField("Work started"),
            "briefing": ClockField("Briefing held, every point"),
        }
        self._group("The work", fields)

    def _stages(self, zones: dict[str, str]) -> None:
        fields: dict[str, forms.Field] = {}
        holds: dict[str, forms.Field] = {}
        for stage in self.facts.stages:
            fields[f"begun {stage.key}"] = ClockField(f"{stage.name}: begun")
            fields[f"ended {stage.key}"] = ClockField(f"{stage.name}: ended")
            if stage.kind == "layer":
                label = f"Carbon all ground off, {zones[stage.zone]}"
                holds[f"carbon {stage.zone}"] = ClockField(label)
        for zone in self.facts.zones_of(Zone.GUARD_FACE):
            holds[f"guard {zone}"] = ClockField(f"Guarding face restored, {zones[zone]}")
        if self.facts.guard_is_gaged:
            holds["gaged"] = ClockField("Raised guard gaged before the point: time")
            holds["gaged wear"] = self._amount("Wear of the raised guard", Dimension.LENGTH)
        self._group("Stages", fields)
        self._group("Hold points", holds)

    def _readings(self, zones: list[tuple[str, str]]) -> None:
        if self.facts.interpass_degc is None:
            return
        fields: dict[str, forms.Field] = {}
        for n in range(1, READINGS + 1):
            fields[f"pass {n} at"] = ClockField(f"Reading {n}: time")
            fields[f"pass {n} zone"] = forms.ChoiceField(
                label=f"Reading {n}: zone", choices=zones, required=False
            )
            label = f"Reading {n}: metal"
            fields[f"pass {n} degc"] = self._amount(label, Dimension.TEMPERATURE)
            label = f"Reading {n}: from the weld"
            fields[f"pass {n} place"] = self._amount(label, Dimension.LENGTH)
        self._group("Metal temperatures", fields)

    def _penetrant(self, zones: list[tuple[str, str]]) -> None:
        if self.facts.penetrant is None:
            return
        fields: dict[str, forms.Field] = {
            f"penetrant {step.value}": ClockField(f"Penetrant {step.label.lower()}")
            for step in PenetrantStep
        }
        fields["surface"] = self._amount("Steel's surface", Dimension.TEMPERATURE)
        fields["clean"] = forms.BooleanField(label="Nothing shown: clean", required=False)
        shapes = [("", "none"), *((shape.value, shape.label) for shape in Shape)]
        for n in range(1, INDICATIONS + 1):
            fields[f"shown {n} shape"] = forms.ChoiceField(
                label=f"Indication {n}", choices=shapes, required=False
            )
            fields[f"shown {n} zone"] = forms.ChoiceField(
                label=f"Indication {n}: zone", choices=zones, required=False
            )
            fields[f"shown {n} length"] = self._amount(f"Indication {n}: length", Dimension.LENGTH)
        self._group("Penetrant", fields)

    def _finals(self) -> None:
        wanted = dict.fromkeys(one.quantity for one in self.facts.limits if one.quantity)
        self._group(
            "Final readings",
            {f"final {q.value}": self._amount(q.label, Dimension.LENGTH) for q in wanted},
        )
        rows = {row["key"]: row for row in self.sheet.content["materials"]}
        self._group(
            "Material used",
            {
                f"used {key}": forms.DecimalField(
                    label=f"{row['name']}, {row['unit']}", min_value=0, required=False
                )
                for key, row in rows.items()
            },
        )

    def _back(self) -> None:
        states = [("", "not yet"), *((state.value, state.label) for state in TrackState)]
        fields: dict[str, forms.Field] = {
            "back": ClockField("Handed back"),
            "state": forms.ChoiceField(label="State of the track", choices=states, required=False),
            "qualified": forms.CharField(
                label="By the word of (qualified person)", max_length=120, required=False
            ),
            "speed": self._amount("Speed, where restricted", Dimension.SPEED),
        }
        self._group("Hand back", fields)

    def _broken_off(self) -> None:
        states = [("", "not broken off"), *((state.value, state.label) for state in TrackState)]
        fields: dict[str, forms.Field] = {
            "off": ClockField("Broken off"),
            "off state": forms.ChoiceField(
                label="State of the track then", choices=states, required=False
            ),
            "off why": forms.CharField(label="Why work stopped", max_length=500, required=False),
        }
        self._group("Broken off, where work had to stop", fields)

    def _corrections(self) -> None:
        why = forms.CharField(
            label="Why a box entered before says something else now",
            help_text="Only where something is put right. What was entered first stays beside it.",
            max_length=300,
            required=False,
        )
        self._group("Corrections", {"why": why})

    def moment(self, clock: time) -> datetime:
        """The moment of a time on the paper: in the night of the sheet."""
        earliest = self.facts.starts_at - EARLY
        day = timezone.localtime(earliest).date()
        at = timezone.make_aware(datetime.combine(day, clock))
        if at >= earliest:
            return at
        return timezone.make_aware(datetime.combine(day + timedelta(days=1), clock))

    def label_of(self, name: str) -> str:
        return str(self.fields[name].label)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for names in self._together(given):
            filled = [name for name in names if given.get(name) not in (None, "", False)]
            for name in names:
                if filled and name not in filled and name not in self.errors:
                    self.add_error(name, "Fill this in too, or empty what stands beside it.")
        if given.get("clean") and any(
            given.get(f"shown {n} shape") for n in range(1, INDICATIONS + 1)
        ):
            self.add_error("clean", "Clean, and an indication: only one of both can be so.")
        if (given.get("clean") or given.get("surface") is not None) and not (
            given.get("penetrant read") or given.get("penetrant applied")
        ):
            self.add_error("penetrant applied", "Give the times of the test.")
        return given

    def _together(self, given: dict[str, Any]) -> Iterator[list[str]]:
        """Boxes that mean something only together."""
        if self.facts.interpass_degc is not None:
            for n in range(1, READINGS + 1):
                yield [f"pass {n} {part}" for part in ("at", "degc", "place")]
        if self.facts.penetrant is not None:
            for n in range(1, INDICATIONS + 1):
                yield [f"shown {n} shape", f"shown {n} length"]
        yield ["back", "state", "qualified"]
        yield ["off", "off state", "off why"]
        if self.facts.guard_is_gaged:
            yield ["gaged", "gaged wear"]

    def entries(self) -> list[PaperEntry]:
        """What the filled boxes say; untimed ones lie where the others put them."""
        clocked = list(self._clocked())
        if not clocked:
            return []
        last = max(one.at for one in clocked)
        return [*clocked, *self._unclocked(last)]

    def _clocked(self) -> Iterator[PaperEntry]:
        yield from self._at("started", Kind.STARTED)
        points = list(range(1, self.facts.briefing_points + 1))
        yield from self._at("briefing", Kind.BRIEFING, points=points)
        for name in self.cleaned_data:
            head, _, key = name.partition(" ")
            if head == "carbon":
                yield from self._at(name, Kind.CARBON_REMOVED, zone=key)
            elif head == "guard":
                yield from self._at(name, Kind.GUARD_FACE_RESTORED, zone=key)
            elif head == "begun":
                yield from self._at(name, Kind.STAGE_STARTED, stage=key)
            elif head == "ended":
                yield from self._at(name, Kind.STAGE_ENDED, stage=key)
        yield from self._passes()
        yield from self._test()
        yield from self._handed_back()
        why, state = self.cleaned_data["off why"], self.cleaned_data["off state"]
        yield from self._at("off", Kind.BROKEN_OFF, reason=why, state=state)
        wear = {"quantity": Quantity.RAISED_GUARD_WEAR.value}
        wear["value_mm"] = str(self.cleaned_data.get("gaged wear"))
        yield from self._at("gaged", Kind.MEASUREMENT, **wear)

    def _at(self, name: str, kind: Kind, /, **data: Any) -> Iterator[PaperEntry]:
        clock = self.cleaned_data.get(name)
        if clock is not None:
            yield PaperEntry(name, self.label_of(name), kind, self.moment(clock), data)

    def _passes(self) -> Iterator[PaperEntry]:
        given = self.cleaned_data
        for n in range(1, READINGS + 1):
            degc, place = given.get(f"pass {n} degc"), given.get(f"pass {n} place")
            data = {"zone": given.get(f"pass {n} zone"), "degc": str(degc), "place_mm": str(place)}
            yield from self._at(f"pass {n} at", Kind.PASS_TEMPERATURE, **data)

    def _test(self) -> Iterator[PaperEntry]:
        surface = self.cleaned_data.get("surface")
        for step in PenetrantStep:
            warm = {"surface_degc": str(surface)} if surface is not None else {}
            extra = warm if step is PenetrantStep.APPLIED else {}
            yield from self._at(f"penetrant {step.value}", Kind.PENETRANT, step=step.value, **extra)

    def _handed_back(self) -> Iterator[PaperEntry]:
        given = self.cleaned_data
        speed = given.get("speed")
        data = {"state": given.get("state"), "qualified_person": given.get("qualified")}
        if speed is not None:
            data["speed_kmh"] = str(speed)
        yield from self._at("back", Kind.HANDED_BACK, **data)

    def _unclocked(self, last: datetime) -> Iterator[PaperEntry]:
        given = self.cleaned_data
        read = given.get("penetrant read")
        shown_at = self.moment(read) if read else last
        if given.get("clean"):
            yield self._after("clean", Kind.PENETRANT_CLEAN, shown_at)
        for n in range(1, INDICATIONS + 1):
            if given.get(f"shown {n} shape"):
                data = {
                    "zone": given[f"shown {n} zone"],
                    "shape": given[f"shown {n} shape"],
                    "length_mm": str(given[f"shown {n} length"]),
                }
                yield self._after(f"shown {n} shape", Kind.INDICATION, shown_at, **data)
        back = given.get("back")
        end = self.moment(back) if back else last
        for name, value in given.items():
            head, _, key = name.partition(" ")
            if value is not None and head == "final":
                data = {"quantity": key, "value_mm": str(value)}
                yield self._after(name, Kind.MEASUREMENT, end, **data)
            elif value is not None and head == "used":
                data = {"key": key, "quantity": str(value)}
                yield self._after(name, Kind.MATERIAL_USED, end, **data)

    def _after(self, name: str, kind: Kind, at: datetime, /, **data: Any) -> PaperEntry:
        return PaperEntry(name, self.label_of(name), kind, at, data, clocked=False)
