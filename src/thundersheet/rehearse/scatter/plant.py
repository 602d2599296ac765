"""Drawn shows played by the air plant as a whole: the proof of what is reckoned stroke by stroke.

In: a book, its plan, a study and rows of its draw. Out: landing errors of the same beats by a
solver in which feeds are shared, chambers carry their air from stroke to stroke and the tank falls
as it is drawn from. Delays of every sort shift the switch itself. Beats that need no air, and
measured ones, stay as the study has them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import TYPE_CHECKING

from thundersheet.physics.gas import Restriction, Tube
from thundersheet.physics.plant.evening import run as run_evening
from thundersheet.physics.plant.records import Body, Cylinder, Gas, Path, Plant, Run, State, Switch
from thundersheet.physics.stroke import Stroke
from thundersheet.rehearse.records import Checked, Solver
from thundersheet.rehearse.scatter.draw import CHUNK, amount_of, drawn
from thundersheet.rehearse.scatter.setup import Setup
from thundersheet.rehearse.scatter.study import Beat, Study

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]
    Table = NDArray[np.float64]

LEAST_MS = 0.1
"""The strokes' own accuracy: differences below it are none."""
MOST = CHUNK
"""Shows of the first chunk: more than that nobody waits for."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """One row of a draw as amounts: by what they act on and of what."""

    shares: Mapping[tuple[str, str], float]
    """(on, device or `device way`) to a factor."""
    late_s: Mapping[str, float]
    """By cue: by how much its switch and valve are late."""
    kelvins: float
    tank: float
    """-1..1 within the evening's range."""


def errors_by(solver: Solver, setup: Setup, study: Study, z: Table) -> Table:
    """Errors in milliseconds of `Study.strokes` in each row; NaN where one never lands.

    Each row is a plant of its own, changed record by record; `events` does the same for
    the event-driven plant with columns of numbers.
    """
    import numpy as np

    beats = [study.beats[i] for i in study.strokes]
    play = _solver(solver)
    found = np.full((len(z), len(beats)), np.nan)
    for row, own in enumerate(rows_of(study, z)):
        run = play(_changed(setup, own), _late(setup, own), setup.ends_s, _first(setup, own))
        found[row] = [_error(beat, run, setup) for beat in beats]
    return found


def checked(
    solver: Solver, setup: Setup, study: Study, seed: int, shows: int, played: Table
) -> tuple[Checked, ...]:
    """The first drawn shows played once more; nothing where no beat is a stroke of the model.

    ``played``: errors of those shows as they were reckoned, a column a beat. Where only one of the
    two has a landing, they are apart by no number: that is said as infinitely much.
    """
    import numpy as np

    places = study.strokes
    if not places:
        return ()
    z = drawn(study, seed, 0)[: min(shows, MOST, len(played))]
    own = played[: len(z), list(places)]
    again = errors_by(solver, setup, study, z)
    neither = np.isnan(own) & np.isnan(again)
    apart = np.where(neither, 0.0, np.nan_to_num(again - own, nan=np.inf))
    row, column = divmod(int(np.abs(apart).argmax()), len(places))
    return (
        Checked(
            solver=solver,
            shows=len(z),
            landings=int((~neither).sum()),
            mean_ms=float(apart[~neither].mean()) if not neither.all() else 0.0,
            rms_ms=float(np.sqrt((apart[~neither] ** 2).mean())) if not neither.all() else 0.0,
            worst_ms=float(apart[row, column]),
            worst_cue=study.beats[places[column]].cue,
            of_scatter=_of_scatter(apart, own),
        ),
    )


def _of_scatter(apart: Table, own: Table) -> float:
    """The largest share that differences have in a cue's own scatter, least amounts left out."""
    import numpy as np

    rms = np.sqrt((apart**2).mean(axis=0))
    sds = np.array([np.std(each[~np.isnan(each)]) if len(each) else 0.0 for each in own.T])
    sds = np.maximum(np.nan_to_num(sds), LEAST_MS)
    return float(np.where(rms <= LEAST_MS, 0.0, rms / sds).max())


def rows_of(study: Study, z: Table) -> list[Drawn]:
    """Each row of a draw as amounts."""
    beats = [study.beats[i] for i in study.strokes]
    amounts = {id(effect): amount_of(effect, z, study) for b in beats for effect in b.effects}
    return [_drawn(study, beats, amounts, row) for row in range(len(z))]


Play = Callable[[Plant, tuple[Switch, ...], float, State], Run]


def _solver(solver: Solver) -> Play:
    if solver == "coupled":
        from thundersheet.physics.plant.coupled.run import run as run_coupled

        return lambda plant, switches, ends, state: run_coupled(plant, switches, ends, state=state)
    return lambda plant, switches, ends, state: run_evening(plant, switches, ends, state=state)


