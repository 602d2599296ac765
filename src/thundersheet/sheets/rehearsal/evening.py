"""The evening: tank pressure and compressor down the page, each show beside them.

A show is a bar as long as it lasts; the first weak one is marked and named. What the ladder chose
stands at its bar.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from thundersheet.base.time import Time
from thundersheet.rehearse.records import Landed, Played, Rehearsal, Tank
from thundersheet.sheets.markup import NOTHING, Markup, join, number, say, tag
from thundersheet.sheets.rehearsal.scale import Line, clock_step
from thundersheet.sheets.wording import at

WIDTH = 520.0
LEFT, TANK_RIGHT = 48.0, 196.0
PUMP, PUMP_WIDE = 208.0, 10.0
SHOWS, SHOWS_WIDE = 244.0, 14.0
TEXT = 262.0
WORST_LEFT, WORST_RIGHT = 366.0, 500.0
TOP = 58.0
LEAST_TALL, MOST_TALL = 260.0, 1500.0
PER_SHOW = 15.0
PAPER_TALL = 420.0
"""Taller than this it gets a page of its own on paper."""
ROW = 13.0
"""So far apart stand two lines of text at least."""


def draw_evening(found: Rehearsal) -> Markup:
    """The whole evening as one drawing."""
    end_s = _end_s(found)
    tall = min(max(PER_SHOW * len(found.shows), LEAST_TALL), MOST_TALL)
    down = Line(0.0, end_s, TOP, TOP + tall)
    reach = _reach_ms(found.shows)
    return tag(
        "svg",
        tag("title", say(_told(found))),
        _ticks(down),
        _tank(found, found.tank, down) if found.tank else NOTHING,
        _heads(found),
        _edges(down, reach),
        join(_shows(found, down, reach)),
        viewBox=f"0 0 {WIDTH:.0f} {TOP + tall + 16:.0f}",
        role="img",
        class_="plot evening" if tall < PAPER_TALL else "plot evening tall",
        xmlns="http://www.w3.org/2000/svg",
    )


def _told(found: Rehearsal) -> str:
    weak = found.first_weak
    state = f"the first weak show is number {weak.number}" if weak else "no show is weak"
    return f"{found.show}: {len(found.shows)} shows; {state}"


def _end_s(found: Rehearsal) -> float:
    ends = [show.start_s + found.length_s for show in found.shows]
    tank = found.tank.at_s[-1] if found.tank and found.tank.at_s else 0.0
    return max([*ends, tank, 1.0])


def _ticks(down: Line) -> Markup:
    step = clock_step(down.high, int((down.last - down.first) / 40))
    rows = []
    for index in range(int(down.high // step) + 1):
        y = down.at(index * step)
        rows.append(tag("line", x1=LEFT, x2=WORST_RIGHT, y1=y, y2=y, class_="grid"))
        text = say(at(Time.seconds(index * step), 0))
        rows.append(tag("text", text, x=LEFT - 6, y=y + 4, text_anchor="end"))
    return join(rows)


def _tank(found: Rehearsal, tank: Tank, down: Line) -> Markup:
    """The curve, the compressor's bars, and the pressures at which it starts and stops."""
    scale, unit = _pressures(found, tank)
    gauge = found.atmosphere_pa
    points = " ".join(
        f"{number(scale.at(pa - gauge))},{number(down.at(t))}"
        for t, pa in thinned(tank.at_s, tank.pa, down)
    )
    limits = [
        tag("line", x1=scale.at(pa - gauge), x2=scale.at(pa - gauge), y1=down.first, y2=down.last,
            class_="mark")
        for pa in (tank.cut_in_pa, tank.cut_out_pa)
        if pa is not None
    ]  # fmt: skip
    on = [
        tag("rect", x=PUMP, width=PUMP_WIDE, y=down.at(a), class_="pump",
            height=max(down.at(b) - down.at(a), 0.8))
        for a, b in tank.compressor_on
    ]  # fmt: skip
    names = [
        tag("text", say(text), x=scale.at(value), y=TOP - 8, text_anchor="middle")
        for value, text in _named(scale, found)
    ]
    head = tag("text", say(f"tank, {unit}"), x=LEFT, y=TOP - 26, class_="head")
    lane = tag("rect", x=PUMP, y=down.first, width=PUMP_WIDE, height=down.last - down.first,
               class_="lane")  # fmt: skip
    return join((head, *names, *limits, lane, *on, tag("polyline", points=points, class_="tank")))


def _pressures(found: Rehearsal, tank: Tank) -> tuple[Line, str]:
    gauges = [pa - found.atmosphere_pa for pa in tank.pa]
    gauges += [pa - found.atmosphere_pa for pa in (tank.cut_out_pa,) if pa is not None]
    high = max([*gauges, 1e5]) * 1.04
    return Line(0.0, high, LEFT, TANK_RIGHT), pressure_unit(found, high)[1]


PASCALS = {"psi": 6894.757293, "kPa": 1e3, "MPa": 1e6, "bar": 1e5}


def pressure_unit(found: Rehearsal, high_pa: float) -> tuple[float, str]:
    """Pascals in the builder's unit of pressure, and its name."""
    shown = found.units.show(high_pa, "pressure").split()[-1]
    name = shown if shown in PASCALS else "bar"
    return PASCALS[name], name


