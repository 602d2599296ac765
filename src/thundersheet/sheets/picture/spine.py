"""The spine of the sheet: the programme's waveform standing upright, stills, cue track, pleats."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from thundersheet.base.time import Span, Time, clock
from thundersheet.plan.schedule import Word
from thundersheet.sheets.markup import NOTHING, Markup, join, number, say, tag
from thundersheet.sheets.picture.fold import Scale, Stretch
from thundersheet.sheets.picture.layout import SPINE, STILL_SIZE, Layout
from thundersheet.sheets.picture.programme import Programme

ROW = 1.0
"""The waveform is drawn in rows of this height."""
TICK_STEPS = tuple(Span.ms(ms) for ms in (10, 50, 100, 500, 1000, 5000, 10_000))


def draw_waveform(programme: Programme, layout: Layout, scale: Scale) -> Markup:
    """The sound's envelope, mirrored about the spine, wide where it is loud.

    The width is the level to the power 0.7, so that 20 dB below the peak is still a fifth as wide.
    """
    axis = tag("line", x1=layout.spine, x2=layout.spine, y1=scale.stretches[0].top,
               y2=scale.bottom, class_="axis")  # fmt: skip
    if not programme.levels:
        return axis
    rows = list(_rows(programme, scale))
    half = SPINE / 2 - 1
    right = [(layout.spine + level**0.7 * half, y) for y, level in rows]
    left = [(layout.spine - level**0.7 * half, y) for y, level in reversed(rows)]
    points = " ".join(f"{number(x)},{number(y)}" for x, y in right + left)
    return join((tag("polygon", points=points, class_="wave"), axis))


def _rows(programme: Programme, scale: Scale) -> Iterator[tuple[float, float]]:
    for stretch in scale.stretches:
        count = max(int((stretch.bottom - stretch.top) / ROW), 1)
        for index in range(count):
            start = stretch.start + stretch.lasts * Fraction(index, count)
            end = stretch.start + stretch.lasts * Fraction(index + 1, count)
            y = stretch.top + (stretch.bottom - stretch.top) * (index + 0.5) / count
            yield y, programme.level(start, end)


def draw_stills(programme: Programme, layout: Layout, scale: Scale) -> Markup:
    """Stills beside the spine at their instants, those left out that would overlap."""
    if layout.stills is None:
        return NOTHING
    images, free = [], scale.stretches[0].top
    width, height = STILL_SIZE
    for still in programme.stills:
        y = scale.y(still.at)
        if not scale.holds(still.at) or y < free:
            continue
        images.append(
            tag("image", tag("title", say(f"picture at {still.at}")), href=still.address,
                x=layout.stills, y=y, width=width, height=height)
        )  # fmt: skip
        free = y + height + 3
    return join(images)


def draw_words(words: tuple[Word, ...], layout: Layout, scale: Scale, named: bool) -> Markup:
    """The cue track's tones beside the spine, each word `named` where there is room."""
    drawn, free = [], scale.stretches[0].top
    for word in words:
        if word.end < scale.start or word.onset > scale.end:
            continue
        drawn += [_tone(onset, word.tone, layout, scale) for onset in word.tone_onsets]
        y = scale.y(word.onset) + 7
        if named and y >= free and not scale.at(word.onset).folded:
            drawn.append(
                tag("text", say(_short(word)), x=layout.tones + 7, y=y, class_="tone-name")
            )
            free = y + 10
    return join(drawn)


def _tone(onset: Time, length: Span, layout: Layout, scale: Scale) -> Markup:
    top, bottom = scale.y(onset), scale.y(onset + length)
    return tag("rect", x=layout.tones, y=top, width=5, height=max(bottom - top, 0.7), class_="tone")


def _short(word: Word) -> str:
    return (
        f"#{word.number}" if word.kind == "mark" and word.number is not None else word.symbols[:5]
    )


def draw_ticks(layout: Layout, scale: Scale) -> Markup:
    """A ruler at the spine for each open stretch, its step named once: scales differ."""
    return join(_ticks(layout, stretch) for stretch in scale.stretches if not stretch.folded)


def _ticks(layout: Layout, stretch: Stretch) -> Markup:
    step = next((s for s in TICK_STEPS if s.in_ms * stretch.per_ms >= 9), TICK_STEPS[-1])
    x = layout.spine - SPINE / 2
    first = -(-stretch.start.ns // step.ns)
    count = stretch.end.ns // step.ns - first + 1
    unit = f"{step.in_ms:g} ms" if step.s < 1 else f"{step.s:g} s"
    top = stretch.top + Time(first * step.ns).since(stretch.start).in_ms * stretch.per_ms
    lines = [tag("text", say(unit), x=x - 2, y=top + 7, text_anchor="end", class_="unit")]
    for index in range(first, first + count):
        y = stretch.top + (Time(index * step.ns).since(stretch.start)).in_ms * stretch.per_ms
        lines.append(tag("line", x1=x, x2=x + 4, y1=y, y2=y, class_="axis"))
    return join(lines)


def draw_pleats(layout: Layout, scale: Scale) -> Markup:
    """The folds: a shaded pleat across the columns that says how much time it hides."""
    return join(_pleat(layout, stretch) for stretch in scale.stretches if stretch.folded)


def _pleat(layout: Layout, stretch: Stretch) -> Markup:
    top, bottom = stretch.top, stretch.bottom
    middle = (top + bottom) / 2
    left = layout.spine - SPINE / 2 - 4
    width = layout.findings - left
    says = f"{clock(stretch.start, 1)} to {clock(stretch.end, 1)}: {stretch.lasts.s:.2f} s"
    short = f"{stretch.lasts.s:.2g} s" if stretch.lasts.s < 10 else f"{stretch.lasts.s:.0f} s"
    return tag(
        "g",
        tag("title", say(f"folded, {says}")),
        tag("rect", x=left, y=top, width=width, height=middle - top, class_="pleat near"),
        tag("rect", x=left, y=middle, width=width, height=bottom - middle, class_="pleat"),
        tag("path", d=f"M{number(left)} {number(middle)}h{number(width)}", class_="pleat-edge"),
        tag("text", say(short), x=layout.findings + 4, y=middle + 3.5, class_="gap"),
        class_="folded",
        data_lasts=number(stretch.lasts.s),
    )


def draw_breaks(layout: Layout, scale: Scale) -> Markup:
    """The zigzag over the spine at each fold: here the scale breaks."""
    left = layout.spine - SPINE / 2 - 2
    return join(
        tag(
            "path",
            d=f"M{number(left)} {number((stretch.top + stretch.bottom) / 2)}" + _zigzag(),
            class_="break",
        )
        for stretch in scale.stretches
        if stretch.folded
    )


def _zigzag() -> str:
    """Six teeth about the middle line, as wide as the spine."""
    return "l3.5 -4" + "l7 8l7 -8" * 2 + "l7 8l5.5 -4"
