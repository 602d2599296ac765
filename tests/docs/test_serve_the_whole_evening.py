"""The page on evenings: its book plans to the figures that it shows, and goes wrong as it says."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from tests.conftest import ROOT

from thundersheet.cli import main
from thundersheet.plan.air import findings as air_findings

if TYPE_CHECKING:
    import pytest

PAGE = (ROOT / "docs/how-to/serve-the-whole-evening.md").read_text()
BOOK = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)[0]
SHOWN = re.findall(r"```text\n(.*?)```", PAGE, re.DOTALL)


def printed(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What `plan` says of a book, its lines joined."""
    (tmp_path / "book.yaml").write_text(text)
    assert main(["plan", str(tmp_path / "book.yaml")]) in (0, 1)
    return " ".join(capsys.readouterr().out.replace(f"{tmp_path}/", "").split())


def test_the_evenings_line_is_as_the_page_shows_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert " ".join(SHOWN[0].split()) in printed(BOOK, tmp_path, capsys)


def test_the_small_tank_is_found_with_the_cures_that_the_page_shows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    small = BOOK.replace("volume: 24 l", "volume: 6 l").replace("delivers: 20 l", "delivers: 2 l")
    assert " ".join(SHOWN[1].split()) in printed(small, tmp_path, capsys)


def test_the_page_names_every_finding_about_the_evening() -> None:
    named = {f"AIR-{number}" for number in re.findall(r"#air-(\d\d)\)", PAGE)}
    assert named == set(air_findings.EXPLAINS)
