"""Whatever the bytes: a Book or a Refusal with findings, never anything else."""

from pathlib import Path

import pytest
import yaml
from book_parts import HEAD
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from thundersheet.base.finding import Refusal
from thundersheet.book.files import text_of
from thundersheet.book.new import new_book
from thundersheet.book.read import book_of, read_text
from thundersheet.model.book import Book

LAMP_ROOM = (Path(__file__).parents[2] / "examples/lamp-room/book.yaml").read_bytes()
BOOKS = [
    (HEAD + "beats:\n  - {at: bar 2, do: [fan on, lamp two burn], window: soft}\n").encode(),
    new_book("Gale").encode(),
    LAMP_ROOM,
]
SLOW = settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)


def met(data: bytes) -> Book | None:
    """The book in some bytes; None for a refusal, which must have something to say."""
    try:
        return book_of(text_of(data, "book.yaml"), None)
    except Refusal as refusal:
        if not refusal.findings or not all(each.says for each in refusal.findings):
            pytest.fail("a refusal without a word")
        return None


@SLOW
@given(st.binary(max_size=300))
def test_random_bytes(data: bytes) -> None:
    assert met(data) is None


@SLOW
@given(st.text(max_size=200))
def test_random_text_behind_a_right_beginning(text: str) -> None:
    met(f"book: 1\nshow: {{name: x, length: 1:00}}\n{text}".encode("utf-8", "replace"))


@SLOW
@given(st.data())
def test_books_with_pieces_taken_out_doubled_and_changed(data: st.DataObject) -> None:
    book = data.draw(st.sampled_from(BOOKS))
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(book)))
        end = min(len(book), start + data.draw(st.integers(0, 30)))
        piece = data.draw(
            st.sampled_from(
                [b"", book[start:end] * 2, b"\n", b"\t", b": ", b"- ", b"{", b"]", b"*a"]
            )
            | st.binary(max_size=4)
        )
        book = book[:start] + piece + book[end:]
    met(book)


KEYS = st.sampled_from(
    [
        "book",
        "show",
        "name",
        "length",
        "tempo",
        "frame",
        "rate",
        "devices",
        "boards",
        "beats",
        "rules",
        "at",
        "do",
        "kind",
        "words",
        "on",
        "valve",
        "hose",
        "variants",
        "measured",
        "limits",
        "air",
        "guests",
        "supplies",
        "window",
        "every",
        "times",
    ]
) | st.text(max_size=5)
LEAVES = st.sampled_from(
    ["1", "0:12", "60 psi", "lamp", "fan on", "yes", "", "bar 3", "frame 9", "soft", "-20..+40 ms",
     "main 3", "air cylinder", "screen", "1/0 in", "x.csv", "gear motor", "[", "1,5 A"]
)  # fmt: skip
TREES = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=5),
    max_leaves=20,
)


@SLOW
@given(st.dictionaries(KEYS, TREES, max_size=8))
def test_any_tree_of_keys_and_values(tree: dict[str, object]) -> None:
    whole = {"book": "1", "show": {"name": "x", "length": "1:00"}, **tree, "book ": "1"}
    met(yaml.safe_dump(whole, allow_unicode=True).replace("'1'", "1", 1).encode())


@SLOW
@given(st.sampled_from(["show", "air", "devices", "beats", "rules", "variants", "measured"]), TREES)
def test_any_tree_under_each_group(group: str, tree: object) -> None:
    head = {"book": 1, "show": {"name": "x", "length": "1:00"}}
    met(yaml.safe_dump({**head, group: tree}).encode())


@pytest.mark.parametrize("text", ["[" * 100_000, "- " * 100_000, "{a: " * 100_000, "a:\n" * 9])
def test_depth_without_end_is_a_refusal(text: str) -> None:
    with pytest.raises(Refusal):
        read_text(text)


def test_five_thousand_beats_are_read() -> None:
    beats = "".join(
        f"  - {{at: {i // 60}:{i % 60:02d}.5, what: beat {i}, do: [fan on, lamp off]}}\n"
        for i in range(5000)
    )
    assert len(read_text(f"{HEAD}beats:\n{beats}").beats) == 5000
