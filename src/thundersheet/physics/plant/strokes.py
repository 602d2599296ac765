"""The strokes of a plant's cylinders as the event-driven run knows them.

In come the plant's cylinders, out come their rows for the kernel, one for each thing a valve may
do, and a task for each command: a stroke and the filling behind it, from one state of the air to
the next. Who shares the air with whom is not known here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import inf, sqrt
from typing import NamedTuple

from thundersheet.physics import kernel, march
from thundersheet.physics.gas import GAMMA, R, Restriction, standard_litres
from thundersheet.physics.plant.feeds import Feed
from thundersheet.physics.plant.flows import Flow
from thundersheet.physics.plant.legs import (
    FINE_S,
    Air8,
    Flights,
    Leg,
    Three,
    content_kg,
    drifted,
    swapped,
)
from thundersheet.physics.plant.records import Cylinder, Landing, Piston, Switch, Way
from thundersheet.physics.solve import GIVE_UP_S, Tables, asked
from thundersheet.physics.stroke import ACTINGS, Air, Stroke

FILLS_S = 20.0
"""The longest that filling behind a stroke is followed; see `settle.LONG_S`."""
SHUT = Restriction(1e-16)
"""Of a valve whose middle is closed: so little that a chamber keeps its air over an evening."""
GUESS_S = 0.1
"""Over this much what stands before a valve decides how a chamber fills behind a stroke."""
LONG_S = 600.0
"""After so long the air of a piston at rest is as warm as its surroundings."""
COOLS_S = 0.6
"""Most of that goes so fast: wall and bore of a prop's cylinders."""
FILLING_LASTS = 0.4
"""Share of the time of filling over which its air is said to flow: it comes fast, then slower."""


class Valve(NamedTuple):
    """One position of a cylinder's valve."""

    way: Way
    out: bool
    """Whether its row sees the piston as the stroke out does."""
    stroke: int
    """Its row."""
    opens: bool
    """Drive side to the open air, not to the feed."""
    shut: bool


class Rest(NamedTuple):
    """A piston and its air at one instant, as one valve position's row sees them."""

    valve: Valve
    at_s: float
    y_m: float
    v_m_s: float
    air: Air8
    still: bool
    """Whether pressures are at their ends, so that they follow the supply."""
    owed_kg: float = 0.0
    """What its drive side has drawn already for the time when its air is as warm as the room."""


def strokes_of(cylinder: Cylinder) -> list[tuple[Way, bool, Stroke]]:
    """The strokes that its valve can make: way, whether seen as out, and the stroke."""
    found: list[tuple[Way, bool, Stroke]] = [
        ("out", True, cylinder.out),
        ("back", False, cylinder.back),
    ]
    if cylinder.middle == "closed":
        found += [("middle", out, _shut(stroke)) for _, out, stroke in found[:2]]
    elif cylinder.middle:
        found += [
            ("middle", True, _open(cylinder.out, cylinder.back)),
            ("middle", False, _open(cylinder.back, cylinder.out)),
        ]
    return found


def _shut(stroke: Stroke) -> Stroke:
    return replace(
        stroke,
        drive_valve=(SHUT,),
        exhaust_valve=(SHUT,),
        quick_exhaust=None,
        combination="series",
    )


def _open(stroke: Stroke, other: Stroke) -> Stroke:
    """Both sides to the open air: the drive side by the way that the other stroke empties it."""
    way = (other.exhaust_valve, other.exhaust_tube, other.exhaust_end)
    if other.quick_exhaust is not None:
        way = ((other.quick_exhaust,), None, ())
    if stroke.acting == "spring" or not way[0]:
        way = (stroke.drive_valve, stroke.drive_tube, stroke.drive_end)
    valve, tube, end = way
    return replace(
        stroke,
        supply_pa=stroke.atmosphere_pa,
        drive_valve=valve,
        drive_tube=tube,
        drive_end=end,
    )


@dataclass(frozen=True, slots=True)
class Fleet:
    """All cylinders' rows and valve positions."""

    rows: list[list[float]]
    tables: list[Tables]
    valves: list[dict[tuple[Way, bool], Valve]]
    """By way and by how the piston is seen; out and back have one each."""


def fleet_of(cylinders: tuple[Cylinder, ...]) -> Fleet:
    """Rows for everything that the cylinders' valves can do."""
    fleet = Fleet([], [], [])
    for cylinder in cylinders:
        mine: dict[tuple[Way, bool], Valve] = {}
        for way, out, stroke in strokes_of(cylinder):
            row, tables = asked(stroke)
            shut, opens = (
                way == "middle" and cylinder.middle == x for x in ("closed", "exhausted")
            )
            mine[way, out] = Valve(way, out, len(fleet.rows), opens, shut)
            fleet.rows.append(row)
            fleet.tables.append(tables)
        fleet.valves.append(mine)
    return fleet


