"""A book from its files: ``read_book`` gives a whole ``Book``, or a Refusal that says all errors.

The only place that opens book files for reading. Other files of the book (CSV or YAML, named
where a list or group belongs) lie in the book's folder or below it.
"""

from __future__ import annotations

import dataclasses
import os
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from thundersheet.base.finding import Finding, Refusal
from thundersheet.base.source import Place
from thundersheet.book.files import Text, open_text, text_of
from thundersheet.book.nodes import Listing, Mapping, Node, Scalar, nodes_of
from thundersheet.book.reading import Reading
from thundersheet.book.rows import rows_of
from thundersheet.book.structure import book_from
from thundersheet.book.upgrade import version_finding
from thundersheet.model.book import Book

EXPLAINS = {
    "BOOK-09": "A list or group may live in a file of its own: `beats: beats.csv`, `devices: "
    "devices.yaml`. That file lies in the book's folder or below it and names no further file.",
    "BOOK-60": "So much is wrong that only the first findings are shown. Mend them and look again.",
}

MOST_SHOWN = 200
"""Findings in one report."""


def read_book(path: Path | str) -> Book:
    """The book in a file or folder; a Refusal with every finding when it cannot be made."""
    file = book_path(path)
    return book_of(open_text(file, str(file)), file.parent)


def book_path(path: Path | str) -> Path:
    """The book's own file: the path itself, or `book.yaml` in it when it is a folder."""
    inside = Path(path) / "book.yaml"
    try:
        return inside if Path(path).is_dir() and inside.exists() else Path(path)
    except OSError:  # no rights to look: opening it will say so
        return Path(path)


def read_text(text: str, file: str = "book.yaml", folder: Path | None = None) -> Book:
    """The book that a text says; other files are looked for in the folder, or refused."""
    return book_of(text_of(text.encode("utf-8", "surrogatepass"), file), folder)


def book_of(source: Text, folder: Path | None) -> Book:
    """The book in a text that is already open."""
    root = root_of(source)
    reading = Reading()
    book = book_from(root, Shelf(folder, reading).tree, reading)
    findings = _in_order(reading.findings)
    if book is None:
        raise Refusal(*findings)
    return dataclasses.replace(book, findings=findings)


def root_of(source: Text) -> Mapping:
    """The tree of a book's main file, in this program's version; else a Refusal."""
    root, findings = nodes_of(source.text, source.file)
    if findings:
        raise Refusal(*findings)
    if not isinstance(root, Mapping) or not root.entries:
        place = root.place if root is not None else Place(source.file)
        says = "There is no book in this file."
        allowed = "A book begins with `book: 1`; `thundersheet new NAME` writes one to start from."
        raise Refusal.because("BOOK-11", says, allowed, place)
    if (version := version_finding(root)) is not None:
        raise Refusal(version)
    return root


def _in_order(findings: list[Finding]) -> tuple[Finding, ...]:
    """Once each, as they stand in the files, refusals only where there are any too many to show."""
    unique = sorted(dict.fromkeys(findings), key=lambda each: (each.place, each.code))
    if len(unique) <= MOST_SHOWN:
        return tuple(unique)
    left = len(unique) - MOST_SHOWN
    more = Finding(code="BOOK-60", grade="note", says=f"{left:,} more findings are not shown.")
    worst_first = sorted(unique, key=lambda each: each.grade != "refuse")
    return (*sorted(worst_first[:MOST_SHOWN], key=lambda each: each.place), more)


@dataclass(slots=True)
class Shelf:
    """Where the other files of one book lie."""

    folder: Path | None
    reading: Reading

    def path_of(self, name: str) -> Path | None:
        """The path of a file of the book; None when it is not in the book's folder."""
        parts = PurePosixPath(name.replace("\\", "/"))
        if self.folder is None or parts.is_absolute() or ".." in parts.parts or ":" in name:
            return None
        path = self.folder / parts
        inside = os.path.realpath(path).startswith(os.path.realpath(self.folder) + os.sep)
        return path if inside else None

    def tree(self, node: Scalar) -> Node | None:
        """The tree of the file that a value names; None, with findings, when there is none."""
        path = self.path_of(node.text)
        if path is None:
            says = f"`{node.text}` does not lie in the book's folder."
            self.reading.say("BOOK-09", node.place, says, "Put the file beside the book.")
            return None
        try:
            source = open_text(path)
        except Refusal as refusal:
            why = refusal.findings[0]
            says = f"`{node.text}` cannot be used: {why.says[:1].lower()}{why.says[1:]}"
            self.reading.say(why.code, node.place, says, why.allowed)
            return None
        root, findings = tree_of(source)
        self.reading.findings += findings
        return None if findings else root


def tree_of(source: Text) -> tuple[Node | None, list[Finding]]:
    """The tree of a file that belongs to a book: CSV by its name, else YAML."""
    if source.file.lower().endswith(".csv"):
        return rows_of(source.text, source.file)
    root, findings = nodes_of(source.text, source.file)
    if root is None and not findings:
        return Listing(source.file, 1, 1, 0), findings
    return root, findings
