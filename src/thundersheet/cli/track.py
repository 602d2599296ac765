"""`track`: write the plan as tones into a copy of the programme, and prove what was written."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.cli.asked import whole
from thundersheet.cli.say import exit_code, out, progress, say_findings, wrapped

if TYPE_CHECKING:
    from thundersheet.model.book import Book
    from thundersheet.plan.records import Plan
    from thundersheet.track.media import Written

ABOUT = """\
Write the plan's cue track into a copy of the programme: its picture is copied bit for bit, its
sound goes to the other channel, or stays as it is when the tones get a track of their own (as
`show: cue track: channel` says). The copy is then proved by hearing it; the source is never
touched."""
EXAMPLE = """\
  thundersheet track book.yaml                     # gale.mp4 -> gale-cued.mp4
  thundersheet track book.yaml stick/show.mov
  thundersheet track book.yaml tones.wav --alone   # for an editor"""

EXPLAINS = {
    "TRACK-90": "The plan has findings that refuse, so no cue track was written: a file that looks "
    "finished would end up on the stick. `--anyway` writes it all the same, for a rehearsal.",
    "TRACK-91": "The book names no programme (`show: programme`), so there is nothing to write the "
    "cue track into. Name one, give `--media FILE`, or write the tones alone.",
    "TRACK-92": "The file that the book names under `show: programme` is not there. The name is "
    "seen from the book's folder. Without a programme, `--alone` writes the tones only.",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """The book, where to, and how."""
    parser.add_argument("book", help="the book: a YAML file, or the folder that holds book.yaml")
    parser.add_argument("target", nargs="?", help="file to write; left out: beside the programme")
    parser.add_argument("--media", help="the programme, where it is not the book's")
    parser.add_argument("--variant", default="", help="a variant of the show that the book names")
    parser.add_argument("--alone", action="store_true", help="the tones only: a mono WAV or FLAC")
    parser.add_argument(
        "--rate", type=whole(8_000, 192_000), default=48_000, metavar="HZ",
        help="samples a second (48000)",
    )  # fmt: skip
    parser.add_argument(
        "--codec", help="how the sound is coded; by default what the file takes best"
    )
    parser.add_argument("--replace", action="store_true", help="an existing target may be replaced")
    parser.add_argument("--anyway", action="store_true", help="write although findings refuse")


def run(args: argparse.Namespace) -> int:
    """Plan, write, prove, say."""
    from thundersheet.book.read import read_book
    from thundersheet.plan.plan import make_plan

    book = read_book(args.book)
    plan = make_plan(book, args.variant)
    if exit_code(plan.findings) and not args.anyway:
        say_findings([finding for finding in plan.findings if finding.grade == "refuse"])
        raise Refusal.because(
            "TRACK-90",
            "The plan refuses, so nothing was written.",
            "Mend the findings above (`thundersheet check` gives cures), or add --anyway.",
            Place(str(args.book)),
        )
    if args.alone:
        target = _write_alone(args, plan)
        out(f"Written: {target}, the tones only")
    else:
        written = _write(args, book, plan)
        _say(written)
        target = written.path
    return _prove(plan, target)


def _write_alone(args: argparse.Namespace, plan: Plan) -> Path:
    from thundersheet.track.encode import encode
    from thundersheet.track.media import write_sound

    beside = folder_of(args.book) / f"{Path(args.book).stem}-tones.wav"
    target = Path(args.target or beside)
    write_sound(target, encode(plan.schedule, args.rate), args.rate, replace=args.replace)
    return target


def _write(args: argparse.Namespace, book: Book, plan: Plan) -> Written:
    from thundersheet.track.encode import encode
    from thundersheet.track.media import write_control

    control = encode(plan.schedule, args.rate)
    source = _source(args, book)
    with progress("writing") as tell:
        target = Path(args.target or source.with_name(f"{source.stem}-cued{source.suffix}"))
        side = plan.style.channel
        return write_control(
            source,
            target,
            control,
            args.rate,
            how="track" if side == "own" else "channel",
            side="left" if side == "left" else "right",
            codec=args.codec,
            replace=args.replace,
            progress=tell,
        )


def _source(args: argparse.Namespace, book: Book) -> Path:
    if args.media:
        return Path(args.media)
    if not book.show.programme:
        raise Refusal.because(
            "TRACK-91",
            "The book names no programme to write the cue track into.",
            "Write `programme: media/show.mp4` under `show`, or give --media FILE or --alone.",
            book.show.origin.place,
        )
    path = folder_of(args.book) / book.show.programme
    if not path.exists():
        raise Refusal.because(
            "TRACK-92",
            f"There is no file {path}, which the book names as its programme.",
            "Put your video or sound there, mend the name, or add --alone for the tones only.",
            book.show.origin.of("programme"),
        )
    return path


def folder_of(book: str) -> Path:
    """The folder that the book's own paths start from."""
    path = Path(book)
    return path if path.is_dir() else path.parent


def _say(written: Written) -> None:
    out(wrapped(f"Written: {written.path} ({written.codec} in {written.container})"))
    if written.picture_packets:
        out(f"  picture: {written.picture_packets} packets, bit for bit those of the source")
    for note in written.notes:
        out(wrapped(f"note: {note}"))
    for lost in written.dropped:
        out(wrapped(f"left out: {lost}"))


def _prove(plan: Plan, target: Path) -> int:
    from thundersheet.track.media import read_sounds
    from thundersheet.track.proof.prove import prove

    with progress("proving"):
        proof = prove(plan, read_sounds(target), target.name)
    out(wrapped(f"Proof: {proof.verdict}. {proof.because}"))
    say_findings(proof.findings)
    return 0 if proof.proved else 1
