"""A strip for each beat: its window, and where it landed in each show or over many drawn by lot.

All strips share one scale in milliseconds, so that a wide one is seen to be wide.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from thundersheet.base.time import Time
from thundersheet.model.show import Window
from thundersheet.rehearse.records import Rehearsal, Scatter
from thundersheet.sheets.markup import Markup, join, number, say, tag
from thundersheet.sheets.rehearsal.scale import Line
from thundersheet.sheets.wording import at, signed

WIDTH = 680.0
LEFT, RIGHT = 262.0, 552.0
TOP, ROW = 34.0, 25.0
LETTERS = 38
LEAST_MS, MOST_MS = 20.0, 400.0
PUNCTUAL_MS = 0.5
"""Nobody sees, hears or feels that."""
FEW = 6
PIECE = 26
"""So many rows fit a page of paper."""


@dataclass(frozen=True, slots=True)
class Strip:
    """One beat's row."""

    cue: str
    at: str
    window: Window
    errors: tuple[float, ...] = ()
    """One a show; ms, late is positive."""
    missing: int = 0
    shares: Mapping[float, float] | None = None
    """Quantiles instead, where there are too many shows to draw each."""
    says: str = ""


def draw_landings(found: Rehearsal) -> tuple[tuple[Markup, ...], str]:
    """Where each beat landed in each show that played it, and what is said of the punctual rest.

    Beats that are never off by more than `PUNCTUAL_MS` are counted, not drawn.
    """
    rows: dict[str, Strip] = {}
    landed = (each for show in found.shows for each in show.landed)
    for each in sorted(landed, key=lambda each: each.beat_s):
        row = rows.get(each.cue) or Strip(each.cue, at(Time.seconds(each.beat_s), 1), each.window)
        missed = each.error_ms is None
        rows[each.cue] = Strip(
            row.cue,
            row.at,
            row.window,
            row.errors if each.error_ms is None else (*row.errors, each.error_ms),
            row.missing + missed,
        )
    drawn, rest = _told_apart(list(rows.values()))
    pieces = [drawn[first : first + PIECE] for first in range(0, len(drawn), PIECE)]
    return tuple(draw_strips([_worded(row) for row in piece], found.show) for piece in pieces), rest


def _told_apart(rows: list[Strip]) -> tuple[list[Strip], str]:
    """The rows worth drawing, and a sentence for the others."""
    drawn = [row for row in rows if row.missing or _worst(row) > PUNCTUAL_MS]
    rest = [row for row in rows if not (row.missing or _worst(row) > PUNCTUAL_MS)]
    if len(rest) < FEW:
        return rows, ""
    worst = max(map(_worst, rest))
    within = f"within {worst:.2g} ms" if worst >= 0.005 else "just on them"
    other = "other " if drawn else ""
    return drawn, f"All {other}{len(rest)} landings of a show are {within} of their beats."


def _worst(row: Strip) -> float:
    return max(map(abs, row.errors), default=0.0)


def draw_scatter(found: Scatter) -> tuple[Markup, ...]:
    """Each beat's distribution: a box from 25 to 75 %, a line from 1 to 99 %."""
    rows = [
        Strip(
            each.cue,
            "",
            each.window,
            (),
            each.missing,
            dict(each.quantiles),
            f"{100 * each.inside:.1f} %",
        )
        for each in found.spreads
    ]
    pieces = [rows[first : first + PIECE] for first in range(0, len(rows), PIECE)]
    return tuple(draw_strips(piece, found.show) for piece in pieces)


def _worded(row: Strip) -> Strip:
    if not row.errors:
        return Strip(row.cue, row.at, row.window, (), row.missing, None, "never")
    worst = max(row.errors, key=abs)
    says = f"{signed(worst)} ms"
    if row.missing:
        says += f", {row.missing} never"
    return Strip(row.cue, row.at, row.window, row.errors, row.missing, None, says)


