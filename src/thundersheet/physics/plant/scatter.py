"""One show many times over, each time with other numbers: columns in, columns of landings out.

In come a plant, its commands and what is changed in each run; out come landing times, a row for
each command and a column for each run. Every run is a whole event-driven run: shared feeds and
what an earlier stroke has left in the chambers are in it. Nothing is drawn by lot here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite
from typing import TYPE_CHECKING

from thundersheet.physics import kernel
from thundersheet.physics.bulk import GROUPS, TOLERANCE
from thundersheet.physics.gas import Restriction
from thundersheet.physics.plant.engine import Engine
from thundersheet.physics.plant.legs import Flights, compiled
from thundersheet.physics.plant.records import Jet, Landing, Plant, State, Switch
from thundersheet.physics.plant.strokes import Fleet, fleet_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]
    Table = NDArray[np.float64]

CLOSE_S = 1e-4
"""Where strokes overlap: landings that move by less from pass to pass are found."""
SETTLES_S = 5.0
"""After the last command a show is followed for so long."""
WAYS = ("out", "back")


def silent(_: str) -> None:
    """Say nothing."""


def unseen(_: float) -> None:
    """Show no progress."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scattered:
    """Seconds after each command, a row for each command and a column for each run.

    NaN where a stroke never came to that.
    """

    start_s: Table
    mid_s: Table
    full_s: Table
    impact_m_s: Table
    impact_j: Table
    air_l: Table


def scatter(
    plant: Plant,
    switches: Sequence[Switch],
    changes: Mapping[str, Column],
    *,
    state: State | None = None,
    say: Callable[[str], None] = silent,
    progress: Callable[[float], None] = unseen,
) -> Scattered:
    """How the commands land in each run.

    Names in ``changes``, of whose columns each has a value for each run:

    ``DEVICE.COLUMN``: a column of `kernel.ASKED` of both strokes of a cylinder (``shutter.load``,
    ``shutter.delay``, ``shutter.breakaway``), or with ``DEVICE out.`` and ``DEVICE back.`` of one
    alone. ``DEVICE.drive_valve_flow`` and its like (`bulk.GROUPS`): factors on those parts.
    ``DEVICE.supply``: what its own regulator is set to; ``BODY.supply``: what the regulator on
    the way to that body is set to, or for the root its first pressure. All absolute pascals.
    ``JET.delay`` and ``JET.flow``: seconds, and a factor. ``ambient``: kelvins, of all there is.
    """
    import numpy as np

    count = len(next(iter(changes.values()))) if changes else 0
    if any(len(values) != count for values in changes.values()):
        raise ValueError("every changed number needs a value for every run")
    runs = _Runs(plant, state, changes, count)
    fly = compiled(say)
    found = np.full((6, len(switches), count), np.nan)
    until = max((each.at_s for each in switches), default=0.0) + SETTLES_S
    for run in range(count):
        fleet = runs.fleet(run)
        flights = Flights(fly, fleet.rows, fleet.tables)
        engine = Engine(*runs.plant(run), fleet, flights, close_s=CLOSE_S)
        for _ in engine.play(switches, 0.0, 0):
            pass
        engine.finish(until)
        for number, landing in engine.ready():
            found[:, number, run] = _numbers(landing)
        progress((run + 1) / count)
    return Scattered(
        start_s=found[0],
        mid_s=found[1],
        full_s=found[2],
        impact_m_s=found[3],
        impact_j=found[4],
        air_l=found[5],
    )


def _numbers(landing: Landing) -> tuple[float, ...]:
    at_s, nan = landing.switch.at_s, float("nan")
    times = (landing.start_s, landing.mid_s, landing.full_s)
    return (
        *(nan if each is None else each - at_s for each in times),
        nan if landing.v_impact_m_s is None else landing.v_impact_m_s,
        nan if landing.e_impact_j is None else landing.e_impact_j,
        landing.air_l,
    )


