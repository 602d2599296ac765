"""Facts, thumbnails and envelopes, held against ffprobe and ffmpeg 5.1.9, sox 14.4.2 and numpy."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from outside_media import RATE, bursts, ffmpeg, run

from thundersheet.track.media import describe, frames, programme_levels

Maker = Callable[..., Path]


def probe(path: Path) -> dict[str, Any]:
    words = ("-v", "error", "-show_streams", "-show_format", "-of", "json")
    return json.loads(run("ffprobe", *words, path))


def pixels(data: Path | bytes, size: tuple[int, int], *before: str | Path) -> np.ndarray:
    """RGB of one picture, decoded and scaled by ffmpeg."""
    words = ["-vf", f"scale={size[0]}:{size[1]}", "-frames:v", "1"]
    raw = run("ffmpeg", "-v", "error", *before, "-i", data, *words,
              "-f", "rawvideo", "-pix_fmt", "rgb24", "-")  # fmt: skip
    return np.frombuffer(raw, np.uint8).reshape(size[1], size[0], 3).astype(float)


def test_facts_are_those_of_ffprobe(make: Maker) -> None:
    path = make("v.mp4", "-c:a", "aac", picture=True)
    facts, theirs = describe(path), probe(path)
    video, sound = theirs["streams"]
    assert facts.picture is not None
    assert (facts.picture.width, facts.picture.height) == (video["width"], video["height"])
    assert facts.picture.codec == video["codec_name"]
    assert facts.picture.frames == int(video["nb_frames"])
    assert facts.picture.frames_per_s == pytest.approx(25)
    assert facts.picture.b_frames is (video["has_b_frames"] > 0)
    assert facts.picture.variable is False
    assert facts.length_s == pytest.approx(float(theirs["format"]["duration"]), abs=0.03)
    assert [s.codec for s in facts.sounds] == [sound["codec_name"]]
    assert facts.edits == ("the sound's first 21.3 ms are not to be heard",)


def test_uneven_frames_and_plain_order_are_seen(tmp_path: Path) -> None:
    ffmpeg("-f", "lavfi", "-i", "testsrc=size=96x64:rate=30:duration=2", "-vf",
           "select='not(mod(n,3))+gt(n,30)'", "-vsync", "vfr", "-c:v", "libx264", "-bf", "0",
           tmp_path / "x.mkv")  # fmt: skip
    picture = describe(tmp_path / "x.mkv").picture
    assert picture is not None
    assert picture.variable
    assert not picture.b_frames


def test_a_sound_file_has_no_picture_and_a_late_track_is_told(folder: Path, tmp_path: Path) -> None:
    assert describe(folder / "source.wav").picture is None
    ffmpeg("-i", folder / "picture.mp4", "-itsoffset", "0.25", "-i", folder / "source.wav", "-map",
           "0:v", "-map", "1:a", "-c:v", "copy", "-c:a", "pcm_s16le", tmp_path / "x.mov",
    )  # fmt: skip
    facts = describe(tmp_path / "x.mov")
    assert facts.sound_start_s == 0.25
    assert "the sound starts 0.250 s late" in facts.edits


@pytest.mark.parametrize("time", [0.0, 0.5, 1.9])
def test_a_thumbnail_is_the_picture_of_its_instant(
    folder: Path, tmp_path: Path, time: float
) -> None:
    [small] = frames(folder / "picture.mp4", [time], width=96)
    (tmp_path / "x.jpg").write_bytes(small.jpeg)
    ours = pixels(tmp_path / "x.jpg", (96, 64))
    theirs = pixels(folder / "picture.mp4", (96, 64), "-ss", str(time))
    assert (small.width, small.height) == (96, 64)
    assert 0 <= time - small.at_s < 1 / 25
    assert np.abs(ours - theirs).mean() < 10


def test_a_turned_picture_is_shown_upright(folder: Path, tmp_path: Path) -> None:
    """ffmpeg turns by itself as the file asks."""
    path = tmp_path / "turned.mp4"
    ffmpeg("-i", folder / "picture.mp4", "-c", "copy", "-metadata:s:v", "rotate=90", path)
    [small] = frames(path, [0.5], width=64)
    (tmp_path / "x.jpg").write_bytes(small.jpeg)
    assert (small.width, small.height) == (64, 96)
    difference = pixels(tmp_path / "x.jpg", (64, 96)) - pixels(path, (64, 96), "-ss", "0.5")
    assert np.abs(difference).mean() < 10
    picture = describe(path).picture
    assert picture is not None
    assert picture.turned_deg % 180 == 90


def test_beyond_the_end_the_last_picture_stands(folder: Path) -> None:
    first, last = frames(folder / "picture.mp4", [1.99, 99.0])
    assert first.at_s == last.at_s == pytest.approx(1.96)


@pytest.mark.parametrize(
    ("name", "words", "near"),
    [("source.wav", [], 2 / 32768), ("a.flac", ["-c:a", "flac"], 2 / 32768),
     ("a.m4a", ["-c:a", "aac"], 0.25)],
)  # fmt: skip
def test_the_envelope_is_that_of_the_samples(
    make: Maker, name: str, words: list[str], near: float
) -> None:
    path = make(name, *words)
    levels = programme_levels(path, 100)
    meant = bursts().reshape(100, -1)
    assert np.abs(levels.highs - meant.max(1)).max() < near
    assert np.abs(levels.lows - meant.min(1)).max() < near
    assert np.abs(levels.rms - np.sqrt((meant**2).mean(1))).max() < near
    assert levels.length_s == pytest.approx(2.0, abs=0.03)


def test_a_late_track_is_drawn_late(folder: Path, tmp_path: Path) -> None:
    ffmpeg("-itsoffset", "0.5", "-i", folder / "source.wav", "-i", folder / "picture.mp4",
           "-c:v", "copy", "-c:a", "pcm_s16le", tmp_path / "x.mov")  # fmt: skip
    levels = programme_levels(tmp_path / "x.mov", 50)
    assert levels.length_s == 2.5
    assert not levels.highs[:9].any()
    assert levels.highs[11:].all()


def test_more_buckets_than_samples_still_give_an_envelope(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "x.wav", bursts()[:700], RATE)
    levels = programme_levels(tmp_path / "x.wav", 50)
    assert len(levels.highs) == len(levels.rms) == 50
