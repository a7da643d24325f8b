"""A job run through the steel: every bead laid, every wait found, every minute in between."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import ceil

from repairs.welding.heat.casting import Casting, casting
from repairs.welding.heat.job import HeatJob, Pass, ZoneHeat
from repairs.welding.heat.kernel import Floats
from repairs.welding.heat.run_result import (
    BeadHeat,
    HeatRun,
    LayerCooling,
    PlaceCurve,
    falling,
    never_cools,
    rounded,
    thinned,
)
from repairs.welding.heat.surroundings import Surroundings
from repairs.welding.heat.young import Young
from repairs.welding.refusals import OutsideValidity

POINTS = 400
# A step is this share of the time since heat last went in, between the bounds below.
STEP_SHARE = 0.5
# In units of cell size squared over diffusivity: each step under the arc, and the first after it.
FIRST_STEP = 0.75
# Pieces that the heat of one such step is let go in, each where and when the arc passes its middle.
PIECES = 2
LONGEST_STEP_S = 300.0
LONGEST_WAIT_MIN = 24 * 60
# A tenth of a degree is finer than any pyrometer reads.
LIMIT_EXACT_K = 0.1
FREE_COOLING_MIN = 30.0


@lru_cache(maxsize=256)
def run_heat(job: HeatJob) -> HeatRun:
    """Lay every bead of a job and find every wait.

    The same job is run once: track time, chances and experience do not touch the heat, so asking
    again with others of those answers at once.

    Raises OutsideValidity where the air is not colder than the limit or a wait would pass a day,
    and HeatNotConserved when the balance of heat is off by more than 0.5 %.
    """
    if job.around.air_degc >= job.limit_degc:
        raise OutsideValidity(never_cools(job.around.air_degc, job.limit_degc))
    march = march_of(job)
    march.work_through()
    march.steel.check_balance()
    return march.result()


def march_of(job: HeatJob) -> "March":
    """A job about to begin."""
    steel = casting(job.box, job.curves, job.around, job.start_degc, job.pitch_m)
    lance = replace(job.around, quench_w_per_m2_k=job.quench_w_per_m2_k)
    return March(job, steel, lance, FIRST_STEP * job.pitch_m**2 / steel.typical)


@dataclass(frozen=True, slots=True, eq=False)
class _Saved:
    """The state to come back to."""

    enthalpy: Floats
    young: tuple[Young, ...]
    lost_j: float
    steps: int
    minute: float
    since_heat_s: float
    samples: dict[str, int]


@dataclass(slots=True)
class March:
    """The state of a run: the steel, the clock and what has been seen so far."""

    job: HeatJob
    steel: Casting
    lance: Surroundings
    first_step_s: float
    minute: float = 0.0
    since_heat_s: float = 0.0
    begin_min: float | None = None
    zone: ZoneHeat | None = None
    beads: list[BeadHeat] = field(default_factory=list)
    cooling: list[LayerCooling] = field(default_factory=list)
    samples: dict[str, list[tuple[float, float]]] = field(default_factory=dict)

    def work_through(self) -> None:
        """Every zone, one after the other or by turns."""
        self.rest(self.job.opening_min, self.job.around)
        if self.job.by_turns:
            for zone in self.job.zones:
                self._open(zone)
            self._lay(_by_turns(self))
            for zone in self.job.zones:
                self._close(zone)
            return
        for zone in self.job.zones:
            self._open(zone)
            self._lay((zone, each) for each in zone.passes)
            self._close(zone)

    def _open(self, zone: ZoneHeat) -> None:
        self.rest(zone.before_min, self.job.around)
        self.steel.warm(zone.torch.along_m, zone.torch.degc)
        self.since_heat_s = 0.0
        if self.begin_min is None:
            self.begin_min = self.minute

    def _close(self, zone: ZoneHeat) -> None:
        if zone.post_heat_degc is not None:
            self.steel.warm(zone.torch.along_m, zone.post_heat_degc)
        self.rest(zone.after_min, self.job.around)

    def _lay(self, passes: Iterator[tuple[ZoneHeat, Pass]]) -> None:
        last: dict[str, int] = {}
        for zone, each in passes:
            if self.job.by_turns and self.zone not in (None, zone):
                self.rest(self.job.swap_min, self.lance)
            self.zone = zone
            if last.get(zone.key) != each.layer:
                self._begin_layer(zone, each)
            last[zone.key] = each.layer
            self._one_bead(zone, each)
            if each.bead == max(p.bead for p in zone.passes if p.layer == each.layer):
                self._cool_freely(zone, each.layer)

    def _begin_layer(self, zone: ZoneHeat, each: Pass) -> None:
        self.rest(each.set_up_min, self.lance)
        if zone.torch.kept_up:
            self.steel.warm(zone.torch.along_m, zone.torch.degc)

    def _one_bead(self, zone: ZoneHeat, each: Pass) -> None:
        ready, before = self.degc(zone), self.minute
        waited = self._wait(zone)
        start, start_degc = self.minute, self.degc(zone)
        self.arc(each)
        self.beads.append(
            BeadHeat(
                zone=zone.key,
                layer=each.layer,
                bead=each.bead,
                direction=each.direction,
                wait_min=waited,
                start_min=before + waited,
                end_min=start + each.arc_min,
                ready_degc=ready,
                start_degc=start_degc,
            )
        )
        self.rest(each.handling_min, self.lance)

    def arc(self, each: Pass) -> None:
        """The moving arc in steps; the heat of each has spread since the arc passed."""
        steps = max(2, ceil(each.arc_min * 60 / self.first_step_s))
        seconds = each.arc_min * 60 / steps
        for n in range(steps):
            self.steel.rest(seconds, self.job.around)
            for piece in range(PIECES):
                begin, end = n + piece / PIECES, n + (piece + 1) / PIECES
                age_s = (n + 1 - (begin + end) / 2) * seconds
                block = each.block(begin / steps, end / steps)
                self.steel.let_go(block, self.job.watts * seconds / PIECES, age_s)
            self._passed(seconds, self.job.around)
        self.since_heat_s = 0.0

    def rest(self, minutes: float, around: Surroundings) -> None:
        """Let some minutes pass without arc."""
        left = minutes * 60
        while left > 1e-6:
            seconds = min(self._next_step_s(), left)
            # Two even steps rather than a long one and a sliver.
            if seconds < left < 1.5 * seconds:
                seconds = left / 2
            self._step(seconds, around)
            left -= seconds

    def _wait(self, zone: ZoneHeat) -> float:
        begun = self.minute
        while (degc := self.degc(zone)) > self.job.limit_degc:
            if self.minute - begun > LONGEST_WAIT_MIN:
                raise OutsideValidity(
                    f"{zone.label}: after a day of waiting the steel is still at {degc:.0f} degC, "
                    f"over its limit of {self.job.limit_degc:g}; use more cooling."
                )
            self._step_towards(zone, degc)
        return self.minute - begun

    def _step_towards(self, zone: ZoneHeat, degc: float) -> None:
        """One step of waiting, shortened along the chord until it ends at the limit, not under."""
        seconds, state = self._next_step_s(), self._saved()
        self._step(seconds, self.lance)
        while (after := self.degc(zone)) < self.job.limit_degc - LIMIT_EXACT_K:
            seconds *= (degc - self.job.limit_degc + LIMIT_EXACT_K / 2) / (degc - after)
            self._restore(state)
            self._step(seconds, self.lance)

    def _cool_freely(self, zone: ZoneHeat, layer: int) -> None:
        """Follow the place for half an hour with no next bead, then take the steel back."""
        first = self.degc(zone)
        if first < self.job.around.air_degc + 1:
            return
        state, begun = self._saved(), self.minute
        excess = first - self.job.around.air_degc
        points = [(0.0, 1.0)]
        while self.minute - begun < FREE_COOLING_MIN:
            self._step(self._next_step_s(), self.lance)
            left = (self.degc(zone) - self.job.around.air_degc) / excess
            points.append((self.minute - begun, left))
        self._restore(state)
        minutes, shares = zip(*falling(points), strict=True)
        self.cooling.append(LayerCooling(zone.key, layer, rounded(minutes, 2), rounded(shares, 4)))

    def _step(self, seconds: float, around: Surroundings) -> None:
        self.steel.rest(seconds, around)
        self._passed(seconds, around)

    def _passed(self, seconds: float, around: Surroundings) -> None:
        self.minute += seconds / 60
        self.since_heat_s += seconds
        if self.zone is not None:
            seen = self.samples.setdefault(self.zone.key, [])
            seen.append((self.minute, self.steel.degc_at(self.zone.spot, around)))

    def degc(self, zone: ZoneHeat) -> float:
        """Temperature at a zone's measuring place now."""
        return self.steel.degc_at(zone.spot, self.lance)

    def _next_step_s(self) -> float:
        return min(max(self.first_step_s, STEP_SHARE * self.since_heat_s), LONGEST_STEP_S)

    def _saved(self) -> "_Saved":
        kept = {key: len(seen) for key, seen in self.samples.items()}
        steel = self.steel
        return _Saved(
            steel.enthalpy.copy(),
            steel.young,
            steel.lost_j,
            steel.steps,
            self.minute,
            self.since_heat_s,
            kept,
        )

    def _restore(self, state: "_Saved") -> None:
        self.steel.enthalpy[:], self.steel.young = state.enthalpy, state.young
        self.steel.lost_j, self.steel.steps = state.lost_j, state.steps
        self.minute, self.since_heat_s = state.minute, state.since_heat_s
        for key, seen in self.samples.items():
            del seen[state.samples.get(key, 0) :]

    def result(self) -> HeatRun:
        """What was seen, thinned and rounded for keeping."""
        seen = sum(len(samples) for samples in self.samples.values())
        return HeatRun(
            limit_degc=self.job.limit_degc,
            place_mm=self.job.place_mm,
            air_degc=self.job.around.air_degc,
            begin_min=round(self.begin_min or 0.0, 3),
            end_min=round(self.beads[-1].end_min, 3),
            wait_min=sum(bead.wait_min for bead in self.beads),
            beads=tuple(self.beads),
            curves=tuple(self._curve(zone, seen) for zone in self.job.zones),
            cooling=tuple(self.cooling),
            heat_in_kj=self.steel.heat_in_j / 1e3,
            stored_kj=self.steel.stored_j / 1e3,
            lost_kj=self.steel.lost_j / 1e3,
            grid=f"{self.job.box.words}, {self.steel.steps} steps",
            assumptions=self.job.said,
        )

    def _curve(self, zone: ZoneHeat, seen: int) -> PlaceCurve:
        samples = self.samples[zone.key]
        points = thinned(samples, POINTS * len(samples) // seen)
        minutes, degc = zip(*points, strict=True)
        return PlaceCurve(zone.key, zone.spot_words, rounded(minutes, 2), rounded(degc, 1))


def _by_turns(march: March) -> Iterator[tuple[ZoneHeat, Pass]]:
    """Each time the next bead of the zone whose measuring place is coolest."""
    left = {zone.key: list(zone.passes) for zone in march.job.zones}
    while open_zones := [zone for zone in march.job.zones if left[zone.key]]:
        coolest = min(open_zones, key=march.degc)
        yield coolest, left[coolest.key].pop(0)
