"""How a cylinder's piston and air are found, moved and left, from one command to the next.

A state is a ``Spot`` (at rest since long) or a ``Way`` (a stroke under way or done). The next
command takes up the piston where it truly is when the valve switches, with the air that is left.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from thundersheet.base.time import Span
from thundersheet.devices._answers import together
from thundersheet.devices._bands import bands_of
from thundersheet.devices._course import POINTS, Point
from thundersheet.devices._impact import impact_of
from thundersheet.devices._stroke import push_n, resists_n, share_out, stroke_of
from thundersheet.model.device import Landing, Lead, Move, Part, Setting
from thundersheet.physics.gas import Restriction
from thundersheet.physics.settle import settle
from thundersheet.physics.solve import solve
from thundersheet.physics.stroke import Air, Landed, Sample, Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder

SETTLED_S = 20.0
"""After so long the air of any cylinder of this size is as it will stay."""
COASTS_S = 1.0
"""A piston caught by a closed valve bounces on its air and is still by then."""
SHUT = Restriction(1e-14)
"""A closed port: nothing to speak of leaks through."""
STILL_S = 0.1
"""Of its bouncing on trapped air so much is drawn."""
END = 1e-6
"""Metres: nearer to an end than this is at it."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Piston and air at one instant, seen by the stroke out."""

    out_m: float
    v_m_s: float
    air: Air


@dataclass(frozen=True, slots=True)
class Way:
    """A stroke that a command began, and what closed the valve under way, if anything did."""

    stroke: Stroke
    cut_s: float | None = None
    """When a closed-centre valve shut both ports, after the command."""
    age_s: float = 0.0
    """How much earlier than the last command it was told."""


State = Spot | Way


@lru_cache(maxsize=1024)
def run(stroke: Stroke, until_s: float | None = None) -> Landed:
    """One stroke with its motion's samples, kept: a plan asks for the same one many times."""
    return solve(stroke, until_s=until_s, samples=True)


@lru_cache(maxsize=2048)
def rested(stroke: Stroke, air: Air, pause_s: float, y_m: float) -> Air:
    """The air after a pause at a place, kept."""
    return settle(stroke, air, pause_s, y_m=y_m)


def home(cylinder: AirCylinder, setting: Setting) -> Spot:
    """Back, long since; without pressure anywhere where the air was dumped."""
    atmosphere = setting.atmosphere_pa
    full = atmosphere if setting.supply_pa is None else setting.supply_pa
    empty = setting.vented or cylinder.acting == "single"
    empty = empty or cylinder.valve.kind == "5/3 exhausted"
    return Spot(0.0, 0.0, Air.at(atmosphere, atmosphere if empty else full, setting.ambient_k))


def spot_at(state: State, seconds: float | None) -> Spot:
    """Piston and air so long after the last command; None: all has settled."""
    if isinstance(state, Spot):
        return state
    seconds = None if seconds is None else seconds + state.age_s
    if state.cut_s is not None and (seconds is None or seconds > state.cut_s):
        return _caught(state, COASTS_S if seconds is None else seconds - state.cut_s)
    return _spot(state.stroke, seconds)


def _spot(stroke: Stroke, seconds: float | None) -> Spot:
    if seconds is not None and seconds <= stroke.switch_s:
        return _seen(stroke, stroke.y0_m, stroke.v0_m_s, stroke.first_air)
    ended = run(stroke)
    if seconds is not None and seconds < ended.t_end_s:
        part = run(stroke, seconds)
        return _seen(stroke, part.y_m, part.v_m_s, part.air)
    pause = None if seconds is None else seconds - ended.t_end_s
    if pause is None or pause > SETTLED_S:
        return _seen(stroke, ended.y_m, 0.0, _at_last(stroke))
    return _seen(stroke, ended.y_m, 0.0, rested(stroke, ended.air, pause, ended.y_m))


def _at_last(stroke: Stroke) -> Air:
    """The air when nothing flows any more."""
    fed = stroke.atmosphere_pa if stroke.acting == "spring" else stroke.supply_pa
    return Air.at(fed, stroke.atmosphere_pa, stroke.ambient_k)


def _seen(stroke: Stroke, y_m: float, v_m_s: float, air: Air) -> Spot:
    """A stroke's own view turned into that of the stroke out."""
    if stroke.extend:
        return Spot(y_m, v_m_s, air)
    return Spot(stroke.stroke_m - y_m, -v_m_s, air.swapped())


