"""A rush of twenty shows, an evening of five hundred, ten thousand shows: event by event.

Prints ratios from one run; processor time on one core. scipy solves the strokes of a small portion
of the same rush (each stroke once, its supply given, nothing between the strokes), scaled to the
whole: it has less to do than the evening does.
"""

from __future__ import annotations

import sys
import tracemalloc
from math import inf
from pathlib import Path
from time import process_time

import numpy as np
import scipy

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "physics"))

import reference
from plants import stroke, tank_and_manifold, there_and_back, with_jet

from thundersheet.physics.plant import evening
from thundersheet.physics.plant.coupled.run import run as coupled_run
from thundersheet.physics.plant.records import Plant, Switch
from thundersheet.physics.plant.reservoir import Reservoir
from thundersheet.physics.plant.scatter import scatter

CYLINDERS, SHOWS, EVERY_S = 8, 20, 90.0
PLANTS = {
    "behind a regulator": tank_and_manifold(CYLINDERS),
    "with a tank near the valves": tank_and_manifold(CYLINDERS, near_m3=0.002),
    "straight from the tank": tank_and_manifold(CYLINDERS, set_pa=inf),
}


def in_turn() -> list[Switch]:
    """One cylinder after the other."""
    each = [there_and_back(f"c{i}", 1.0 + 10 * i, 6.0 + 10 * i) for i in range(CYLINDERS)]
    return sorted(switch for two in each for switch in two)


def in_pairs() -> list[Switch]:
    """Two and two, 50 ms apart: their strokes overlap on one feed."""
    sent = []
    for i in range(0, CYLINDERS, 2):
        sent += there_and_back(f"c{i}", 1.0 + 10 * i, 6.0 + 10 * i)
        sent += there_and_back(f"c{i + 1}", 1.05 + 10 * i, 6.05 + 10 * i)
    return sorted(sent)


def spent(plant: Plant, show: list[Switch], shows: int, compiled: bool = True) -> float:
    """Seconds for a rush."""
    begin = process_time()
    starts = [EVERY_S * i for i in range(shows)]
    for _ in evening.rush(plant, show, starts, compiled=compiled):
        pass
    return process_time() - begin


def by_scipy(rtol: float) -> float:
    """Seconds for the strokes of one show."""
    reference.RTOL = rtol
    begin = process_time()
    for extend in (True, False):
        reference.solve_reference(stroke(extend))
    return (process_time() - begin) * CYLINDERS


def by_coupled(plant: Plant, show: list[Switch]) -> float:
    """Seconds for one show with everything integrated together."""
    begin = process_time()
    coupled_run(plant, show, EVERY_S)
    return process_time() - begin


def rushes() -> None:
    """The rush of the handbook's targets: 20 shows of 90 s, 8 cylinders, 320 strokes."""
    begin = process_time()
    spent(PLANTS["behind a regulator"], in_turn(), 1)
    print(f"loading and the first show {process_time() - begin:.2f} s")
    coupled_run(PLANTS["behind a regulator"], in_turn()[:1], 2.0)
    loose, tight = (by_scipy(rtol) * SHOWS for rtol in (1e-6, 1e-10))
    print(
        f"scipy {scipy.__version__} DOP853, strokes alone, one show x {SHOWS}: "
        f"{loose:.1f} s at 1e-6, {tight:.1f} s at 1e-10"
    )
    for name, plant in PLANTS.items():
        whole = by_coupled(plant, in_turn()) * SHOWS
        print(f"{name}: coupled, one show x {SHOWS}, {whole:.2f} s")
        for what, show in (("in turn", in_turn()), ("in pairs", in_pairs())):
            took = min(spent(plant, show, SHOWS) for _ in range(3))
            print(
                f"  {what} {took:.3f} s, {loose / took:.0f} x scipy's speed at 1e-6, "
                f"{whole / took:.0f} x coupled"
            )
    slow = spent(PLANTS["behind a regulator"], in_turn(), 2, compiled=False)
    print(f"interpreted, 2 shows {slow:.2f} s (nothing to load)")


def long_evening() -> None:
    """Time and memory of many shows."""
    plant = tank_and_manifold(CYLINDERS, set_pa=inf, tank_m3=0.012)
    peaks = {}
    for shows in (50, 500):
        took = spent(plant, in_pairs(), shows)
        tracemalloc.start()
        spent(plant, in_pairs(), min(shows, 500))
        peaks[shows] = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        print(f"{shows} shows straight from a small tank {took:.1f} s, peak {peaks[shows]:.1f} MB")
    tank = Reservoir(tank_and_manifold(leak=1e-11))
    begin = process_time()
    for show in range(500):
        for i in range(16):
            tank.draw(3e-4)
            tank.advance(90.0 * show + 5.0 * (i + 1))
        tank.advance(90.0 * (show + 1))
    print(f"the reservoir alone, 500 shows of 16 draws {process_time() - begin:.3f} s")


def many_shows() -> None:
    """Ten thousand shows like the Lamp Room's, a thousand of them run."""
    plant = with_jet(tank_and_manifold(2), 0.8e-8)
    jets = [(31.0, 31.12), (41.4, 41.52)]
    sent = [*there_and_back("c0", 41.2, 45.0), *there_and_back("c0", 48.2, 50.5)]
    sent += there_and_back("c1", 54.0, 62.5)
    for on, off in jets:
        sent += [
            Switch(at_s=on, device="gust", way="on"),
            Switch(at_s=off, device="gust", way="off"),
        ]
    draw, count = np.random.default_rng(3), 1000
    columns = {
        "c0.delay": draw.normal(0.015, 0.001, count),
        "c0.breakaway": draw.normal(15.0, 1.5, count),
        "c1.coulomb": draw.normal(9.0, 0.9, count),
        "manifold.supply": draw.normal(3e5, 3e3, count),
        "c0.drive_valve_flow": draw.normal(1.0, 0.05, count),
        "ambient": draw.normal(285.0, 4.0, count),
    }
    begin = process_time()
    scatter(plant, sorted(sent), columns)
    print(
        f"10,000 shows of 6 strokes and 2 puffs, a tenth run: {10 * (process_time() - begin):.0f} s"
    )


if __name__ == "__main__":
    rushes()
    long_evening()
    many_shows()
