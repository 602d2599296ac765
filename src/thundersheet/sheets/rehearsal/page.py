"""A rehearsal as one page that prints: figures first, then the evening, landings, strokes, air.

In: a rehearsal, perhaps a scatter. Out: HTML, or the evening alone as SVG.
"""

from __future__ import annotations

from collections.abc import Iterator

from thundersheet.base.time import Time
from thundersheet.rehearse.records import Played, Rehearsal, Scatter
from thundersheet.sheets.markup import NOTHING, Markup, join, say, tag
from thundersheet.sheets.page import Paper, page
from thundersheet.sheets.rehearsal.air_use import draw_air
from thundersheet.sheets.rehearsal.evening import draw_evening
from thundersheet.sheets.rehearsal.strips import draw_landings, draw_scatter
from thundersheet.sheets.rehearsal.strokes import draw_strokes, legend
from thundersheet.sheets.render import style
from thundersheet.sheets.wording import at, list_findings, signed

_READ_EVENING = (
    "Time runs down. Left the tank's pressure, the dashed lines are the compressor's cut-in and "
    "cut-out, the bars beside it are when it runs. Each show is a bar as long as it lasts; right "
    "of it every landing against its own window: the dashed lines are the windows' ends, a stroke "
    "is a landing inside, a diamond one outside, a cross one that never came."
)
_READ_STRIPS = (
    "One row a beat. The bracket is its window, each stroke a landing, a diamond one outside, a "
    "cross one that never came; all rows share one scale."
)
_READ_SCATTER = (
    "One row a beat. The bracket is its window; the line reaches from the first to the last of a "
    "hundred shows, the box holds the middle half. At the right the share inside the window."
)
_READ_STROKES = (
    "One drawing a stroke, from its command down. Left the motion, right the gauge pressures on "
    "both sides of the piston; the beat is ruled across, its window the bracket at the right."
)
SOLVERS = {
    "coupled": "every body of air and every piston integrated together",
    "event-driven": "stroke by stroke over a tank followed from event to event",
}


def rehearsal_html(found: Rehearsal, scatter: Scatter | None = None, paper: Paper = None) -> str:
    """The whole page."""
    title = f"Rehearsal: {found.show}"
    stamp = f"{title}, {_what(found)}"
    head = tag(
        "header",
        tag("h1", say(title)),
        tag("p", say(f"{_what(found)}; {SOLVERS[found.solver]}."), class_="quiet"),
        class_="masthead",
    )
    return page(title, head, join(_sections(found, scatter)), stamp=stamp, paper=paper,
                kind="rehearsal")  # fmt: skip


def evening_svg(found: Rehearsal) -> str:
    """The evening as one SVG file that stands alone."""
    drawing = draw_evening(found)
    css = f"<style>{style()}</style>"
    first_end = drawing.index(">") + 1
    body = f"{drawing[:first_end]}{css}{drawing[first_end:]}"
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'


def _what(found: Rehearsal) -> str:
    count = len(found.shows)
    words = {
        "show": "one show",
        "rush": f"a rush of {count} shows",
        "evening": f"an evening of {count} shows",
    }[found.mode]
    return words if found.seed is None else f"{words}, drawn with seed {found.seed}"


def _sections(found: Rehearsal, scatter: Scatter | None) -> Iterator[Markup]:
    yield _figures(found, scatter)
    if found.faults:
        faults = join(tag("li", say(fault)) for fault in found.faults)
        yield tag("section", tag("h2", say("Faults asked for")), tag("ul", faults))
    if found.findings:
        yield tag("section", tag("h2", say("Findings")), list_findings(found.findings))
    yield _lesser(found)
    drawings, rest = draw_landings(found)
    yield _drawn("Landings", f"{_READ_STRIPS} {rest}" if drawings else rest, *drawings)
    if found.tank is not None or len(found.shows) > 1:
        yield _drawn("The evening", _READ_EVENING, draw_evening(found))
    if scatter is not None:
        yield _scatter(scatter)
    strokes = draw_strokes(found)
    if strokes:
        each = join(tag("figure", drawing) for drawing in strokes)
        yield tag(
            "section",
            tag("h2", say("Strokes")),
            tag("p", say(_READ_STROKES), class_="quiet"),
            legend(),
            tag("div", each, class_="plots strokes"),
        )
    air = draw_air(found)
    if air is not None:
        yield _drawn("Free air a show", "Litres at 20 C and 100 kPa (ISO 8778).", air)


