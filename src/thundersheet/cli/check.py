"""`check`: read a book, plan it, and say everything that is wrong, unsafe or too tight."""

from __future__ import annotations

import argparse

from thundersheet.base.finding import finding_json
from thundersheet.cli.say import (
    count_findings,
    exit_code,
    late_progress,
    out,
    put_json,
    say_findings,
)

ABOUT = """\
Read a book and say everything that is wrong, unsafe or too tight, with the line of the book
and up to three cures. Nothing is written.

A finding is graded `refuse` (the show must not be played so), `warn` (look at it) or `note`.
`thundersheet explain` says more about the code at its end."""
EXAMPLE = """\
  thundersheet check book.yaml
  thundersheet check book.yaml --variant quiet"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The book, a variant, and how to print."""
    parser.add_argument("book", help="the book: a YAML file, or the folder that holds book.yaml")
    parser.add_argument("--variant", default="", help="a variant of the show that the book names")
    parser.add_argument("--json", action="store_true", help="print one JSON document instead")


def run(args: argparse.Namespace) -> int:
    """Print the findings of the book and its plan."""
    from thundersheet.book.read import read_book
    from thundersheet.plan.plan import make_plan

    book = read_book(args.book)
    with late_progress("Trying cures") as progress:
        plan = make_plan(book, args.variant, cures=True, progress=progress)
    if args.json:
        put_json(
            {
                "book": str(args.book),
                "findings": [finding_json(finding) for finding in plan.findings],
            }
        )
    else:
        say_findings(plan.findings)
        out(f"{book.show.name}: {len(plan.cues)} cues; {count_findings(plan.findings)}.")
    return exit_code(plan.findings)
