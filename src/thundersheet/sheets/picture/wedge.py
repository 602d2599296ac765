"""One cue in its device's column: the lead's parts, the curve, the landing in its window.

In: a cue, its column, the time scale. Out: SVG. The top edge is where the cue leaves, the diamond
is where it is expected to land, the bracket is where it may.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from thundersheet.base.time import Span, Time
from thundersheet.plan.records import Cue, Plan
from thundersheet.sheets.markup import NOTHING, Markup, join, number, say, tag
from thundersheet.sheets.picture.fold import Scale
from thundersheet.sheets.picture.layout import STRIP, Column
from thundersheet.sheets.wording import in_ms, lead_parts, window

Hatches = Mapping[str, str]
"""The id of the pattern for each named part."""

SMALLEST = 1.6
"""A lead of 2 ms would be thinner than a pencil line: it is drawn this high at least."""


def landing(cue: Cue) -> Time:
    """When it is expected to land."""
    return cue.leaves_at + cue.lead.total


def draw_cue(cue: Cue, column: Column, scale: Scale, hatches: Hatches, detail: bool) -> Markup:
    """The whole drawing of a cue; `detail` False leaves out numbers and brackets (overview)."""
    return tag(
        "g",
        tag("title", say(told(cue))),
        _curve(cue, column, scale),
        _parts(cue, column, scale, hatches),
        _leaves(cue, column, scale, detail),
        _window(cue, column, scale) if detail else NOTHING,
        _landing(cue, column, scale),
        class_="cue",
        data_cue=cue.id,
        data_leaves=number(scale.y(cue.leaves_at)),
        data_lands=number(scale.y(landing(cue))),
    )


def told(cue: Cue) -> str:
    """The cue in a sentence, for readers who do not see the drawing."""
    return (
        f"{cue.target.what or cue.target.says}: cue leaves at {cue.leaves_at}, "
        f"{in_ms(cue.lead.total)} ms ahead ({lead_parts(cue)}), "
        f"beat at {cue.target.beat_at}, window {window(cue)} ms"
    )


def _parts(cue: Cue, column: Column, scale: Scale, hatches: Hatches) -> Markup:
    boxes = []
    at = cue.leaves_at
    for part in cue.lead.parts:
        if part.span:
            boxes.append(_box(column, scale.y(at), scale.y(at + part.span), hatches[part.name]))
        at = at + part.span
    if not boxes:
        y = scale.y(at)
        boxes.append(_box(column, y - SMALLEST / 2, y + SMALLEST / 2, ""))
    return join(boxes)


def _box(column: Column, top: float, bottom: float, hatch: str) -> Markup:
    return tag(
        "rect",
        x=column.left + 3,
        y=top,
        width=STRIP,
        height=max(bottom - top, SMALLEST),
        class_="lead" if hatch else "lead ink",
        fill=f"url(#{hatch})" if hatch else None,
    )


def _curve(cue: Cue, column: Column, scale: Scale) -> Markup:
    """The sail: what is seen, from zero at the strip to one at the right, until the landing."""
    lands = landing(cue)
    points = [
        (column.axis + min(max(share, 0.0), 1.0) * column.reach, scale.y(time), time)
        for time, share in _seen(cue, scale)
    ]
    before = [(x, y) for x, y, time in points if time <= lands]
    if len(before) < 2:
        before = [(column.axis, scale.y(cue.leaves_at)), (column.axis, scale.y(lands))]
    after = [before[-1], *((x, y) for x, y, time in points if time > lands)]
    foot = [(column.axis, before[-1][1]), (column.axis, before[0][1])]
    return join(
        (
            tag("polygon", points=_path([*before, *foot]), class_="wedge"),
            tag("polyline", points=_path(before), class_="curve"),
            tag("polyline", points=_path(after), class_="after") if len(after) > 1 else NOTHING,
        )
    )


def _seen(cue: Cue, scale: Scale) -> list[tuple[Time, float]]:
    """The curve's points on the programme's line, ending with the stretch that shows the beat."""
    lands = landing(cue)
    last = max(scale.at(lands).end, lands)
    points = [(cue.leaves_at + Span.seconds(t), share) for t, share in cue.lead.curve]
    shown = [(time, share) for time, share in points if time <= last]
    cut = points[len(shown) : len(shown) + 1]
    if cut and shown and last > shown[-1][0]:
        shown.append((last, _between(shown[-1], cut[0], last)))
    if lands not in [time for time, _ in shown] and points and points[0][0] < lands < points[-1][0]:
        shown.append((lands, _share_at(points, lands)))
        shown.sort()
    return shown


def _share_at(points: Sequence[tuple[Time, float]], time: Time) -> float:
    for earlier, later in pairwise(points):
        if earlier[0] <= time <= later[0]:
            return _between(earlier, later, time)
    return points[-1][1]


def _between(earlier: tuple[Time, float], later: tuple[Time, float], time: Time) -> float:
    whole = later[0].since(earlier[0]).ns
    share = time.since(earlier[0]).ns / whole if whole else 1.0
    return earlier[1] + (later[1] - earlier[1]) * share


def _leaves(cue: Cue, column: Column, scale: Scale, detail: bool) -> Markup:
    y = scale.y(cue.leaves_at)
    x = column.left + 3
    mark = tag(
        "polygon", points=_path([(x - 3, y - 5), (x + 3, y - 5), (x, y)]), class_="leaves-mark"
    )
    line = tag("line", x1=x, x2=x + STRIP + 4, y1=y, y2=y, class_="leaves")
    if not detail:
        return line
    text = tag("text", say(in_ms(cue.lead.total)), x=x + 5, y=y - 3, class_="ms")
    return join((line, mark, text))


def _window(cue: Cue, column: Column, scale: Scale) -> Markup:
    top = scale.y(cue.target.land_at + cue.target.window.early)
    bottom = scale.y(cue.target.land_at + cue.target.window.late)
    x = column.bracket
    corners = [(x - 1, top), (x + 4, top), (x + 4, bottom), (x - 1, bottom)]
    return tag("polyline", points=_path(corners), class_="window")


def _landing(cue: Cue, column: Column, scale: Scale) -> Markup:
    lands = landing(cue)
    x, y = column.bracket, scale.y(lands)
    error = lands.since(cue.target.land_at)
    band = tag(
        "line",
        x1=x,
        x2=x,
        y1=scale.y(lands - cue.lead.early),
        y2=scale.y(lands + cue.lead.late),
        class_="band",
    )
    if not cue.target.window.holds(error) or cue.lead.never:
        cross = f"M{number(x - 4)} {number(y - 4)}l8 8m0 -8l-8 8"
        return tag("path", d=cross, class_="landing out")
    corners = [(x, y - 4), (x + 4, y), (x, y + 4), (x - 4, y)]
    return join((band, tag("polygon", points=_path(corners), class_="landing")))


def _path(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def part_names(plan: Plan) -> tuple[str, ...]:
    """The names of all parts in the plan's leads, in the order in which they first occur."""
    names = (part.name for cue in plan.cues for part in cue.lead.parts if part.span)
    return tuple(dict.fromkeys(names))
