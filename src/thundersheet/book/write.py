"""Edits written into a book's files: safely, and never over someone else's change.

``edit_book`` changes what it is told to and keeps every other byte, comments, line ends and
encoding included. A file is written aside, flushed to the disk and put in place in one step.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.book.batch import cells_set, texts_set
from thundersheet.book.cells import cell_spliced
from thundersheet.book.files import LARGEST, Text, open_text
from thundersheet.book.nodes import Listing, Mapping, Node, Scalar, nodes_of
from thundersheet.book.outline import FILES
from thundersheet.book.read import Shelf, book_path, root_of, tree_of
from thundersheet.book.reading import Reading
from thundersheet.book.splice import Edit, Set, spliced
from thundersheet.book.splice import Path as Steps

EXPLAINS = {
    "BOOK-72": "The book was changed by someone else (an editor, another window) after it was "
    "read. Nothing was written, so that neither change is lost. Read it again and repeat the edit.",
    "BOOK-73": "The file could not be written: the disk is full, the rights are missing, or the "
    "folder cannot be written to. The old file is untouched.",
}


def edit_book(path: Path | str, edits: Iterable[Edit], digest: str | None = None) -> str:
    """Make the edits, all or none, and return the digest of what is there then.

    With the `digest` of the book as it was read (``digest_of``), the edits are refused when
    any of its files has changed since.
    """
    shelf = _opened(book_path(path))
    if digest is not None and _digest(shelf) != digest:
        says = "The book has been changed since it was read; nothing was written."
        raise Refusal.because("BOOK-72", says, "Read it again.", Place(str(path)))
    changed = _all_edited(shelf, tuple(edits))
    for before, after in zip(shelf, changed, strict=True):
        if before.source.text != after.source.text:
            _save(after, before.source.digest)
    return digest_of(path)


def digest_of(path: Path | str) -> str:
    """One digest over all files of a book."""
    return _digest(_opened(book_path(path)))


@dataclass(frozen=True, slots=True)
class _File:
    """One file of the book; the first one is the book itself."""

    path: Path
    source: Text
    name: str = ""
    """As the book names it."""


def _digest(files: Sequence[_File]) -> str:
    whole = hashlib.sha256()
    for file in files:
        whole.update(file.source.digest.encode())
    return whole.hexdigest()


def _opened(path: Path) -> tuple[_File, ...]:
    """The book's file and the others that it names, each once."""
    main = open_text(path, str(path))
    reading = Reading()
    shelf = Shelf(path.parent, reading)
    found = {"": _File(path, main)}
    for _, value in root_of(main).entries:
        for node in value.items if isinstance(value, Listing) else [value]:
            if not isinstance(node, Scalar) or not _names_file(node) or node.text in found:
                continue
            if (other := shelf.path_of(node.text)) is not None:
                found[node.text] = _File(other, open_text(other), node.text)
    return tuple(found.values())


def _names_file(node: Node) -> bool:
    return isinstance(node, Scalar) and node.text.lower().endswith(FILES)


def _all_edited(files: tuple[_File, ...], edits: tuple[Edit, ...]) -> tuple[_File, ...]:
    """The files after the edits: together where they only set values, else one after another."""
    sets = tuple(edit for edit in edits if isinstance(edit, Set))
    if len(sets) == len(edits) > 1 and (done := _all_set(files, sets)) is not None:
        return done
    for edit in edits:
        files = _edited(files, edit)
    return files


def _all_set(files: tuple[_File, ...], edits: tuple[Set, ...]) -> tuple[_File, ...] | None:
    """The files after edits that set values, made together; None when they need more care."""
    by_file: dict[str, list[Set]] = {}
    finder = _Finder(files)
    for edit in edits:
        name, path = finder.where(edit.path)
        by_file.setdefault(name, []).append(replace(edit, path=path))
    found = []
    for file in files:
        text: str | None = file.source.text
        if (own := by_file.get(file.name)) is not None:
            text = _together(file.source, own)
        if text is None:
            return None
        found.append(replace(file, source=replace(file.source, text=text)))
    return tuple(found)


