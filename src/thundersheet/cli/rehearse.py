"""`rehearse`: play the plan against physics finer than its own, once or for a whole evening."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from thundersheet.base.finding import Refusal
from thundersheet.cli import scatter_args
from thundersheet.cli.asked import ending, whole
from thundersheet.cli.say import exit_code, out, progress, put_json, say_findings

if TYPE_CHECKING:
    from thundersheet.model.book import Book
    from thundersheet.plan.records import Plan
    from thundersheet.rehearse.faults import Faults
    from thundersheet.rehearse.records import Rehearsal

ABOUT = """\
Play the plan against physics finer than its own: every valve, piston, body of air, lamp and motor,
from moment to moment. Without more words: one show. With --rush: shows back to back. With
--evening: as guests arrive, from a tank that runs low, with the lesser versions that the book
names for that (`tank below`).

It says which landings lie outside their windows, how far rehearsal and plan differ, what tank and
compressor do, the first weak show, guests an hour and how long the prop has to rest. A named
--variant plays throughout, and no lesser one in its place."""
EXAMPLE = (
    """\
  thundersheet rehearse book.yaml
  thundersheet rehearse book.yaml --rush 20 --every 104s --picture evening.html
  thundersheet rehearse book.yaml --evening poisson:60/h --from 19:00 --to 22:00
  thundersheet rehearse book.yaml --fault "stuck valve: shutter from 0:40"
"""
    + scatter_args.EXAMPLE
)

EXPLAINS = {
    "REHEARSE-90": "Two ways to rehearse were asked for at once. One show, a rush, an evening of "
    "arrivals and a scatter are rehearsed one at a time.",
    "REHEARSE-91": "The time between two starts of a rush is no length of time, or the next show "
    "would begin before the last one is over.",
}
PICTURES = (".html", ".htm", ".svg")
MOST_SHOWS = 10_000


def arguments(parser: argparse.ArgumentParser) -> None:
    """The book, what to rehearse, what goes wrong, and how to print."""
    parser.add_argument("book", help="the book: a YAML file, or the folder that holds book.yaml")
    parser.add_argument("--variant", default="", help="a variant of the show that the book names")
    many = parser.add_argument_group("many shows", "on one tank, one after the other")
    many.add_argument("--rush", metavar="N", type=whole(1, MOST_SHOWS), help="so many in a row")
    many.add_argument(
        "--every", metavar="TIME",
        help="from start to start: 104s; left out: as `evening` says, or as soon as it may",
    )  # fmt: skip
    many.add_argument(
        "--evening", metavar="ARRIVALS",
        help="poisson:60/h, fixed:104s, fixed:30/h, each with ` of 4` for parties of four; or a "
        "file with a clock time a line",
    )  # fmt: skip
    many.add_argument("--from", dest="begins", metavar="CLOCK", help="when it begins (19:00)")
    many.add_argument("--to", dest="ends", metavar="CLOCK", help="when the last may start (22:00)")
    scatter_args.seed_argument(many)
    parser.add_argument(
        "--fault", metavar="FAULT", action="append", default=[],
        help="what goes wrong, as often as you like; `--fault help` lists them",
    )  # fmt: skip
    parser.add_argument("--picture", metavar="FILE", help="write it as a page, .html, or .svg")
    parser.add_argument("--json", action="store_true", help="print one JSON document instead")
    scatter_args.arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Rehearse, write and print; 1 when something refuses."""
    from thundersheet.book.read import read_book
    from thundersheet.plan.plan import make_plan

    _one_way(args)
    scatter_args.one_way(args)
    if args.picture:
        ending(args.picture, PICTURES)
    if "help" in args.fault:
        _list_faults()
        return 0
    book = read_book(args.book)
    plan = make_plan(book, args.variant)
    if args.scatter:
        return scatter_args.run_scatter(args, book, plan)
    found = _rehearsed(args, book, plan)
    found = _with_own_findings(found)
    if args.picture:
        _write_picture(Path(args.picture), found)
    if args.json:
        from thundersheet.cli.rehearse_document import rehearsal_json

        put_json(rehearsal_json(found))
    else:
        from thundersheet.cli.rehearse_say import own_findings, rehearsal_text

        out(rehearsal_text(found, book))
        say_findings(own_findings(found))
    return exit_code(found.findings)