def begun(stroke: Stroke, spot: Spot) -> Stroke:
    """The stroke taken up where piston and air are."""
    if stroke.extend:
        y, v, air = spot.out_m, spot.v_m_s, spot.air
    else:
        y, v, air = stroke.stroke_m - spot.out_m, -spot.v_m_s, spot.air.swapped()
    return replace(stroke, y0_m=min(max(y, 0.0), stroke.stroke_m), v0_m_s=v, air=air)


def shut(stroke: Stroke) -> Stroke:
    """The same cylinder with both ports closed."""
    return replace(
        stroke,
        valve_delay_s=0.0,
        drive_valve=(SHUT,),
        drive_tube=None,
        drive_end=(),
        exhaust_valve=(SHUT,),
        exhaust_tube=None,
        exhaust_end=(),
        quick_exhaust=None,
        cushion_m=0.0,
        cushion=None,
        tube_model="lumped",
    )


def _caught(way: Way, after_s: float) -> Spot:
    """Where the piston is, so long after both ports were closed on it."""
    stroke = begun(shut(way.stroke), _spot(way.stroke, way.cut_s))
    part = run(stroke, min(after_s, COASTS_S))
    still = after_s >= COASTS_S
    return _seen(stroke, part.y_m, 0.0 if still else part.v_m_s, part.air)


def lead(
    cylinder: AirCylinder,
    move: Move,
    land: Landing,
    before: State,
    since: Span | None,
    setting: Setting,
) -> Lead:
    """The lead of one move; `never` says why where it does not land."""
    out = move.action == "out"
    if move.action == "stop":
        out = before.stroke.extend if isinstance(before, Way) else False
    try:
        whole = stroke_of(cylinder, setting, out=out)
    except ValueError as error:
        return _never(cylinder, before, str(error))
    if move.action == "stop":
        return _stopped(cylinder, whole, land, before, since)
    going = _same_way(before, since, out)
    if going is not None:
        return _goes_on(cylinder, going, land)
    spot = spot_at(before, None if since is None else since.s + whole.switch_s)
    if _is_there(spot, whole):
        return _nothing_to_do(cylinder, before, since)
    way = Way(begun(whole, spot))
    if cylinder.valve.kind == "5/3 closed" and (move.hold or _part_way(move)):
        found = _cut(cylinder, way, move, land)
    else:
        found = _lead(cylinder, way, land)
    if since is None or not spot.v_m_s:
        return found
    return replace(found, curve=_run_on(cylinder, before, since.s, whole.switch_s, found.curve))


def _run_on(
    cylinder: AirCylinder, before: State, since: float, switch: float, curve: tuple[Point, ...]
) -> tuple[Point, ...]:
    """A curve that shows how the piston runs on until the valve has switched."""
    early = [
        (t, share_out(cylinder, spot_at(before, since + t).out_m))
        for t in (switch * k / 4 for k in range(4))
    ]
    return (*early, *(point for point in curve if point[0] >= switch))


def _part_way(move: Move) -> bool:
    return move.to is not None and 0.0 < move.to < 1.0


def _same_way(before: State, since: Span | None, out: bool) -> Way | None:
    """The stroke that is already going the way it is told to, told again; else None."""
    if not isinstance(before, Way) or before.stroke.extend != out or before.cut_s is not None:
        return None
    if since is None:
        return None
    again = replace(before, age_s=before.age_s + since.s)
    return again if again.age_s < run(before.stroke).t_end_s else None


def _is_there(spot: Spot, stroke: Stroke) -> bool:
    left = stroke.stroke_m - spot.out_m if stroke.extend else spot.out_m
    return left < END


def _never(cylinder: AirCylinder, before: State, why: str) -> Lead:
    return Lead(
        parts=(Part(name="valve", span=cylinder.valve.delay),),
        early=Span(0),
        late=Span(0),
        basis="estimated",
        rest=cylinder.valve.delay,
        state=before,
        never=why,
    )


def _nothing_to_do(cylinder: AirCylinder, before: State, since: Span | None) -> Lead:
    """It is there already: no air flows and nothing moves."""
    state = before
    if isinstance(before, Way) and since is not None:
        state = replace(before, age_s=before.age_s + since.s)
    share = share_out(cylinder, spot_at(before, None if since is None else since.s).out_m)
    return Lead(
        parts=(Part(name="valve", span=Span(0)),),
        early=Span(0),
        late=Span(0),
        basis="estimated",
        rest=cylinder.valve.delay,
        state=state,
        curve=((0.0, share),),
    )


