"""Bad input and a bad world: one clear sentence each, and nothing left half-written."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from outside_media import RATE, bursts, ffmpeg, run

from thundersheet.base.finding import Refusal
from thundersheet.track.media import (
    describe,
    frames,
    programme_levels,
    read_sound,
    write_control,
    write_sound,
)

Maker = Callable[..., Path]
NOBODY = 65534
FAST = ["-c:a", "aac", "-movflags", "faststart"]

LAST = 2 * 4608
"""Samples of the two last frames (FLAC's are the longest): the cut may go through one."""


def said(work: Callable[[], object]) -> str:
    """The one sentence of the refusal."""
    with pytest.raises(Refusal) as caught:
        work()
    text = str(caught.value)
    assert "\n" not in text
    assert "Traceback" not in text
    return text


@pytest.fixture
def as_nobody() -> Iterator[None]:
    """Root may read and write anything: step down for the test."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


def open_the_way_to(path: Path) -> None:
    """Let anyone through the folders above, however deep the runner puts them."""
    for parent in path.parents:
        if not (mode := parent.stat().st_mode) & 0o001:
            parent.chmod(mode | 0o011)


def bad(tmp_path: Path, kind: str) -> Path:
    path = tmp_path / "x.mp4"
    match kind:
        case "text":
            path.write_text("book: 1\nshow: {name: Gale}\n" * 50)
        case "noise":
            path.write_bytes(np.random.default_rng(1).bytes(50_000))
        case "empty":
            path.touch()
        case "folder":
            path.mkdir()
        case "playlist":
            path.write_text("#EXTM3U\n#EXTINF:1,\nfile:///etc/hostname\n#EXT-X-ENDLIST\n")
        case "list":
            path.write_text("ffconcat version 1.0\nfile /etc/hostname\n")
        case "pipe":
            os.mkfifo(path)
        case "null byte":
            return Path("a\0b.mp4")
    return path


READERS = [read_sound, describe, lambda p: frames(p, [0.0]), lambda p: programme_levels(p, 10)]


@pytest.mark.parametrize(
    ("kind", "sentence"),
    [
        ("text", "This is no media file that can be read, or it is cut short.*MEDIA-05"),
        ("noise", "no media file.*MEDIA-05"),
        ("playlist", "no media file.*MEDIA-05"),
        ("list", "no media file.*MEDIA-05"),
        ("empty", r"This file is empty \(0 bytes\).*MEDIA-04"),
        ("folder", "This is a folder, not a file.*MEDIA-02"),
        ("pipe", "a device or a pipe.*MEDIA-02"),
        ("missing", "There is no such file.*MEDIA-01"),
        ("null byte", "There is no such file.*MEDIA-01"),
    ],
)
@pytest.mark.parametrize("reader", READERS, ids=["read", "describe", "frames", "levels"])
def test_what_is_no_media_is_refused_in_a_sentence(
    tmp_path: Path, kind: str, sentence: str, reader: Callable[[Path], object]
) -> None:
    path = bad(tmp_path, kind)
    with pytest.raises(Refusal, match=sentence):
        reader(path)
    assert str(path) in said(lambda: reader(path))


@pytest.mark.parametrize("suffix", ["wav", "mp4"])
@pytest.mark.usefixtures("folder")
def test_a_file_without_read_permission_is_refused(
    tmp_path: Path, folder: Path, suffix: str, request: pytest.FixtureRequest
) -> None:
    path = tmp_path / f"x.{suffix}"
    path.write_bytes((folder / ("source.wav" if suffix == "wav" else "picture.mp4")).read_bytes())
    path.chmod(0)
    open_the_way_to(path)
    request.getfixturevalue("as_nobody")
    assert "This user may not read the file. Give it read permission.  [MEDIA-03]" in said(
        lambda: read_sound(path)
    )


def test_a_folder_without_write_permission_is_refused(
    tmp_path: Path, folder: Path, request: pytest.FixtureRequest
) -> None:
    source, target = tmp_path / "s.wav", tmp_path / "shut" / "x.wav"
    source.write_bytes((folder / "source.wav").read_bytes())
    target.parent.mkdir(mode=0o555)
    open_the_way_to(target.parent)
    request.getfixturevalue("as_nobody")
    text = said(lambda: write_control(source, target, np.zeros(10, np.float32), RATE))
    assert "this user may not write there" in text
    assert "MEDIA-13" in text


def test_media_without_sound_or_picture_says_which(folder: Path) -> None:
    assert "There is no sound in this file" in said(lambda: read_sound(folder / "picture.mp4"))
    assert "There is no picture in this file" in said(lambda: frames(folder / "source.wav", [0]))


def test_a_track_that_is_not_there_names_those_that_are(make: Maker, folder: Path) -> None:
    text = said(lambda: read_sound(make("a.m4a", "-c:a", "aac"), stream=3))
    assert "There is no audio track 4 in this file. It has 1." in text
    assert "It has 1." in said(lambda: read_sound(folder / "source.wav", stream=1))


@pytest.mark.parametrize(
    ("name", "words"),
    [("a.wav", []), ("a.m4a", ["-c:a", "aac"]), ("a.mkv", ["-c:a", "aac"]),
     ("a.mp3", ["-c:a", "libmp3lame"]), ("a.opus", ["-c:a", "libopus"]),
     ("a.flac", ["-c:a", "flac"]), ("a.aac", ["-c:a", "aac"]),
     ("fast.m4a", FAST)],
)  # fmt: skip
@pytest.mark.parametrize("kept", [0.1, 0.3, 0.6, 0.98])
def test_a_file_cut_short_is_read_as_far_as_it_goes_or_refused(
    make: Maker, tmp_path: Path, name: str, words: list[str], kept: float
) -> None:
    whole = make(name, *words)
    data = whole.read_bytes()
    path = tmp_path / name
    path.write_bytes(data[: int(len(data) * kept)])
    try:
        sound = read_sound(path)
    except Refusal:
        return  # its index was in what is missing
    there = sound.samples[: len(sound.samples) - LAST]
    assert np.array_equal(there, read_sound(whole).samples[: len(there)])


def test_a_file_cut_short_says_so_where_its_header_knows(make: Maker, tmp_path: Path) -> None:
    for name, words in (("a.flac", ["-c:a", "flac"]), ("fast.m4a", FAST)):
        data = make(name, *words).read_bytes()
        (tmp_path / name).write_bytes(data[: len(data) // 2])
        faults = read_sound(tmp_path / name).faults
        assert any(fault.startswith("cut short") for fault in faults), faults


def test_a_wav_cut_short_says_how_much_is_missing(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "x.wav").write_bytes((folder / "source.wav").read_bytes()[: 44 + 4 * RATE])
    sound = read_sound(tmp_path / "x.wav")
    assert sound.faults == ("cut short: 1.000 s of sound are missing at the end",)
    assert len(sound.samples) == RATE


def test_a_wav_of_no_samples_or_no_numbers_is_met(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "e.wav", np.zeros((0, 2)), RATE)
    assert "its data part is empty" in said(lambda: read_sound(tmp_path / "e.wav"))
    strange = bursts()[:100].copy()
    strange[3, 0], strange[4, 1] = np.nan, np.inf
    soundfile.write(tmp_path / "n.wav", strange, RATE, subtype="FLOAT")
    sound = read_sound(tmp_path / "n.wav")
    assert np.isfinite(sound.samples).all()
    assert sound.faults == ("2 samples are no numbers and were taken as silence",)


def test_a_damaged_stretch_becomes_silence_and_what_follows_keeps_its_place(
    make: Maker, tmp_path: Path
) -> None:
    whole = make("a.m4a", "-c:a", "aac")
    data = bytearray(whole.read_bytes())
    middle = len(data) // 3
    data[middle : middle + 400] = bytes(400)
    (tmp_path / "x.m4a").write_bytes(data)
    sound, meant = read_sound(tmp_path / "x.m4a"), read_sound(whole)
    assert len(sound.samples) == len(meant.samples)
    tail = RATE // 2
    assert np.array_equal(sound.samples[-tail:], meant.samples[-tail:])


def test_a_hole_in_the_stamps_is_filled_with_silence(folder: Path, tmp_path: Path) -> None:
    """ffmpeg 5.1 drops half a second and keeps the stamps of the rest."""
    path = tmp_path / "hole.mkv"
    ffmpeg("-i", folder / "source.wav", "-af", "aselect='not(between(t,0.8,1.2))'", "-c:a", "flac",
           path)  # fmt: skip
    sound = read_sound(path)
    assert len(sound.samples) == pytest.approx(2 * RATE, abs=100)
    assert any("taken as silence" in fault for fault in sound.faults)
    meant = np.round(bursts()[int(1.3 * RATE) :, 1] * 32768)
    late = sound.samples[-len(meant) :, 1]
    assert np.corrcoef(late[: len(meant)], meant)[0, 1] > 0.9


# --- targets ---------------------------------------------------------------------------------


def control() -> np.ndarray:
    return bursts()[:, 1]


def left_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize("link", ["same", "dotted", "symbolic", "hard"])
@pytest.mark.parametrize("replace", [False, True])
def test_the_source_is_never_written_over(
    folder: Path, tmp_path: Path, link: str, replace: bool
) -> None:
    source = tmp_path / "s.wav"
    source.write_bytes((folder / "source.wav").read_bytes())
    before = source.read_bytes()
    target = tmp_path / "t.wav"
    match link:
        case "same":
            target = source
        case "dotted":
            target = tmp_path / ".." / tmp_path.name / "s.wav"
        case "symbolic":
            target.symlink_to(source)
        case "hard":
            target.hardlink_to(source)
    text = said(lambda: write_control(source, target, control(), RATE, replace=replace))
    assert "This is the source itself" in text
    assert "MEDIA-11" in text
    assert source.read_bytes() == before


def test_an_older_file_is_only_replaced_when_asked(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "x.wav"
    target.write_bytes(b"mine")
    source = folder / "source.wav"
    assert "This file exists already" in said(
        lambda: write_control(source, target, control(), RATE)
    )
    assert target.read_bytes() == b"mine"
    write_control(source, target, control(), RATE, replace=True)
    assert soundfile.info(target).frames == 2 * RATE
    assert left_in(tmp_path) == ["x.wav"]


@pytest.mark.parametrize(
    ("name", "asked", "sentence"),
    [
        ("x.avi", {}, r"Files ending in '.avi' cannot be written. Allowed: .mp4"),
        ("x", {}, "Files ending in 'nothing' cannot be written"),
        ("x.m4a", {"codec": "flac"}, "Sound in 'flac' cannot be put in a .m4a file. Allowed there"),
        ("x.wav", {"how": "track"}, "A .wav file holds one audio track only"),
        ("x.wav", {"keep_programme": "own track"}, "A .wav file holds one audio track only"),
        ("x.mp4", {"how": "track", "keep_programme": "fold"}, "leaves the programme as it is"),
        ("no/x.wav", {}, "There is no folder"),
        (".", {}, "Files ending in|This is a folder"),
    ],
)
def test_a_target_that_cannot_be_is_refused_before_anything_is_written(
    folder: Path, tmp_path: Path, name: str, asked: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(Refusal, match=sentence):
        write_control(folder / "source.wav", tmp_path / name, control(), RATE, **asked)
    assert left_in(tmp_path) == []


def test_a_rate_that_aac_does_not_have_names_the_nearest(folder: Path, tmp_path: Path) -> None:
    text = said(
        lambda: write_control(folder / "source.wav", tmp_path / "x.mp4", control(), 192_000)
    )
    assert "AAC cannot carry 192000 samples a second. Make the cue track at 96000" in text


def test_a_picture_that_the_target_cannot_hold_is_refused(folder: Path, tmp_path: Path) -> None:
    source = tmp_path / "s.webm"
    ffmpeg("-i", folder / "picture.mp4", "-c:v", "libvpx", "-b:v", "100k", source)
    text = said(lambda: write_control(source, tmp_path / "x.mov", control(), RATE))
    assert "cannot be put into a .mov file" in text
    assert left_in(tmp_path) == ["s.webm"]


def test_a_picture_that_would_be_repacked_is_refused(make: Maker, tmp_path: Path) -> None:
    """H.264 of a transport stream is framed otherwise in MP4: not bit for bit."""
    source = make("v.ts", "-c:a", "aac", picture=True)
    text = said(lambda: write_control(source, tmp_path / "x.mp4", control(), RATE))
    assert "did not come through bit for bit; the new file was thrown away" in text
    assert left_in(tmp_path) == []


@pytest.mark.parametrize("name", ["x.mp4", "x.mov", "x.mkv", "x.wav", "x.flac"])
@pytest.mark.parametrize("error", [KeyboardInterrupt, ZeroDivisionError])
def test_an_interrupted_writing_leaves_nothing(
    make: Maker, tmp_path: Path, name: str, error: type[BaseException]
) -> None:
    def stop(_: float) -> None:
        raise error

    source = make("v.mp4", "-c:a", "aac", picture=True)
    with pytest.raises(error):
        write_control(source, tmp_path / name, control(), RATE, progress=stop)
    assert left_in(tmp_path) == []


# An interrupt between opening a file and entering its `with` leaves closing to the collector.
@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("name", ["x.mp4", "x.mkv", "x.wav"])
def test_an_interrupt_at_any_instant_leaves_nothing_or_all(
    make: Maker, tmp_path: Path, name: str
) -> None:
    """The system's own timer (setitimer(2), on computing time) interrupts as a user would."""

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    source = make("v.mp4", "-c:a", "aac", picture=True)
    # Once whole: an interrupt in the middle of an import would end the process, not the next try.
    write_control(source, tmp_path / name, control(), RATE)
    before = signal.signal(signal.SIGVTALRM, interrupt)
    interrupted = 0
    try:
        for tenths in range(1, 400, 29):
            try:
                signal.setitimer(signal.ITIMER_VIRTUAL, tenths / 10_000)
                write_control(source, tmp_path / name, control(), RATE, replace=True)
                signal.setitimer(signal.ITIMER_VIRTUAL, 0)
            except KeyboardInterrupt:
                interrupted += 1
            assert left_in(tmp_path) in ([], [name])
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)
    assert interrupted
    write_control(source, tmp_path / name, control(), RATE, replace=True)


