"""A small prop of our own, and media of every kind made by ffmpeg 5.1 (Debian 12)."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import pytest

from thundersheet.cli import main

BOOK = """\
book: 1
show: {name: Gale, programme: gale.mp4, length: 0:03}
air: {set: 60 psi}
boards: {main: {kind: 8 transistor outputs, terminals: 8}}
devices:
  hatch: {kind: air cylinder, bore: 27 mm, stroke: 100 mm, moves: 3 kg, reachable: no, on: main 1}
  lamp: {kind: lamp, volts: 12 V, current: 1.5 A, on: main 2}
beats:
  - {at: 0:01.200, what: lamp lights, do: lamp on}
  - {at: 0:02, what: hatch bangs open, do: hatch out}
"""
SECONDS = 3
PICTURE = ("-f", "lavfi", "-i", f"testsrc=size=64x48:rate=25:duration={SECONDS}")
SOUND = ("-f", "lavfi", "-i", f"sine=300:r=48000:d={SECONDS}")


@dataclass(frozen=True)
class Ended:
    """How a verb ended, and what it said."""

    code: int
    out: str
    err: str

    @property
    def said(self) -> str:
        """All of it, with line breaks of the terminal's width taken out."""
        return " ".join((self.out + self.err).split())


Run = Callable[..., Ended]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command line in this process."""

    def runner(*words: str | Path) -> Ended:
        capsys.readouterr()
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        assert "Traceback" not in said.out + said.err
        return Ended(code, said.out, said.err)

    return runner


def ffmpeg(*words: str | Path) -> None:
    """Run ffmpeg; it says something only when it fails."""
    done = subprocess.run(
        ["ffmpeg", "-v", "error", "-y", *map(str, words)], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder in which media are made once."""
    return tmp_path_factory.mktemp("shelf")


@pytest.fixture(scope="session")
def programme(shelf: Path) -> Path:
    """Three seconds of picture with B-frames and of mono sound, MP4."""
    path = shelf / "gale.mp4"
    ffmpeg(*PICTURE, *SOUND, "-c:v", "libx264", "-bf", "2", "-c:a", "aac", path)
    return path


@pytest.fixture
def prop(tmp_path: Path, programme: Path) -> Path:
    """A folder with a book and its programme."""
    folder = tmp_path / "prop"
    folder.mkdir()
    (folder / "book.yaml").write_text(BOOK)
    shutil.copy(programme, folder / "gale.mp4")
    return folder


@pytest.fixture(scope="session")
def cued(shelf: Path, programme: Path) -> Path:
    """The prop's programme with its cue track."""
    assert programme.parent == shelf
    (shelf / "book.yaml").write_text(BOOK)
    assert main(["track", str(shelf)]) == 0
    return shelf / "gale-cued.mp4"


WITHOUT_RIGHTS = ("setpriv", "--bounding-set", "-dac_override,-dac_read_search")
"""Before a command of root's: it must keep to the files' modes as anyone must (capabilities(7))."""


def in_a_hard_world(
    lines: Iterable[Iterable[str | Path]],
    *,
    warm: Iterable[Iterable[str | Path]] = (),
    rights: bool = True,
    largest: int = 0,
) -> list[Ended]:
    """How command lines end in a process without rights, or where files must stay small."""
    wish = {
        "warm": [[str(word) for word in line] for line in warm],
        "lines": [[str(word) for word in line] for line in lines],
        "largest": largest,
    }
    before = () if rights or os.geteuid() else WITHOUT_RIGHTS
    done = subprocess.run(
        [*before, sys.executable, Path(__file__).with_name("driver.py")],
        input=json.dumps(wish), capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return [Ended(*each) for each in json.loads(done.stdout)]
