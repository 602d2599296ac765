"""The page on air: its book is read, is clean, and goes wrong where the page says that it does."""

from __future__ import annotations

import functools
import re

from tests.conftest import ROOT

from thundersheet.book.read import read_text
from thundersheet.plan.plan import make_plan
from thundersheet.plan.plumbing import checks, feeds, graph, hours, night, plumbing_of, venting

PAGE = (ROOT / "docs/how-to/describe-your-air.md").read_text()


@functools.cache
def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", PAGE, re.DOTALL)


def test_the_books_air_is_clean() -> None:
    plan = make_plan(read_text(blocks("yaml")[0]))
    assert [str(f) for f in plan.findings if f.grade != "note"] == []
    assert len(plan.cues) == 6


def test_the_narrow_feed_is_found_as_the_page_says() -> None:
    whole, narrow = blocks("yaml")
    (line,) = re.findall(r"^    near: .*\n", whole, re.MULTILINE)
    plan = make_plan(read_text(whole.replace(line, narrow)))
    says = " ".join(blocks("text")[0].split())
    assert any(f.code == "AIR-14" and f.says.startswith(says) for f in plan.findings)


def test_the_page_names_every_finding_about_the_plumbing() -> None:
    named = {f"AIR-{number}" for number in re.findall(r"#air-(\d\d)\)", PAGE)}
    modules = (checks, feeds, graph, hours, night, venting)
    assert named == {code for module in modules for code in module.EXPLAINS}


def test_the_page_shows_most_kinds_of_part() -> None:
    tree, _ = plumbing_of(read_text(blocks("yaml")[0]))
    assert tree is not None
    assert {part.kind for part in tree.parts.values()} >= {
        "tank", "shut-off", "filter", "regulator", "dump valve", "soft-start valve",
    }  # fmt: skip
