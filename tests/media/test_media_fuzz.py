"""Broken files of every container: a Sound or a Refusal comes out, and nothing else.

Seeded mutations of small files that ffmpeg 5.1.9 made. A failing case is reproduced by its name.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from thundersheet.base.finding import Refusal
from thundersheet.track.media import describe, programme_levels, read_sound

Maker = Callable[..., Path]

FILES: dict[str, list[str]] = {
    "a.wav": ["-c:a", "pcm_s16le"],
    "w24.wav": ["-c:a", "pcm_s24le"],
    "a.m4a": ["-c:a", "aac"],
    "alac.m4a": ["-c:a", "alac"],
    "e.mp4": ["-c:a", "aac", "-movflags", "frag_keyframe+empty_moov"],
    "a.mov": ["-c:a", "aac"],
    "a.mkv": ["-c:a", "aac"],
    "flac.mkv": ["-c:a", "flac"],
    "opus.mkv": ["-c:a", "libopus"],
    "a.mp3": ["-c:a", "libmp3lame"],
    "a.flac": ["-c:a", "flac"],
    "a.opus": ["-c:a", "libopus"],
    "a.ogg": ["-c:a", "libvorbis"],
    "a.aac": ["-c:a", "aac"],
    "a.ts": ["-c:a", "aac"],
    "a.aiff": [],
    "a.w64": [],
    "a.avi": ["-c:a", "libmp3lame"],
}


def mutated(data: bytes, rng: random.Random) -> bytes:
    """Flip, zero, repeat, cut out or cut off; half of the time in the first two kilobytes."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4, 16))):
        at = rng.randrange(min(len(out), 2048) if rng.random() < 0.5 else len(out))
        length = rng.choice((1, 1, 2, 4, 8, 64, 1000))
        match rng.randrange(6):
            case 0:
                out[at] ^= 1 << rng.randrange(8)
            case 1:
                out[at : at + length] = rng.randbytes(length)
            case 2:
                out[at : at + length] = bytes(length)
            case 3:
                out[at : at + 4] = rng.choice((b"\xff" * 4, b"\x7f\xff\xff\xff", b"\0\0\0\x01"))
            case 4:
                del out[at : at + length]
            case _:
                del out[max(at, 1) :]
        if not out:
            return b"\0"
    return bytes(out)


def check(path: Path) -> None:
    """The fact to hold: a sound with finite samples, or a refusal in words."""
    for reader in (read_sound, describe, lambda p: programme_levels(p, 16)):
        try:
            found = reader(path)
        except Refusal as refusal:
            if "MEDIA-" not in str(refusal):
                raise
            continue
        if reader is read_sound:
            samples = found.samples
            if samples.dtype != np.int16 and not np.isfinite(samples).all():
                raise ArithmeticError("a sample is no number")
            if found.start_s < 0 or found.rate <= 0 or samples.shape[1] != found.channels:
                raise ArithmeticError("the sound contradicts itself")


def torture(make: Maker, tmp_path: Path, name: str, rounds: range) -> None:
    data = make(f"short-{name}", "-t", "0.7", *FILES[name]).read_bytes()
    for seed in rounds:
        path = tmp_path / f"{seed}-{name}"
        path.write_bytes(mutated(data, random.Random(f"{name} {seed}")))
        check(path)
        path.unlink()


@pytest.mark.parametrize("name", FILES)
def test_a_broken_file_gives_a_sound_or_a_refusal(make: Maker, tmp_path: Path, name: str) -> None:
    torture(make, tmp_path, name, range(12))


@pytest.mark.soak
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("name", FILES)
def test_thousands_of_broken_files_give_a_sound_or_a_refusal(
    make: Maker, tmp_path: Path, name: str
) -> None:
    torture(make, tmp_path, name, range(12, 3000))
