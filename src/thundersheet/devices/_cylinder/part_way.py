"""Stops on the way: a 5/3 valve goes to its middle while the piston runs."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from thundersheet.base.time import Span
from thundersheet.devices._cylinder.draws import draws_of
from thundersheet.devices._cylinder.impact import impact_of
from thundersheet.devices._cylinder.landing import (
    curve_of,
    never,
    nothing_to_do,
    parts_of,
    times_of,
    why_never,
)
from thundersheet.devices._cylinder.stroke import share_out
from thundersheet.devices._cylinder.way import SETTLED_S, State, Way, let_go, loosed, run, spot_at
from thundersheet.model.device import Landing, Lead, Move, Part
from thundersheet.physics.stroke import Landed, Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder

STILL_S = 0.1
"""Of its bouncing on trapped air so much is drawn."""
DOUBT = 0.3
"""Share of a timed stop that its band allows for: pressure, cold and friction move it as a whole,
and nothing tells the valve where the piston is (common practice, no source)."""
NEAR = 0.01
"""A place nearer than this share of the stroke is where the piston stands already."""


def stopped(
    cylinder: AirCylinder, other: Stroke, land: Landing, before: State, since: Span | None
) -> Lead:
    """Both coils off: after the valve's delay the ports close, or open, and the piston coasts.

    ``other`` is the stroke the other way, which a load may make by itself when the ports open.
    """
    closed = cylinder.valve.kind == "5/3 closed"
    if not isinstance(before, Way) or before.cut_s is not None:
        return nothing_to_do(cylinder, before, since)
    ends = run(before.stroke, care=before.care).t_end_s
    told = before.age_s + (ends + SETTLED_S if since is None else since.s)
    delay = cylinder.valve.delay
    if closed and told + delay.s >= ends:
        return nothing_to_do(cylinder, before, since)
    way = replace(before, cut_s=told + delay.s, age_s=told, free=None if closed else other)
    coast = let_go(way)
    stands = Span.seconds(_stands_after(coast, closed))
    doubt = Span.seconds(DOUBT * (delay + stands).s)
    return Lead(
        parts=(
            Part(name="valve", span=delay),
            *((Part(name="coasting", span=stands),) if land == "arrives" else ()),
        ),
        early=doubt,
        late=doubt,
        basis="estimated",
        rest=delay + stands,
        state=way,
        curve=_until(cylinder, before, told, way, coast, stands.s),
        impact=impact_of(cylinder, loosed(way), coast),
        bands={"coasting": doubt},
    )


def _until(
    cylinder: AirCylinder, before: Way, told: float, way: Way, coast: Landed, stands: float
) -> tuple[tuple[float, float], ...]:
    """The curve of a stop: on its way until the valve has shifted, and coasting then."""
    delay = cylinder.valve.delay.s
    first = share_out(cylinder, spot_at(replace(before, age_s=0.0), told).out_m)
    after = curve_of(cylinder, loosed(way), coast.samples, delay)[1:]
    return ((0.0, first), *(p for p in after if p[0] <= delay + stands + STILL_S))


def _stands_after(coast: Landed, closed: bool) -> float:
    """When a piston on trapped air first stands still, or a free one at last."""
    if not closed:
        return max((each.t_s for each in coast.samples if each.v_m_s), default=0.0)
    return next((each.t_s for each in coast.samples if each.v_m_s <= 0.0), coast.t_end_s)


def cut_short(cylinder: AirCylinder, way: Way, before: State, move: Move, land: Landing) -> Lead:
    """Part-way: the coil is let go so early that the piston coasts to where it is to stand."""
    stroke, closes = way.stroke, cylinder.valve.delay.s
    if move.hold is not None:
        hold = move.hold.s
    else:
        goal = (move.to or 0.0) * stroke.stroke_m
        goal = goal if stroke.extend else stroke.stroke_m - goal
        if abs(goal - stroke.y0_m) < NEAR * stroke.stroke_m:
            # Too short a pulse for the valve to shift: the outputs do get their command.
            return replace(nothing_to_do(cylinder, before, None), hold=Span.ms(1))
        if goal < stroke.y0_m:
            other = "back" if stroke.extend else "out"
            return never(cylinder, before, f"it is beyond that already: write `{other} to` there")
        hold = _hold_for(way, goal, closes)
    return _cut(cylinder, replace(way, cut_s=hold + closes), hold, land)


def _hold_for(way: Way, goal_m: float, closes: float) -> float:
    """How long the coil is on so that the piston comes to rest at the goal."""
    hold = max(_reaches(way, goal_m) - closes, closes)
    for _ in range(3):  # each round takes the coasting of the last one off
        caught = replace(way, cut_s=hold + closes)
        coasts = let_go(caught).y_m - run(way.stroke, hold + closes, way.care).y_m
        hold = max(_reaches(way, max(goal_m - coasts, 0.0)) - closes, closes)
    return hold


def _cut(cylinder: AirCylinder, cut: Way, hold: float, land: Landing) -> Lead:
    stroke, landed, coast = cut.stroke, run(cut.stroke, care=cut.care), let_go(cut)
    shut_s = cut.cut_s or 0.0
    stands = shut_s + _stands_after(coast, closed=True)
    lands = stands if land == "arrives" else times_of(landed)[land] or stands
    lands = min(lands, stands)
    doubt = Span.seconds(DOUBT * lands)
    before = tuple(sample for sample in landed.samples if sample.t_s < shut_s)
    curve = curve_of(cylinder, stroke, before)
    after = curve_of(cylinder, stroke, coast.samples, shut_s)
    return Lead(
        parts=tuple(parts_of(stroke, landed, lands)),
        early=doubt,
        late=doubt,
        basis="estimated",
        rest=Span.seconds(stands),
        hold=Span.seconds(hold),
        state=cut,
        curve=(*curve, *(p for p in after if curve[-1][0] < p[0] <= stands + STILL_S)),
        impact=impact_of(cylinder, stroke, replace(landed, samples=before)),
        air_l=stroke.air_fill_l * run(stroke, shut_s, cut.care).y_m / stroke.stroke_m,
        draws=draws_of(stroke, landed, shut_s),
        never="" if landed.t_start_s is not None else why_never(stroke, landed),
        bands={"pressure and cold": doubt},
    )


def _reaches(way: Way, y_m: float) -> float:
    """When the piston first comes to a place, between the samples by a straight line."""
    samples = run(way.stroke, care=way.care).samples
    for one, two in pairwise(samples):
        if one.y_m <= y_m <= two.y_m and two.y_m > one.y_m:
            return one.t_s + (two.t_s - one.t_s) * (y_m - one.y_m) / (two.y_m - one.y_m)
    return samples[-1].t_s