def _together(source: Text, edits: list[Set]) -> str | None:
    if source.file.lower().endswith(".csv"):
        return cells_set(source.text, source.file, edits)
    root = nodes_of(source.text, source.file)[0]
    if root is None:
        return None
    return texts_set(source.text, root, edits, lambda new: nodes_of(new, source.file)[0])


def _edited(files: tuple[_File, ...], edit: Edit) -> tuple[_File, ...]:
    """The files after one edit, which changes one of them."""
    name, path = _Finder(files).where(edit.path)
    return tuple(
        _file_edited(file, replace(edit, path=path)) if file.name == name else file
        for file in files
    )


class _Finder:
    """Says in which file of a book a path ends, reading each file once."""

    def __init__(self, files: tuple[_File, ...]) -> None:
        main = files[0].source
        self._root = nodes_of(main.text, main.file)[0]
        self._sizes = {file.name: _size(file) for file in files[1:]}

    def where(self, path: Steps) -> tuple[str, Steps]:
        """The file's name as the book has it (empty: the book itself), and the path in it."""
        root = self._root
        value = root.get(str(path[0])) if isinstance(root, Mapping) and len(path) > 1 else None
        if isinstance(value, Scalar) and _names_file(value):
            return value.text, path[1:]
        if isinstance(value, Listing) and isinstance(path[1], int):
            return self._in_list(value, path[1], path)
        return "", path

    def _in_list(self, value: Listing, index: int, path: Steps) -> tuple[str, Steps]:
        """The same for a list of which some items are files with items of their own."""
        left = index
        for own, item in enumerate(value.items):
            size = self._sizes.get(item.text) if isinstance(item, Scalar) else None
            if size is None and left == 0:
                return "", (path[0], own, *path[2:])
            if isinstance(item, Scalar) and size is not None and 0 <= left < size:
                return item.text, (left, *path[2:])
            left -= 1 if size is None else size
        return "", (path[0], -1 if index < 0 else len(value.items), *path[2:])


def _size(file: _File) -> int:
    """How many items of a list a file stands for."""
    tree = tree_of(file.source)[0]
    return len(tree.items) if isinstance(tree, Listing) else 1


def _file_edited(file: _File, edit: Edit) -> _File:
    source = file.source
    if source.file.lower().endswith(".csv"):
        text = cell_spliced(source.text, source.file, edit)
    else:
        root = nodes_of(source.text, source.file)[0]
        if root is None:
            raise Refusal(*nodes_of(source.text, source.file)[1])
        text = spliced(source.text, root, edit, lambda new: nodes_of(new, source.file)[0])
    return replace(file, source=replace(source, text=text))


def _save(file: _File, digest: str) -> None:
    """Put the new text in the file's place, unless the file is no longer what was read."""
    data = file.source.encode(file.source.text)
    if len(data) > LARGEST:
        says = "The book would become too large to be read again."
        raise Refusal.because("BOOK-71", says, "", Place(file.source.file))
    target = Path(os.path.realpath(file.path))
    if open_text(target, file.source.file).digest != digest:
        says = "The book was changed a moment ago; nothing was written."
        raise Refusal.because("BOOK-72", says, "Read it again.", Place(file.source.file))
    try:
        save_bytes(target, data)
    except OSError as error:
        says = f"The file cannot be written: {error.strerror or error}."
        allowed = "The old one is as it was."
        raise Refusal.because("BOOK-73", says, allowed, Place(file.source.file)) from None


def save_bytes(target: Path, data: bytes) -> None:
    """Write a file in one step: aside, flushed, with the old one's mode, then renamed over it."""
    aside = target.with_name(f".{target.name}.{secrets.token_hex(6)}")
    try:
        with aside.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():
            aside.chmod(target.stat().st_mode & 0o7777)
        aside.replace(target)
    except BaseException:
        with contextlib.suppress(FileNotFoundError):
            aside.unlink()
        raise
    _flush_folder(target.parent)


def _flush_folder(folder: Path) -> None:
    """Make the new name last through a power cut, where the system lets a folder be flushed."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
