"""Media of every kind through `track`, `prove` and `listen`: handled, or refused in a sentence."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from tests.cli.conftest import PICTURE, SOUND, Run, ffmpeg

H264 = ("-c:v", "libx264")
THIRD = "select='not(mod(n,3))'"
KINDS = {
    "without-sound.mp4": (*PICTURE, *H264),
    "mono.wav": (*SOUND,),
    "surround.mp4": (*PICTURE, *SOUND, *H264, "-c:a", "aac", "-af", "aformat=channel_layouts=5.1"),
    "surround.wav": (*SOUND, "-ac", "6"),
    "8-khz.wav": (*SOUND, "-ar", "8000"),
    "192-khz.mov": (*PICTURE, *SOUND, *H264, "-c:a", "pcm_s16le", "-ar", "192000"),
    "uneven-frames.mkv": (*PICTURE, *SOUND, "-vf", THIRD, "-fps_mode", "vfr", *H264, "-bf", "3"),
    "edit-list.mp4": ("-ss", "0.33", "-i", "{programme}", "-c", "copy"),
}  # fmt: skip


@pytest.mark.parametrize("name", KINDS)
def test_a_cue_track_goes_into_media_of_any_kind_and_is_proved(
    name: str, prop: Path, programme: Path, shelf: Path, tmp_path: Path, run: Run
) -> None:
    source = shelf / name
    ffmpeg(*(word.format(programme=programme) for word in KINDS[name]), source)
    before = source.read_bytes()
    target = tmp_path / f"cued{source.suffix}"
    ended = run("track", prop, target, "--media", source)
    assert (ended.code, "Proof: proved." in ended.said) == (0, True), ended
    assert source.read_bytes() == before
    if target.suffix != ".wav":
        assert packets(source) == packets(target)  # ffprobe 5.1: the picture's packets, by hash
    ended = run("prove", prop, source)
    if name.startswith("without"):
        assert (ended.code, "There is no sound in this file." in ended.said) == (2, True)
    else:
        assert (ended.code, "No tones were found in any channel" in ended.said) == (1, True)
        assert run("listen", source).said.startswith("No tones were heard in channel 1 of")


def packets(path: Path) -> list[str]:
    words = "-select_streams v -show_entries packet=data_hash -show_data_hash md5 -of csv=p=0"
    done = subprocess.run(
        ["ffprobe", "-v", "error", *words.split(), path], capture_output=True, text=True, check=True
    )
    return done.stdout.split()


@pytest.mark.parametrize(("rate", "pace"), [(8_000, 1.0417), (192_000, 0.96)])
def test_a_file_at_films_pace_is_named_at_the_ends_of_the_receivers_rates(
    rate: int, pace: float, prop: Path, tmp_path: Path, run: Run
) -> None:
    """sox 14.4.2 makes the file run too fast or slow."""
    tones, wrong = tmp_path / "tones.wav", tmp_path / "wrong.wav"
    assert run("track", prop, tones, "--alone").code == 0
    subprocess.run(["sox", tones, "-r", str(rate), wrong, "speed", str(pace)], check=True)
    ended = run("prove", prop, wrong)
    assert ended.code == 1
    assert f"{abs(pace - 1) * 100:.0f}" in ended.said
    assert "speed" in ended.said


@pytest.mark.parametrize("rate", [4_000, 384_000])
def test_sound_that_no_tone_can_be_heard_in_is_refused(
    rate: int, prop: Path, tmp_path: Path, run: Run
) -> None:
    path = tmp_path / "odd.wav"
    ffmpeg(*SOUND, "-ar", str(rate), path)
    for words in (("listen", path), ("prove", prop, path)):
        ended = run(*words)
        assert ended.code == 2
        assert f"The sound has {rate} samples a second, and tones are heard from" in ended.said


def test_a_programme_cut_short_is_cued_and_told(
    prop: Path, programme: Path, tmp_path: Path, run: Run
) -> None:
    whole, cut, target = tmp_path / "whole.mp4", tmp_path / "cut.mp4", tmp_path / "cued.mp4"
    ffmpeg("-i", programme, "-c", "copy", "-movflags", "faststart", whole)
    data = whole.read_bytes()
    cut.write_bytes(data[: len(data) * 6 // 10])
    ended = run("track", prop, target, "--media", cut)
    assert ended.code == 0
    assert "in the programme: cut short" in ended.said
    cut.write_bytes(programme.read_bytes()[: len(data) // 2])  # its index stood at the end
    ended = run("track", prop, tmp_path / "no.mp4", "--media", cut)
    assert ended.code == 2
    assert "no media file that can be read, or it is cut short." in ended.said
    assert not (tmp_path / "no.mp4").exists()


def test_a_programme_of_no_samples_is_refused(prop: Path, tmp_path: Path, run: Run) -> None:
    path = tmp_path / "none.wav"
    ffmpeg("-f", "lavfi", "-i", "anullsrc=r=48000", "-t", "0", path)
    ended = run("listen", path)
    assert (ended.code, "its data part is empty." in ended.said) == (2, True), ended
    ended = run("track", prop, tmp_path / "x.wav", "--media", path)
    assert (ended.code, "could be decoded. Export it again." in ended.said) == (2, True), ended
    assert not (tmp_path / "x.wav").exists()


def test_a_full_disk_leaves_nothing_and_the_book_as_it_was(
    prop: Path, tmp_path: Path, run: Run
) -> None:
    """A real disk of 64 kB."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("this user may not mount a small disk")
    try:
        shutil.copy(prop / "book.yaml", disk)
        (disk / "ballast").write_bytes(bytes(60_000 - 4096))
        before = (disk / "book.yaml").read_bytes()
        assert "The disk is full." in run("track", prop, disk / "x.mp4").said
        (disk / "rest").write_bytes(bytes(4096))
        for words in (
            ("recut", disk, "--cut", "0:01", "+1s"),
            ("plan", prop, "--picture", disk / "x.svg"),
            ("new", disk / "mine"),
        ):
            ended = run(*words)
            assert (ended.code, "o space left on device" in ended.said) == (2, True), ended
        assert (disk / "book.yaml").read_bytes() == before
        left = {path.name for path in disk.rglob("*") if path.is_file()}
        assert left == {"book.yaml", "ballast", "rest"}
    finally:
        subprocess.run(["umount", disk], check=True)
