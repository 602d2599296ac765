"""The coupled air plant: beside scipy on the same case, a rush of twenty shows, an evening of 500.

Prints ratios from one run, in processor time on one core. scipy solves the same equations written
anew (`tests/physics/plant_reference.py`) with its own events, at a tolerance that gives the same
accuracy and at 1e-10.
"""

from __future__ import annotations

import resource
import sys
from pathlib import Path
from time import process_time

import scipy

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "physics"))

import plant_reference
from plant_cases import AT_ONCE, rush, shared, shared_outside, shared_state

from thundersheet.physics.plant.coupled.run import run
from thundersheet.physics.plant.records import Landing

TANK_PA = 8e5


def seconds(work, least: float = 1.0) -> float:
    """Processor time of one piece of work, the best of what fits into ``least``."""
    begin, best = process_time(), 1e9
    while process_time() - begin < least:
        start = process_time()
        work()
        best = min(best, process_time() - start)
    return best


def ours():
    """Two cylinders and a jet on one feed, by compiled code."""
    return run(shared(), AT_ONCE, 1.0, state=shared_state(TANK_PA))


def theirs(rtol: float):
    """The same by scipy."""
    plant_reference.RTOL = rtol
    case = shared_outside(TANK_PA)
    case.solve(1.0)
    return case.pistons


def worst_ms(landings: tuple[Landing, ...], known) -> float:
    """Worst difference of a start or hit."""
    pairs = [
        (a, b)
        for landing, piston in zip(landings, known, strict=False)
        for a, b in ((landing.start_s, piston.start), (landing.full_s, piston.full))
    ]
    return 1000 * max(abs(a - b) for a, b in pairs)


def beside_scipy() -> None:
    """Print the ratio on the coupled case."""
    known = theirs(1e-10)
    mine = seconds(ours)
    print(
        f"two cylinders and a jet on one feed, 1 s: {1000 * mine:.1f} ms, start and hit within"
        f" {worst_ms(ours().landings, known):.4f} ms of 1e-10"
    )
    for rtol in (1e-6, 1e-10):
        spent = seconds(lambda rtol=rtol: theirs(rtol))
        print(f"  scipy {scipy.__version__} DOP853 at {rtol:g}: {spent / mine:,.0f} x as long")


def rushes() -> None:
    """Print what rushes of twenty shows take, and how late the last one is."""
    for gallons, cfm, rounds, every in ((20, 5, 1, 90.0), (20, 5, 9, 60.0), (8, 2.5, 9, 60.0)):
        plant, switches = rush(gallons, cfm, shows=20, every_s=every, rounds=rounds)
        start = process_time()
        found = run(plant, switches, 5.0 + 20 * every)
        spent = process_time() - start
        took = [x.full_s - x.switch.at_s for x in found.landings if x.switch.way == "out"]
        show = 8 * rounds
        late = max(b - a for a, b in zip(took[:show], took[-show:], strict=True))
        missing = abs(found.accounts.mass_missing) / found.accounts.mass_out
        print(
            f"rush of 20 shows of {every:.0f} s, 8 cylinders, {len(switches)} strokes,"
            f" {gallons} gal and {cfm} cfm: {spent:.1f} s; the last show's worst hit"
            f" {1000 * late:.0f} ms late; mass missing {missing:.0e}"
        )


def evening() -> None:
    """Print time and memory of 500 shows."""
    plant, switches = rush(20, 5, shows=20, every_s=90.0, rounds=1)
    run(plant, switches, 1805.0)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    plant, switches = rush(20, 5, shows=500, every_s=90.0, rounds=1)
    start = process_time()
    found = run(plant, switches, 5.0 + 500 * 90.0)
    spent = process_time() - start
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    missing = abs(found.accounts.energy_missing) / found.accounts.energy_out
    print(
        f"evening of 500 shows, {len(switches)} strokes, {45_005 / 3600:.1f} h: {spent:.0f} s,"
        f" memory grown by {grown:.1f} MB for the landings; energy missing {missing:.0e}"
    )


def main() -> None:
    """Print the comparison."""
    start = process_time()
    run(shared(), AT_ONCE, 0.01, state=shared_state(TANK_PA), say=print)
    print(f"plant ready after {process_time() - start:.1f} s of processor time")
    beside_scipy()
    rushes()
    evening()


if __name__ == "__main__":
    main()
