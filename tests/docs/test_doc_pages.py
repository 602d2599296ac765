"""What the pages show is there and runs: links, commands, and lines that fit a screen."""

from __future__ import annotations

import importlib
import re
import shlex
import wave
from pathlib import Path

import pytest
from tests.conftest import ROOT

from thundersheet.cli import VERBS, main
from thundersheet.cli.ends import parser_of

PAGES = sorted(
    page.relative_to(ROOT)
    for page in (*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md"), *ROOT.glob("examples/*.md"))
)
SHOWN_AND_RUN = ("docs/start/first-evening.md", *map(str, ROOT.glob("docs/how-to/*.md")))
OWN = "# your own file"
"""Marks a command that needs a file of the reader's."""


def read(page: Path | str) -> str:
    return (ROOT / page).read_text()


def anchor(heading: str) -> str:
    """As hosts of Markdown make it: small letters, hyphens for spaces, no other signs."""
    return re.sub(r"[^\w\- ]", "", heading.strip().lower()).replace(" ", "-")


@pytest.mark.parametrize("page", PAGES, ids=str)
def test_every_relative_link_leads_somewhere(page: Path) -> None:
    for link in re.findall(r"\]\(([^)\s]+)\)", read(page)):
        if re.match(r"[a-z]+:", link):
            continue
        path, _, part = link.partition("#")
        target = (ROOT / page).parent / path if path else ROOT / page
        assert target.exists(), f"{page}: {link}"
        if part:
            headings = re.findall(r"^#+ (.+)$", target.read_text(), re.MULTILINE)
            assert part in map(anchor, headings), f"{page}: {link}"


@pytest.mark.parametrize("page", PAGES, ids=str)
def test_lines_fit_a_screen(page: Path) -> None:
    """100 columns; a table's row is one line by the rules of Markdown."""
    long = [line for line in read(page).splitlines() if len(line) > 100 and line[:1] != "|"]
    assert not long


def blocks(page: Path | str) -> list[str]:
    """The commands of the fenced `sh` and `console` blocks, in order."""
    found = re.findall(r"^```(?:sh|console)\n(.*?)^```", read(page), re.MULTILINE | re.DOTALL)
    lines = (line.removeprefix("$ ") for block in found for line in block.splitlines())
    return [line for line in lines if line.startswith("thundersheet ")]


def mentioned(page: Path) -> list[str]:
    return re.findall(r"`(thundersheet [^`]+)`", read(page).replace("\n", " "))


@pytest.mark.parametrize("page", PAGES, ids=str)
def test_every_command_shown_has_a_verb_and_options_that_exist(page: Path) -> None:
    for line in (*blocks(page), *mentioned(page)):
        _, verb, *words = shlex.split(line, comments=True)
        if verb.isupper() or verb.startswith("--"):
            continue
        assert verb in VERBS, f"{page}: {line}"
        parser = parser_of(verb, importlib.import_module(f"thundersheet.cli.{verb}"), 80)
        for word in words:
            option = word.split("=")[0]
            assert not word.startswith("--") or option in parser.format_help(), f"{page}: {line}"


@pytest.mark.parametrize("page", SHOWN_AND_RUN, ids=lambda page: Path(page).name)
def test_commands_of_the_guides_run_as_shown(
    page: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a folder that holds the README's book; a reader's own files are left out."""
    monkeypatch.chdir(tmp_path)
    book = re.search(r"```yaml\n(book: 1\n.*?)```", read("README.md"), re.DOTALL)
    assert book
    Path("book.yaml").write_text(book[1])
    for line in blocks(page):
        if OWN not in line:
            code = main(shlex.split(line, comments=True)[1:])
            assert code == 0, f"{line}\n{capsys.readouterr()}"
        if Path("my-prop").exists():
            silence(Path("my-prop/programme.wav"), seconds=20)


def silence(path: Path, seconds: int) -> None:
    with wave.open(str(path), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(8_000)
        sound.writeframes(bytes(2 * 8_000 * seconds))


def test_what_the_first_evening_adds_to_the_new_book_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["new", str(tmp_path / "my-prop")]) == 0
    book = tmp_path / "my-prop" / "book.yaml"
    added = re.findall(r"```yaml\n(.*?)```", read("docs/start/first-evening.md"), re.DOTALL)
    book.write_text(book.read_text() + "\n" + "\n".join(added))
    assert main(["plan", str(book)]) == 0
    assert re.search(r"0:10\.188  0:10\.500 +312 .* shutter-open-1", capsys.readouterr().out)