def _drawn(study: Study, beats: Iterable[Beat], amounts: Mapping[int, Column], row: int) -> Drawn:
    shares: dict[tuple[str, str], float] = {}
    late: dict[str, float] = {}
    kelvins = tank = 0.0
    for beat in beats:
        for effect in beat.effects:
            doubt, amount = study.doubts[effect.column], float(amounts[id(effect)][row])
            if effect.on in ("late", "delay"):
                late[beat.cue] = late.get(beat.cue, 0.0) + amount
            elif effect.on == "ambient":
                kelvins = amount
            elif doubt.name == "tank":
                tank = (amount - 1.0) / effect.sd
            else:
                shares[effect.on, doubt.of] = amount
    return Drawn(shares, late, kelvins, tank)


def _late(setup: Setup, drawn: Drawn) -> tuple[Switch, ...]:
    """The switches, each so much later as its cue is drawn; what follows a cue keeps its time."""
    return tuple(
        replace(each, at_s=max(each.at_s + drawn.late_s.get(each.cue, 0.0), 0.0))
        for each in setup.switches
    )


def _first(setup: Setup, drawn: Drawn) -> State:
    """Every body at rest at its pressure, the root where it is drawn."""
    plant = _changed(setup, drawn)
    root = setup.root_pa + drawn.tank * setup.root_half_pa
    if plant.endless:  # its regulators take what they are set to, however high that is drawn
        root *= 2.0
    standing: dict[str, float] = {}
    for body in plant.bodies:
        if body.path is None:
            standing[body.name] = root
        else:
            come = standing[body.fed_by] - body.path.drop_pa
            standing[body.name] = max(min(body.path.set_pa, come), plant.atmosphere_pa)
    gas = {name: Gas(pa=pa, kelvin=plant.ambient_k) for name, pa in standing.items()}
    return State(bodies=gas)


def _changed(setup: Setup, drawn: Drawn) -> Plant:
    """The plant with every number as it is drawn."""
    plant, outside = setup.plant, setup.plant.atmosphere_pa
    shared = drawn.shares.get(("supply", ""), 1.0)

    def path(old: Path, by: float) -> Path:
        if old.set_pa == inf:
            return old
        return replace(old, set_pa=outside + (old.set_pa - outside) * by)

    def body(old: Body) -> Body:
        new = old if old.path is None else replace(old, path=path(old.path, shared))
        warm = None if old.ambient_k is None else old.ambient_k + drawn.kelvins
        return replace(new, ambient_k=warm)

    def cylinder(old: Cylinder) -> Cylinder:
        own = drawn.shares.get(("supply", old.name), shared)
        return replace(
            old,
            path=path(old.path, own),
            out=stroke_as(old.out, old.name, "out", drawn),
            back=stroke_as(old.back, old.name, "back", drawn),
        )

    return replace(
        plant,
        bodies=tuple(body(each) for each in plant.bodies),
        cylinders=tuple(cylinder(each) for each in plant.cylinders),
        jets=tuple(replace(each, path=path(each.path, shared)) for each in plant.jets),
        ambient_k=plant.ambient_k + drawn.kelvins,
    )


def stroke_as(stroke: Stroke, device: str, way: str, drawn: Drawn) -> Stroke:
    """A stroke with its own numbers as they are drawn; delays are the switch's."""

    def share(on: str, of: str = device) -> float:
        return drawn.shares.get((on, of), 1.0)

    valve, control = share("valve flow"), share("flow control", f"{device} {way}")
    changed = replace(
        stroke,
        ambient_k=stroke.ambient_k + drawn.kelvins,
        breakaway_n=stroke.breakaway_n * share("friction"),
        coulomb_n=stroke.coulomb_n * share("friction"),
        drive_valve=_scaled(stroke.drive_valve, valve),
        exhaust_valve=_scaled(stroke.exhaust_valve, valve),
        drive_end=_scaled(stroke.drive_end, control),
        exhaust_end=_scaled(stroke.exhaust_end, control),
        drive_tube=_longer(stroke.drive_tube, share("hose")),
        exhaust_tube=_longer(stroke.exhaust_tube, share("hose")),
    )
    lid, load = stroke.linkage.lid, share("load")
    if lid is None:
        return replace(changed, load_kg=stroke.load_kg * load)
    heavy = replace(lid, mass_kg=lid.mass_kg * load, inertia_kg_m2=lid.inertia_kg_m2 * load)
    return replace(changed, linkage=replace(stroke.linkage, lid=heavy))


def _scaled(parts: tuple[Restriction, ...], by: float) -> tuple[Restriction, ...]:
    return tuple(replace(part, c_m3_s_pa=part.c_m3_s_pa * by) for part in parts)


def _longer(tube: Tube | None, by: float) -> Tube | None:
    return None if tube is None else replace(tube, length_m=tube.length_m * by)


def _error(beat: Beat, run: Run, setup: Setup) -> float:
    """Where a beat landed, late is positive; NaN where it never did."""
    landing = next((each for each in run.landings if each.switch.cue == beat.cue), None)
    if landing is None:
        return float("nan")
    at = {"starts": landing.start_s, "half-way": landing.mid_s}.get(beat.land, landing.full_s)
    return float("nan") if at is None else 1000.0 * (at - setup.lands_s[beat.cue])
