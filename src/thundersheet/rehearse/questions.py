"""A builder's questions about the air of an evening, each answered in one line.

In: a plant and what the shows of an evening took. Out: `Answer`s in the builder's units. The sums
are the reservoir's (`physics.plant.lasting`), the very ones that `calc` uses.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import inf

from thundersheet.base.units import UnitStyle
from thundersheet.physics.gas import RHO0
from thundersheet.physics.plant.lasting import leak_over, recovery_s, shows_without_compressor
from thundersheet.physics.plant.records import Path, Plant, State
from thundersheet.rehearse.records import Answer, Played, Tank

NIGHT_S = 8 * 3600.0
"""A night, where no evening says how long one is."""


def answers(
    plant: Plant,
    first: State,
    last: State,
    shows: Sequence[Played],
    tank: Tank | None,
    units: UnitStyle,
    *,
    every_s: float,
) -> tuple[Answer, ...]:
    """What there is to say; nothing of a supply without end."""
    if plant.endless or tank is None:
        return ()
    took = [show.air_l for show in shows if show.air_l > 0.0]
    mean_kg = sum(took) / len(took) * RHO0 / 1000.0 if took else 0.0
    return (
        *_alone(plant, first, mean_kg, every_s, units),
        *_recovery(plant, last, units),
        *_duty(plant, tank),
        *_leak(plant, first, units),
    )


def needed_pa(plant: Plant) -> float:
    """What has to stand at the root so that every device gets what its regulators are set to."""
    by_name = {body.name: body for body in plant.bodies}

    def before(path: Path, fed_by: str, wanted: float) -> float:
        """At the root, so that so much stands behind a path."""
        wanted = min(wanted, path.set_pa) + path.drop_pa
        body = by_name[fed_by]
        return wanted if body.path is None else before(body.path, body.fed_by, wanted)

    ends = [(each.path, each.body) for each in plant.cylinders]
    ends += [(each.path, each.body) for each in plant.jets]
    asked = [before(path, body, set_of(path, body, plant)) for path, body in ends]
    return max((pa for pa in asked if pa < inf), default=plant.atmosphere_pa)


def set_of(path: Path, body: str, plant: Plant) -> float:
    """What the last regulator before a device is set to; inf where there is none."""
    by_name = {each.name: each for each in plant.bodies}
    if path.set_pa < inf:
        return path.set_pa
    found = by_name[body]
    return inf if found.path is None else set_of(found.path, found.fed_by, plant)


def _alone(
    plant: Plant, first: State, kg: float, every_s: float, units: UnitStyle
) -> Iterator[Answer]:
    if kg <= 0.0:
        return
    least = needed_pa(plant)
    if least <= plant.atmosphere_pa:
        return
    count = shows_without_compressor(plant, kg, least, every_s=every_s, state=first)
    low = _gauge(units, least - plant.atmosphere_pa)
    yield Answer(
        asks="shows with the compressor off",
        value=count,
        says=f"With the compressor off a full tank gives {count} shows before it stands below "
        f"{low}, which the regulators need.",
    )


def _recovery(plant: Plant, last: State, units: UnitStyle) -> Iterator[Answer]:
    """From where the tank stands at the end, or from cut-in if the compressor is not called yet."""
    machine = plant.compressor
    if machine is None:
        return
    root = plant.bodies[0].name
    pa = last.bodies[root].pa
    called = last.running or last.calls or pa <= machine.cut_in_pa
    start = last
    if not called:
        gas = replace(last.bodies[root], pa=machine.cut_in_pa)
        start = State(at_s=last.at_s, bodies={root: gas}, ran_s=last.ran_s)
    seconds = recovery_s(plant, machine.cut_out_pa, state=start)
    full = units.show(machine.cut_out_pa - plant.atmosphere_pa, "pressure")
    stands = _gauge(units, (pa if called else machine.cut_in_pa) - plant.atmosphere_pa)
    takes = f"after {minutes(seconds)}" if seconds is not None else "never"
    here = "as it stands at the end" if called else "where the compressor starts"
    yield Answer(
        asks="recovery time",
        value=seconds,
        unit="s",
        says=f"From {stands}, {here}, the tank is at {full} again {takes}.",
    )


def _gauge(units: UnitStyle, pa: float) -> str:
    return units.show(float(f"{pa:.3g}"), "pressure")


def _duty(plant: Plant, tank: Tank) -> Iterator[Answer]:
    machine = plant.compressor
    if machine is None:
        return
    limit = f"; it may {machine.duty:.0%}" if machine.duty < 1.0 else ""
    yield Answer(
        asks="duty",
        value=tank.duty,
        says=f"The compressor runs {tank.duty:.0%} of the time and {tank.worst_duty:.0%} of its "
        f"busiest ten minutes{limit}.",
    )


def _leak(plant: Plant, first: State, units: UnitStyle) -> Iterator[Answer]:
    if not any(body.leak_m3_s_pa for body in plant.bodies):
        return
    night = leak_over(plant, NIGHT_S, first)
    litres = night.lost_kg / RHO0 * 1000.0
    left = _gauge(units, night.left_pa - plant.atmosphere_pa)
    cost = (
        f"and make the compressor run {minutes(night.ran_s)}"
        if plant.compressor is not None
        else f"and leave {left} in the tank"
    )
    yield Answer(
        asks="what leaks cost a night",
        value=litres,
        unit="l",
        says=f"In {NIGHT_S / 3600:g} hours the leaks take {litres:.0f} l of free air {cost}.",
    )


def minutes(seconds: float) -> str:
    """A stretch of time as one says it."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    if seconds < 5400.0:
        return f"{seconds / 60.0:.0f} min"
    return f"{seconds / 3600.0:.1f} h"
