"""The whole demo in one folder: books, programmes, cue tracks, proofs, sheets; then ten lines.

In: a folder. Out: files, and what to try next. It assembles the program's own verbs and adds
nothing to them.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from thundersheet.base.finding import Refusal, worst
from thundersheet.base.source import Place
from thundersheet.base.time import clock
from thundersheet.demo.books import copy_example, example_folders
from thundersheet.demo.programme import Progress, make_programme
from thundersheet.model.book import Book
from thundersheet.plan.records import Plan
from thundersheet.track.proof.records import Proof

Say = Callable[[str], None]
RATE = 48_000
MAKING = 0.8
"""The share of the work that drawing and coding the programme is."""


EXPLAINS = {
    "DEMO-04": "The demo writes only into a folder that is new or empty, so that nothing of yours "
    "is written over. With `--replace` it writes over an older demo.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """One show of the demo, finished."""

    book: Path
    cued: Path
    plan: Plan
    proof: Proof

    @property
    def fine(self) -> bool:
        """Whether its plan stands and its file is proved."""
        return self.proof.proved and worst(self.plan.findings) != "refuse"


def run_demo(
    folder: Path,
    say: Say,
    progress: Progress | None = None,
    *,
    replace: bool = False,
    examples: Sequence[Path] | None = None,
) -> int:
    """Make the demo in `folder`; 0 when all its shows are planned and proved, else 1.

    `examples` are folders with a book.yaml; None takes the demo's own two.

    Raises Refusal DEMO-04 where the folder holds something and may not be written over.
    """
    if not replace and folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        says = "This is there already."
        allowed = "Name another folder, or say --replace to write over the demo in it."
        raise Refusal.because("DEMO-04", says, allowed, Place(str(folder)))
    tell = progress or (lambda _share: None)
    made = []
    sources = example_folders() if examples is None else tuple(examples)
    for index, example in enumerate(sources):
        start, share = index / len(sources), 1 / len(sources)
        made.append(_make(example, folder, _part(tell, start, share)))
    tell(1.0)
    for line in _told(folder, made):
        say(line)
    return 0 if all(each.fine for each in made) else 1


def _part(tell: Progress, start: float, share: float) -> Progress:
    return lambda done: tell(start + share * done)


def _make(example: Path, folder: Path, tell: Progress) -> Made:
    from thundersheet.book.read import read_book
    from thundersheet.plan.plan import make_plan

    path = copy_example(example, folder)
    book = read_book(str(path))
    plan = make_plan(book)
    programme = make_programme(book, path.parent / book.show.programme, _part(tell, 0.0, MAKING))
    cued = _write_cues(plan, programme, _part(tell, MAKING, 0.1))
    proof = _prove(plan, cued)
    _write_sheets(book, plan, proof, programme, path)
    tell(1.0)
    return Made(book=path, cued=cued, plan=plan, proof=proof)


def _write_cues(plan: Plan, programme: Path, tell: Progress) -> Path:
    from thundersheet.track.encode import encode
    from thundersheet.track.media import write_control

    target = programme.with_name(f"{programme.stem}-cued{programme.suffix}")
    channel = plan.style.channel
    write_control(
        programme,
        target,
        encode(plan.schedule, RATE),
        RATE,
        how="track" if channel == "own" else "channel",
        side="left" if channel == "left" else "right",
        replace=True,
        progress=tell,
    )
    return target


def _prove(plan: Plan, cued: Path) -> Proof:
    from thundersheet.track.media import read_sounds
    from thundersheet.track.proof.prove import prove

    return prove(plan, read_sounds(cued), cued.name)


def _write_sheets(book: Book, plan: Plan, proof: Proof, programme: Path, path: Path) -> None:
    from thundersheet.sheets.cue_sheet import cue_sheet_csv, cue_sheet_html
    from thundersheet.sheets.documents import proof_json
    from thundersheet.sheets.look import programme_of, symbols_of
    from thundersheet.sheets.one_page import one_page_html
    from thundersheet.sheets.picture_page import picture_html, picture_svg
    from thundersheet.sheets.proof_report import proof_report_html
    from thundersheet.sheets.render import write_files

    seen = programme_of(programme, plan)
    symbols = symbols_of(book)
    cued = f"{programme.stem}-cued{programme.suffix}"
    steps = (
        f"thundersheet plan {path}",
        f"thundersheet prove {path} {programme.with_name(cued)}",
        "thundersheet new my-prop",
    )
    write_files(
        path.parent,
        {
            "report.html": one_page_html(plan, seen, proof, steps),
            "cue-sheet.html": cue_sheet_html(plan),
            "cue-sheet.csv": cue_sheet_csv(plan),
            "picture.html": picture_html(plan, seen, symbols),
            "picture.svg": picture_svg(plan, seen, symbols),
            "proof.html": proof_report_html(proof),
            "proof.json": json.dumps(proof_json(proof), indent=2, ensure_ascii=False) + "\n",
        },
    )


def _told(folder: Path, made: list[Made]) -> list[str]:
    """Ten lines for two shows: what was done, what to look at, what to try."""
    lines = [line for each in made for line in _told_of(folder, each)]
    book = made[0].book
    report = book.with_name("report.html").relative_to(folder)
    return [
        *lines,
        f"All is in {folder}. Look first at {report}: a show on one page.",
        "Beside it: cue-sheet, picture and proof, to read, to print (.html) and as data.",
        "Try next:",
        f"  thundersheet plan {book}    # why each cue leaves when it does",
        f"  thundersheet rehearse {book} --rush 20    # on one tank",
        "  thundersheet new my-prop    # a book of your own",
    ]


def _told_of(folder: Path, made: Made) -> tuple[str, str]:
    plan, proof = made.plan, made.proof
    errors = [abs(word.error_ms) for word in proof.words if word.error_ms is not None]
    heard = sum(word.state == "heard" for word in proof.words)
    length, worst_ms = clock(plan.length, 0), max(errors, default=0.0)
    cued = made.cued.relative_to(folder)
    return (
        f"{plan.show}: {len(plan.cues)} cues in {length} of sound and picture.",
        f"  {cued}: {proof.verdict}, {heard} words, worst {worst_ms:.2f} ms off",
    )
