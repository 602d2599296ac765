"""The part of `rehearse` that draws shows by lot: its options, its run.

In: the parsed arguments, a book and its plan. Out: text or one JSON document, and an exit code.
"""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from thundersheet.base.finding import Refusal
from thundersheet.cli.asked import whole
from thundersheet.cli.say import exit_code, out, progress, put_json, say_findings

if TYPE_CHECKING:
    from thundersheet.model.book import Book
    from thundersheet.plan.records import Plan
    from thundersheet.rehearse.scatter.shows import Way

EXPLAINS = {
    "SCAT-06": "Options of the scatter were given without `--scatter N`, or a picture with it: "
    "pictures are of one show, a rush or an evening.",
}
SOLVERS: dict[str, Way] = {
    "auto": "",
    "event-driven": "event-driven",
    "strokes": "stroke by stroke",
}
MOST_SHOWS = 1_000_000
MOST_CHECKS = 250
MOST_SEED = 2**63 - 1
EXAMPLE = """\
  thundersheet rehearse book.yaml --scatter 10000 --seed 7 --drivers
  thundersheet rehearse book.yaml --scatter 1000000 --workers tcp://host:8786"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the scatter, in a group of their own."""
    group = parser.add_argument_group(
        "scatter", "many shows drawn by lot: how each landing falls, how often all is inside"
    )
    group.add_argument(
        "--scatter",
        metavar="N",
        type=whole(2, MOST_SHOWS),
        help="draw so many shows from what is in doubt and what varies",
    )
    group.add_argument(
        "--drivers",
        action="store_true",
        help="and say which value drives each landing (needs the extra `scatter`)",
    )
    group.add_argument(
        "--workers",
        metavar="WHERE",
        default="",
        help="processes on this machine, or a Dask scheduler's address: tcp://host:8786; left out: "
        "this machine, as suits; the numbers stay the same to the last bit",
    )

    group.add_argument(
        "--solver",
        choices=tuple(SOLVERS),
        default="auto",
        help="event-driven: every show whole; strokes: each stroke in the air of an undisturbed "
        "show; auto: strokes, where a sample of whole shows lands the same",
    )
    group.add_argument(
        "--check",
        metavar="N",
        type=whole(0, MOST_CHECKS),
        default=0,
        help="play so many of the drawn shows again by the coupled solver, and say how far their "
        "landings differ",
    )


def seed_argument(parser: argparse._ActionsContainer) -> None:
    """`--seed`, where the verb has none yet."""
    parser.add_argument(
        "--seed", metavar="S", type=whole(0, MOST_SEED), default=1, help="what is drawn (1)"
    )


def one_way(args: argparse.Namespace) -> None:
    """A Refusal where options of the scatter stand without it, or with what it does not do."""
    asked = {"--drivers": args.drivers, "--workers": args.workers, "--check": args.check}
    asked["--solver"] = args.solver != "auto"
    given = [name for name, value in asked.items() if value]
    if given and not args.scatter:
        raise Refusal.because("SCAT-06", f"{given[0]} is for a scatter.", "Add --scatter 10000.")
    if args.picture and args.scatter:
        raise Refusal.because(
            "SCAT-06", "A scatter draws no picture.", "Rehearse one show or a rush with it."
        )


def run_scatter(args: argparse.Namespace, book: Book, plan: Plan) -> int:
    """Draw, and print what came of it."""
    from thundersheet.cli.scatter_say import scatter_json, scatter_text
    from thundersheet.rehearse.scatter.shows import scatter

    seed = 1 if args.seed is None else args.seed
    with progress(f"{args.scatter:,} shows") as step:
        found = scatter(
            book,
            plan,
            args.scatter,
            seed,
            workers=args.workers,
            drivers=args.drivers,
            by=SOLVERS[args.solver],
            coupled=args.check,
            progress=step,
            say=_aside,
        )
    if args.json:
        put_json(scatter_json(found))
        return exit_code(found.findings)
    out(scatter_text(found))
    say_findings(found.findings)
    return exit_code(found.findings)


def _aside(text: str) -> None:
    """What is no result: to standard error."""
    sys.stderr.write(text + "\n")
