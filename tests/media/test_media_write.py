"""The writer, its files read by ffmpeg 5.1.9 and ffprobe of Debian 12 and by libsndfile 1.2.2."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from outside_media import RATE, bursts, ffmpeg, lag, run

from thundersheet.base.finding import Refusal
from thundersheet.track.media import Written, read_sound, write_control, write_sound

Maker = Callable[..., Path]

LOSSLESS = 1 / 32768
"""One step of 16 bits."""


def control(seconds: float = 2.0) -> np.ndarray:
    """Noise bursts at 0.5 and 1.25 s: where they stand can be told to a sample."""
    out = np.zeros(round(RATE * seconds), np.float32)
    right = bursts()[:, 1][: len(out)]
    out[: len(right)] = right
    return out


def decoded_by_ffmpeg(path: Path, stream: int) -> np.ndarray:
    """What ffmpeg hears, samples x channels; it drops priming as the file says."""
    out = path.with_name(f"heard-{stream}.wav")
    ffmpeg("-i", path, "-map", f"0:a:{stream}", "-c:a", "pcm_f32le", out)
    return soundfile.read(out, dtype="float32", always_2d=True)[0]


@cache
def picture_hash(path: Path) -> bytes:
    return run("ffmpeg", "-v", "error", "-i", path, "-map", "0:v", "-c", "copy", "-f", "md5", "-")


@cache
def shown(path: Path) -> list[float]:
    """When each picture is shown, by ffprobe."""
    words = ("-select_streams", "v:0", "-show_entries", "frame=pts_time", "-of", "csv=p=0")
    found = run("ffprobe", "-v", "error", *words, path).decode().split()
    return sorted(float(one.strip(",")) for one in found)


def probe(path: Path) -> dict[str, Any]:
    words = ("-v", "error", "-show_streams", "-show_format", "-show_chapters", "-of", "json")
    return json.loads(run("ffprobe", *words, path))


@pytest.fixture
def video(make: Maker) -> Path:
    return make("v.mp4", "-c:a", "aac", picture=True)


SAVED = [
    ("x.mp4", {}, "aac"),
    ("x.mp4", {"codec": "flac"}, "flac"),
    ("x.mp4", {"codec": "alac", "bits": 24}, "alac"),
    ("x.mov", {}, "pcm_s16le"),
    ("x.mov", {"codec": "aac", "side": "left"}, "aac"),
    ("x.mkv", {}, "flac"),
    ("x.mkv", {"codec": "pcm", "bits": 24, "side": "left"}, "pcm_s24le"),
    ("x.m4a", {}, "aac"),
    ("x.m4a", {"codec": "alac"}, "alac"),
    ("x.wav", {}, "pcm_s16le"),
    ("x.wav", {"bits": 24}, "pcm_s24le"),
    ("x.flac", {"bits": 24}, "flac"),
    ("x.mp4", {"how": "track"}, "aac"),
    ("x.mov", {"how": "track", "bits": 24}, "pcm_s24le"),
    ("x.mkv", {"how": "track"}, "flac"),
    ("x.mkv", {"how": "alone"}, "flac"),
    ("x.mp4", {"how": "alone"}, "aac"),
    ("x.mp4", {"keep_programme": "own track"}, "aac"),
    ("x.mkv", {"keep_programme": "own track"}, "flac"),
]


@pytest.mark.parametrize(("name", "asked", "codec"), SAVED)
def test_the_control_stands_where_it_was_meant_and_the_picture_is_untouched(
    video: Path, tmp_path: Path, name: str, asked: dict[str, Any], codec: str
) -> None:
    target = tmp_path / name
    written = write_control(video, target, control(), RATE, **asked)
    for heard in (
        decoded_by_ffmpeg(target, written.stream)[:, written.channel],
        read_sound(target, stream=written.stream).channel(written.channel),
    ):
        assert abs(lag(heard, control())) <= (1 if codec == "aac" else 0)
        if codec != "aac":
            assert np.abs(heard[: len(control())] - control()).max() <= LOSSLESS
    sounds = [s for s in probe(target)["streams"] if s["codec_type"] == "audio"]
    assert sounds[written.stream]["codec_name"] == codec
    if target.suffix in (".mp4", ".mov", ".mkv"):
        assert picture_hash(target) == picture_hash(video)
        assert written.picture_packets == 50
        # Matroska has no negative stamps: all of it stands later by the copied AAC's priming.
        moved = 1024 / RATE if name == "x.mkv" and "aac" in [s["codec_name"] for s in sounds] else 0
        meant = [time + moved for time in shown(video)]
        assert shown(target) == pytest.approx(meant, abs=1e-3)
    else:
        assert "video (h264)" in written.dropped


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("v.mkv", ["-c:a", "aac"]),
        ("vm.mkv", ["-c:a", "libmp3lame"]),
        ("vf.mkv", ["-c:a", "flac"]),
        ("v.mov", ["-c:a", "alac"]),
        ("vf.mp4", ["-c:a", "aac", "-movflags", "frag_keyframe+empty_moov"]),
        ("vd.mp4", ["-c:a", "aac", "-movflags", "frag_keyframe+delay_moov"]),
    ],
)
@pytest.mark.parametrize("suffix", ["mp4", "mkv"])
@pytest.mark.parametrize("how", ["channel", "track"])
def test_programme_control_and_picture_keep_their_places_from_any_source(
    make: Maker, tmp_path: Path, name: str, words: list[str], suffix: str, how: Any
) -> None:
    source = make(name, *words, picture=True)
    target = tmp_path / f"x.{suffix}"
    written = write_control(source, target, control(), RATE, how=how, codec="flac")
    assert picture_hash(target) == picture_hash(source)
    tones = read_sound(target, stream=written.stream)
    start = round(tones.start_s * RATE)
    assert abs(lag(tones.channel(written.channel), control()) + start) <= 1
    if how == "channel":
        assert abs(lag(tones.channel(0), bursts().sum(1)) + start) <= 1
    else:
        theirs = read_sound(target, stream=0)
        meant = bursts(theirs.rate)[:, 1]
        late = lag(theirs.channel(1), meant) + round(theirs.start_s * theirs.rate)
        assert abs(late) <= RATE // 1000  # Matroska keeps whole milliseconds
    frames_at = np.array(shown(target))
    assert np.ptp(frames_at - frames_at[0] - np.arange(50) / 25) <= 0.0021


@pytest.mark.parametrize("rate", [8_000, 44_100, 96_000])
def test_a_programme_of_another_rate_stays_in_place(
    folder: Path, tmp_path: Path, rate: int
) -> None:
    """sox 14.4.2 resamples the source; the fold is back at the cue track's rate."""
    run("sox", folder / "source.wav", "-r", str(rate), tmp_path / "s.wav")
    written = write_control(tmp_path / "s.wav", tmp_path / "x.flac", control(), RATE)
    heard = soundfile.read(tmp_path / "x.flac")[0]
    assert abs(lag(heard[:, 0], bursts().sum(1))) <= 1
    assert f"the programme is resampled from {rate} to 48000 samples a second" in written.notes


