"""`recut`: bring the book into step with a programme that was cut again; markers in and out."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.cli.asked import MINUS, above_nought
from thundersheet.cli.say import exit_code, out, say_findings, wrapped

if TYPE_CHECKING:
    from thundersheet.base.time import Span, Time
    from thundersheet.model.book import Book
    from thundersheet.plan.markers import Marker
    from thundersheet.plan.recut import Cut
    from thundersheet.plan.timecode import Frames

ABOUT = """\
The programme was cut again: move every beat behind a cut, with comments and all other bytes of
the book kept. Or exchange markers with an editing program: write them from the beats, move them
there, and take the changes back. Markers are a CSV table (time, name, beat) or an edit decision
list (.edl, SMPTE ST 258)."""
EXAMPLE = """\
  thundersheet recut book.yaml --cut 0:41 +2.5s   # 2.5 s were put in at 0:41
  thundersheet recut book.yaml --cut 0:20 -1s --cut 0:50 +3s --dry
  thundersheet recut book.yaml --write markers.edl --frames 25
  thundersheet recut book.yaml --read markers.csv"""

EXPLAINS = {
    "CUT-90": "A cut is given as the old instant and how much later (+) or earlier (-) everything "
    "behind it comes: `--cut 0:41 +2.5s`. Times are as in the book.",
    "CUT-91": "Markers are read and written as .csv or .edl; an edit decision list counts frames, "
    "so it needs `--frames` unless the book's show has a frame rate.",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """The book, the cuts, and the markers."""
    parser.add_argument("book", help="the book: a YAML file, or the folder that holds book.yaml")
    parser.add_argument(
        "--cut", nargs=2, action="append", default=[], metavar=("AT", "BY"),
        help="from AT of the old programme on, all comes BY later (+) or earlier (-)",
    )  # fmt: skip
    parser.add_argument("--read", metavar="FILE", help="markers that were moved in an editor")
    parser.add_argument("--write", metavar="FILE", help="write the beats as markers")
    parser.add_argument(
        "--frames", type=above_nought, help="frames a second of timecode in the markers"
    )
    parser.add_argument("--drop", action="store_true", help="drop-frame timecode (29.97, 59.94)")
    parser.add_argument("--dry", action="store_true", help="only say what would change")


def run(args: argparse.Namespace) -> int:
    """Write markers, or move the beats."""
    from thundersheet.book.read import read_book

    book = read_book(args.book)
    if args.write:
        return _write_markers(args, book)
    return _move(args, book)


def _move(args: argparse.Namespace, book: Book) -> int:
    from thundersheet.book.splice import Set
    from thundersheet.book.write import digest_of, edit_book
    from thundersheet.plan.recut import recut

    digest = digest_of(args.book)
    found = recut(book, _cuts(args, book))
    if not args.dry and found.edits:
        edit_book(args.book, [Set(edit.path, edit.new) for edit in found.edits], digest)
    for edit in found.edits:
        out(wrapped(f"{edit.place}: {edit.what}: {edit.old} -> {edit.new}"))
    say_findings(found.findings)
    count = "1 value" if len(found.edits) == 1 else f"{len(found.edits)} values"
    done = "would move" if args.dry else "moved"
    then = "; write the cue track again and prove it" if found.edits else ""
    out(f"{count} {done}{then}.")
    return exit_code(found.findings)


def _cuts(args: argparse.Namespace, book: Book) -> tuple[Cut, ...]:
    from thundersheet.plan.markers import markers_of
    from thundersheet.plan.plan import make_plan
    from thundersheet.plan.recut import Cut, cuts_between

    cuts = tuple(Cut(_time(at, book), _by(by)) for at, by in args.cut)
    if args.read:
        old = markers_of(make_plan(book))
        cuts += cuts_between(old, _read_markers(args, book))
    if not cuts and not args.read:
        raise Refusal.because("CUT-90", "There is nothing to do.", "Give --cut, --read or --write.")
    return cuts


def _time(text: str, book: Book) -> Time:
    from thundersheet.base.read_time import Ruler, read_time
    from thundersheet.base.units import UnitError

    try:
        return read_time(text, Ruler.of(book.show.frame_rate, book.show.tempo))
    except UnitError as error:
        raise Refusal.because("CUT-90", f"--cut: {error.says}", error.allowed) from error


def _by(text: str) -> Span:
    from thundersheet.base.read_time import read_span
    from thundersheet.base.units import UnitError

    sign, size = (text[0], text[1:]) if text[:1] in f"+-{MINUS}" else ("+", text)
    try:
        span = read_span(size)
    except UnitError as error:
        raise Refusal.because("CUT-90", f"--cut: {error.says}", error.allowed) from error
    return span if sign == "+" else -span


def _frames(args: argparse.Namespace, book: Book) -> Frames | None:
    from thundersheet.plan.timecode import Frames

    rate = args.frames or book.show.frame_rate
    if rate is None:
        return None
    try:
        return Frames.of(rate, drop=args.drop)
    except ValueError as error:
        raise Refusal.because("CUT-91", f"{rate:g} frames a second: {error}.") from error


def _read_markers(args: argparse.Namespace, book: Book) -> tuple[Marker, ...]:
    from thundersheet.book.files import open_text
    from thundersheet.plan.markers import from_csv, from_edl

    path = Path(args.read)
    place = Place(args.read)
    text = open_text(path, args.read, hint="Name a file of markers, .csv or .edl.").text
    try:
        if _is_edl(path):
            markers = from_edl(text, _needed_frames(args, book))
        else:
            markers = from_csv(text, _frames(args, book) if args.frames else None)
    except ValueError as error:
        raise Refusal.because("CUT-91", f"{error}.", place=place) from error
    if not markers:
        hint = "Write one with `--write`, to see what it looks like."
        raise Refusal.because("CUT-91", "There are no markers in this file.", hint, place)
    return markers


def _write_markers(args: argparse.Namespace, book: Book) -> int:
    from thundersheet.plan.markers import markers_of, to_csv, to_edl
    from thundersheet.plan.plan import make_plan
    from thundersheet.sheets.render import write_files

    path = Path(args.write)
    markers = markers_of(make_plan(book))
    if _is_edl(path):
        try:
            text = to_edl(markers, _needed_frames(args, book), book.show.name)
        except ValueError as error:
            raise Refusal.because(
                "CUT-91", f"{error}; write .csv.", place=Place(str(path))
            ) from error
    else:
        text = to_csv(markers, _frames(args, book) if args.frames else None)
    write_files(path.parent, {path.name: text})
    out(f"Written: {path}, {len(markers)} markers")
    return 0


def _is_edl(path: Path) -> bool:
    if path.suffix.lower() not in (".csv", ".edl"):
        raise Refusal.because(
            "CUT-91", f"{path} is neither .csv nor .edl.", "Name the file so that its kind shows."
        )
    return path.suffix.lower() == ".edl"


def _needed_frames(args: argparse.Namespace, book: Book) -> Frames:
    frames = _frames(args, book)
    if frames is None:
        raise Refusal.because(
            "CUT-91",
            "An edit decision list counts frames, and no frame rate is known.",
            "Add --frames 25, or `frame rate: 25` under `show`.",
        )
    return frames
