"""CSV as spreadsheets write it: RFC 4180 and what programs make of it in other countries."""

import csv
import io
from pathlib import Path

import pytest
from book_parts import HEAD
from hypothesis import given
from hypothesis import strategies as st

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.book.read import read_book
from thundersheet.book.rows import rows_of, table_of
from thundersheet.book.splice import content
from thundersheet.model.book import Book
from thundersheet.model.device import Move

BEATS = (
    "at,what,do,window\n"
    '0:01.5,"dawn, slowly",lamp on,soft\n'
    "\n"
    '0:02,"he said ""now""",fan on; lamp off,-20..+40 ms\n'
)


def book_with(folder: Path, data: bytes) -> Book:
    (folder / "beats.csv").write_bytes(data)
    (folder / "book.yaml").write_text(HEAD + "beats: beats.csv\n")
    return read_book(folder / "book.yaml")


def said(folder: Path, text: str) -> list[str]:
    with pytest.raises(Refusal) as caught:
        book_with(folder, text.encode())
    return [str(each).replace(f"{folder}/", "") for each in caught.value.findings]


def test_a_row_is_a_beat_and_the_header_its_keys(tmp_path: Path) -> None:
    first, second = book_with(tmp_path, BEATS.encode()).beats
    assert (first.at.s, first.what, first.window.name) == (1.5, "dawn, slowly", "soft")
    assert second.what == 'he said "now"'
    assert second.moves == (Move(device="fan", action="on"), Move(device="lamp", action="off"))


def test_cells_know_their_place(tmp_path: Path) -> None:
    second = book_with(tmp_path, BEATS.encode()).beats[1]
    assert second.origin.of("window") == Place(str(tmp_path / "beats.csv"), 4, 41)


@pytest.mark.parametrize("parting", [";", "\t", ","])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_what_spreadsheets_write_reads_the_same(
    tmp_path: Path, parting: str, newline: str, mark: bytes
) -> None:
    rows = [["at", "what", "do", "window", ""], ["0:01.5", "a", "lamp on", "+-15 ms", ""], [""] * 5]
    text = newline.join(parting.join(row) for row in rows) + newline
    (beat,) = book_with(tmp_path, mark + text.encode()).beats
    assert (beat.at.s, beat.what, str(beat.window)) == (1.5, "a", "-15..+15 ms")


def test_a_decimal_comma_is_one_where_semicolons_part_the_cells(tmp_path: Path) -> None:
    text = "sep=;\nat;what;do;every;times\n0:12,480;a;fan on;0,75 s;2\n1:02,5;b;fan on;;\n"
    first, second = book_with(tmp_path, text.encode()).beats
    assert (first.at.s, second.at.s) == (12.48, 62.5)
    assert first.every is not None
    assert first.every.s == 0.75


def test_a_comma_that_may_group_thousands_is_asked_about(tmp_path: Path) -> None:
    text = "at;every;times\n0:12;1,500 ms;2\n"
    assert said(tmp_path, text) == [
        (
            "beats.csv:2:6: `every`: `1,500 ms` has a comma, which may be a decimal comma or group "
            "thousands. Write `1500 ms` or `1.500 ms`.  [BOOK-30]"
        )
    ]


@pytest.mark.parametrize(
    ("text", "messages"),
    [
        (
            "at,wath\n0:01,x\n0:02,y\n",
            [("beats.csv:1:4: `wath` is no key of this beat. Did you mean `what`? Known here: at, "
             "do, every, land, may drop, meets, name, only, times, what, window, without.  "
             "[BOOK-20]")],
        ),
        (
            "at,what,what\n0:01,x,\n",
            [("beats.csv:1:9: Two columns are called `what`. Rename or remove one of them.  "
             "[BOOK-10]")],
        ),
        (
            "at,what\n0:01,dawn, slowly\n",
            [("beats.csv:2:11: `slowly` stands in a column that has no key at its head. Is there a "
             "comma without quotes?  [BOOK-10]")],
        ),
        (
            'at,what\n0:01,"dawn\n',
            [("beats.csv:2:6: A quote is opened here, and not closed before the cell ends. Write "
             '`""` for a quote inside of quotes.  [BOOK-10]')],
        ),
    ],
)  # fmt: skip
def test_a_table_that_is_wrong(tmp_path: Path, text: str, messages: list[str]) -> None:
    assert said(tmp_path, text) == messages


CELLS = st.text(st.sampled_from('ab;,\t" \n\r.0é'), max_size=6)


@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=5))
def test_what_the_standard_library_writes_is_read_back(rows: list[list[str]]) -> None:
    stream = io.StringIO()
    csv.writer(stream, quoting=csv.QUOTE_ALL).writerows([["k1", "k2", "k3"], *rows])
    found, findings = rows_of(stream.getvalue(), "x.csv")
    filled = [row for row in rows if any(row)]
    wanted = [
        [(f"k{i}", cell) for i, cell in enumerate(row, 1) if cell] for row in filled
    ]  # fmt: skip
    assert not findings
    assert content(found) == wanted


@given(st.text(max_size=200))
def test_any_text_has_cells_whose_places_hold_them(text: str) -> None:
    table = table_of(text, "x.csv")
    for row in [table.header, *table.rows]:
        for cell in row:
            assert 0 <= cell.start <= cell.end <= len(text)
