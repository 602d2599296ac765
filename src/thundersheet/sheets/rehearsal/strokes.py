"""Each stroke of a cylinder as rehearsed: its motion and the pressures on both sides, time down.

The cue stands at the top with 0 ms; the beat is ruled across, its window a bracket at the right.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence

from thundersheet.base.time import Time
from thundersheet.rehearse.records import Curve, Landed, Quantity, Rehearsal
from thundersheet.sheets.markup import NOTHING, Markup, join, number, say, tag
from thundersheet.sheets.rehearsal.evening import pressure_unit, thinned
from thundersheet.sheets.rehearsal.scale import Line
from thundersheet.sheets.wording import at, signed

WIDE, TALL = 300.0, 260.0
TOP, BOTTOM = 66.0, 250.0
MOTION = (46.0, 132.0)
PRESSURE = (152.0, 280.0)
AFTER = 0.3
"""So much of the lead is shown after the landing, too."""
SIDES: tuple[tuple[Quantity, str], ...] = (
    ("out pressure", "out-side"),
    ("back pressure", "back-side"),
    ("supply", "supply"),
)


def draw_strokes(found: Rehearsal) -> tuple[Markup, ...]:
    """One small drawing for each landing of a device whose chambers were followed."""
    if not found.shows:
        return ()
    return tuple(
        _stroke(found, each)
        for each in found.shows[0].landed
        if each.lead_ms is not None
        and each.error_ms is not None
        and _curve(found, each.device, "motion") is not None
        and _curve(found, each.device, "out pressure") is not None
    )


def _curve(found: Rehearsal, device: str, quantity: Quantity) -> Curve | None:
    return next((c for c in found.curves if c.of == device and c.quantity == quantity), None)


def _stroke(found: Rehearsal, each: Landed) -> Markup:
    lead_s = (each.lead_ms or 0.0) / 1e3
    landed_s = each.beat_s + (each.error_ms or 0.0) / 1e3
    cue_s = landed_s - lead_s
    down = Line(cue_s, landed_s + max(AFTER * lead_s, 0.04), TOP, BOTTOM)
    title = f"{each.cue} at {at(Time.seconds(each.beat_s))}: {signed(each.error_ms or 0.0)} ms"
    return tag(
        "svg",
        tag("title", say(title)),
        tag("text", say(each.cue), x=8, y=14, class_="head"),
        tag("text", say(_says(each)), x=8, y=29, class_="what"),
        _times(down, cue_s),
        _motion(found, each, down),
        _sides(found, each, down),
        _beat(each, down),
        viewBox=f"0 0 {WIDE:.0f} {TALL:.0f}",
        role="img",
        class_="plot stroke",
        xmlns="http://www.w3.org/2000/svg",
    )


def _says(each: Landed) -> str:
    words = f"{at(Time.seconds(each.beat_s))}, lands {signed(each.error_ms or 0.0)} ms"
    if each.impact_m_s is not None:
        words += f", {each.impact_m_s:.2f} m/s"
    return words


def _times(down: Line, cue_s: float) -> Markup:
    parts = []
    line = Line(0.0, (down.high - down.low) * 1e3, 0, 1)
    for ms in line.round_numbers(6):
        y = down.at(cue_s + ms / 1e3)
        parts.append(tag("line", x1=MOTION[0], x2=PRESSURE[1], y1=y, y2=y, class_="grid"))
        parts.append(tag("text", say(f"{ms:g}"), x=MOTION[0] - 5, y=y + 4, text_anchor="end"))
    parts.append(tag("text", say("ms"), x=MOTION[0] - 5, y=TOP - 10, text_anchor="end"))
    return join(parts)


def _motion(found: Rehearsal, each: Landed, down: Line) -> Markup:
    curve = _curve(found, each.device, "motion")
    if curve is None:
        return NOTHING
    across = Line(0.0, 1.0, *MOTION)
    points = list(_inside(curve, down))
    line = _points((across.at(v), down.at(t)) for t, v in points)
    area = f"{number(MOTION[0])},{number(down.at(points[0][0]))} {line} "
    area += f"{number(MOTION[0])},{number(down.at(points[-1][0]))}"
    return join(
        (
            tag("text", say("motion"), x=MOTION[0], y=TOP - 10, class_="what"),
            tag("text", say("0"), x=MOTION[0], y=BOTTOM + 9, class_="what"),
            tag("text", say("1"), x=MOTION[1], y=BOTTOM + 9, text_anchor="end", class_="what"),
            tag("polygon", points=area, class_="sail"),
            tag("polyline", points=line, class_="moves"),
        )
    )


def _sides(found: Rehearsal, each: Landed, down: Line) -> Markup:
    curves = [(name, c) for q, name in SIDES if (c := _curve(found, each.device, q)) is not None]
    gauge = found.atmosphere_pa
    high = max((max(c.values) for _, c in curves), default=gauge) - gauge
    across = Line(0.0, max(high, 1e4) * 1.06, *PRESSURE)
    size, unit = pressure_unit(found, across.high)
    parts = [
        tag("line", x1=x, x2=x, y1=TOP, y2=BOTTOM, class_="axis")
        for x in (MOTION[0], MOTION[1], PRESSURE[0], PRESSURE[1])
    ]
    for value in Line(0.0, across.high / size, 0, 1).round_numbers(4):
        x = across.at(value * size)
        parts.append(tag("text", say(f"{value:g}"), x=x, y=BOTTOM + 9, text_anchor="middle",
                         class_="what"))  # fmt: skip
    parts.append(tag("text", say(f"pressures, {unit}"), x=PRESSURE[0], y=TOP - 10, class_="what"))
    for name, curve in curves:
        line = _points((across.at(v - gauge), down.at(t)) for t, v in _inside(curve, down))
        parts.append(tag("polyline", points=line, class_=name))
    return join(parts)


def _beat(each: Landed, down: Line) -> Markup:
    y, x = down.at(each.beat_s), PRESSURE[1] + 6
    early = down.at(each.beat_s + each.window.early.in_ms / 1e3)
    late = down.at(each.beat_s + each.window.late.in_ms / 1e3)
    d = f"M{number(x)} {number(early)}h5V{number(late)}h-5"
    landed = down.at(each.beat_s + (each.error_ms or 0.0) / 1e3)
    mark = f"M{number(x + 2)} {number(landed)}l4 -4l4 4l-4 4z"
    return join(
        (
            tag("line", x1=MOTION[0], x2=PRESSURE[1] + 6, y1=y, y2=y, class_="beat"),
            tag("path", d=d, class_="bracket"),
            tag("path", d=mark, class_="landing" if each.inside else "bad"),
        )
    )


def _inside(curve: Curve, down: Line) -> Iterator[tuple[float, float]]:
    """The curve's points within the drawing, and its values at both ends."""
    first, last = bisect_right(curve.at_s, down.low), bisect_left(curve.at_s, down.high)
    yield down.low, value_at(curve, down.low)
    yield from thinned(curve.at_s[first:last], curve.values[first:last], down)
    yield down.high, value_at(curve, down.high)


def value_at(curve: Curve, seconds: float) -> float:
    """The curve's value at an instant: straight between points, level beyond them."""
    after = bisect_right(curve.at_s, seconds)
    if after == 0:
        return curve.values[0]
    if after == len(curve.at_s):
        return curve.values[-1]
    t0, t1 = curve.at_s[after - 1], curve.at_s[after]
    v0, v1 = curve.values[after - 1], curve.values[after]
    return v0 + (v1 - v0) * (seconds - t0) / (t1 - t0)


def _points(places: Iterator[tuple[float, float]] | Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in places)


def legend() -> Markup:
    """What the lines of the strokes are."""
    parts, x = [], 8.0
    for _, name in SIDES:
        d = f"M{number(x)} 10h26"
        words = {"out-side": "side that pushes out", "back-side": "side that pushes back",
                 "supply": "what feeds it"}[name]  # fmt: skip
        parts += [tag("path", d=d, class_=name), tag("text", say(words), x=x + 32, y=14)]
        x += 190
    return tag("svg", join(parts), viewBox="0 0 600 20", class_="plot stroke", role="img",
               xmlns="http://www.w3.org/2000/svg")  # fmt: skip
