"""The first tank's compressor and its leaks, from what a book says to what solvers follow.

In: a book's air. Out: SI, absolute pressures, seconds from the beginning of the evening.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, log, sqrt

from thundersheet.model.air import Air
from thundersheet.model.air import Compressor as Machine
from thundersheet.model.book import Book
from thundersheet.physics.gas import RHO0, T0, R
from thundersheet.physics.plant.records import Body, Compressor
from thundersheet.plan.plumbing.graph import Plumbing
from thundersheet.plan.plumbing.pressures import atmosphere, highest_pa

DAY_S = 86_400.0


def compressor_of(book: Book, warm_k: float) -> Compressor | None:
    """The book's compressor; None where it has none."""
    machine = book.air.compressor
    if machine is None:
        return None
    outside = atmosphere(book.air)
    evening = book.evening
    begins = None if evening is None or evening.begins is None else evening.begins.s
    return Compressor(
        delivers=delivers(machine, outside),
        cut_in_pa=machine.cut_in_pa + outside,
        cut_out_pa=machine.cut_out_pa + outside,
        duty=machine.duty,
        quiet_s=() if begins is None else quiet_s(machine, begins),
        inlet_k=warm_k if machine.inlet_k is None else machine.inlet_k,
    )


def delivers(machine: Machine, outside_pa: float) -> tuple[tuple[float, float], ...]:
    """A compressor's one or two points, absolute."""
    at = machine.cut_out_pa if machine.at_pa is None else machine.at_pa
    points = [(at + outside_pa, machine.delivers_m3_s)]
    if machine.also_at_pa is not None and machine.also_delivers_m3_s is not None:
        points.append((machine.also_at_pa + outside_pa, machine.also_delivers_m3_s))
    return tuple(points)


def quiet_s(machine: Machine, begins_s: float) -> tuple[tuple[float, float], ...]:
    """Its quiet hours in seconds from the beginning of the evening, for a day; in order."""
    found = []
    for first, last in machine.quiet:
        starts = (first.s - begins_s) % DAY_S
        lasts = (last.s - first.s) % DAY_S
        found.append((starts, starts + lasts))
        if starts + lasts > DAY_S:  # it has begun before the evening does
            found.append((0.0, starts + lasts - DAY_S))
    return tuple(sorted(found))


def leak_of_fall(
    volume_m3: float, began_pa: float, loses_pa: float, over_s: float, kelvin: float
) -> float:
    """Sonic conductance of a leak by which a volume's absolute pressure fell, isothermally.

    Choked blow-down, t = V/(R T rho0 C sqrt(T0/T)) ln(p1/p2): the first-order equation
    V/(R T) dp/dt = -C rho0 p sqrt(T0/T) solved.
    """
    rate = R * kelvin * RHO0 * sqrt(T0 / kelvin) / volume_m3
    return log(began_pa / (began_pa - loses_pa)) / (rate * over_s)


def leak_of(air: Air, tree: Plumbing, bodies: Sequence[Body], warm_k: float) -> float:
    """Sonic conductance of all leaks, taken to sit at the first tank: C rho0 p sqrt(T0/T) leaks."""
    outside = atmosphere(air)
    full = highest_pa(air, tree.root)
    warm = tree.root.ambient_k or warm_k
    fall = air.leak_down
    if fall is not None:
        began = full if fall.began_pa is None else fall.began_pa
        if began is None or began + outside <= fall.loses_pa:
            return 0.0
        held = sum(body.volume_m3 for body in bodies if _as_the_root(body, bodies))
        return leak_of_fall(held, began + outside, fall.loses_pa, fall.within.s, warm)
    if air.leaks_m3_s_anr is None or full is None:
        return 0.0
    return air.leaks_m3_s_anr / ((full + outside) * sqrt(T0 / warm))


def _as_the_root(body: Body, bodies: Sequence[Body]) -> bool:
    """Whether a body stands at the root's pressure: no regulator on its way."""
    by_name = {each.name: each for each in bodies}
    while body.path is not None:
        if body.path.set_pa < inf:
            return False
        body = by_name[body.fed_by]
    return True