def _one_way(args: argparse.Namespace) -> None:
    asked = {"--rush": args.rush, "--evening": args.evening, "--scatter": args.scatter}
    given = [name for name, value in asked.items() if value]
    if len(given) > 1:
        raise Refusal.because(
            "REHEARSE-90", f"{' and '.join(given)} were asked for at once.", "Ask for one of them."
        )
    if args.scatter and args.fault:
        raise Refusal.because(
            "REHEARSE-90",
            "--fault and --scatter were asked for at once.",
            "A fault is played in one show, a rush or an evening.",
        )
    if args.every and not args.rush:
        raise Refusal.because("REHEARSE-90", "--every is for a rush.", "Add --rush 20.")
    if (args.ends or (args.begins and not args.rush)) and not args.evening:
        raise Refusal.because(
            "REHEARSE-90", "--from and --to are for an evening.", "Add --evening poisson:60/h."
        )


def _list_faults() -> None:
    from thundersheet.rehearse.faults_read import WRITTEN

    out("Faults, each with --fault and in quotes:")
    for text in WRITTEN.values():
        out(f"  --fault {text!r}")


def _rehearsed(args: argparse.Namespace, book: Book, plan: Plan) -> Rehearsal:
    from thundersheet.rehearse.faults_read import read_faults

    faults = read_faults(args.fault, book)
    if args.evening:
        return _evening(args, book, plan, faults)
    if args.rush:
        return _rush(args, book, plan, faults)
    from thundersheet.rehearse.world import rehearse_show

    with progress("one show") as tell:
        return rehearse_show(book, plan, faults, say=_aside, progress=tell)


def _rush(args: argparse.Namespace, book: Book, plan: Plan, faults: Faults) -> Rehearsal:
    from thundersheet.base.read_time import read_clock, read_span
    from thundersheet.base.units import UnitError
    from thundersheet.plan.air.states import every_of
    from thundersheet.rehearse.arrivals_read import BEGINS
    from thundersheet.rehearse.rush import rehearse_rush

    every_s = every_of(book).s
    begins = read_clock(BEGINS).s
    if book.evening is not None and book.evening.begins is not None:
        begins = book.evening.begins.s
    try:
        every_s = read_span(args.every).s if args.every else every_s
        begins = read_clock(args.begins).s if args.begins else begins
    except UnitError as error:
        raise Refusal.because("REHEARSE-91", error.says, error.allowed) from error
    if every_s < plan.length.s:
        raise Refusal.because(
            "REHEARSE-91",
            f"The next show cannot start {every_s:g} s after the last one.",
            f"The programme alone lasts {plan.length.s:g} s.",
        )
    with progress(f"{args.rush} shows") as tell:
        return rehearse_rush(
            book, plan, args.rush, every_s, faults, from_s=begins, say=_aside, progress=tell
        )


def _evening(args: argparse.Namespace, book: Book, plan: Plan, faults: Faults) -> Rehearsal:
    from thundersheet.rehearse.arrivals_read import read_arrivals, read_hours
    from thundersheet.rehearse.rush import rehearse_evening

    hours = read_hours(book, args.begins, args.ends)
    parties = read_arrivals(args.evening, hours, args.seed)
    drawn = args.evening.strip().startswith("poisson")
    with progress("the evening") as tell:
        return rehearse_evening(
            book,
            plan,
            parties,
            hours.length_s,
            faults,
            seed=args.seed if drawn else None,
            from_s=hours.from_s,
            say=_aside,
            progress=tell,
        )


def _aside(text: str) -> None:
    """What is no result: to standard error."""
    sys.stderr.write(text + "\n")


def _with_own_findings(found: Rehearsal) -> Rehearsal:
    from thundersheet.rehearse.findings import judge

    return replace(found, findings=(*found.findings, *judge(found)))


def _write_picture(path: Path, found: Rehearsal) -> None:
    from thundersheet.sheets.rehearsal.page import evening_svg, rehearsal_html
    from thundersheet.sheets.render import write_files

    page = path.suffix.lower() != ".svg"
    write_files(path.parent, {path.name: rehearsal_html(found) if page else evening_svg(found)})
