"""Which stroke a cylinder's move is, and where it begins: from rest, on its way, or part-way.

What happens in a stroke is physics', what piston and air are between strokes is ``way``'s; a
whole stroke becomes a lead in ``landing``, one that is stopped under way in ``part_way``.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from thundersheet.base.time import Span
from thundersheet.devices._course import Point
from thundersheet.devices._cylinder.landing import goes_on, never, nothing_to_do, whole_lead
from thundersheet.devices._cylinder.part_way import cut_short, stopped
from thundersheet.devices._cylinder.stroke import share_out, stroke_of
from thundersheet.devices._cylinder.way import Spot, State, Way, begun, run, spot_at
from thundersheet.model.device import Landing, Lead, Move, Setting
from thundersheet.physics.stroke import Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder

END = 1e-6
"""Metres: nearer to an end than this is at it."""


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
        out = not before.stroke.extend if isinstance(before, Way) else True
    try:
        whole = stroke_of(cylinder, setting, out=out)
    except ValueError as error:
        return never(cylinder, before, str(error))
    if move.action == "stop":
        return stopped(cylinder, whole, land, before, since)
    going = _same_way(before, since, out)
    if going is not None:
        return goes_on(cylinder, going, land)
    spot = spot_at(before, None if since is None else since.s + whole.switch_s)
    if _is_there(spot, whole):
        return nothing_to_do(cylinder, before, since)
    way = Way(begun(whole, spot), care=not setting.landing_only)
    if cylinder.valve.kind == "5/3 closed" and (move.hold or _part_way(move)):
        found = cut_short(cylinder, way, before, move, land)
    else:
        found = whole_lead(cylinder, way, land)
    if since is None or not spot.v_m_s or not whole.switch_s:
        return found
    return replace(found, curve=_run_on(cylinder, before, since.s, whole.switch_s, found.curve))


def _run_on(
    cylinder: AirCylinder, before: State, since: float, switch: float, curve: tuple[Point, ...]
) -> tuple[Point, ...]:
    """A curve that shows how the piston runs on until the valve has switched.

    A straight line: the switching takes some milliseconds, and each point more would be a stroke
    run anew as far as there.
    """
    first = share_out(cylinder, spot_at(before, since).out_m)
    return ((0.0, first), *(point for point in curve if point[0] >= switch))


def _part_way(move: Move) -> bool:
    return move.to is not None and 0.0 < move.to < 1.0


def _same_way(before: State, since: Span | None, out: bool) -> Way | None:
    """The stroke that is already going the way it is told to, told again; else None."""
    if not isinstance(before, Way) or before.stroke.extend != out or before.cut_s is not None:
        return None
    if since is None:
        return None
    again = replace(before, age_s=before.age_s + since.s)
    return again if again.age_s < run(before.stroke, care=before.care).t_end_s else None


def _is_there(spot: Spot, stroke: Stroke) -> bool:
    left = stroke.stroke_m - spot.out_m if stroke.extend else spot.out_m
    return left < END
