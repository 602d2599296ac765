"""`plan`: print when each command must leave, why so early, and what to expect."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from thundersheet.base.time import clock
from thundersheet.cli.asked import ending
from thundersheet.cli.say import (
    count_findings,
    exit_code,
    late_progress,
    out,
    put_json,
    say_findings,
    table,
    wrapped,
)

if TYPE_CHECKING:
    from thundersheet.model.book import Book
    from thundersheet.plan.records import Cue, EveningPlan, Plan

ABOUT = """\
Work out when each command must leave so that the motion or light lands on its beat, and print
it: one line a cue, in the order in which they leave."""
EXAMPLE = """\
  thundersheet plan book.yaml
  thundersheet plan book.yaml --json > plan.json   # frozen, for programs
  thundersheet plan book.yaml --sheet cue-sheet.html --picture sheet.html"""

SHEETS, PICTURES = (".html", ".htm", ".csv"), (".html", ".htm", ".svg")


def arguments(parser: argparse.ArgumentParser) -> None:
    """The book, a variant, what else to write, and how to print."""
    parser.add_argument("book", help="the book: a YAML file, or the folder that holds book.yaml")
    parser.add_argument("--variant", default="", help="a variant of the show that the book names")
    parser.add_argument("--sheet", metavar="FILE", help="write the cue sheet, .html or .csv")
    parser.add_argument(
        "--picture", metavar="FILE", help="write the picture of the sheet, .html or .svg"
    )
    parser.add_argument("--json", action="store_true", help="print the frozen plan as JSON")


def run(args: argparse.Namespace) -> int:
    """Print the plan and write what was asked for."""
    from thundersheet.book.read import read_book
    from thundersheet.plan.plan import make_plan, to_json

    for name, kinds in ((args.sheet, SHEETS), (args.picture, PICTURES)):
        if name:
            ending(name, kinds)
    book = read_book(args.book)
    with late_progress("Trying cures") as progress:
        plan = make_plan(book, args.variant, cures=True, progress=progress)
    _write_papers(args, book, plan)
    if args.json:
        put_json(to_json(plan))
    else:
        out(_cue_table(plan))
        out()
        say_findings(plan.findings)
        out(wrapped(_in_short(plan)))
        if plan.evening is not None:
            out(wrapped(_over_the_evening(plan, plan.evening)))
    return exit_code(plan.findings)


def _cue_table(plan: Plan) -> str:
    """A line a cue; under a lead of several parts a second line with these."""
    head = ("leaves", "beat", "lead ms", "lands", "may", "cue")
    lines = table(head, (_cue_row(cue) for cue in plan.cues), right=(0, 1, 2, 3, 4)).split("\n")
    rows = [lines[0]]
    for line, cue in zip(lines[1:], plan.cues, strict=True):
        rows.append(line)
        parts = [f"{part.name} {part.span.in_ms:.0f}" for part in cue.lead.parts if part.span]
        if len(parts) > 1:
            rows.append(f"{'':20}= {' + '.join(parts)}")
    return "\n".join(rows)


def _cue_row(cue: Cue) -> tuple[str, ...]:
    miss = cue.expected_error.in_ms
    mark = "" if cue.lead.basis == "measured" else "~"
    window = cue.target.window
    return (
        clock(cue.leaves_at),
        clock(cue.target.beat_at),
        f"{mark}{cue.lead.total.in_ms:.0f}",
        f"{miss - cue.lead.early.in_ms:+.0f}..{miss + cue.lead.late.in_ms:+.0f}",
        f"{window.early.in_ms:+.0f}..{window.late.in_ms:+.0f}",
        cue.id,
    )


def _in_short(plan: Plan) -> str:
    estimated = sum(cue.lead.basis == "estimated" for cue in plan.cues)
    return (
        f"{plan.show}: {len(plan.cues)} cues, plan {plan.fingerprint}; {estimated} leads estimated "
        f"(~), {len(plan.cues) - estimated} measured; {count_findings(plan.findings)}. `lands`: "
        f"error band in ms, late is positive; `may`: the window."
    )


def _over_the_evening(plan: Plan, evening: EveningPlan) -> str:
    """What one media file does for the whole evening: its worst landing, and the tank."""
    show = plan.units.show
    cold, warm = (show(kelvin, "temperature") for kelvin in (evening.coldest_k, evening.warmest_k))
    weather = cold if cold == warm else f"{cold} to {warm}"
    said = f"Over {evening.shows} shows, one every {evening.every}, {weather}: "
    if evening.worst_cue:
        early, late = evening.worst_early.in_ms, evening.worst_late.in_ms
        said += f"the worst landing is {early:+.1f}..{late:+.1f} ms, {evening.worst_cue}'s. "
    if evening.tank_low_pa is None:
        return said + "The air never runs low: the book says of no tank."
    low = show(float(f"{evening.tank_low_pa:.3g}"), "pressure")
    said += f"A show takes {evening.air_l:.1f} l of free air; the tank falls to {low}"
    if evening.weak_show is not None:
        said += f", too little from show {evening.weak_show} on"
    if evening.ran is not None:
        said += f"; the compressor runs {evening.ran:.0%} of the time"
    return said + "."


def _write_papers(args: argparse.Namespace, book: Book, plan: Plan) -> None:
    """What was asked for; its modules load numpy, so only then."""
    if args.sheet:
        from thundersheet.sheets.cue_sheet import cue_sheet_csv, cue_sheet_html

        path = Path(args.sheet)
        _write(path, cue_sheet_html(plan) if _is_page(path) else cue_sheet_csv(plan))
    if args.picture:
        from thundersheet.sheets.look import programme_beside, symbols_of
        from thundersheet.sheets.picture_page import picture_html, picture_svg

        path = Path(args.picture)
        seen = programme_beside(args.book, book, plan)
        make = picture_html if _is_page(path) else picture_svg
        _write(path, make(plan, seen, symbols_of(book)))


def _write(path: Path, text: str) -> None:
    from thundersheet.sheets.render import write_files

    write_files(path.parent, {path.name: text})


def _is_page(path: Path) -> bool:
    return path.suffix.lower() in (".html", ".htm")