def _times(landed: Landed) -> dict[Landing, float | None]:
    middle = landed.t_start_s if landed.t_mid_s is None else landed.t_mid_s
    if landed.t_full_s is None and landed.t_mid_s is None:
        middle = None
    return {"starts": landed.t_start_s, "half-way": middle, "arrives": landed.t_full_s}


def _lead(cylinder: AirCylinder, way: Way, land: Landing) -> Lead:
    """A whole stroke from where the piston is."""
    stroke = way.stroke
    landed = run(stroke)
    ends = landed.t_end_s
    lands = _times(landed)[land]
    bands = {} if landed.stalled else bands_of(cylinder, stroke, land)
    wide = together(bands)
    return Lead(
        parts=tuple(_parts(stroke, landed, ends if lands is None else lands)),
        early=wide,
        late=wide,
        basis="estimated",
        rest=Span.seconds(ends),
        state=way,
        curve=_curve(cylinder, stroke, landed.samples),
        impact=impact_of(cylinder, stroke, landed),
        air_l=stroke.air_fill_l,
        never=_why(stroke, landed),
        bands=bands,
    )


def _why(stroke: Stroke, landed: Landed) -> str:
    """Why a stroke never lands, with the forces; nothing where it does."""
    if not landed.stalled:
        return ""
    push, weight = push_n(stroke), resists_n(stroke, landed.y_m)
    where = landed.stalled.partition(":")[0]
    return (
        f"{where}: its air pushes with {max(push, 0.0):.0f} N, against {weight:.0f} N of load "
        f"and up to {stroke.breakaway_n:.0f} N of friction"
    )


def _parts(stroke: Stroke, landed: Landed, lands: float) -> Iterator[Part]:
    """Valve, hose, filling until it moves, and moving: to the nanosecond their sum is the lead."""
    total = Span.seconds(lands)
    valve = min(Span.seconds(stroke.valve_delay_s), total)
    switch = min(Span.seconds(stroke.switch_s), total)
    starts = min(Span.seconds(landed.t_start_s), total) if landed.t_start_s else switch
    starts = max(starts, switch)
    yield Part(name="valve", span=valve)
    yield Part(name="hose", span=switch - valve)
    # A piston that still runs the other way has to be caught and turned round first.
    yield Part(name="turning" if stroke.v0_m_s < 0.0 else "filling", span=starts - switch)
    if total > starts:
        yield Part(name="moving", span=total - starts)