LIMITED = """
import os, resource, sys
from pathlib import Path
import numpy as np
from thundersheet.base.finding import Refusal
from thundersheet.track.media import write_control, write_sound
source, target = sys.argv[1:]
tones = np.random.default_rng(1).uniform(-0.5, 0.5, 96_000).astype(np.float32)
def write():
    if source == "plain":
        write_sound(target, tones, 48_000)
    else:
        write_control(source, target, tones, 48_000)
write()
size = os.path.getsize(target)
os.remove(target)
for limit in (size, size - 1, size - 50, size - 3000, size - 40_000, size // 3, 100):
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    try:
        write()
        print("written")
        os.remove(target)
    except Refusal as refusal:
        print(refusal)
    assert not os.listdir(Path(target).parent), limit
"""


@pytest.mark.parametrize("name", ["x.mp4", "x.mov", "x.mkv", "x.wav", "x.flac", "plain.wav"])
def test_a_file_beyond_the_users_limit_is_refused_and_removed(
    make: Maker, tmp_path: Path, name: str
) -> None:
    """The limit is the system's own, setrlimit(2), down to the last byte missing."""
    source = "plain" if "plain" in name else make("v.mp4", "-c:a", "aac", picture=True)
    words = [sys.executable, "-c", LIMITED, str(source), str(tmp_path / name)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    first, *others = done.stdout.splitlines()
    assert first == "written"
    assert len(others) == 6
    for line in others:
        assert "grows larger than this disk or user may store. Nothing was left" in line
        assert "MEDIA-12" in line


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A real disk of 64 kB."""
    here = tmp_path / "disk"
    here.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(here)]
    if subprocess.run(words, capture_output=True, check=False).returncode:
        pytest.skip("this user may not mount a small disk")
    yield here
    run("umount", here)


@pytest.mark.parametrize("name", ["x.mp4", "x.mov", "x.mkv", "x.wav", "x.flac"])
def test_a_full_disk_is_told_and_nothing_is_left(make: Maker, small_disk: Path, name: str) -> None:
    source = make("v.mp4", "-c:a", "aac", picture=True)
    tones = np.random.default_rng(1).uniform(-0.5, 0.5, 20 * RATE).astype(np.float32)
    text = said(lambda: write_control(source, small_disk / name, tones, RATE))
    assert "The disk is full. Nothing was left half-written." in text
    assert left_in(small_disk) == []
    write_sound(small_disk / "y.wav", tones[:2000], RATE)


def test_control_that_is_no_sound_is_our_own_error(folder: Path, tmp_path: Path) -> None:
    for wrong in (np.zeros(0), np.zeros((2, 2)), np.array([np.nan]), np.array([1.5])):
        with pytest.raises(ValueError, match="control samples"):
            write_control(folder / "source.wav", tmp_path / "x.wav", wrong, RATE)
