"""`listen --live`: the night's receiver from the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from tests.cli.test_story import valid

if TYPE_CHECKING:
    from tests.cli.conftest import Run


def test_live_hears_the_tones_of_a_cued_file_as_listen_does(cued: Path, run: Run) -> None:
    live = valid("listen", run("listen", cued, "--live", "--json"))
    exact = json.loads(run("listen", cued, "--json").out)
    assert [t["symbol"] for t in live["tones"]] == [t["symbol"] for t in exact["tones"]]
    for ours, theirs in zip(live["tones"], exact["tones"], strict=True):
        assert ours["onset_s"] == pytest.approx(theirs["onset_s"], abs=1.5e-3)
    assert (live["channel"], live["speed_ppm"]) == (exact["channel"], None)


def test_live_says_how_soon_each_tone_was_known(cued: Path, run: Run) -> None:
    ended = run("listen", cued, "--live")
    assert "known after ms" in ended.out
    assert "21 tones by the night's receiver in channel 2 of 2" in ended.said


def test_live_says_when_there_is_nothing(programme: Path, run: Run) -> None:
    assert run("listen", programme, "--live").said.startswith("No tones were heard by the night's")


def test_live_and_shared_are_not_both_taken(cued: Path, run: Run) -> None:
    ended = run("listen", cued, "--live", "--shared")
    assert ended.code == 2
    assert "the night's receiver has one mode" in ended.said
