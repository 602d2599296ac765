"""The picture of the sheet as a page that prints one strip to a sheet of paper, and as SVG alone.

In: plan, programme, the kinds' symbols. Out: text.
"""

from __future__ import annotations

from thundersheet.plan.records import Plan
from thundersheet.sheets.markup import join, say, tag
from thundersheet.sheets.page import Paper, page
from thundersheet.sheets.picture import (
    NO_PROGRAMME,
    NO_SYMBOLS,
    Programme,
    Symbols,
    draw_strips,
    draw_whole,
)
from thundersheet.sheets.render import style
from thundersheet.sheets.wording import list_findings, stamp_of, title_of

_READING = (
    "Time runs down; a pleat hides the quiet time named beside it, so the scale differs from "
    "stretch to stretch (see the ruler at the spine). A black line across is a beat. In a "
    "device's column the cue leaves at the flag ▾ with its lead in ms; the hatched strip is what "
    "the lead consists of, the sail beside it what guests see of it; the diamond is where it is "
    "expected to land with its error band, the bracket where it may. R refused, W warning, n note."
)


def picture_html(
    plan: Plan,
    programme: Programme = NO_PROGRAMME,
    symbols: Symbols = NO_SYMBOLS,
    paper: Paper = None,
) -> str:
    """The page with the whole folded show, strip after strip, and how to read it."""
    title = f"Picture of the sheet: {title_of(plan)}"
    head = tag("header", tag("h1", say(title)), tag("p", say(stamp_of(plan)), class_="quiet"),
               class_="masthead")  # fmt: skip
    strips = join(
        tag("div", tag("div", strip, class_="scroll"), class_="strip")
        for strip in draw_strips(plan, programme, symbols)
    )
    found = tag("section", tag("h2", say("Findings")), list_findings(plan.findings))
    reading = tag("p", say(_READING), class_="quiet")
    stamp = f"{title_of(plan)}, {stamp_of(plan)}"
    return page(title, head, strips, reading, found, stamp=stamp, paper=paper, kind="picture-page")


def picture_svg(
    plan: Plan, programme: Programme = NO_PROGRAMME, symbols: Symbols = NO_SYMBOLS
) -> str:
    """The whole folded show as one SVG file that stands alone."""
    drawing = draw_whole(plan, programme, symbols, style())
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawing}\n'