def _curve(
    cylinder: AirCylinder, stroke: Stroke, samples: Sequence[Sample], after_s: float = 0.0
) -> tuple[Point, ...]:
    """About forty points of the motion, as guests see it."""
    if not samples:
        return ((0.0, share_out(cylinder, _out(stroke, stroke.y0_m))),)
    moving = next((i for i, each in enumerate(samples) if each.v_m_s), 0)
    first = max(moving - 1, 0)
    kept = [0, *range(first, len(samples), max(1, (len(samples) - first) // POINTS))]
    points: list[Point] = []
    for index in sorted({*kept, len(samples) - 1}):
        at = samples[index].t_s + after_s
        share = share_out(cylinder, _out(stroke, samples[index].y_m))
        if not points and at > 0.0:
            points.append((0.0, share))
        if not points or at > points[-1][0]:
            points.append((at, share))
    return tuple(points)


def _out(stroke: Stroke, y_m: float) -> float:
    y = min(max(y_m, 0.0), stroke.stroke_m)
    return y if stroke.extend else stroke.stroke_m - y


def _goes_on(cylinder: AirCylinder, way: Way, land: Landing) -> Lead:
    """Told again what it is doing: what is left of the stroke."""
    whole = _lead(cylinder, way, land)
    age = Span.seconds(way.age_s)
    left = max(whole.total - age, Span(0))
    here = [(t - way.age_s, share) for t, share in whole.curve if t > way.age_s]
    first = share_out(cylinder, spot_at(replace(way, age_s=0.0), way.age_s).out_m)
    return replace(
        whole,
        parts=(Part(name="moving", span=left),),
        rest=max(whole.rest - age, Span(0)),
        curve=((0.0, first), *here),
        air_l=0.0,
    )


def _stopped(
    cylinder: AirCylinder, whole: Stroke, land: Landing, before: State, since: Span | None
) -> Lead:
    """Both coils off: the ports close, or open, after the valve's delay; then it coasts."""
    if not isinstance(before, Way) or since is None or before.cut_s is not None:
        return _nothing_to_do(cylinder, before, since)
    cut = since.s + before.age_s + cylinder.valve.delay.s
    if cut >= run(before.stroke).t_end_s:
        return _nothing_to_do(cylinder, before, since)
    way = replace(before, cut_s=cut, age_s=since.s + before.age_s)
    coast = _coast(before.stroke, cut)
    stands = cylinder.valve.delay.s + _stands_after(coast)
    valve = Part(name="valve", span=cylinder.valve.delay)
    parts: tuple[Part, ...] = (valve,)
    if land == "arrives":
        parts = (valve, Part(name="coasting", span=Span.seconds(stands) - valve.span))
    doubt = Span.seconds(0.3 * stands)
    first = share_out(cylinder, spot_at(before, since.s).out_m)
    return Lead(
        parts=parts,
        early=doubt,
        late=doubt,
        basis="estimated",
        rest=Span.seconds(stands),
        state=way,
        curve=((0.0, first), *_curve(cylinder, whole, coast.samples, cylinder.valve.delay.s)[1:]),
        impact=impact_of(cylinder, whole, coast),
        bands={"coasting": doubt},
    )


def _coast(stroke: Stroke, cut_s: float) -> Landed:
    """The motion after both ports were closed."""
    return run(begun(shut(stroke), _spot(stroke, cut_s)), COASTS_S)


def _stands_after(coast: Landed) -> float:
    """When it first stands still."""
    return next((each.t_s for each in coast.samples if each.v_m_s <= 0.0), coast.t_end_s)


def _cut(cylinder: AirCylinder, way: Way, move: Move, land: Landing) -> Lead:
    """Part-way: the coil is let go so early that the piston coasts to where it is to stand."""
    stroke = way.stroke
    closes = cylinder.valve.delay.s
    if move.hold is not None:
        hold = move.hold.s
    else:
        goal = (move.to or 0.0) * stroke.stroke_m
        goal = goal if stroke.extend else stroke.stroke_m - goal
        if goal <= stroke.y0_m + END:
            return _never(cylinder, way, "it is beyond that already, on its way there")
        hold = max(_reaches(stroke, goal) - closes, closes)
        for _ in range(3):  # each round takes the coasting of the last one off
            rest = _coast(stroke, hold + closes).y_m
            reached = _reaches(stroke, max(goal - (rest - _y(stroke, hold + closes)), 0.0))
            hold = max(reached - closes, closes)
    cut = replace(way, cut_s=hold + closes)
    landed, coast = run(stroke), _coast(stroke, hold + closes)
    stands = hold + closes + _stands_after(coast)
    lands = stands if land == "arrives" else _times(landed)[land] or stands
    lands = min(lands, stands)
    doubt = Span.seconds(0.3 * lands)
    before = [sample for sample in landed.samples if sample.t_s < hold + closes]
    curve = _curve(cylinder, stroke, before)
    after = _curve(cylinder, stroke, coast.samples, hold + closes)
    return Lead(
        parts=tuple(_parts(stroke, landed, lands)),
        early=doubt,
        late=doubt,
        basis="estimated",
        rest=Span.seconds(stands),
        hold=Span.seconds(hold),
        state=cut,
        curve=(*curve, *(p for p in after if curve[-1][0] < p[0] <= stands + STILL_S)),
        impact=impact_of(cylinder, stroke, replace(landed, samples=tuple(before))),
        air_l=stroke.air_fill_l * _y(stroke, hold + closes) / stroke.stroke_m,
        never="" if landed.t_start_s is not None else _why(stroke, landed),
        bands={"pressure and cold": doubt},
    )


def _y(stroke: Stroke, seconds: float) -> float:
    return run(stroke, seconds).y_m


def _reaches(stroke: Stroke, y_m: float) -> float:
    """When the piston first comes to a place, between the samples by a straight line."""
    samples = run(stroke).samples
    for one, two in pairwise(samples):
        if one.y_m <= y_m <= two.y_m and two.y_m > one.y_m:
            return one.t_s + (two.t_s - one.t_s) * (y_m - one.y_m) / (two.y_m - one.y_m)
    return samples[-1].t_s
