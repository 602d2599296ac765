"""What a book says under `night`: read, refused with its line, left out by every older book."""

from __future__ import annotations

import pytest
from night_parts import BOOK
from tests.conftest import EXAMPLES

from thundersheet.base.finding import Refusal
from thundersheet.base.time import Span
from thundersheet.book.read import read_book, read_text
from thundersheet.model.night import Night
from thundersheet.run.setup import setup_of

WHOLE = BOOK % "queue"


def test_inputs_limits_and_the_start_are_read():
    night = read_text(WHOLE).night
    kinds = {each.name: each.kind for each in night.inputs}
    assert kinds["mushroom"] == "stop"
    assert kinds["flap home"] == "home"
    assert night.start.at_rest == "queue"
    limits = {each.name: each for each in night.outputs}
    assert limits["main 1"].most_on == Span.seconds(2)
    assert limits["main 1"].least_off == Span.ms(200)
    assert night.half_pa == pytest.approx(3e5)  # 3 bar


def test_limits_reach_the_outputs_of_the_setup():
    setup = setup_of(read_text(WHOLE), [])
    assert setup.lines["main 1"].most_on == Span.seconds(2)
    assert setup.lines["main 2"].most_on is None
    assert setup.lines["main 8"].device == ""


@pytest.mark.parametrize("name", ["lamp-room", "glasshouse"])
def test_a_book_without_night_is_as_before(name):
    assert read_book(EXAMPLES / name / "book.yaml").night == Night()


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("{kind: home, of: flap, within: 3 s}", "{kind: home}", "BOOK-48"),
        ("{kind: home, of: flap, within: 3 s}", "{kind: home, of: [flap, hatch]}", "BOOK-48"),
        ("of: [flap], silent", "of: [flop], silent", "BOOK-45"),
        ("main 1: {most on: 2 s", "main 99: {most on: 2 s", "BOOK-41"),
        ("kind: door", "kind: gate", "BOOK-32"),
        ("quiet: quiet\n  half", "quiet: hush\n  half", "BOOK-42"),
        ("air: main 8", "air: main 80", "BOOK-41"),
    ],
)
def test_what_cannot_be_is_refused_at_its_line(old, new, code):
    assert old in WHOLE
    line = WHOLE[: WHOLE.index(old)].count("\n") + 1
    with pytest.raises(Refusal) as refused:
        read_text(WHOLE.replace(old, new, 1))
    found = [each for each in refused.value.findings if each.code == code]
    assert found
    assert abs(found[0].place.line - line) <= 1
