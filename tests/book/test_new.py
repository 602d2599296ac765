"""The first book that `new` writes: right as it stands."""

import os
import stat
from pathlib import Path

import pytest
from book_parts import read

from thundersheet.base.finding import Refusal
from thundersheet.book.new import new_book, write_new_book
from thundersheet.book.read import read_book


def test_the_first_book_reads_without_a_finding() -> None:
    book = read(new_book("Gale"))
    assert book.findings == ()
    assert {device.KIND for device in book.devices} == {"air cylinder", "lamp"}
    assert [len(beat.moves) for beat in book.beats] == [1, 1, 2]


@pytest.mark.parametrize("name", ["Gale", "A: b # c", "'quoted'", "no", "12:30", "Böe"])
def test_any_name_of_a_show_is_kept(name: str) -> None:
    assert read(new_book(name)).show.name == name


def test_the_folders_name_becomes_the_shows(tmp_path: Path) -> None:
    path = write_new_book(tmp_path / "my-first_prop")
    assert path == tmp_path / "my-first_prop/book.yaml"
    assert read_book(path).show.name == "My first prop"
    mask = os.umask(0)
    os.umask(mask)
    assert stat.S_IMODE(path.stat().st_mode) == 0o666 & ~mask


def test_a_book_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    write_new_book(tmp_path)
    (tmp_path / "book.yaml").write_text("mine")
    with pytest.raises(Refusal) as caught:
        write_new_book(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path / 'book.yaml'}: There is a book already. Choose another name.  [BOOK-74]"
    )
    assert (tmp_path / "book.yaml").read_text() == "mine"


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(Refusal, match=r"The folder cannot be made: "):
        write_new_book(tmp_path / "file/prop")