def test_a_head_cut_off_by_an_edit_list_stays_cut_off(video: Path, tmp_path: Path) -> None:
    source = tmp_path / "cut.mp4"
    ffmpeg("-ss", "0.53", "-i", video, "-c", "copy", source)
    target = tmp_path / "x.mov"
    write_control(source, target, control(), RATE)
    assert picture_hash(target) == picture_hash(source)
    assert shown(target) == pytest.approx(shown(source), abs=1e-3)
    assert abs(lag(decoded_by_ffmpeg(target, 0)[:, 1], control())) == 0
    programme = lag(decoded_by_ffmpeg(target, 0)[:, 0], bursts().sum(1))
    assert abs(programme + 0.53 * RATE) <= 1
    with pytest.raises(Refusal, match=r"hides its first pictures.*MEDIA-15"):
        write_control(source, tmp_path / "x.mkv", control(), RATE)


def test_pictures_without_decoding_stamps_and_at_uneven_times_all_come_through(
    tmp_path: Path,
) -> None:
    """Matroska with B-frames, every frame number of which is uneven: variable frame rate."""
    source = tmp_path / "uneven.mkv"
    ffmpeg("-f", "lavfi", "-i", "testsrc=size=96x64:rate=30:duration=2", "-vf",
           "select='not(mod(n,3))+gt(n,30)'", "-vsync", "vfr", "-c:v", "libx264", "-bf", "3",
           source)  # fmt: skip
    for suffix in ("mp4", "mov", "mkv"):
        target = tmp_path / f"x.{suffix}"
        written = write_control(source, target, control(), RATE)
        assert picture_hash(target) == picture_hash(source)
        assert written.picture_packets == len(shown(source))
        assert shown(target) == pytest.approx(shown(source), abs=1.1e-3)
        assert "the source has no sound: the other channel is silent" in written.notes


