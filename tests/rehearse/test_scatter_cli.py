"""The scatter from the command line: its document, its text, what it refuses."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from tests.conftest import ROOT
from tests.rehearse.scatter_parts import BOOK

from thundersheet.cli import main


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "book.yaml"
    path.write_text(BOOK)
    return str(path)


@pytest.fixture
def run(capsys, book):
    def played(*words, code=0):
        assert main(["rehearse", book, *words]) == code
        said = capsys.readouterr()
        return said.out if code == 0 else " ".join(said.err.split())

    return played


def test_the_document_fits_its_schema_and_is_the_same_every_time(run):
    words = ("--scatter", "300", "--seed", "3", "--drivers", "--json")
    found, again = (json.loads(run(*words)) for _ in range(2))
    jsonschema.validate(found, json.loads((ROOT / "schema/scatter.json").read_text()))
    assert {**found, "seconds": 0} == {**again, "seconds": 0}
    assert [beat["cue"] for beat in found["beats"]] == ["arm-lands", "knock", "arm-home"]
    assert {doubt["drawn"] for doubt in found["doubts"]} == {"fixed", "night", "show"}
    assert all(doubt["source"] for doubt in found["doubts"])


def test_a_line_a_beat_and_what_drives_it(run):
    lines = run("--scatter", "300", "--drivers").split("\n")
    arm = next(i for i, line in enumerate(lines) if line.startswith("arm-lands"))
    assert "stroke by stroke" in lines[arm]
    assert "driven by flow control" in lines[arm + 1]
    said = " ".join(" ".join(lines).split())
    assert "Drawn, unknown, but the same in every show until it is measured or tuned" in said
    assert "300 shows drawn by lot (seed 1)" in said


def test_a_show_without_cues_is_refused(run, book):
    path = Path(book)
    path.write_text(path.read_text().split("beats:")[0])
    assert "has no cue that could land" in run("--scatter", "100", code=2)


def test_another_seed_draws_other_shows(run):
    one, other = (
        json.loads(run("--scatter", "300", "--seed", seed, "--json")) for seed in ("1", "2")
    )
    assert one["beats"][0]["mean_ms"] != other["beats"][0]["mean_ms"]


def test_shares_are_never_rounded_up_to_all(run):
    found = json.loads(run("--scatter", "2000", "--json"))
    shown = run("--scatter", "2000")
    for beat in found["beats"]:
        line = next(line for line in shown.split("\n") if line.startswith(beat["cue"]))
        assert ("  100 %  " in line.split(f"{beat['window_ms'][0]:+.0f}..")[0]) == (
            beat["inside"] == 1.0 or beat["tuned_inside"] == 1.0
        )


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--drivers",), "--drivers is for a scatter. Add --scatter"),
        (("--workers", "2"), "--workers is for a scatter"),
        (("--scatter", "1"), "no whole number from 2 to"),
        (("--scatter", "100", "--workers", "many"), "neither a number of processes nor"),
        (("--scatter", "100", "--fault", "stuck valve: arm"), "A fault is played in one show"),
        (("--scatter", "100", "--picture", "a.html"), "A scatter draws no picture"),
        (("--scatter", "100", "--rush", "3"), "were asked for at once"),
    ],
)
def test_what_makes_no_sense_is_one_sentence_and_exit_2(run, words, says):
    assert says in run(*words, code=2)


def test_an_interrupted_scatter_ends_at_once_with_exit_130(run, monkeypatch):
    from thundersheet.rehearse.scatter import workers as scatter_workers

    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(scatter_workers, "run_chunk", interrupted)
    assert "Interrupted" in run("--scatter", "100", code=130)


def test_an_interruption_of_several_processes_is_one_sentence(book):
    """Ctrl-C goes to all processes of a terminal at once, here after the first chunk."""
    script = (
        "import sys\n"
        "from thundersheet.cli import main, scatter_args\n"
        "from contextlib import contextmanager\n"
        "@contextmanager\n"
        "def telling(what):\n"
        "    yield lambda share: print('on its way', flush=True)\n"
        "if __name__ == '__main__':\n"
        "    scatter_args.progress = telling\n"
        "    sys.exit(main(sys.argv[1:]))\n"
    )
    path = Path(book).with_name("run.py")
    path.write_text(script)
    words = ("rehearse", book, "--scatter", "1000000", "--workers", "2")
    process = subprocess.Popen(
        [sys.executable, path, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "on its way\n"
    os.killpg(process.pid, signal.SIGINT)
    _, err = process.communicate()
    assert process.returncode == 130
    assert err.strip() == "Interrupted; nothing was left half-written."
