"""What cannot be a book file is met with one clear sentence."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from book_parts import HEAD

from thundersheet.base.finding import Refusal
from thundersheet.book.files import LARGEST
from thundersheet.book.read import read_book


def said(path: Path) -> str:
    with pytest.raises(Refusal) as caught:
        read_book(path)
    (finding,) = caught.value.findings
    return str(finding).replace(f"{path.parent}/", "")


def test_a_missing_file(tmp_path: Path) -> None:
    assert said(tmp_path / "bok.yaml") == (
        "bok.yaml: There is no such file. Look at the name and folder; `thundersheet new NAME` "
        "begins a new book.  [BOOK-01]"
    )


def test_a_folder(tmp_path: Path) -> None:
    folder = tmp_path / "show"
    folder.mkdir()
    assert said(folder) == (
        "show: This is a folder without a `book.yaml`. Name the file of the book; `thundersheet "
        "new NAME` begins a new one.  [BOOK-01]"
    )


def test_a_pipe_is_no_ordinary_file_and_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert said(tmp_path / "pipe") == "pipe: This is no ordinary file.  [BOOK-01]"


@pytest.fixture
def nobody() -> Iterator[None]:
    """Root may read everything, so the test gives its rights away for a while."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    yield
    if root:
        os.seteuid(0)


def test_a_file_without_rights(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    path = tmp_path / "book.yaml"
    path.write_text(HEAD)
    path.chmod(0)
    request.getfixturevalue("nobody")
    assert said(path) == (
        "book.yaml: You may not read this file. Ask its owner, or change its rights.  [BOOK-01]"
    )


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    with path.open("wb") as stream:
        stream.truncate(LARGEST + 1)
    assert said(path) == (
        "book.yaml: The file has more than 8 MB. A book is a small text; look at the name.  "
        "[BOOK-02]"
    )


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (
            "show: Türme".encode("cp1252"),
            ("book.yaml:1:8: The file is not UTF-8: byte 0xfc here looks like `ü` from an old "
            "encoding (Latin-1 or Windows-1252). Save the file again with the encoding UTF-8.  "
            "[BOOK-03]"),
        ),
        (
            "book: 1".encode("utf-16-le"),
            ("book.yaml:1:2: There is a control character (U+0000) in the file. It may be no text "
            "at all, or UTF-16 without its mark; save it as UTF-8 text.  [BOOK-04]"),
        ),
        (
            b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR",
            ("book.yaml:1:1: The file is no text, or a damaged one. Save it as UTF-8 text.  "
            "[BOOK-04]"),
        ),
        (
            b"\xff\xfeb\0o",
            ("book.yaml:1:2: The file is no text, or a damaged one. Save it as UTF-8 text.  "
            "[BOOK-04]"),
        ),
        (
            b"",
            ("book.yaml: There is no book in this file. A book begins with `book: 1`; "
            "`thundersheet new NAME` writes one to start from.  [BOOK-11]"),
        ),
        (
            b"# nothing yet\n",
            ("book.yaml: There is no book in this file. A book begins with `book: 1`; "
            "`thundersheet new NAME` writes one to start from.  [BOOK-11]"),
        ),
    ],
)  # fmt: skip
def test_bytes_that_are_no_book(tmp_path: Path, data: bytes, message: str) -> None:
    path = tmp_path / "book.yaml"
    path.write_bytes(data)
    assert said(path) == message


def test_a_missing_file_that_the_book_names_is_said_where_it_is_named(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    path.write_text(HEAD + "beats: beats.csv\n")
    assert said(path) == (
        "book.yaml:15:8: `beats.csv` cannot be used: there is no such file. Look at the name and "
        "folder; `thundersheet new NAME` begins a new book.  [BOOK-01]"
    )


def test_what_a_missing_file_would_have_held_is_not_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "book.yaml"
    path.write_text(
        "book: 1\nshow: {name: x, length: 1:00}\ndevices: lost.yaml\n"
        "beats: [{at: 0:01, do: lamp on}]\n"
    )
    assert said(path).startswith("book.yaml:3:10: `lost.yaml` cannot be used: there is no such")
