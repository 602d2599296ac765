"""The error of each word as a drawing: time down the page, early to the left, late to the right.

In: the words of a proof and the range. Out: SVG. Each state has a shape of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from thundersheet.base.time import Time
from thundersheet.sheets.markup import Markup, join, number, say, tag
from thundersheet.sheets.wording import at, signed
from thundersheet.track.proof.records import ProvedWord, WordState

WIDTH, HEIGHT = 380.0, 520.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 300.0, 44.0, 486.0
LANE = 340.0
"""Words without an error (missing, extra) stand in a lane of their own at the right."""
MIDDLE = (LEFT + RIGHT) / 2


def plot_errors(words: Sequence[ProvedWord], allowed_ms: float, reach_ms: float) -> Markup:
    """The plot from minus to plus `reach_ms`, with the limits where they fall inside."""
    end_s = max([_when(word) for word in words], default=0.0) or 1.0
    return tag(
        "svg",
        tag("title", say(_told(words))),
        _frame(reach_ms),
        _times(end_s),
        join(_limit(sign * allowed_ms, reach_ms) for sign in (-1, 1) if allowed_ms <= reach_ms),
        tag("line", x1=MIDDLE, x2=MIDDLE, y1=TOP, y2=BOTTOM, class_="zero"),
        join(_mark(word, reach_ms, end_s) for word in words),
        _key(),
        viewBox=f"0 0 {WIDTH:.0f} {HEIGHT:.0f}",
        role="img",
        class_="plot",
        xmlns="http://www.w3.org/2000/svg",
    )


def _when(word: ProvedWord) -> float:
    times = [time for time in (word.expected_s, word.heard_s) if time is not None]
    return times[0] if times else 0.0


def _told(words: Sequence[ProvedWord]) -> str:
    errors = [abs(word.error_ms) for word in words if word.error_ms is not None]
    return f"{len(words)} words; worst error {max(errors, default=0.0):.3g} ms"


def round_up(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 5, 8 times a power of ten, for the ends of an axis."""
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1, 1.5, 2, 3, 5, 8, 10) if step * power >= value)


def _x(error_ms: float, reach_ms: float) -> float:
    inside = min(max(error_ms / reach_ms, -1.0), 1.0)
    return MIDDLE + inside * (RIGHT - LEFT) / 2


def _frame(reach_ms: float) -> Markup:
    lane = tag("rect", x=LANE - 22, y=TOP, width=44, height=BOTTOM - TOP, class_="lane")
    marks = [
        (-reach_ms, f"{signed(-reach_ms)} ms early"),
        (0.0, "0"),
        (reach_ms, f"{signed(reach_ms)} ms late"),
    ]
    anchors = ("start", "middle", "end")
    texts = (
        tag("text", say(text), x=_x(value, reach_ms), y=TOP - 8, text_anchor=anchor)
        for (value, text), anchor in zip(marks, anchors, strict=True)
    )
    none = tag("text", say("no time"), x=LANE, y=TOP - 8, text_anchor="middle")
    return join((lane, *texts, none))


def _times(end_s: float) -> Markup:
    steps = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200, 3600, 14_400)
    step = next((s for s in steps if end_s / s <= 12), steps[-1])
    rows = []
    for seconds in range(0, int(end_s) + 1, step):
        y = TOP + (BOTTOM - TOP) * seconds / end_s
        rows.append(tag("line", x1=LEFT, x2=RIGHT, y1=y, y2=y, class_="grid"))
        text = say(at(Time.seconds(seconds), 0))
        rows.append(tag("text", text, x=LEFT - 6, y=y + 4, text_anchor="end"))
    return join(rows)


def _limit(error_ms: float, reach_ms: float) -> Markup:
    x = _x(error_ms, reach_ms)
    return tag("line", x1=x, x2=x, y1=TOP, y2=BOTTOM, class_="limit")


def _mark(word: ProvedWord, reach_ms: float, end_s: float) -> Markup:
    y = TOP + (BOTTOM - TOP) * min(max(_when(word) / end_s, 0.0), 1.0)
    x = LANE if word.error_ms is None else _x(word.error_ms, reach_ms)
    return tag("g", tag("title", say(_named(word))), _shape(word.state, x, y), data_word=word.id)


def _named(word: ProvedWord) -> str:
    error = "" if word.error_ms is None else f", {signed(word.error_ms)} ms"
    return f"{word.id}: {word.state}{error}"


def _shape(state: WordState, x: float, y: float) -> Markup:
    """Heard a dot, missing an empty square, wrong a cross, extra a diamond."""
    if state == "heard":
        return tag("circle", cx=x, cy=y, r=2.6, class_="heard")
    if state == "missing":
        return tag("rect", x=x - 4.5, y=y - 4.5, width=9, height=9, class_="bad")
    if state == "wrong":
        d = f"M{number(x - 5)} {number(y - 5)}l10 10m0 -10l-10 10"
        return tag("path", d=d, class_="bad")
    d = f"M{number(x)} {number(y - 6)}l6 6l-6 6l-6 -6z"
    return tag("path", d=d, class_="bad")


def _key() -> Markup:
    items, x = [], LEFT
    states: tuple[WordState, ...] = ("heard", "missing", "wrong", "extra")
    for state in states:
        items += [_shape(state, x, HEIGHT - 14), tag("text", say(state), x=x + 10, y=HEIGHT - 10)]
        x += 78
    return join(items)
