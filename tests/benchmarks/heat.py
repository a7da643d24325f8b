"""How near the heat model comes to the closed forms, and how long a job takes in it.

    .venv/bin/python -m tests.benchmarks.heat

First the error over the closed form's peak, from that peak on, for cells and steps coarser and
finer than a job's (1.00 is what jobs use), for heat let go at a point and along a line, at each
place where a procedure measures, and the most it gets where the point lies otherwise between the
cells. Then a job's own bead temperatures against a grid and steps much finer. Then the
seconds of one core for jobs of 10 to 60 beads, beside the lumped law's for the same minutes and a
general stiff solver's (scipy's BDF) for one bead on the same cells. No database is used.
"""

import subprocess
import sys
from dataclasses import replace
from datetime import date
from time import perf_counter, process_time

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import coo_matrix

from repairs.welding import layout
from repairs.welding.heat import casting as body
from repairs.welding.heat import run
from repairs.welding.heat.job import HeatJob
from repairs.welding.heat.run_result import HeatRun
from repairs.welding.lump import heated_body
from repairs.welding.procedures import procedure_in_force
from repairs.welding.waits import heat_job
from repairs.welding.work import Conditions, RepairWork, ZoneWork
from repairs.welding.zoneplan import plan_zones
from tests.repairs.welding.heat.bodies import CARBON, MANGANESE, after_line, after_point
from turnouts.analysis.terms import ComponentKind, FrogDesign, Steel, Zone

ON = date(2026, 11, 2)
MILD = Conditions(15, 15)
PLACES_MM = (12.0, 25.0, 75.0)
FINE = {
    layout: {"CELLS_TO_PLACE": 5.5, "FINEST_M": 0.0035, "LONG_CELL": 1.0, "GROWTH": 0.15},
    run: {"FIRST_STEP": 0.4, "STEP_SHARE": 0.2, "LONGEST_STEP_S": 30.0},
    body: {"RIPE": 0.4},
}


def main() -> None:
    _cold_start()
    _closed_forms()
    _own_convergence()
    _seconds()


def _cold_start() -> None:
    code = (
        "from time import perf_counter as t; a = t(); "
        "from tests.benchmarks.heat import job_of; b = t(); "
        "from repairs.welding.heat.run import run_heat; run_heat(job_of(60)); c = t(); "
        "run_heat.__wrapped__(job_of(60)); d = t(); "
        "print(f'{b - a:.2f} s to import, {c - b:.2f} s the first job, {d - c:.2f} s the next')"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)  # noqa: S603
    print("new process, kernel compiled before:", said.stdout.strip())


def _closed_forms() -> None:
    print("\nerror at the measuring place, over the closed form's peak, from the peak on")
    print("cells       place   point       line        point       line")
    print("(of a job)  mm      manganese   manganese   carbon      carbon")
    for place in PLACES_MM:
        for share in (2.0, 1.41, 1.0, 0.71, 0.5):
            errors = [
                form(place, steel, share).error
                for steel in (MANGANESE, CARBON)
                for form in (after_point, after_line)
            ]
            figures = "   ".join(f"{error:9.2%}" for error in errors)
            print(f"{share:<11.2f} {place:<6.0f} {figures}{'   <- jobs' if share == 1 else ''}")
    for place in PLACES_MM:
        moved = [(across / 4, along / 4) for across in range(4) for along in range(4)]
        worst = max(after_point(place, MANGANESE, moved=here).error for here in moved)
        print(f"a point anywhere between the cells of a job, {place:.0f} mm: at most {worst:.2%}")


def _own_convergence() -> None:
    for place in PLACES_MM:
        ours = _anew(job_of(60, place))
        kept = {(of, name): getattr(of, name) for of, names in FINE.items() for name in names}
        for of, name in kept:
            setattr(of, name, FINE[of][name])
        try:
            fine = _anew(job_of(60, place))
        finally:
            for (of, name), value in kept.items():
                setattr(of, name, value)
        _say_difference(place, ours, fine)