def switches_at(row: list[float]) -> float:
    """From the command until both paths switch: valve delay and sound's way down the hose."""
    sound = sqrt(GAMMA * R * row[kernel.AMBIENT])
    return row[kernel.DELAY] + row[kernel.D_LENGTH] / sound


def begins(
    cylinder: Cylinder,
    fleet: Fleet,
    device: int,
    piston: Piston | None,
    at_s: float,
    supply_pa: float,
) -> Rest:
    """How a cylinder stands at first; without a piston's state it has stood for long."""
    valves = fleet.valves[device]
    if piston is None:
        way: Way = "out" if cylinder.starts_out else "back"
        valve = valves[way, cylinder.starts_out]
        row = fleet.rows[valve.stroke]
        ambient, atmosphere = row[kernel.AMBIENT], row[kernel.ATM]
        drive = atmosphere if row[kernel.ACTING] == ACTINGS["spring"] else supply_pa
        air = (drive, ambient, atmosphere, ambient) * 2
        return Rest(valve, at_s, row[kernel.STROKE], 0.0, air, still=True)
    out = piston.way != "back"
    valve = valves[piston.way, out]
    full = cylinder.out.stroke_m
    y, v = (piston.out_m, piston.v_m_s) if out else (full - piston.out_m, -piston.v_m_s)
    given = _eight(piston.air)
    return Rest(valve, at_s, y, v, given if out else swapped(given), still=False)


def piston_of(rest: Rest, full_m: float) -> Piston:
    """The same as a record."""
    out = rest.valve.out
    air = rest.air if out else swapped(rest.air)
    return Piston(
        out_m=rest.y_m if out else full_m - rest.y_m,
        v_m_s=rest.v_m_s if out else -rest.v_m_s,
        air=Air(
            drive_pa=air[0], drive_k=air[1], exhaust_pa=air[2], exhaust_k=air[3],
            drive_tube_pa=air[4], drive_tube_k=air[5],
            exhaust_tube_pa=air[6], exhaust_tube_k=air[7],
        ),
        way=rest.valve.way,
    )  # fmt: skip


def _eight(air: Air) -> Air8:
    return (
        *(air.drive_pa, air.drive_k, air.exhaust_pa, air.exhaust_k),
        *(air.drive_tube_pa, air.drive_tube_k, air.exhaust_tube_pa, air.exhaust_tube_k),
    )


def moved_on(rest: Rest, row: list[float], to_s: float, supply_pa: float) -> Rest:
    """The same piston later, where it is still; where not, it is as it was."""
    if not rest.still or rest.valve.shut:
        return rest._replace(at_s=to_s)
    pa = row[kernel.ATM] if rest.valve.opens else supply_pa
    air = drifted(row, rest.y_m, rest.air, pa, to_s - rest.at_s)
    return rest._replace(at_s=to_s, air=air, owed_kg=0.0)


def seen_by(rest: Rest, valve: Valve, full_m: float) -> Rest:
    """The same piston as another valve position's row sees it."""
    if rest.valve.out == valve.out:
        return rest._replace(valve=valve, still=False)
    y = full_m - rest.y_m
    y = 0.0 if abs(y) < 1e-12 else y
    return Rest(valve, rest.at_s, y, -rest.v_m_s, swapped(rest.air), still=False)


@dataclass(slots=True, eq=False)
class Task:
    """One command to a cylinder: what it does until it has settled or the next one comes."""

    device: int
    switch: Switch | None
    """None: no command, only air that has not settled at first."""
    number: int
    valve: Valve
    command_s: float
    switch_s: float
    first: Rest | None
    """The piston when its valve switches; None: where the task before leaves it."""
    before: Task | None = None
    limit_s: float = inf
    """When the next command's valve switches."""
    flight: Leg | None = None
    after: Rest | None = None
    end_s: float = inf
    legs: list[Flow] = field(default_factory=list)
    lump: Flow | None = None
    """What its drive side took before, while it stood and the supply moved."""
    gone_kg: float = 0.0
    """To the open, and what a change of the model cuts off."""
    came_kg: float = 0.0
    """From the open, where its drive side opens there."""

    def landing(self, lowest_pa: float) -> Landing | None:
        """What is to be said of it; None: there was no command."""
        if self.switch is None:
            return None
        took = sum(each.kg for each in self.legs)
        if self.flight is None or self.valve.way == "middle":
            return Landing(switch=self.switch, supply_pa=lowest_pa, air_l=standard_litres(took))
        flight = self.flight
        full = self._when(flight.full_s)
        return Landing(
            switch=self.switch,
            start_s=self._when(flight.start_s),
            mid_s=self._when(flight.mid_s),
            full_s=full,
            v_impact_m_s=None if full is None else flight.speed_m_s,
            e_impact_j=None if full is None else flight.energy_j,
            supply_pa=lowest_pa,
            air_l=standard_litres(took),
        )

    def _when(self, after_s: float) -> float | None:
        return None if after_s < 0.0 else self.command_s + after_s


