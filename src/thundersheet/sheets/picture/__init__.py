"""The sheet as a picture (SVG): time runs down, beats are ruled across, cues hang above them.

`draw_strips` is the whole show with quiet stretches folded, in pieces that fit a page;
`draw_overview` is the whole show at one scale; `draw_hit` is one beat, enlarged. All take a plan
and what is known of the programme, and return text; no instant is computed here.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

from thundersheet.base.time import Time
from thundersheet.plan.records import Cue, Plan
from thundersheet.sheets.markup import NOTHING, Markup, join, say, tag
from thundersheet.sheets.picture.columns import (
    NO_SYMBOLS,
    Symbols,
    draw_columns,
    draw_lanes,
    head_height,
)
from thundersheet.sheets.picture.fold import Need, Scale, even, moved, pleated, strips
from thundersheet.sheets.picture.hatch import definitions, hatches, legend
from thundersheet.sheets.picture.labels import (
    Ruled,
    draw_beats,
    draw_few_beats,
    draw_findings,
    ruled,
)
from thundersheet.sheets.picture.layout import WIDTH, Layout, lay_out
from thundersheet.sheets.picture.programme import NO_PROGRAMME, Programme, Still
from thundersheet.sheets.picture.spine import (
    draw_breaks,
    draw_pleats,
    draw_stills,
    draw_ticks,
    draw_waveform,
    draw_words,
)
from thundersheet.sheets.picture.wedge import draw_cue, landing, part_names
from thundersheet.sheets.wording import title_of

__all__ = [
    "NO_PROGRAMME",
    "NO_SYMBOLS",
    "Programme",
    "Still",
    "Symbols",
    "draw_hit",
    "draw_overview",
    "draw_strips",
    "draw_whole",
    "show_scale",
]

PAGE_TALL = 830.0
"""A strip of 720 by 830 fits under the heading of a portrait page, A4 or Letter."""
FOOT = 34.0
HIT_TALL = 96.0


def draw_strips(
    plan: Plan,
    programme: Programme = NO_PROGRAMME,
    symbols: Symbols = NO_SYMBOLS,
    *,
    most: float = PAGE_TALL,
) -> tuple[Markup, ...]:
    """The whole show, quiet stretches folded, as one drawing after another down the page."""
    layout = lay_out(plan, bool(programme.stills))
    head = head_height(layout, symbols)
    pieces = strips(show_scale(plan), most * layout.width / WIDTH - head - FOOT)
    return tuple(
        _drawing(plan, programme, layout, moved(piece, head), f"strip{index}", symbols)
        for index, piece in enumerate(pieces)
    )


def draw_whole(
    plan: Plan,
    programme: Programme = NO_PROGRAMME,
    symbols: Symbols = NO_SYMBOLS,
    style: str = "",
) -> Markup:
    """The whole folded show as one drawing, as tall as it gets; with `style` it stands alone."""
    layout = lay_out(plan, bool(programme.stills))
    scale = moved(strips(show_scale(plan), math.inf)[0], head_height(layout, symbols))
    css = tag("style", Markup(style)) if style else NOTHING
    return _drawing(plan, programme, layout, scale, "whole", symbols, css=css)


def draw_overview(plan: Plan, programme: Programme = NO_PROGRAMME, *, tall: float = 1.9) -> Markup:
    """The whole show at one scale, `tall` times as high as wide; some beats are named."""
    layout = lay_out(plan, bool(programme.stills), width=440.0, labels=152.0, narrowest=12)
    head = head_height(layout, NO_SYMBOLS)
    scale = even(Time(0), plan.length, head, tall * layout.width - head - 12)
    return _drawing(plan, programme, layout, scale, "overview", NO_SYMBOLS, detail=False)


def draw_hit(
    plan: Plan,
    cue: Cue,
    programme: Programme = NO_PROGRAMME,
) -> Markup:
    """One beat enlarged, with every cue that belongs to it."""
    beat = next(beat for beat in ruled(plan) if cue in beat.cues)
    some = replace(plan, cues=beat.cues)
    near = replace(programme, stills=())
    need = _need(beat)
    pad = need.end.since(need.start) * Fraction(1, 12)
    layout = lay_out(some, stills=False, width=330.0)
    scale = even(need.start - pad, need.end + pad, head_height(layout, NO_SYMBOLS), HIT_TALL)
    return _drawing(some, near, layout, scale, f"hit{beat.at.ns}", NO_SYMBOLS)


def show_scale(plan: Plan) -> Scale:
    """The folded time scale of the whole show."""
    return pleated([_need(beat) for beat in ruled(plan)], plan.length)


def _need(beat: Ruled) -> Need:
    """From the first cue's leaving to the last end of a window."""
    starts = [min(cue.leaves_at, cue.target.land_at + cue.target.window.early) for cue in beat.cues]
    ends = [max(landing(cue), cue.target.land_at + cue.target.window.late) for cue in beat.cues]
    return Need(
        min([beat.at, *starts]),
        max([beat.at, *ends]),
        max(cue.lead.total for cue in beat.cues),
        max(cue.target.window.late - cue.target.window.early for cue in beat.cues),
    )


def _drawing(
    plan: Plan,
    programme: Programme,
    layout: Layout,
    scale: Scale,
    name: str,
    symbols: Symbols,
    detail: bool = True,
    css: Markup = NOTHING,
) -> Markup:
    beats = [beat for beat in ruled(plan) if scale.holds(beat.at)]
    cues = [cue for beat in beats for cue in beat.cues]
    chosen = hatches(part_names(plan), name)
    labels, reached = draw_few_beats(beats, layout, scale), 0.0
    if detail:
        labels, reached = draw_beats(beats, layout, scale)
    bottom = max(scale.bottom, reached)
    foot = FOOT if detail else 12.0
    return tag(
        "svg",
        tag("title", say(_title(plan, scale))),
        css,
        definitions(chosen),
        draw_columns(layout, scale.stretches[0].top, bottom, symbols),
        draw_lanes(layout, scale.stretches[0].top),
        draw_pleats(layout, scale),
        draw_waveform(programme, layout, scale),
        draw_breaks(layout, scale),
        draw_stills(programme, layout, scale),
        draw_ticks(layout, scale) if detail else NOTHING,
        labels,
        draw_words(plan.schedule.words, layout, scale, named=detail),
        join(draw_cue(cue, layout.column(cue), scale, chosen, detail) for cue in cues),
        draw_findings(plan, beats, layout, scale),
        legend(chosen, 8, bottom + 22) if detail else NOTHING,
        viewBox=f"0 0 {layout.width:.0f} {bottom + foot:.0f}",
        role="img",
        class_="sheet",
        xmlns="http://www.w3.org/2000/svg",
    )


def _title(plan: Plan, scale: Scale) -> str:
    return f"{title_of(plan)}, {scale.start} to {scale.end}: time runs down, a column a device"
