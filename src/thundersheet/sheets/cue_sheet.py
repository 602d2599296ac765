"""The cue sheet: every cue on its row in the order in which they leave, as HTML and as CSV.

In: a plan. Out: text. It prints on A4 and Letter, black and white, in letters of 10 points and
more; no row is split and each page carries the heading, the plan's fingerprint and its number.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping

from thundersheet.plan.records import Cue, Plan
from thundersheet.plan.schedule.records import Word
from thundersheet.sheets.markup import Markup, join, say, tag
from thundersheet.sheets.page import Paper, page
from thundersheet.sheets.wording import (
    at,
    band,
    count_findings,
    in_ms,
    lead_parts,
    list_findings,
    stamp_of,
    title_of,
    window,
    word_for,
    words_of_cues,
)

HEADINGS = {
    "leaves at": 12,
    "beat at": 11,
    "lead, ms": 20,
    "what, device and action": 22,
    "window, ms": 17,
    "cue track": 11,
    "done": 7,
}
"""Each with its share of the page's width in percent."""

ESTIMATED = "~"

CSV_HEADINGS = (
    "leaves at",
    "leaves at s",
    "beat at",
    "beat at s",
    "lead ms",
    "lead parts",
    "what",
    "device",
    "action",
    "land",
    "window",
    "early ms",
    "late ms",
    "expected error ms",
    "band early ms",
    "band late ms",
    "basis",
    "cue track",
    "cue",
    "book",
    "plan",
)
BOM = "\ufeff"
"""Without it spreadsheets take UTF-8 for an old code page and spoil every accent."""


def cue_sheet_html(plan: Plan, paper: Paper = None) -> str:
    """The sheet to print; `paper` None prints on whatever the printer holds."""
    words = words_of_cues(plan)
    title = f"Cue sheet: {title_of(plan)}"
    stamp = f"{title_of(plan)}, {stamp_of(plan)}"
    top = tag("header", tag("h1", say(title)), tag("p", say(_summary(plan)), class_="quiet"),
              class_="masthead")  # fmt: skip
    rows = join(_row(cue, words) for cue in plan.cues)
    table = tag("table", _head(title, plan), tag("tbody", rows), class_="cues")
    found = tag("section", tag("h2", say("Findings")), list_findings(plan.findings))
    notes = tag("p", say(_READING), class_="quiet")
    body = (top, tag("div", table, class_="wide"), notes, found)
    return page(title, *body, stamp=stamp, paper=paper, kind="cue-page")


_READING = (
    "A cue leaves its lead before the beat, so that it lands on the beat. Lead parts are in "
    "milliseconds; ~ is estimated, until tuning has measured it. Window: how early (−) and late "
    "(+) it may land; lands: where it is expected to, with the band that the book cannot know."
)


def _summary(plan: Plan) -> str:
    return f"{stamp_of(plan)}; {count_findings(plan.findings)}. Time 0:00 is the programme's start."


def _head(title: str, plan: Plan) -> Markup:
    widths = join(tag("col", style=f"width: {share}%") for share in HEADINGS.values())
    name = tag("th", say(f"{title}, plan {plan.fingerprint}"), colspan=7, class_="title")
    heads = join(tag("th", say(text), scope="col") for text in HEADINGS)
    return join((tag("colgroup", widths), tag("thead", tag("tr", name), tag("tr", heads))))


def _row(cue: Cue, words: Mapping[str, Word]) -> Markup:
    move = cue.target.says
    what = (say(cue.target.what or move), _small(move if cue.target.what else ""))
    mark = ESTIMATED if cue.lead.basis == "estimated" else ""
    lead = (tag("b", say(mark + in_ms(cue.lead.total))), _small(lead_parts(cue)))
    lands = f"lands {in_ms(cue.expected_error, signed=True)}"
    if cue.lead.early or cue.lead.late:
        lands += f" ({band(cue.lead.early, cue.lead.late)})"
    return tag(
        "tr",
        _cell("leaves", say(at(cue.leaves_at)), class_="at"),
        _cell("beat", say(at(cue.target.beat_at)), class_="at"),
        _cell("lead", *lead, class_="lead"),
        _cell(None, *what, class_="whole"),
        _cell("window", say(window(cue)), _small(lands)),
        _cell("cue track", say(word_for(cue, dict(words)))),
        _cell("done", tag("span", class_="tick")),
        data_cue=cue.id,
    )


def _cell(says: str | None, *content: Markup, class_: str | None = None) -> Markup:
    return tag("td", *content, class_=class_, data_says=says)


def _small(text: str) -> Markup:
    return tag("span", say(text), class_="small") if text else Markup("")


def cue_sheet_csv(plan: Plan, delimiter: str = ",") -> str:
    """The sheet for a spreadsheet: with a byte order mark, CR LF, quotes as RFC 4180 has them.

    Where the spreadsheet's language writes decimals with a comma, give `delimiter` `;`: then
    the numbers have decimal commas too. Words from the book that a spreadsheet would run as a
    formula get an apostrophe in front (OWASP, "CSV Injection").
    """
    words = words_of_cues(plan)
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow(CSV_HEADINGS)
    for cue in plan.cues:
        writer.writerow([_written(value, delimiter) for value in _values(cue, plan, words)])
    return BOM + out.getvalue()


def _values(cue: Cue, plan: Plan, words: dict[str, Word]) -> tuple[str | float, ...]:
    """In the order of CSV_HEADINGS."""
    target = cue.target
    return (
        at(cue.leaves_at),
        cue.leaves_at.s,
        at(target.beat_at),
        target.beat_at.s,
        cue.lead.total.in_ms,
        lead_parts(cue),
        target.what,
        target.move.device,
        target.says.removeprefix(target.move.device).strip(),
        target.land,
        target.window.name,
        target.window.early.in_ms,
        target.window.late.in_ms,
        cue.expected_error.in_ms,
        cue.lead.early.in_ms,
        cue.lead.late.in_ms,
        cue.lead.basis,
        word_for(cue, words),
        cue.id,
        str(target.place),
        plan.fingerprint,
    )


def _written(value: str | float, delimiter: str) -> str:
    if isinstance(value, str):
        return "'" + value if value.startswith(("=", "+", "-", "@", "\t", "\r", "\n")) else value
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return text.replace(".", ",") if delimiter == ";" else text
