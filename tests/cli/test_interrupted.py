"""Ctrl-C in the middle of long work: exit code 130, a word, and nothing half-written."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

from tests.cli.conftest import ffmpeg


def interrupted(words: list[str | Path], folder: Path) -> tuple[int, str]:
    """Start a verb, interrupt it when its first unfinished file stands in the folder."""
    process = subprocess.Popen(
        [sys.executable, "-m", "thundersheet", *map(str, words)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    while not list(folder.rglob(".*")):
        try:
            process.wait(timeout=0.01)
        except subprocess.TimeoutExpired:
            continue
        raise AssertionError(process.communicate())
    process.send_signal(signal.SIGINT)
    out, err = process.communicate()
    assert "Traceback" not in out + err
    return process.returncode, err


def test_track_interrupted_leaves_the_source_and_no_half_of_a_copy(
    prop: Path, programme: Path
) -> None:
    long = prop / "gale.mp4"
    ffmpeg("-stream_loop", "200", "-i", programme, "-c", "copy", long)
    before = long.read_bytes()
    code, err = interrupted(["track", prop], prop)
    assert code == 130
    assert "Interrupted; nothing was left half-written." in err
    assert {path.name for path in prop.iterdir()} <= {"book.yaml", "gale.mp4"}
    assert long.read_bytes() == before


def test_demo_interrupted_leaves_only_whole_files(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    folder.mkdir()
    code, err = interrupted(["demo", folder], folder)
    assert code == 130
    assert "Interrupted" in err
    left = {path.name for path in folder.rglob("*") if path.is_file()}
    assert left <= {"book.yaml", "draft.yaml", "beats.csv", "draft-beats.csv"}
