"""A first book to start from, with a word on every line: `thundersheet new NAME`."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.book.splice import written
from thundersheet.book.write import save_bytes

EXPLAINS = {
    "BOOK-74": "`thundersheet new` never writes over a book that is there, and makes its folder "
    "where you may write. Choose another name.",
}


def new_book(name: str) -> str:
    """The text of a first book for a show of this name."""
    template = resources.files(__package__).joinpath("first.yaml").read_text("utf-8")
    return template.replace("NAME", written(name, quote=not _is_plain(name)), 1)


def _is_plain(name: str) -> bool:
    return name[:1].isalpha() and all(letter.isalnum() or letter in " -_." for letter in name)


def write_new_book(folder: Path) -> Path:
    """Make the folder with a first book in it; the folder's name becomes the show's."""
    book = folder / "book.yaml"
    try:
        if book.exists() or book.is_symlink():
            says = "There is a book already."
            raise Refusal.because("BOOK-74", says, "Choose another name.", Place(str(book)))
        folder.mkdir(parents=True, exist_ok=True)
        name = folder.resolve().name.replace("_", " ").replace("-", " ").strip() or "My show"
        save_bytes(book, new_book(name[:1].upper() + name[1:]).encode())
    except OSError as error:
        says = f"The folder cannot be made: {error.strerror or error}."
        raise Refusal.because(
            "BOOK-74", says, "Choose another place.", Place(str(folder))
        ) from None
    return book