def draw_strips(rows: Sequence[Strip], show: str) -> Markup:
    """The strips below each other."""
    across = _across(rows)
    bottom = TOP + ROW * len(rows)
    return tag(
        "svg",
        tag("title", say(f"{show}: where {len(rows)} beats land against their windows")),
        _axis(across, bottom),
        join(_row(row, TOP + ROW * index, across) for index, row in enumerate(rows)),
        viewBox=f"0 0 {WIDTH:.0f} {bottom + 8:.0f}",
        role="img",
        class_="plot strips",
        xmlns="http://www.w3.org/2000/svg",
    )


def _across(rows: Sequence[Strip]) -> Line:
    """Wide enough for every landing and for the windows that are not much wider than these."""
    errors = [abs(error) for row in rows for error in row.errors]
    errors += [abs(ms) for row in rows for ms in (row.shares or {}).values()]
    ends = [min(row.window.late.in_ms, -row.window.early.in_ms) for row in rows]
    reach = max([LEAST_MS, *errors, *(end for end in ends if end <= 100.0)]) * 1.1
    reach = min(reach, MOST_MS)
    return Line(-reach, reach, LEFT, RIGHT)


def _axis(across: Line, bottom: float) -> Markup:
    parts = []
    for value in across.round_numbers(7):
        x = across.at(value)
        kind = "zero" if value == 0 else "grid"
        parts.append(tag("line", x1=x, x2=x, y1=TOP - 4, y2=bottom, class_=kind))
        parts.append(tag("text", say(signed(value)), x=x, y=TOP - 9, text_anchor="middle"))
    parts.append(tag("text", say("early"), x=LEFT, y=11, text_anchor="start", class_="what"))
    parts.append(tag("text", say("late, ms"), x=RIGHT, y=11, text_anchor="end", class_="what"))
    return join(parts)


def _row(row: Strip, top: float, across: Line) -> Markup:
    middle = top + ROW / 2
    name = row.cue if len(row.cue) <= LETTERS else row.cue[: LETTERS - 1] + "…"
    return tag(
        "g",
        tag("title", say(f"{row.cue}: {row.says}")),
        tag("text", say(row.at), x=50, y=middle + 4, text_anchor="end", class_="head"),
        tag("text", say(name), x=58, y=middle + 4),
        _window(row.window, middle, across),
        join(_marks(row, middle, across)),
        tag("text", say(row.says), x=RIGHT + 8, y=middle + 4, class_="what"),
    )


def _window(window: Window, y: float, across: Line) -> Markup:
    """A bracket; an end beyond the scale is left open."""
    low, high = window.early.in_ms, window.late.in_ms
    x0, x1 = across.at(low), across.at(high)
    d = f"M{number(x0)} {number(y + 7)}H{number(x1)}"
    if low >= across.low:
        d += f"M{number(x0)} {number(y - 7)}V{number(y + 7)}"
    if high <= across.high:
        d += f"M{number(x1)} {number(y - 7)}V{number(y + 7)}"
    return tag("path", d=d, class_="bracket")


def _marks(row: Strip, y: float, across: Line) -> Iterator[Markup]:
    if row.shares:
        yield from _box(row.shares, y, across)
    for error in row.errors:
        inside = row.window.early.in_ms <= error <= row.window.late.in_ms
        x = across.at(error)
        if inside:
            yield tag("line", x1=x, x2=x, y1=y - 4.5, y2=y + 4.5, class_="fine")
        else:
            d = f"M{number(x)} {number(y - 5)}l5 5l-5 5l-5 -5z"
            yield tag("path", d=d, class_="bad")
    if row.missing:
        d = f"M{number(RIGHT - 12)} {number(y - 4)}l8 8m0 -8l-8 8"
        yield tag("path", d=d, class_="bad")


def _box(shares: Mapping[float, float], y: float, across: Line) -> Iterator[Markup]:
    low, quarter, middle, most, high = (shares[share] for share in (0.01, 0.25, 0.5, 0.75, 0.99))
    yield tag("line", x1=across.at(low), x2=across.at(high), y1=y, y2=y, class_="reach")
    wide = max(across.at(most) - across.at(quarter), 1.0)
    yield tag("rect", x=across.at(quarter), y=y - 4.5, width=wide, height=9, class_="box")
    x = across.at(middle)
    yield tag("line", x1=x, x2=x, y1=y - 6, y2=y + 6, class_="zero")