class _Runs:
    """The plant as it is in each run."""

    def __init__(
        self, plant: Plant, state: State | None, changes: Mapping[str, Column], count: int
    ) -> None:
        import numpy as np

        self._plant, self._state = plant, state
        self._fleet = fleet_of(plant.cylinders)
        self._tables = [np.tile(np.array(row), (count, 1)) for row in self._fleet.rows]
        self._pressures: dict[str, Column] = {}
        self._jets: dict[tuple[str, str], Column] = {}
        self._ambient: Column | None = None
        for table in self._tables:
            table[:, kernel.TOLERANCE] = TOLERANCE
        for name, values in changes.items():
            if not all(isfinite(x) for x in values):
                raise ValueError(f"{name} must be a finite number in every run")
            self._change(name, np.asarray(values, dtype=np.float64))

    def _change(self, name: str, values: Column) -> None:
        """Note one changed number where it belongs."""
        if name == "ambient":
            self._ambient = values
            for table in self._tables:
                table[:, kernel.AMBIENT] = values
            return
        owner, _, column = name.rpartition(".")
        device, _, way = owner.rpartition(" ")
        if way not in WAYS:
            device, way = owner, ""
        cylinders = [i for i, x in enumerate(self._plant.cylinders) if x.name == device]
        if column == "supply":
            self._regulator(owner)
            self._pressures[owner] = values
        elif cylinders:
            self._stroke(cylinders[0], way, column, values)
        elif any(x.name == owner for x in self._plant.jets) and column in ("delay", "flow"):
            self._jets[owner, column] = values
        else:
            raise ValueError(f"{name} names no number of this plant")

    def _regulator(self, owner: str) -> None:
        """Whether there is a pressure to be set at all."""
        plant = self._plant
        paths = [x.path for x in plant.cylinders if x.name == owner]
        paths += [x.path for x in plant.jets if x.name == owner]
        paths += [x.path for x in plant.bodies if x.name == owner and x.path is not None]
        root = plant.bodies[0].name == owner
        if not root and not any(path.set_pa < inf for path in paths):
            raise ValueError(
                f"{owner} has no regulator of its own: name the body whose regulator feeds it"
            )

    def _stroke(self, device: int, way: str, column: str, values: Column) -> None:
        group = column.removesuffix("_flow")
        for (known, out), valve in self._fleet.valves[device].items():
            if way and (known != way if known != "middle" else out != (way == "out")):
                continue
            table = self._tables[valve.stroke]
            if column != group and group in GROUPS:
                for what, power in (("cubes", 3), ("squares", 2), ("indices", 3)):
                    table[:, kernel.ASKED.index(f"{group}_{what}")] /= values**power
            elif column in kernel.ASKED:
                table[:, kernel.ASKED.index(column)] = values
            else:
                raise ValueError(f"{column} is no number of a stroke")

    def fleet(self, run: int) -> Fleet:
        """The strokes' rows."""
        rows = [table[run].tolist() for table in self._tables]
        return replace(self._fleet, rows=rows)

    def plant(self, run: int) -> tuple[Plant, State | None]:
        """The plant, and the state that it begins with."""
        plant, state = self._plant, self._state
        if not self._pressures and not self._jets and self._ambient is None:
            return plant, state
        at = {owner: float(values[run]) for owner, values in self._pressures.items()}
        root = plant.bodies[0].name
        if root in at and state is not None:
            first = replace(state.bodies[root], pa=at[root])
            state = replace(state, bodies={**state.bodies, root: first})
        elif root in at:
            raise ValueError(f"{root} has no first pressure to change: give a first state")
        bodies = tuple(
            replace(x, path=replace(x.path, set_pa=at[x.name])) if x.name in at and x.path else x
            for x in plant.bodies
        )
        cylinders = tuple(
            replace(x, path=replace(x.path, set_pa=at[x.name])) if x.name in at else x
            for x in plant.cylinders
        )
        kelvin = plant.ambient_k if self._ambient is None else float(self._ambient[run])
        changed = replace(
            plant,
            bodies=bodies,
            cylinders=cylinders,
            jets=self._jets_of(run, at),
            ambient_k=kelvin,
        )
        return changed, state

    def _jets_of(self, run: int, at: Mapping[str, float]) -> tuple[Jet, ...]:
        found = []
        for jet in self._plant.jets:
            delay, flow = (self._jets.get((jet.name, what)) for what in ("delay", "flow"))
            made = jet
            if delay is not None:
                made = replace(made, delay_s=float(delay[run]))
            if flow is not None:
                part = jet.flow
                made = replace(
                    made, flow=Restriction(part.c_m3_s_pa * float(flow[run]), part.b, part.m)
                )
            if jet.name in at:
                made = replace(made, path=replace(made.path, set_pa=at[jet.name]))
            found.append(made)
        return tuple(found)
