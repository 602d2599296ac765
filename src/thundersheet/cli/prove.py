"""`prove`: hold a finished media file against the book, and name the cause of what is wrong."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from thundersheet.cli.asked import above_nought, ending
from thundersheet.cli.say import out, progress, put_json, say_findings, wrapped

if TYPE_CHECKING:
    from thundersheet.track.proof.records import Proof

ABOUT = """\
Decode a finished media file, as it goes on the stick, and hold every word of its cue track
against the book's plan. Prove the file after your editor and after the player's own conversion."""
EXAMPLE = """\
  thundersheet prove book.yaml show.mp4
  thundersheet prove book.yaml show.mp4 --report proof.html
  thundersheet prove book.yaml show.mp4 --json"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The book, the media file, what is allowed, and how to print."""
    parser.add_argument("book", help="the book: a YAML file, or the folder that holds book.yaml")
    parser.add_argument("media", help="the finished media file")
    parser.add_argument("--variant", default="", help="a variant of the show that the book names")
    parser.add_argument(
        "--allow", type=above_nought, metavar="MS", help="error of one word that is let pass, in ms"
    )
    parser.add_argument("--report", metavar="FILE", help="write the proof report, .html")
    parser.add_argument("--json", action="store_true", help="print one JSON document instead")


def run(args: argparse.Namespace) -> int:
    """Print the verdict; 1 when the file is not proved."""
    from thundersheet.book.read import read_book
    from thundersheet.plan.plan import make_plan

    if args.report:
        ending(args.report, (".html", ".htm"))
    plan = make_plan(read_book(args.book), args.variant)
    with progress("listening"):
        from thundersheet.track.media import read_sounds
        from thundersheet.track.proof.prove import ALLOWED_MS, prove

        sounds = read_sounds(args.media)
        proof = prove(plan, sounds, Path(args.media).name, args.allow or ALLOWED_MS)
    if args.report:
        from thundersheet.sheets.proof_report import proof_report_html
        from thundersheet.sheets.render import write_files

        report = Path(args.report)
        write_files(report.parent, {report.name: proof_report_html(proof)})
    if args.json:
        from thundersheet.sheets.documents import proof_json

        put_json(proof_json(proof))
    else:
        _say(proof)
    return 0 if proof.proved else 1


def _say(proof: Proof) -> None:
    because = proof.because if proof.proved else ""
    out(wrapped(f"{proof.media}: {proof.verdict}. {because}".rstrip()))
    say_findings(proof.findings)
    heard = sum(word.state == "heard" for word in proof.words)
    speed = "" if proof.speed_ppm is None else f", speed {_shown(proof.speed_ppm, 1)} ppm"
    offset = "" if proof.offset_ms is None else f", offset {_shown(proof.offset_ms, 2)} ms"
    out(wrapped(f"{heard} words heard{speed}{offset}; plan {proof.fingerprint}."))


def _shown(number: float, decimals: int) -> str:
    """With its sign, but never as `-0.0`."""
    return f"{round(number, decimals) + 0.0:+.{decimals}f}"