def _say_difference(place: float, ours: HeatRun, fine: HeatRun) -> None:
    off = np.array(_ready(ours)) - np.array(_ready(fine))
    print(f"\n60 beads, {place:.0f} mm, job grid ({ours.grid}) against a fine one ({fine.grid}):")
    print(
        f"temperature before each bead off by at most {np.abs(off).max():.1f} K, on average "
        f"{off.mean():+.1f} K, of {max(_ready(fine)):.0f} degC; waits {ours.wait_min:.1f} and "
        f"{fine.wait_min:.1f} min"
    )
    balance = ours.heat_in_kj - ours.stored_kj - ours.lost_kj
    print(f"balance of heat: {balance / ours.heat_in_kj:.2e} of the heat put in is missing")


def _anew(job: HeatJob) -> HeatRun:
    """The run itself, not the answer kept from the last time."""
    return run.run_heat.__wrapped__(job)


def _ready(found: HeatRun) -> list[float]:
    return [bead.ready_degc for bead in found.beads]


def _seconds() -> None:
    print("\nplace, mm   beads   seconds of one core   a bead, ms   grid")
    for place in PLACES_MM:
        for beads in (10, 20, 40, 60):
            job = job_of(beads, place)
            best = min(_timed(job) for _ in range(3))
            said = f"{place:<11.0f} {beads:<7} {best:19.3f}   {best / beads * 1e3:10.1f}"
            print(f"{said}   {run.run_heat(job).grid}")
    body = heated_body(ComponentKind.FROG, Steel.MANGANESE, 300, "air_quench")
    start = perf_counter()
    for _ in range(60):
        body.after(200.0, 2.0, 15.0, 7000.0)
    print(f"lumped law for 60 beads: {perf_counter() - start:.6f} s (no place, only a mean)")
    print(f"scipy's BDF, one bead and its handling on the job's cells: {_general():.2f} s")


def _timed(job: HeatJob) -> float:
    start = process_time()
    _anew(job)
    return process_time() - start


def job_of(beads: int, place_mm: float = 25.0) -> HeatJob:
    """The first so many beads of a two-zone repair of about sixty, at a limit that makes waits."""
    work = RepairWork(
        ComponentKind.FROG,
        FrogDesign.RAIL_BOUND_MANGANESE,
        Steel.MANGANESE,
        (ZoneWork(Zone.POINT, 300, 40, 16, 10), ZoneWork(Zone.LEFT_WING, 400, 30, 8)),
    )
    wire = procedure_in_force("manganese-wire", ON)
    wire = replace(wire, interpass=replace(wire.interpass, limit_degc=200.0, place_mm=place_mm))
    job = heat_job(work, plan_zones(work, wire), wire, MILD)
    left, kept = beads, []
    for zone in job.zones:
        if left > 0:
            kept.append(replace(zone, passes=zone.passes[:left]))
        left -= len(zone.passes)
    return replace(job, zones=tuple(kept))


def _general() -> float:
    """Seconds of a general solver for one bead's arc and handling, properties constant."""
    job = job_of(1)
    steel = body.casting(job.box, job.curves, job.around, 15.0, job.pitch_m)
    sizes = steel.sizes
    numbers = np.arange(job.box.cells).reshape(job.box.shape)
    rows, columns, flows = [], [], []
    room = steel.volumes.reshape(job.box.shape)
    for axis in range(3):
        near = numbers.take(range(numbers.shape[axis] - 1), axis).ravel()
        far = numbers.take(range(1, numbers.shape[axis]), axis).ravel()
        shape = [1, 1, 1]
        shape[axis] = -1
        width = np.broadcast_to(sizes[axis].reshape(shape), job.box.shape).ravel()
        pull = steel.typical * room.ravel()[near] / width[near] * 2 / (width[near] + width[far])
        for a, b in ((near, far), (far, near)):
            rows += [a, a]
            columns += [b, a]
            flows += [pull / room.ravel()[a], -pull / room.ravel()[a]]
    spread = coo_matrix(
        (np.concatenate(flows), (np.concatenate(rows), np.concatenate(columns)))
    ).tocsc()
    each = job.zones[0].passes[0]
    steel.let_go(each.block(0, 1), job.watts * each.arc_min * 60, 30.0)
    steel.rest(1.0)
    assert not steel.young
    start = perf_counter()
    solve_ivp(
        lambda _, heat: spread @ heat,
        (0, (each.arc_min + each.handling_min) * 60),
        steel.enthalpy / 1e8,
        method="BDF",
        jac=spread,
        rtol=1e-3,
    )
    return perf_counter() - start


if __name__ == "__main__":
    main()
