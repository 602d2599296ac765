"""The reader against files of ffmpeg 5.1 whose samples are known, in every container."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from outside_media import RATE, bursts, ffmpeg, lag, run

from thundersheet.track.media import Sound, read_sound
from thundersheet.track.media.wavout import header

Maker = Callable[..., Path]

AAC, MP3 = 1024, 1105
"""Priming of ffmpeg's AAC coder, and LAME's 576 + 529 that its header declares."""


def heard(sound: Sound, channel: int = 1) -> np.ndarray:
    """The channel from time zero on."""
    return np.concatenate([np.zeros(round(sound.start_s * sound.rate)), sound.channel(channel)])


ALONE = [
    ("a.mp4", ["-c:a", "aac"], 0, AAC, 0),
    ("a.mov", ["-c:a", "aac"], 0, AAC, 0),
    ("a.m4a", ["-c:a", "aac"], 0, AAC, 0),
    ("mp3.mp4", ["-c:a", "libmp3lame"], 0, MP3, 0),
    ("opus.mp4", ["-c:a", "libopus"], 0, 312, 0),
    ("alac.m4a", ["-c:a", "alac"], 0, 0, 0),
    ("pcm.mov", ["-c:a", "pcm_s24le"], 0, 0, 0),
    ("flac.mkv", ["-c:a", "flac"], 0, 0, 0),
    ("opus.mkv", ["-c:a", "libopus"], 0, 312, 0),
    ("a.mp3", ["-c:a", "libmp3lame"], 0, MP3, 0),
    ("a.opus", ["-c:a", "libopus"], 0, 312, 0),
    ("a.ogg", ["-c:a", "libvorbis"], 0, 128, 0),
    ("a.flac", ["-c:a", "flac"], 0, 0, 0),
    ("a.wav", ["-c:a", "pcm_s16le"], 0, 0, 0),
    ("f.mp4", ["-c:a", "aac", "-movflags", "frag_keyframe+delay_moov"], 0, AAC, 0),
    # No declaration is in these files, so that every player lets the priming be heard.
    ("a.aac", ["-c:a", "aac"], AAC, 0, AAC),
    ("a.mkv", ["-c:a", "aac"], AAC, 0, AAC),
    ("mp3.mkv", ["-c:a", "libmp3lame"], MP3, 0, MP3),
    ("a.ts", ["-c:a", "aac"], AAC, 0, AAC),
    ("e.mp4", ["-c:a", "aac", "-movflags", "frag_keyframe+empty_moov"], AAC, 0, AAC),
]


@pytest.mark.parametrize(("name", "words", "late", "priming", "unsaid"), ALONE)
def test_sound_alone_stands_where_a_player_hears_it(
    make: Maker, name: str, words: list[str], late: int, priming: int, unsaid: int
) -> None:
    sound = read_sound(make(name, *words))
    assert abs(lag(heard(sound), bursts()[:, 1]) - late) <= 1
    assert round(sound.priming_s * RATE) == priming
    assert round(sound.ignoring_priming_s * RATE) == priming
    assert round(sound.unsaid_priming_s * RATE) == unsaid
    assert not sound.faults


BESIDE_A_PICTURE = [
    ("v.mp4", ["-c:a", "aac"]),
    ("v.mov", ["-c:a", "aac"]),
    ("v.mkv", ["-c:a", "aac"]),
    ("vm.mkv", ["-c:a", "libmp3lame"]),
    ("vf.mkv", ["-c:a", "flac"]),
    ("v.ts", ["-c:a", "aac"]),
    ("vf.mp4", ["-c:a", "aac", "-movflags", "frag_keyframe+empty_moov"]),
    ("vd.mp4", ["-c:a", "aac", "-movflags", "frag_keyframe+delay_moov"]),
    ("vn.mp4", ["-c:a", "aac", "-use_editlist", "0"]),
]


@pytest.mark.parametrize(("name", "words"), BESIDE_A_PICTURE)
def test_zero_is_where_the_picture_starts(make: Maker, name: str, words: list[str]) -> None:
    sound = read_sound(make(name, *words, picture=True))
    assert abs(lag(heard(sound), bursts()[:, 1])) <= 1


def test_a_late_track_keeps_its_start(make: Maker, folder: Path) -> None:
    make("v.mp4", "-c:a", "aac", picture=True)
    path = folder / "late.mov"
    ffmpeg("-i", folder / "picture.mp4", "-itsoffset", "0.5", "-i", folder / "source.wav",
           "-map", "0:v", "-map", "1:a", "-c:v", "copy", "-c:a", "pcm_s16le", path)  # fmt: skip
    sound = read_sound(path)
    assert sound.start_s == pytest.approx(0.5, abs=1e-9)
    assert lag(heard(sound), bursts()[:, 1]) == RATE // 2
    assert round(sound.ignoring_priming_s * RATE) == -RATE // 2


def test_a_late_track_in_matroska_is_placed_better_than_its_milliseconds(folder: Path) -> None:
    path = folder / "late.mkv"
    ffmpeg("-i", folder / "picture.mp4", "-itsoffset", "0.1237", "-i", folder / "source.wav",
           "-map", "0:v", "-map", "1:a", "-c:v", "copy", "-c:a", "flac", path)  # fmt: skip
    assert read_sound(path).start_s == pytest.approx(0.1237, abs=3e-4)


@pytest.mark.parametrize("begin", ["0.5", "0.53"])
def test_what_an_edit_cut_off_the_head_is_not_heard(make: Maker, folder: Path, begin: str) -> None:
    path = folder / f"cut{begin}.mp4"
    ffmpeg("-ss", begin, "-i", make("v.mp4", "-c:a", "aac", picture=True), "-c", "copy", path)
    sound = read_sound(path)
    assert sound.start_s == 0
    assert abs(lag(heard(sound), bursts()[:, 1]) + float(begin) * RATE) <= 1
    assert sound.priming_s == pytest.approx(float(begin) + AAC / RATE, abs=1e-3)


def test_a_longer_priming_is_read_and_not_assumed(folder: Path, tmp_path: Path) -> None:
    """2,112 samples, as some coders have: 1,088 of silence before the coder's own 1,024.

    The edit list is patched by hand (ISO/IEC 14496-12, 8.6.6: media_time); ffmpeg hears the same.
    """
    ffmpeg("-i", folder / "source.wav", "-af", "adelay=1088S:all=1", "-c:a", "aac",
           tmp_path / "x.m4a")  # fmt: skip
    data = bytearray((tmp_path / "x.m4a").read_bytes())
    at = data.index(b"elst") + 4 + 4 + 4 + 4  # name, version and flags, count, duration
    assert int.from_bytes(data[at : at + 4], "big") == AAC
    data[at : at + 4] = (2112).to_bytes(4, "big")
    (tmp_path / "x.m4a").write_bytes(data)
    ffmpeg("-i", tmp_path / "x.m4a", tmp_path / "theirs.wav")
    sound = read_sound(tmp_path / "x.m4a")
    assert round(sound.priming_s * RATE) == 2112
    assert lag(heard(sound), bursts()[:, 1]) == 0
    assert lag(soundfile.read(tmp_path / "theirs.wav")[0][:, 1], bursts()[:, 1]) == 0


@pytest.mark.parametrize("form", ["WAV", "WAVEX", "RF64"])
@pytest.mark.parametrize("kind", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_wav_samples_are_those_of_libsndfile(tmp_path: Path, form: str, kind: str) -> None:
    """soundfile 0.14.0 (libsndfile 1.2.2) wrote the file and reads it for comparison."""
    path = tmp_path / "x.wav"
    soundfile.write(path, bursts(), RATE, subtype=kind, format=form)
    sound = read_sound(path)
    theirs = soundfile.read(path, dtype="float32")[0]
    assert np.array_equal(np.stack([sound.channel(0), sound.channel(1)], 1), theirs)
    assert (sound.rate, sound.container) == (RATE, "wav")


def test_a_wav_of_16_bits_is_mapped_and_not_copied(folder: Path) -> None:
    assert isinstance(read_sound(folder / "source.wav").samples, np.memmap)


def test_a_wav_beyond_4_gb_is_rf64_to_us_and_to_others(tmp_path: Path) -> None:
    """EBU Tech 3306; libsndfile 1.2.2 reads our header. The file is a hole, not 5 GB."""
    path, frames = tmp_path / "long.wav", 1_300_000_000
    path.write_bytes(header(4 * frames, RATE, 2, 16))
    os.truncate(path, 80 + 4 * frames)
    assert soundfile.info(path).frames == frames
    assert len(read_sound(path).samples) == frames


@pytest.mark.parametrize("size", [0, 0xFFFFFFFF])
def test_a_wav_whose_recorder_never_wrote_its_size_is_read_to_the_end(
    folder: Path, tmp_path: Path, size: int
) -> None:
    data = bytearray((folder / "source.wav").read_bytes())
    data[40:44] = size.to_bytes(4, "little")
    (tmp_path / "x.wav").write_bytes(data)
    assert len(read_sound(tmp_path / "x.wav").samples) == len(bursts())


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 37_123, 44_100, 96_000, 192_000])
@pytest.mark.parametrize("kind", ["wav", "flac"])
def test_any_sample_rate_is_read_as_it_is(tmp_path: Path, rate: int, kind: str) -> None:
    soundfile.write(tmp_path / f"x.{kind}", bursts(rate, 0.5), rate)
    sound = read_sound(tmp_path / f"x.{kind}")
    assert (sound.rate, len(sound.samples)) == (rate, rate // 2)


@pytest.mark.parametrize(("channels", "layout"), [(1, "mono"), (2, "stereo"), (6, "5.1")])
@pytest.mark.parametrize("kind", ["wav", "m4a", "mkv"])
def test_mono_stereo_and_surround_keep_their_channels(
    tmp_path: Path, channels: int, layout: str, kind: str
) -> None:
    """sox 14.4.2 makes each channel another pitch, so that none can be taken for another."""
    pitches = [word for n in range(channels) for word in ("sine", str(200 * (n + 1)))]
    run("sox", "-n", "-r", "48000", "-b", "16", "-c", str(channels), tmp_path / "s.wav",
        "synth", "0.5", *pitches)  # fmt: skip
    codec = {"wav": "pcm_s16le", "m4a": "alac", "mkv": "flac"}[kind]
    ffmpeg("-i", tmp_path / "s.wav", "-c:a", codec, tmp_path / f"x.{kind}")
    sound = read_sound(tmp_path / f"x.{kind}")
    assert sound.channels == channels
    assert sound.layout.startswith(layout)
    peaks = [np.argmax(np.abs(np.fft.rfft(sound.channel(n)))) * 2 for n in range(channels)]
    assert sorted(peaks) == [200 * (n + 1) for n in range(channels)]


def test_a_second_track_is_read_when_asked_for(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "two.mkv"
    ffmpeg("-i", folder / "source.wav", "-f", "lavfi", "-i", "sine=440:duration=1", "-map", "0",
           "-map", "1", "-c:a", "flac", "-metadata:s:a:1", "title=second", path)  # fmt: skip
    first, second = read_sound(path), read_sound(path, stream=1)
    assert [len(first.samples), len(second.samples)] == [2 * RATE, 44_100]
    assert (second.stream, second.streams[1].title, len(second.streams)) == (1, "second", 2)


def test_sound_kept_on_disk_is_the_same_sound(make: Maker, monkeypatch: pytest.MonkeyPatch) -> None:
    path = make("a.flac", "-c:a", "flac")
    held = read_sound(path)
    monkeypatch.setattr("thundersheet.track.media.read.HELD_IN_MEMORY", 1000)
    mapped = read_sound(path)
    assert isinstance(mapped.samples, np.memmap)
    assert np.array_equal(held.samples, mapped.samples)