class Fed(NamedTuple):
    """What stands before a valve over one leg."""

    supply_pa: float
    sums: Three


FedOver = Callable[[float, float], Fed]
"""What stands before a valve from one instant to another, by the pass before."""


def fly(
    task: Task,
    rest: Rest,
    row: list[float],
    flights: Flights,
    fed: FedOver,
    cuts: Sequence[float],
    feed: Feed,
    settles_pa: float,
) -> None:
    """Solve a task's stroke and the filling behind it, from ``rest`` at its valve's switching.

    The stroke is cut at ``cuts``: between them what stands before the valve is constant.
    ``settles_pa`` is what will stand there when its store has filled again.
    """
    begin, limit = task.command_s, task.limit_s - task.command_s
    going = _Going((rest.y_m, rest.v_m_s, rest.air), rest.at_s - begin, [])
    task.flight, still = None, False
    standing = rest.y_m >= row[kernel.STROKE] and rest.v_m_s <= 0.0
    if not standing:
        task.flight = _stroke(task, flights, fed, [*(x - begin for x in cuts), limit], going)
    ended = task.flight is not None and task.flight.status in (march.ARRIVED, march.STALLED)
    if (standing or ended) and not task.valve.shut and limit - going.at_s > FINE_S:
        _filling(task, flights, fed, limit, going)
        still = going.at_s < limit - FINE_S
    y, v, air = going.state
    stays = limit - going.at_s > FINE_S
    task.end_s = min(begin + going.at_s, task.limit_s)
    task.after = Rest(task.valve, task.end_s, y, 0.0 if stays else v, air, still)
    took = sum(kg for _, _, kg in going.legs)
    first, last = (sum(content_kg(row, *x)) for x in ((rest.y_m, rest.air), (y, air)))
    task.gone_kg = first + took - last
    task.came_kg = took if task.valve.opens else 0.0
    task.legs = []
    if task.valve.opens:
        return
    task.legs = [
        Flow(begin + a, begin + b, kg, task.device, feed.store, feed.shared)
        for a, b, kg in going.legs
    ]
    if still:
        owed = cooling_kg(task.after, row, max(settles_pa, air[0]))
        end = task.end_s + COOLS_S
        task.legs.append(Flow(task.end_s, end, owed, task.device, feed.store, ()))
        task.after = task.after._replace(owed_kg=owed)


@dataclass(slots=True)
class _Going:
    """A piston on its way through a task; seconds after the command."""

    state: tuple[float, float, Air8]
    at_s: float
    legs: list[tuple[float, float, float]]
    """From, to and what it took, kg."""


def _stroke(
    task: Task, flights: Flights, fed: FedOver, stops: Sequence[float], going: _Going
) -> Leg | None:
    """The stroke, piece by piece, to the end of the last of ``stops``; None: there is no time."""
    found: Leg | None = None
    until = min(stops[-1], going.at_s + GIVE_UP_S)
    for each in stops:
        stop = min(each, until)
        if stop - going.at_s <= FINE_S:
            continue
        supply = fed(task.command_s + going.at_s, task.command_s + stop)
        leg = flights.leg(task.valve.stroke, going.state, *supply, going.at_s, stop, held=False)
        going.legs.append((going.at_s, leg.end_s, leg.took_kg))
        going.state, going.at_s = (leg.y_m, leg.v_m_s, leg.air), leg.end_s
        found = leg if found is None else joined(found, leg)
        if leg.status != march.CUT:
            break
    return found


def _filling(task: Task, flights: Flights, fed: FedOver, limit: float, going: _Going) -> None:
    """What flows behind a piston that has come to its end, until that has settled."""
    begin, at_s = task.command_s, going.at_s
    stop = min(limit, at_s + FILLS_S)
    supply = fed(begin + at_s, begin + min(stop, at_s + GUESS_S))
    leg = flights.leg(task.valve.stroke, going.state, *supply, at_s, stop, held=True)
    lasts = FILLING_LASTS if leg.status == march.SETTLED else 1.0
    going.legs.append((at_s, at_s + lasts * (leg.end_s - at_s), leg.took_kg))
    going.state, going.at_s = (leg.y_m, 0.0, leg.air), leg.end_s


def cooling_kg(rest: Rest, row: list[float], supply_pa: float) -> float:
    """What the air of a piston at rest draws in until it is as warm as the room."""
    later = moved_on(rest, row, rest.at_s + LONG_S, supply_pa)
    return content_kg(row, later.y_m, later.air)[0] - content_kg(row, rest.y_m, rest.air)[0]


def joined(first: Leg, then: Leg) -> Leg:
    """Two pieces of one stroke as one."""
    return then._replace(
        start_s=first.start_s if first.start_s >= 0.0 else then.start_s,
        mid_s=first.mid_s if first.mid_s >= 0.0 else then.mid_s,
        took_kg=first.took_kg + then.took_kg,
    )
