"""Whatever is put where a file belongs: one clear sentence, exit code 2, and nothing written."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from tests.cli.conftest import Run, in_a_hard_world

BINARY = bytes(range(256)) * 8
PROSE = "Now is the winter: of our discontent:\n\t- made glorious\n"
KINDS = ("prose", "binary", "empty", "folder", "missing")

BOOK_SAYS = {
    "prose": "second `:` in this value",
    "binary": "no text",
    "empty": "There is no book in this file. A book begins with `book: 1`",
    "folder": "This is a folder without a `book.yaml`.",
    "missing": "There is no such file.",
}
MEDIA_SAYS = {
    "prose": "This is no media file that can be read, or it is cut short.",
    "binary": "This is no media file that can be read, or it is cut short.",
    "empty": "This file is empty (0 bytes). Export or copy it again.",
    "folder": "This is a folder, not a file.",
    "missing": "There is no such file.",
}
MARKERS_SAY = {
    "prose": "no column is called `time`",
    "binary": "no text",
    "empty": "There are no markers in this file.",
    "folder": "This is a folder, not a file. Name a file of markers",
    "missing": "There is no such file. Name a file of markers",
}
INPUTS_SAY = {
    "prose": "is no JSON: line 1, column 1",
    "binary": "is no text.",
    "empty": "is no JSON: line 1, column 1",
    "folder": "cannot be read: Is a directory.",
    "missing": "cannot be read: No such file or directory.",
}
DOORS = {
    "check": ("check {bad}", BOOK_SAYS),
    "plan": ("plan {bad}", BOOK_SAYS),
    "track a book": ("track {bad}", BOOK_SAYS),
    "prove a book": ("prove {bad} {prop}/gale.mp4", BOOK_SAYS),
    "recut a book": ("recut {bad} --cut 0:01 +1s", BOOK_SAYS),
    "track media": ("track {prop} {out}/x.mp4 --media {bad}", MEDIA_SAYS),
    "prove media": ("prove {prop} {bad}", MEDIA_SAYS),
    "listen": ("listen {bad}", MEDIA_SAYS),
    "markers": ("recut {prop} --read {bad}", MARKERS_SAY),
    "calc": ("calc cylinder --input {bad}", INPUTS_SAY),
}


def bad_file(folder: Path, kind: str) -> Path:
    path = folder / "bad.csv"
    match kind:
        case "prose":
            path.write_text(PROSE)
        case "binary":
            path.write_bytes(BINARY)
        case "empty":
            path.touch()
        case "folder":
            path.mkdir()
    return path


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("door", DOORS)
def test_what_is_no_such_file_is_refused_in_a_sentence(
    door: str, kind: str, prop: Path, tmp_path: Path, run: Run
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    bad = bad_file(tmp_path, kind)
    before = {path: path.read_bytes() for path in prop.iterdir()}
    line, says = DOORS[door]
    ended = run(*(word.format(bad=bad, prop=prop, out=out) for word in line.split()))
    assert ended.code == 2
    assert ended.out == ""
    assert says[kind] in ended.said
    assert str(bad) in ended.said
    assert ended.err.count("[") == 1  # one sentence with one code
    assert list(out.iterdir()) == []
    assert {path: path.read_bytes() for path in prop.iterdir()} == before


def test_without_rights_each_verb_says_so_and_leaves_everything(prop: Path, tmp_path: Path) -> None:
    shut = tmp_path / "shut"
    shut.mkdir()
    for name in ("secret.yaml", "secret.mp4", "secret.json", "secret.csv"):
        (shut / name).write_text("x")
        (shut / name).chmod(0)
    lines = {
        "check {shut}/secret.yaml": "You may not read this file.",
        "plan {shut}/secret.yaml": "You may not read this file.",
        "track {shut}/secret.yaml": "You may not read this file.",
        "prove {prop} {shut}/secret.mp4": "This user may not read the file.",
        "listen {shut}/secret.mp4": "This user may not read the file.",
        "track {prop} {shut}/x.mp4": "this user may not write there",
        "track {prop} {shut}/x.wav --alone": "this user may not write there",
        "recut {prop} --read {shut}/secret.csv": "You may not read this file.",
        "recut {prop} --write {shut}/m.csv": "This cannot be written: permission denied.",
        "recut {prop} --cut 0:01 +1s": "cannot be written: Permission denied. The old one is as",
        "plan {prop} --sheet {shut}/s.html": "This cannot be written: permission denied.",
        "calc cylinder --input {shut}/secret.json": "cannot be read: Permission denied.",
        "new {shut}/mine": "The folder cannot be made: Permission denied.",
        "demo {shut}/demo": "The example book cannot be copied here: Permission denied.",
    }
    before = sorted(tmp_path.rglob("*"))
    book = (prop / "book.yaml").read_bytes()
    words = [line.format(prop=prop, shut=shut).split() for line in lines]
    for folder in (shut, prop):
        folder.chmod(0o555)
    for line, ended in zip(lines, in_a_hard_world(words, rights=False), strict=True):
        assert (ended.code, lines[line] in ended.said) == (2, True), (line, ended)
    assert sorted(tmp_path.rglob("*")) == before
    assert (prop / "book.yaml").read_bytes() == book


def test_where_files_may_not_grow_each_verb_says_so_and_leaves_nothing(
    prop: Path, cued: Path, tmp_path: Path
) -> None:
    """As on a full disk: the system refuses the 201st byte of any file (RLIMIT_FSIZE)."""
    out = tmp_path / "out"
    out.mkdir()
    lines = {
        "track {prop} {out}/x.mp4": "MEDIA-12",
        "track {prop} {out}/x.wav --alone": "MEDIA-12",
        "recut {prop} --cut 0:01 +1s": "BOOK-7",
        "plan {prop} --sheet {out}/s.html": "SHEET-01",
        "plan {prop} --picture {out}/s.svg": "SHEET-01",
        "prove {prop} {cued} --report {out}/p.html": "SHEET-01",
        "new {out}/mine": "BOOK-7",
        "demo {out}/demo": "DEMO-03",
    }
    before = {path: path.read_bytes() for path in prop.iterdir()}
    words = [line.format(prop=prop, cued=cued, out=out).split() for line in lines]
    for line, ended in zip(lines, in_a_hard_world(words, largest=200), strict=True):
        assert (ended.code, lines[line] in ended.said) == (2, True), (line, ended)
        assert ended.out == "", line
    assert {path: path.read_bytes() for path in prop.iterdir()} == before
    left = [path for path in out.rglob("*") if path.is_file() and path.stat().st_size >= 200]
    assert left == []
    assert not list(out.rglob("*.part"))


def test_output_that_nothing_takes_is_told(prop: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "thundersheet", "plan", prop],
            stdout=full, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
    assert done.returncode == 2
    assert "cannot go on with its output: No space left on device." in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("track {prop} {prop}/gale.mp4", "This is the source itself"),
        ("track {prop} {prop}/gale.mp4 --replace", "This is the source itself"),
        ("track {prop} {prop}/book.yaml", "This file exists already."),
        ("track {prop} {prop}/x.avi", "Files ending in '.avi' cannot be written. Allowed: .mp4"),
        ("track {prop} {mine}.mp4", "This file exists already. Give another name, or allow it"),
        ("track {prop} {mine}.wav --alone", "This file exists already."),
        ("track {prop} {prop} --replace", "This is a folder."),
        ("track {prop} {prop}/no/x.mp4", "There is no folder"),
        ("track {prop} {prop}/x.mp4 --rate 12", "`12` is no whole number from 8000 to 192000"),
        ("prove {prop} {prop}/gale.mp4 --report {mine}.pdf", "does not end in .html or .htm."),
        ("plan {prop} --picture {mine}.png", "does not end in .html or .htm or .svg."),
        ("prove {prop} {prop}/gale.mp4 --allow -3", "`-3` is no number above 0"),
        ("listen {prop}/gale.mp4 --track 3", "There is no audio track 3 in this file. It has 1."),
        ("listen {prop}/gale.mp4 --channel 9", "There is no channel `9`"),
        ("recut {prop} --write {mine}.edl", "no frame rate is known. Add --frames 25"),
        ("recut {prop} --cut later +2s", "`later` is no time of the programme."),
        ("new {prop}", "There is a book already. Choose another name."),
        ("new {mine}.wav", "The folder cannot be made: File exists."),
        ("demo {prop}", "This is there already. Name another folder"),
    ],
)
def test_a_target_that_must_not_be_is_left_as_it_is(
    line: str, says: str, prop: Path, tmp_path: Path, run: Run
) -> None:
    mine = tmp_path / "mine"
    for kind in ("mp4", "wav"):
        mine.with_suffix(f".{kind}").write_bytes(b"mine")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    ended = run(*(word.format(prop=prop, mine=mine) for word in line.split()))
    assert ended.code == 2
    assert says in ended.said
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_a_programme_that_the_book_names_and_is_not_there_is_told_with_its_line(
    prop: Path, run: Run
) -> None:
    (prop / "gale.mp4").unlink()
    ended = run("track", prop)
    assert ended.code == 2
    assert f"{prop}/book.yaml:2:" in ended.said
    assert "add --alone for the tones only. [TRACK-92]" in ended.said
