"""The verb `rehearse`: what it prints, its document, its exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from small import BOOK
from tests.conftest import ROOT

from thundersheet.cli import main

SCHEMA = json.loads((ROOT / "schema" / "rehearsal.json").read_text())


@pytest.fixture
def book(tmp_path: Path) -> str:
    path = tmp_path / "book.yaml"
    path.write_text(BOOK.replace("LAYOUT", "marks").replace("TANK", "10 l"))
    return str(path)


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(["rehearse", *words])
    printed = capsys.readouterr()
    return code, printed.out, printed.err


def test_one_show_fits_a_screen_and_says_which_solver(book, capsys):
    code, text, _ = said(capsys, book)
    assert code == 0
    assert "9 landings, all inside" in text
    assert "solver: coupled" in text
    assert len(text.splitlines()) <= 25


def test_a_rush_says_tank_guests_rest_and_the_answers(book, capsys):
    code, text, _ = said(capsys, book, "--rush", "5", "--every", "16s")
    assert code == 0
    for words in ("No show was weak", "Tank: 8 bar at first", "Guests an hour: 900",
                  "Rest after a show", "With the compressor off", "is at 8 bar again",
                  "event-driven"):  # fmt: skip
        assert words in text.replace("\n    ", " ")
    assert len(text.splitlines()) <= 25


@pytest.mark.parametrize(
    "more",
    [(), ("--rush", "2"), ("--evening", "poisson:60/h", "--from", "20:00", "--to", "20:03"),
     ("--fault", "stuck valve: hatch")],
)  # fmt: skip
def test_the_document_fits_its_schema(more, book, capsys):
    # jsonschema 4.26 against JSON Schema 2020-12.
    code, text, _ = said(capsys, book, "--json", *more)
    assert code == 0
    found = json.loads(text)
    jsonschema.validate(found, SCHEMA)
    assert found["show"] == "Gale"


def test_the_same_seed_prints_the_same_evening(book, capsys):
    words = (book, "--json", "--evening", "poisson:90/h", "--to", "19:03", "--seed", "5")
    assert said(capsys, *words)[1] == said(capsys, *words)[1]


def test_with_a_fault_its_cost_is_the_answer_and_no_finding(book, capsys):
    code, text, _ = said(capsys, book, "--fault", "stuck valve: hatch")
    assert code == 0
    assert "never" in text
    assert "its valve is stuck" in text


def test_a_landing_outside_without_a_fault_refuses(book, capsys):
    # The lamp's 2 A over the wire's 0.2 ohm slow the hammer by a millisecond, which no lead knows.
    path = Path(book)
    path.write_text(path.read_text().replace("name: knock}", "name: knock, window: -1..+0.5 ms}"))
    code, text, _ = said(capsys, book)
    assert code == 1
    assert "knock landed 1 ms late at 0:06.000" in text
    assert "[REHEARSE-01]" in text


def test_what_was_measured_stands(book, capsys):
    path = Path(book)
    path.write_text(path.read_text() + "measured:\n  hatch out: {lead: 300 ms, firings: 10}\n")
    code, text, _ = said(capsys, book, "--json")
    rows = {row["cue"]: row for row in json.loads(text)["shows"][0]["landed"]}
    assert code == 0
    assert rows["bang"]["lead_ms"] == pytest.approx(300.0, abs=0.01)


def test_faults_are_listed_on_request(book, capsys):
    code, text, _ = said(capsys, book, "--fault", "help")
    assert code == 0
    assert "supply sag: main to 80 %" in text


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--rush", "2", "--evening", "poisson:60/h"), "REHEARSE-90"),
        (("--scatter", "10", "--fault", "start button stuck"), "REHEARSE-90"),
        (("--every", "20s"), "REHEARSE-90"),
        (("--from", "19:00"), "REHEARSE-90"),
        (("--rush", "2", "--to", "20:00"), "REHEARSE-90"),
        (("--rush", "2", "--every", "5s"), "REHEARSE-91"),
        (("--rush", "2", "--every", "soon"), "REHEARSE-91"),
        (("--fault", "stuck valv"), "FAULT-01"),
        (("--evening", "no-such-file.csv"), "BOOK-01"),
        (("--variant", "loud"), "SHOW-03"),
        (("--picture", "evening.pdf"), "SHEET-02"),
    ],
)
def test_what_cannot_be_rehearsed_is_refused_in_one_sentence(words, code, book, capsys):
    ended, out, err = said(capsys, book, *words)
    assert ended == 2
    assert f"[{code}]" in err.replace("\n    ", " ")
    assert out == ""


def test_the_picture_is_a_page_of_the_same_evening(book, tmp_path, capsys):
    page = tmp_path / "evening.html"
    code, _, _ = said(capsys, book, "--rush", "3", "--picture", str(page))
    assert code == 0
    assert "Gale" in page.read_text()


def test_a_show_without_air_needs_no_air_solver(tmp_path, capsys):
    path = tmp_path / "book.yaml"
    path.write_text(
        "book: 1\nshow: {name: Dim, length: 20:00}\n"
        "devices:\n  lamp: {kind: dimmed lamp, volts: 24 V, current: 1 A}\n"
        "beats:\n  - {at: 10:00, do: lamp on over 60 s, window: soft}\n"
    )
    code, text, _ = said(capsys, str(path))
    assert code == 0
    assert "1 landing, all inside" in text
    code, text, _ = said(capsys, str(path), "--rush", "3")
    assert code == 0
    assert "Tank" not in text
