"""A stroke that runs to its end as a lead: named parts, band, curve, and the state it leaves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from thundersheet.base.time import Span
from thundersheet.devices._answers import together
from thundersheet.devices._course import POINTS, Point
from thundersheet.devices._cylinder.draws import draws_of
from thundersheet.devices._cylinder.impact import impact_of
from thundersheet.devices._cylinder.jerks import bands_with_jerks
from thundersheet.devices._cylinder.stroke import push_n, resists_n, share_out
from thundersheet.devices._cylinder.way import State, Way, run, spot_at
from thundersheet.model.device import Landing, Lead, Part
from thundersheet.physics.stroke import Landed, Sample, Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder


def never(cylinder: AirCylinder, before: State, why: str) -> Lead:
    return Lead(
        parts=(Part(name="valve", span=cylinder.valve.delay),),
        early=Span(0),
        late=Span(0),
        basis="estimated",
        rest=cylinder.valve.delay,
        state=before,
        never=why,
    )


def nothing_to_do(cylinder: AirCylinder, before: State, since: Span | None) -> Lead:
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


def times_of(landed: Landed) -> dict[Landing, float | None]:
    middle = landed.t_start_s if landed.t_mid_s is None else landed.t_mid_s
    if landed.t_full_s is None and landed.t_mid_s is None:
        middle = None
    return {"starts": landed.t_start_s, "half-way": middle, "arrives": landed.t_full_s}


def whole_lead(cylinder: AirCylinder, way: Way, land: Landing) -> Lead:
    """A whole stroke from where the piston is; one run without care has no band."""
    stroke = way.stroke
    landed = run(stroke, care=way.care)
    ends = landed.t_end_s
    lands = times_of(landed)[land]
    known = way.care and not landed.stalled
    bands = bands_with_jerks(cylinder, stroke, land, landed) if known else {}
    wide = together(bands)
    return Lead(
        parts=tuple(parts_of(stroke, landed, ends if lands is None else lands)),
        early=wide,
        late=wide,
        basis="estimated",
        rest=Span.seconds(ends),
        state=way,
        curve=curve_of(cylinder, stroke, landed.samples),
        impact=impact_of(cylinder, stroke, landed),
        air_l=stroke.air_fill_l,
        draws=draws_of(stroke, landed),
        never=why_never(stroke, landed),
        bands=bands,
    )


def why_never(stroke: Stroke, landed: Landed) -> str:
    """Why a stroke never lands, with the forces; nothing where it does."""
    if not landed.stalled:
        return ""
    push, weight = push_n(stroke), resists_n(stroke, landed.y_m)
    where = landed.stalled.partition(":")[0]
    return (
        f"{where}: its air pushes with {max(push, 0.0):.0f} N, against {weight:.0f} N of load "
        f"and up to {stroke.breakaway_n:.0f} N of friction"
    )


def parts_of(stroke: Stroke, landed: Landed, lands: float) -> Iterator[Part]:
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


def curve_of(
    cylinder: AirCylinder, stroke: Stroke, samples: Sequence[Sample], after_s: float = 0.0
) -> tuple[Point, ...]:
    """About forty points of the motion, as guests see it."""
    if not samples:
        return ((0.0, share_out(cylinder, _out(stroke, stroke.y0_m))),)
    moving = next((i for i, each in enumerate(samples) if each.v_m_s), 0)
    first = max(moving - 1, 0)
    kept = [0, *range(first, len(samples), -(-(len(samples) - first) // POINTS))]
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


def goes_on(cylinder: AirCylinder, way: Way, land: Landing) -> Lead:
    """Told again what it is doing: what is left of the stroke."""
    whole = whole_lead(cylinder, way, land)
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
        draws=(),
    )