def test_subtitles_chapters_titles_and_rotation_are_kept_or_named(
    video: Path, tmp_path: Path
) -> None:
    (tmp_path / "s.srt").write_text("1\n00:00:00,500 --> 00:00:01,500\nThe lamp falls\n")
    (tmp_path / "meta").write_text(
        ";FFMETADATA1\ntitle=Gale\n[CHAPTER]\nTIMEBASE=1/1000\nSTART=0\nEND=900\ntitle=Act\n"
    )
    source = tmp_path / "full.mp4"
    ffmpeg("-i", video, "-i", tmp_path / "s.srt", "-i", tmp_path / "meta", "-map", "0", "-map", "1",
           "-map_metadata", "2", "-c", "copy", "-c:s", "mov_text", "-metadata:s:a", "language=deu",
           "-metadata:s:v", "rotate=90", source)  # fmt: skip
    written = write_control(source, tmp_path / "x.mp4", control(), RATE)
    facts = probe(tmp_path / "x.mp4")
    kinds = [s["codec_type"] for s in facts["streams"]]
    assert kinds.count("subtitle") == 1
    assert facts["format"]["tags"]["title"] == "Gale"
    assert facts["chapters"][0]["tags"]["title"] == "Act"
    assert facts["streams"][0]["side_data_list"][0]["rotation"] in (-90, 90)
    assert facts["streams"][kinds.index("audio")]["tags"]["language"] == "deu"
    assert not [word for word in written.dropped if "subtitle" in word]
    other = write_control(source, tmp_path / "x.mkv", control(), RATE)
    assert "subtitle (mov_text)" in other.dropped


def test_stereo_is_folded_at_half_and_keeps_its_level_in_the_middle(tmp_path: Path) -> None:
    source = tmp_path / "s.wav"
    middle = np.repeat(bursts()[:, 1:], 2, axis=1)
    soundfile.write(source, middle, RATE)
    written = write_control(source, tmp_path / "x.wav", control(), RATE)
    heard = soundfile.read(tmp_path / "x.wav", dtype="float32")[0]
    assert np.abs(heard[:, 0] - middle[:, 0]).max() < 3 * LOSSLESS  # dither: two steps at most
    assert written.fold_gain_db == 0


def test_surround_is_folded_by_the_table_and_never_clips(tmp_path: Path) -> None:
    """ITU-R BS.775-3, table 2: L, R 0.7071, C 1, Ls, Rs 0.5; here all times 0.7071."""
    source, rng = tmp_path / "s.wav", np.random.default_rng(1)
    six = rng.uniform(-0.9, 0.9, (RATE, 6)).astype(np.float32)
    soundfile.write(source, six, RATE, subtype="FLOAT", format="WAVEX")
    written = write_control(source, tmp_path / "x.wav", control(1), RATE, bits=24)
    heard = soundfile.read(tmp_path / "x.wav", dtype="float32")[0][:, 0]
    meant = six @ np.array([0.5, 0.5, 0.7071068, 0, 0.3535534, 0.3535534])
    assert np.abs(meant).max() > 1
    gain = 10 ** (written.fold_gain_db / 20)
    assert np.abs(heard - gain * meant).max() < 1e-5
    assert np.abs(heard).max() == pytest.approx(1, abs=1e-5)
    assert any("softer, or its fold would clip" in note for note in written.notes)


