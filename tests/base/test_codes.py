"""Codes of findings are explained beside the checks, each once."""

import importlib
import sys
from pathlib import Path

import pytest

from thundersheet.base.codes import explained


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    name = f"rooms_{tmp_path.name.replace('-', '_')}"
    (tmp_path / name / "inner").mkdir(parents=True)
    for file, text in {
        "__init__.py": "",
        "__main__.py": "raise SystemExit",
        "air.py": "EXPLAINS = {'AIR-02': 'two'}",
        "inner/__init__.py": "EXPLAINS = {'AIR-01': 'one'}",
        "inner/plain.py": "",
    }.items():
        (tmp_path / name / file).write_text(text)
    monkeypatch.syspath_prepend(str(tmp_path))
    return name


def test_all_modules_are_walked_in_the_order_of_the_codes(package: str) -> None:
    assert list(explained(importlib.import_module(package)).items()) == [
        ("AIR-01", "one"),
        ("AIR-02", "two"),
    ]


def test_a_code_explained_twice_is_an_error(package: str) -> None:
    room = importlib.import_module(package)
    explained(room)
    sys.modules[f"{package}.inner"].EXPLAINS["AIR-02"] = "again"  # type: ignore[attr-defined]
    with pytest.raises(ValueError, match="AIR-02 is explained twice"):
        explained(room)
