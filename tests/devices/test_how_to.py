"""The how-to for a new kind is true: its one file, in a folder of its own, is all that it takes."""

from __future__ import annotations

import importlib.util
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
from kinds_at_work import HEAD

import thundersheet.devices
from thundersheet.book.read import read_text
from thundersheet.devices import kind_named, kind_names
from thundersheet.plan.plan import plan_cues

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "how-to" / "add-a-device-kind.md").read_text()
PYTHON = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
YAML = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)


@pytest.fixture
def with_the_new_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    (tmp_path / "bubble_column.py").write_text(PYTHON[0])
    monkeypatch.setattr(
        thundersheet.devices, "__path__", [*thundersheet.devices.__path__, str(tmp_path)]
    )
    yield
    sys.modules.pop("thundersheet.devices.bubble_column", None)
    vars(thundersheet.devices).pop("bubble_column", None)


def _generator() -> ModuleType:
    spec = importlib.util.spec_from_file_location("generate", ROOT / "tools" / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.usefixtures("with_the_new_file")
def test_one_file_makes_the_kind_known() -> None:
    assert "bubble column" in kind_names()
    assert kind_named("bubble column").KIND == "bubble column"


@pytest.mark.usefixtures("with_the_new_file")
def test_its_book_reads_and_its_cue_leaves_as_the_page_says() -> None:
    (cue,), findings = plan_cues(read_text(YAML[0]))
    said = re.search(r"leaves ([\d.]+) s before the beat", PAGE)
    assert said is not None
    assert cue.lead.total.s == float(said[1])
    assert [part.name for part in cue.lead.parts] == ["board", "rising"]
    assert [each for each in findings if each.grade == "refuse"] == []


@pytest.mark.usefixtures("with_the_new_file")
def test_its_example_reads_and_plans() -> None:
    cues, _ = plan_cues(read_text(HEAD + kind_named("bubble column").EXAMPLE))
    assert len(cues) == 1


@pytest.mark.usefixtures("with_the_new_file")
def test_it_stands_in_the_reference_page_with_its_keys() -> None:
    page = _generator().devices_page()
    section = page.partition("## bubble column")[2].partition("\n## ")[0]
    assert "| `height` | Height of the water. | `1.2 m` | must be written |" in section
    assert "tube: {kind: bubble column" in section


def test_without_the_file_the_kind_is_unknown() -> None:
    assert "bubble column" not in kind_names()
    with pytest.raises(KeyError):
        kind_named("bubble column")


def test_the_page_s_code_is_as_the_house_writes_it(tmp_path: Path) -> None:
    import subprocess

    file = tmp_path / "bubble_column.py"
    file.write_text(PYTHON[0])
    config = ["--config", str(ROOT / "pyproject.toml")]
    ruff = [sys.executable, "-m", "ruff"]
    for command in (["check", "--ignore", "D102", *config], ["format", "--check", *config]):
        done = subprocess.run([*ruff, *command, str(file)], capture_output=True, check=False)
        assert done.returncode == 0, done.stdout.decode()
