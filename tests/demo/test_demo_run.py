import csv
import json
import subprocess

import numpy as np
import pytest
from demo_samples import KNOCKS_S, read_short, write_short
from test_demo_sound import onset_error_ms

from thundersheet.base.finding import Refusal
from thundersheet.demo.books import example_folders
from thundersheet.demo.programme import make_programme
from thundersheet.demo.run import run_demo


def ffmpeg(*arguments) -> bytes:
    command = ["ffmpeg", "-v", "error", *map(str, arguments)]
    return subprocess.run(command, check=True, capture_output=True).stdout


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    folder = tmp_path_factory.mktemp("programme")
    return make_programme(read_short(folder), folder / "media" / "short.mp4")


def test_the_programme_is_h264_at_25_frames_with_stereo_aac(short):
    # ffprobe is the independent reader.
    command = ["ffprobe", "-v", "error", "-of", "json", "-show_streams", str(short)]
    picture, sound = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)[
        "streams"
    ]
    assert (picture["codec_name"], picture["width"], picture["height"]) == ("h264", 640, 360)
    assert (picture["r_frame_rate"], picture["nb_frames"]) == ("25/1", "200")
    assert (sound["codec_name"], sound["channels"], sound["sample_rate"]) == ("aac", 2, "48000")
    assert float(picture["start_time"]) == float(sound["start_time"]) == 0
    assert float(sound["duration"]) == pytest.approx(8, abs=0.022)


def test_coded_hits_still_lie_on_their_beats(short):
    # Decoded by ffmpeg, which honours the edit list; the coder's window smears by a millisecond.
    raw = ffmpeg("-i", short, "-f", "f32le", "-ac", "2", "-")
    sound = np.frombuffer(raw, np.float32).reshape(-1, 2)
    for beat in KNOCKS_S:
        assert abs(onset_error_ms(sound, beat)) <= 4


def test_the_same_book_gives_the_same_picture_and_sound(short, tmp_path):
    again = make_programme(read_short(tmp_path), tmp_path / "again.mp4")
    sums = [
        ffmpeg("-i", path, "-map", "0", "-c", "copy", "-f", "md5", "-") for path in (short, again)
    ]
    assert sums[0] == sums[1]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    base = tmp_path_factory.mktemp("demo")
    said, shares = [], []
    code = run_demo(base / "demo", said.append, shares.append, examples=[write_short(base)])
    return code, base / "demo", said, shares


def test_the_demo_ends_well_and_leaves_media_proof_and_papers(made):
    code, folder, _, _ = made
    assert code == 0
    names = {str(path.relative_to(folder / "short")) for path in (folder / "short").rglob("*.*")}
    assert names == {
        "book.yaml",
        "media/short.mp4",
        "media/short-cued.mp4",
        "report.html",
        "cue-sheet.html",
        "cue-sheet.csv",
        "picture.html",
        "picture.svg",
        "proof.html",
        "proof.json",
    }


def test_the_demo_says_in_ten_lines_what_it_did_and_what_to_try(made):
    _, folder, said, _ = made
    # Two lines a show; the demo's own two shows make ten.
    assert len(said) == 8
    assert "proved" in said[1]
    assert any(f"thundersheet plan {folder / 'short' / 'book.yaml'}" in line for line in said)
    assert max(len(line.replace(str(folder), "demo")) for line in said) <= 80


def test_progress_runs_from_nothing_to_all_and_never_back(made):
    _, _, _, shares = made
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_proof_and_cue_sheet_speak_of_the_same_plan(made):
    _, folder, _, _ = made
    proof = json.loads((folder / "short" / "proof.json").read_text("utf-8"))
    assert proof["verdict"] == "proved"
    with (folder / "short" / "cue-sheet.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["beat at s"]) for row in rows] == list(KNOCKS_S)
    assert {row["plan"] for row in rows} == {proof["fingerprint"]}


def test_a_folder_with_something_in_it_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("x")
    with pytest.raises(Refusal, match=r"is there already\. Name another folder.*DEMO-04"):
        run_demo(tmp_path, print)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_both_example_books_are_found():
    assert [(folder / "book.yaml").is_file() for folder in example_folders()] == [True, True]
