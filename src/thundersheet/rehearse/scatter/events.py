"""Drawn shows by the event-driven plant: all runs of a chunk at once, each a whole show.

In: a study with its plant, and a draw. Out: landing errors in milliseconds of all strokes of the
model. Delays of every sort are added to the landing, as they shift it by just so much. What is
`physics.plant.scatter`'s to say is said there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

from thundersheet.physics.plant.records import Cylinder, Gas, State
from thundersheet.physics.plant.scatter import Scattered, scatter
from thundersheet.physics.stroke import Stroke
from thundersheet.rehearse.scatter.draw import amount_of, errors_ms
from thundersheet.rehearse.scatter.setup import Setup
from thundersheet.rehearse.scatter.study import Beat, Study

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]
    Table = NDArray[np.float64]


def event_errors(study: Study, z: Table) -> Table:
    """Errors of `Study.strokes` in each row of a draw; NaN where a stroke never lands."""
    import numpy as np

    setup = study.setup
    beats = [study.beats[i] for i in study.strokes]
    if setup is None or not beats:
        return np.empty((len(z), 0))
    gas = Gas(pa=setup.root_pa, kelvin=setup.plant.ambient_k)
    state = State(bodies={setup.plant.bodies[0].name: gas})
    found = scatter(setup.plant, setup.switches, dict(_changes(study, setup, z)), state=state)
    return np.array([_error(beat, found, setup, study, z) for beat in beats]).T


def anchored(study: Study) -> Study:
    """The study with each stroke alone shifted to where the whole plant has it, nothing being off.

    So that what is reckoned stroke by stroke has what neighbours on a feed do to it.
    """
    import numpy as np

    if study.setup is None or not study.strokes:
        return study
    nothing = np.zeros((1, len(study.doubts)))
    whole = event_errors(study, nothing)[0]
    beats = list(study.beats)
    for error, at in zip(whole, study.strokes, strict=True):
        apart = (error - errors_ms(beats[at], nothing, study)[0]) / 1000.0
        if apart == apart:  # neither is without a landing
            beats[at] = replace(beats[at], shift_s=beats[at].shift_s + float(apart))
    return replace(study, beats=tuple(beats))


def _error(beat: Beat, found: Scattered, setup: Setup, study: Study, z: Table) -> Column:
    import numpy as np

    switch = next((i for i, each in enumerate(setup.switches) if each.cue == beat.cue), None)
    if switch is None:
        return np.full(len(z), np.nan)
    took = {"starts": found.start_s, "half-way": found.mid_s}.get(beat.land, found.full_s)[switch]
    late = setup.switches[switch].at_s - setup.lands_s[beat.cue] + took
    for effect in beat.effects:
        if effect.on in ("late", "delay"):
            late = late + amount_of(effect, z, study)
    return np.asarray(1000.0 * late)


def _changes(study: Study, setup: Setup, z: Table) -> Iterator[tuple[str, Column]]:
    """What differs in each run, as `physics.plant.scatter` names it."""
    import numpy as np

    amounts: dict[tuple[str, str], Column] = {}
    for at in study.strokes:
        for effect in study.beats[at].effects:
            doubt = study.doubts[effect.column]
            of = "tank" if doubt.name == "tank" else doubt.of
            if (effect.on, of) not in amounts:
                amount = amount_of(effect, z, study)
                amounts[effect.on, of] = (amount - 1.0) / effect.sd if of == "tank" else amount
    one = np.ones(len(z))
    plant = setup.plant
    yield "ambient", plant.ambient_k + amounts.get(("ambient", ""), 0.0 * one)
    if ("supply", "tank") in amounts:
        root = setup.root_pa + setup.root_half_pa * amounts["supply", "tank"]
        yield f"{plant.bodies[0].name}.supply", root
    shared = amounts.get(("supply", ""), one)
    for body in plant.bodies:
        if body.path is not None and body.path.set_pa < inf:
            yield f"{body.name}.supply", _gauge_times(body.path.set_pa, setup, shared)
    for cylinder in plant.cylinders:
        if cylinder.path.set_pa < inf:
            own = amounts.get(("supply", cylinder.name), shared)
            yield f"{cylinder.name}.supply", _gauge_times(cylinder.path.set_pa, setup, own)
        yield from _of_cylinder(cylinder, amounts)


def _gauge_times(set_pa: float, setup: Setup, factor: Column) -> Column:
    outside = setup.plant.atmosphere_pa
    return outside + (set_pa - outside) * factor


def _of_cylinder(
    cylinder: Cylinder, amounts: dict[tuple[str, str], Column]
) -> Iterator[tuple[str, Column]]:
    name = cylinder.name
    for way, stroke in (("out", cylinder.out), ("back", cylinder.back)):
        owner = f"{name} {way}"
        if (control := amounts.get(("flow control", owner))) is not None:
            yield f"{owner}.drive_end_flow", control
            yield f"{owner}.exhaust_end_flow", control
        if (valve := amounts.get(("valve flow", name))) is not None:
            yield f"{owner}.drive_valve_flow", valve
            yield f"{owner}.exhaust_valve_flow", valve
        for on, column, value in _numbers(stroke):
            if (factor := amounts.get((on, name))) is not None:
                yield f"{owner}.{column}", value * factor


def _numbers(stroke: Stroke) -> Iterator[tuple[str, str, float]]:
    """What a factor acts on, the kernel's name for it, and its nominal value."""
    yield "friction", "breakaway", stroke.breakaway_n
    yield "friction", "coulomb", stroke.coulomb_n
    for side, tube in (("drive", stroke.drive_tube), ("exhaust", stroke.exhaust_tube)):
        if tube is not None:
            yield "hose", f"{side}_length", tube.length_m
    lid = stroke.linkage.lid
    if lid is None:
        yield "load", "load", stroke.load_kg
    else:
        yield "load", "lid_mass", lid.mass_kg
        yield "load", "lid_inertia", lid.inertia_kg_m2