def _named(scale: Line, found: Rehearsal) -> Iterator[tuple[float, str]]:
    size, _ = pressure_unit(found, scale.high)
    for value in Line(0.0, scale.high / size, 0, 1).round_numbers(5):
        yield value * size, f"{value:g}"


def thinned(
    at_s: Sequence[float], values: Sequence[float], down: Line
) -> Iterator[tuple[float, float]]:
    """Of many points those that can be told apart on paper: each stretch's least and greatest."""
    most = max(int(2 * (down.last - down.first)), 2)
    if len(at_s) <= 2 * most:
        yield from zip(at_s, values, strict=True)
        return
    each = -(-len(at_s) // most)
    for first in range(0, len(at_s), each):
        some = range(first, min(first + each, len(at_s)))
        ends = {min(some, key=values.__getitem__), max(some, key=values.__getitem__)}
        for index in sorted(ends | {some[0]}):
            yield at_s[index], values[index]


def _heads(found: Rehearsal) -> Markup:
    middle = (WORST_LEFT + WORST_RIGHT) / 2
    heads = [("shows", SHOWS, TOP - 8, "head")]
    if found.tank is not None:
        heads.append(("compressor", PUMP - 16, TOP - 26, "head"))
    worst = [
        tag("text", say("landings in windows"), x=middle, y=TOP - 26,
            text_anchor="middle", class_="head"),
        tag("text", say("early"), x=WORST_LEFT, y=TOP - 8, text_anchor="start"),
        tag("text", say("late"), x=WORST_RIGHT, y=TOP - 8, text_anchor="end"),
        tag("text", say("beat"), x=middle, y=TOP - 8, text_anchor="middle"),
    ]  # fmt: skip
    return join((*(tag("text", say(t), x=x, y=y, class_=c) for t, x, y, c in heads), *worst))


def _edges(down: Line, reach: float) -> Markup:
    """The beat itself, and both ends of every window, drawn at one place for all of them."""
    lines = [(0.0, "zero"), (-1.0, "limit"), (1.0, "limit")]
    return join(
        tag("line", x1=_x(share, reach), x2=_x(share, reach), y1=down.first, y2=down.last,
            class_=kind)
        for share, kind in lines
    )  # fmt: skip


def _reach_ms(shows: Sequence[Played]) -> float:
    """How many windows wide the strip is: 1 is the window's own end."""
    shares = [abs(_share(each.error_ms, each)) for show in shows for each in show.landed
              if each.error_ms is not None]  # fmt: skip
    return min(max([1.4, *shares]) * 1.05, 4.0)


def _share(error_ms: float | None, landed: Landed) -> float:
    """The error as a share of the window's end on its side; beyond 1 it is outside."""
    if error_ms is None:
        return 0.0
    end = landed.window.late.in_ms if error_ms > 0 else -landed.window.early.in_ms
    return error_ms / end if end > 0 else (0.0 if not error_ms else 9.0)


def _x(share: float, reach: float) -> float:
    return Line(-reach, reach, WORST_LEFT, WORST_RIGHT).at(share)


def _shows(found: Rehearsal, down: Line, reach: float) -> Iterator[Markup]:
    first_weak = found.first_weak
    said_to = -ROW
    for show in found.shows:
        top, bottom = down.at(show.start_s), down.at(show.start_s + found.length_s)
        tall = max(bottom - top - 1.0, 1.5)
        kind = "weak" if show.weak else ("lesser" if show.variant else "well")
        bar = tag("rect", x=SHOWS, y=top, width=SHOWS_WIDE, height=tall, class_=f"show {kind}")
        words = _words(show, show is first_weak)
        text = NOTHING
        if show is first_weak or top - said_to >= ROW:
            text = tag("text", say(words), x=TEXT, y=top + min(tall, 10.0) / 2 + 4,
                       class_="first" if show is first_weak else "what")  # fmt: skip
            said_to = top
        dots = join(_dot(each, top + tall / 2, reach) for each in show.landed)
        yield tag("g", tag("title", say(_whole(show))), bar, text, dots)


def _dot(each: Landed, y: float, reach: float) -> Markup:
    if each.error_ms is None:
        d = f"M{number(WORST_RIGHT + 6)} {number(y - 4)}l8 8m0 -8l-8 8"
        return tag("path", d=d, class_="bad")
    x = _x(_share(each.error_ms, each), reach)
    if each.inside:
        return tag("line", x1=x, x2=x, y1=y - 3.5, y2=y + 3.5, class_="fine")
    d = f"M{number(x)} {number(y - 5)}l5 5l-5 5l-5 -5z"
    return tag("path", d=d, class_="bad")


def _words(show: Played, first: bool) -> str:
    words = f"{show.number}"
    if show.variant:
        words += f" {show.variant}"
    return f"{words} ← first weak" if first else words


def _whole(show: Played) -> str:
    bad = [each.cue for each in show.landed if not each.inside]
    says = f"show {show.number} at {at(Time.seconds(show.start_s), 0)}"
    says += f", {show.variant} ({show.why})" if show.variant else ""
    return says + (f"; outside: {', '.join(bad)}" if bad else "")