def test_channels_that_cancel_each_other_are_told(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "s.wav", bursts()[:, 1:] * [1, -1], RATE)
    written = write_control(tmp_path / "s.wav", tmp_path / "x.wav", control(), RATE)
    assert any("cancel each other" in note for note in written.notes)


@pytest.mark.parametrize(
    ("seconds", "note"),
    [(1.0, "the cue track ends 1.000 s before the programme's sound"),
     (3.5, "the programme's sound ends 1.500 s before the cue track")],
)  # fmt: skip
def test_unequal_lengths_are_told_and_nothing_is_cut(
    folder: Path, tmp_path: Path, seconds: float, note: str
) -> None:
    written = write_control(folder / "source.wav", tmp_path / "x.wav", control(seconds), RATE)
    assert note in written.notes
    assert soundfile.info(tmp_path / "x.wav").duration == max(2.0, seconds)


def test_aac_keeps_programme_and_tones_apart(tmp_path: Path) -> None:
    """Pitch on the left, another on the right, decoded by ffmpeg: no trace of one in the other."""
    t = np.arange(2 * RATE) / RATE
    left = np.repeat((0.9 * np.sin(2 * np.pi * 440 * t))[:, None], 2, 1)
    soundfile.write(tmp_path / "s.wav", left, RATE)
    tone = (0.3 * np.sin(2 * np.pi * 1336 * t)).astype(np.float32)
    write_control(tmp_path / "s.wav", tmp_path / "x.m4a", tone, RATE)
    heard = decoded_by_ffmpeg(tmp_path / "x.m4a", 0)[RATE // 2 : 3 * RATE // 2]
    power = np.abs(np.fft.rfft(heard * np.hanning(RATE)[:, None], axis=0))
    assert 20 * np.log10(power[440, 1] / power[440, 0]) < -80
    assert 20 * np.log10(power[1336, 0] / power[1336, 1]) < -80


def test_the_same_input_gives_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    for name in ("a.wav", "b.wav"):
        write_control(folder / "source.wav", tmp_path / name, control(), RATE)
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()


def test_progress_rises_to_one(folder: Path, tmp_path: Path) -> None:
    told: list[float] = []
    write_control(folder / "source.wav", tmp_path / "x.mkv", control(), RATE, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0


@pytest.mark.parametrize("kind", ["wav", "flac"])
@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("rate", [8_000, 48_000, 192_000])
def test_plain_sound_is_written_exactly(tmp_path: Path, kind: str, bits: Any, rate: int) -> None:
    """libsndfile 1.2.2 reads what sox 14.4.2 accepts."""
    exact = np.round(bursts(rate, 0.3)[:, 1] * 2 ** (bits - 1)) / 2 ** (bits - 1)
    write_sound(tmp_path / f"x.{kind}", exact.astype(np.float32), rate, bits=bits)
    heard, found = soundfile.read(tmp_path / f"x.{kind}", dtype="float32")
    assert found == rate
    assert np.array_equal(heard, exact.astype(np.float32))
    run("sox", tmp_path / f"x.{kind}", "-n", "stat")


def test_written_says_where_the_tones_are(video: Path, tmp_path: Path) -> None:
    def place(name: str, **asked: Any) -> tuple[int, int]:
        made: Written = write_control(video, tmp_path / name, control(), RATE, **asked)
        return made.stream, made.channel

    assert place("a.mp4") == (0, 1)
    assert place("b.mp4", side="left") == (0, 0)
    assert place("c.mp4", how="track") == (1, 0)
    assert place("d.mp4", keep_programme="own track") == (0, 1)