def _drawn(title: str, reading: str, *drawings: Markup) -> Markup:
    return tag(
        "section",
        tag("h2", say(title)),
        tag("p", say(reading), class_="quiet"),
        join(tag("div", drawing, class_="scroll") for drawing in drawings),
    )


def _figures(found: Rehearsal, scatter: Scatter | None) -> Markup:
    rows = [tag("div", tag("dt", say(name)), tag("dd", say(value)))
            for name, value in figures(found, scatter).items()]  # fmt: skip
    return tag("dl", join(rows), class_="figures")


def figures(found: Rehearsal, scatter: Scatter | None = None) -> dict[str, str]:
    """The rehearsal in a few figures, by name."""
    landed = [each for show in found.shows for each in show.landed]
    worst = max((e for e in landed if e.error_ms is not None), key=lambda e: abs(e.error_ms or 0),
                default=None)  # fmt: skip
    weak = found.first_weak
    rows = {"shows": str(len(found.shows))}
    rows["first weak show"] = f"number {weak.number}" if weak else "none"
    if landed:
        outside = sum(not each.inside for each in landed)
        rows["landings outside"] = f"{outside} of {len(landed)}"
    if worst is not None:
        rows["worst landing"] = f"{signed(worst.error_ms or 0.0)} ms ({worst.cue})"
    if found.guests_per_hour is not None:
        rows["guests an hour"] = f"{found.guests_per_hour:.0f}"
    if found.rest_s is not None:
        rows["rest needed"] = f"{found.rest_s:.0f} s" if found.rest_s else "none"
    if found.tank is not None:
        rows |= _tank_figures(found)
    if found.queue is not None:
        rows["longest wait"] = f"{found.queue.longest_wait_s / 60:.0f} min"
        rows["longest line"] = f"{found.queue.longest_line} guests"
    if scatter is not None:
        rows["shows all inside"] = f"{100 * scatter.all_inside:.1f} %"
    return rows


def _tank_figures(found: Rehearsal) -> dict[str, str]:
    tank = found.tank
    if tank is None:
        return {}
    low = found.units.show(min(tank.pa) - found.atmosphere_pa, "pressure")
    rows = {"tank at its lowest": low}
    if tank.compressor_on or tank.cut_in_pa is not None:
        rows["compressor runs"] = f"{100 * tank.duty:.0f} % of the time"
    return rows


def _lesser(found: Rehearsal) -> Markup:
    """Which shows the ladder made smaller, variant by variant."""
    told: dict[str, list[Played]] = {}
    for show in found.shows:
        if show.variant:
            told.setdefault(show.variant, []).append(show)
    if not told:
        return NOTHING
    items = [tag("li", say(_of_variant(name, shows))) for name, shows in told.items()]
    return tag("section", tag("h2", say("Played in a lesser form")), tag("ul", join(items)))


def _of_variant(name: str, shows: list[Played]) -> str:
    first = shows[0]
    why = f" ({first.why})" if first.why else ""
    when = at(Time.seconds(first.start_s), 0)
    if len(shows) == 1:
        return f"{name}: show {first.number} at {when}{why}"
    return f"{name}: {len(shows)} shows, the first number {first.number} at {when}{why}"


def _scatter(found: Scatter) -> Markup:
    says = (
        f"{found.shows} shows drawn by lot (seed {found.seed}, {found.solver} solver, "
        f"{found.ran_on}): {100 * found.all_inside:.1f} % have every landing inside its window."
    )
    drivers = [
        tag("li", say(f"{each.cue}: " + ", ".join(
            f"{name} {100 * total:.0f} %" for name, _, total, _ in each.drivers[:3])))
        for each in found.spreads
        if each.drivers
    ]  # fmt: skip
    listed = NOTHING
    if drivers:
        why = "What drives the spread (share of its variance, with all it takes part in):"
        listed = join((tag("p", say(why)), tag("ul", join(drivers))))
    return tag(
        "section",
        tag("h2", say("Scatter")),
        tag("p", say(says)),
        tag("p", say(_READ_SCATTER), class_="quiet"),
        join(tag("div", drawing, class_="scroll") for drawing in draw_scatter(found)),
        listed,
    )
