"""Small media files made by tools that are not ours: ffmpeg 5.1 and sox 14.4.2 of Debian 12."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import soundfile
from outside_media import RATE, SECONDS, bursts, ffmpeg


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The session's folder with `source.wav` and `picture.mp4` (H.264 with B-frames, 25/s)."""
    here = tmp_path_factory.mktemp("media")
    soundfile.write(here / "source.wav", bursts(), RATE, subtype="PCM_16")
    ffmpeg("-f", "lavfi", "-i", f"testsrc=size=96x64:rate=25:duration={SECONDS}",
           "-c:v", "libx264", "-bf", "2", "-g", "25", here / "picture.mp4")  # fmt: skip
    return here


@pytest.fixture(scope="session")
def make(folder: Path) -> Callable[..., Path]:
    """Make a file once: `make("x.mkv", "-c:a", "aac")`, with the picture if asked for."""

    def maker(name: str, *words: str, picture: bool = False) -> Path:
        path = folder / name
        if not path.exists():
            inputs: list[str | Path] = ["-i", folder / "picture.mp4"] if picture else []
            copy = ["-c:v", "copy"] if picture else []
            ffmpeg(*inputs, "-i", folder / "source.wav", *copy, *words, path)
        return path

    return maker
