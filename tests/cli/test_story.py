"""The whole path of a builder, and every JSON document against its schema."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import jsonschema
import pytest
from tests.cli.conftest import Ended, Run, ffmpeg
from tests.conftest import ROOT

VIDEO = (
    "-f", "lavfi", "-i", "testsrc=size=64x48:rate=25:duration=20",
    "-f", "lavfi", "-i", "sine=300:r=48000:d=20", "-c:v", "libx264", "-bf", "2", "-c:a", "aac",
)  # fmt: skip


def test_from_an_empty_folder_to_a_proved_file_and_a_changed_mind(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("new", "my-prop").code == 0
    assert run("check", "my-prop").out == "My prop: 4 cues; nothing to say.\n"
    assert "shutter-open-1" in run("plan", "my-prop").out
    book = Path("my-prop/book.yaml")
    book.write_text(book.read_text().replace("programme.wav", "gale.mp4"))
    ffmpeg(*VIDEO, "my-prop/gale.mp4")
    assert "Proof: proved." in run("track", "my-prop").said
    ended = run("prove", "my-prop", "my-prop/gale-cued.mp4", "--report", "proof.html")
    assert (ended.code, "gale-cued.mp4: proved." in ended.said) == (0, True)
    assert "proved" in Path("proof.html").read_text()
    book.write_text(book.read_text().replace("0:10.500", "0:11.500"))
    ended = run("prove", "my-prop", "my-prop/gale-cued.mp4")
    assert ended.code == 1
    assert "another plan" in ended.said
    assert run("track", "my-prop").code == 2
    assert run("track", "my-prop", "--replace").code == 0
    assert run("prove", "my-prop", "my-prop/gale-cued.mp4").code == 0


def valid(name: str, ended: Ended) -> dict:
    """The document, held against its schema by jsonschema 4.26."""
    document = json.loads(ended.out)
    schema = json.loads((ROOT / "schema" / f"{name}.json").read_text())
    jsonschema.validate(document, schema, jsonschema.Draft202012Validator)
    return document


def test_every_json_document_fits_its_schema(
    prop: Path, programme: Path, cued: Path, tmp_path: Path, run: Run
) -> None:
    assert len(valid("plan", run("plan", prop, "--json"))["cues"]) == 2
    assert "refuse" not in {
        finding["grade"] for finding in valid("check", run("check", prop, "--json"))["findings"]
    }
    assert valid("proof", run("prove", prop, cued, "--json"))["verdict"] == "proved"
    assert valid("proof", run("prove", prop, programme, "--json"))["verdict"] != "proved"
    assert len(valid("listen", run("listen", cued, "--json"))["tones"]) == 3 * 7
    assert valid("listen", run("listen", programme, "--json"))["tones"] == []
    for words in (("check", tmp_path), ("plan", tmp_path), ("prove", prop, tmp_path)):
        assert valid("refusal", run(*words, "--json"))["findings"]
    inputs = tmp_path / "case.json"
    inputs.write_text('{"bore": "27 mm", "pressure": "4 bar", "stroke": 0.1}')
    found = valid("calc", run("calc", "cylinder", "--input", inputs, "--json"))
    assert found["inputs"]["stroke"]["value"] == 0.1


def test_findings_with_cures_fit_the_schema_of_check(prop: Path, run: Run) -> None:
    with (prop / "book.yaml").open("a") as book:
        book.write("  - {at: 0:02.050, what: hatch is drawn back, do: hatch back}\n")
    ended = run("check", prop, "--json")
    assert ended.code == 1
    assert any(finding["cures"] for finding in valid("check", ended)["findings"])


@pytest.mark.parametrize("kind", ["csv", "edl"])
def test_markers_go_out_are_moved_in_an_editor_and_come_back(
    kind: str, prop: Path, tmp_path: Path, run: Run
) -> None:
    path, book = tmp_path / f"markers.{kind}", prop / "book.yaml"
    frames = ["--frames", "25"] if kind == "edl" else []
    before = book.read_text()
    assert "2 markers" in run("recut", prop, "--write", path, *frames).out
    assert run("recut", prop, "--read", path, *frames).out == "0 values moved.\n"
    assert book.read_text() == before
    moved_by_a_second(path)
    assert "0:02 -> 0:03" in run("recut", prop, "--read", path, *frames).said
    after = before.replace("0:01.200", "0:02.200").replace("at: 0:02,", "at: 0:03.000,")
    assert re.sub(r"length: [\d:.]+", "", book.read_text()) == re.sub(r"length: [\d:.]+", "", after)


def moved_by_a_second(path: Path) -> None:
    """Each marker a second later, as a spreadsheet or an editing program writes it."""
    if path.suffix == ".csv":
        rows = list(csv.DictReader(path.read_text().splitlines()))
        with path.open("w", newline="") as file:
            out = csv.DictWriter(file, rows[0].keys(), delimiter=";")
            out.writeheader()
            for row in rows:
                minutes, seconds = row["time"].split(":")
                row["time"] = f"{minutes}:{float(seconds) + 1:06.3f}"
                out.writerow(row)
    else:
        later = re.sub(
            r"(\d\d):(\d\d)(?=[\s\n])",
            lambda m: f"{int(m[1]) + 1:02d}:{m[2]}",
            path.read_text(),
        )
        path.write_text(later)


def test_a_cut_may_take_time_away(prop: Path, run: Run) -> None:
    ended = run("recut", prop, "--cut", "0:00.500", "-0.2s", "--dry")
    assert ended.code == 0
    assert "0:01.200 -> 0:01.000" in ended.said
