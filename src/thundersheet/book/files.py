"""The door through which book files come in: bytes to text, or one clear sentence why not."""

from __future__ import annotations

import codecs
import hashlib
import re
import stat
from dataclasses import dataclass
from pathlib import Path

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place

LARGEST = 8_000_000
"""Bytes in one file: a book with 5,000 beats has half a million."""

EXPLAINS = {
    "BOOK-01": "The file could not be opened: it is not there, is a folder or a device, or the "
    "rights to read it are missing.",
    "BOOK-02": f"The file is larger than {LARGEST // 1_000_000} MB. A book with thousands of beats "
    "is a tenth of that, so another file was probably meant.",
    "BOOK-03": "The file's letters are not encoded as UTF-8 (or UTF-16 with its mark), so letters "
    "beyond plain English could be misread. Save the file again with the encoding UTF-8.",
    "BOOK-04": "The file holds control characters that no text has: it is a picture, a sound, an "
    "office document or damaged.",
}

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
# What YAML 1.2.2, 5.1 does not let stand in a text, and byte order marks within it.
_CONTROL = re.compile("[\0-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufeff\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Text:
    """A file's text and all that is needed to write it back the same but for an edit."""

    file: str
    """Its name as the user gave it."""
    text: str
    """Line ends as they stand; without the byte order mark."""
    encoding: str
    mark: bytes
    """The byte order mark it began with, or nothing."""
    digest: str
    """SHA-256 of the bytes as read."""

    def encode(self, text: str) -> bytes:
        """Another text in this file's encoding and with its mark."""
        return self.mark + text.encode(self.encoding)


def open_text(path: Path, file: str | None = None, hint: str = "") -> Text:
    """The text of a file; a Refusal in one sentence where there is none.

    `hint` says what to do where the file is not there; left out, it is taken for a book.
    """
    name = str(path) if file is None else file
    return text_of(_bytes(path, name, hint), name)


def _bytes(path: Path, name: str, hint: str) -> bytes:
    place = Place(name)
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise Refusal.because("BOOK-01", *_a_folder(hint), place)
        if not stat.S_ISREG(mode):
            raise Refusal.because("BOOK-01", "This is no ordinary file.", "", place)
        with path.open("rb") as stream:
            data = stream.read(LARGEST + 1)
    except FileNotFoundError:
        hint = hint or "Look at the name and folder; `thundersheet new NAME` begins a new book."
        raise Refusal.because("BOOK-01", "There is no such file.", hint, place) from None
    except PermissionError:
        hint = "Ask its owner, or change its rights."
        raise Refusal.because("BOOK-01", "You may not read this file.", hint, place) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise Refusal.because("BOOK-01", f"The file cannot be read: {why}.", "", place) from None
    if len(data) > LARGEST:
        says = f"The file has more than {LARGEST // 1_000_000} MB."
        raise Refusal.because("BOOK-02", says, "A book is a small text; look at the name.", place)
    return data


def _a_folder(hint: str) -> tuple[str, str]:
    if hint:
        return "This is a folder, not a file.", hint
    begin = "Name the file of the book; `thundersheet new NAME` begins a new one."
    return "This is a folder without a `book.yaml`.", begin


def text_of(data: bytes, file: str) -> Text:
    """The text that bytes hold: UTF-8, or UTF-16 with a byte order mark."""
    mark, encoding = next(((m, e) for m, e in _MARKS if data.startswith(m)), (b"", "utf-8"))
    body = data[len(mark) :]
    try:
        text = body.decode(encoding)
    except UnicodeDecodeError as error:
        raise _misencoded(body, error, encoding, file) from None
    if (odd := _CONTROL.search(text)) is not None:
        place = _place(file, text[: odd.start()])
        says = f"There is a control character (U+{ord(odd[0]):04X}) in the file."
        allowed = "It may be no text at all, or UTF-16 without its mark; save it as UTF-8 text."
        raise Refusal.because("BOOK-04", says, allowed, place)
    return Text(file, text, encoding, mark, hashlib.sha256(data).hexdigest())


def _misencoded(body: bytes, error: UnicodeDecodeError, encoding: str, file: str) -> Refusal:
    before = body[: error.start].decode(encoding, "replace")
    place = _place(file, before)
    if encoding != "utf-8" or b"\0" in body:
        says = "The file is no text, or a damaged one."
        return Refusal.because("BOOK-04", says, "Save it as UTF-8 text.", place)
    byte = body[error.start]
    letter = bytes([byte]).decode("cp1252", "replace")
    says = (
        f"The file is not UTF-8: byte {byte:#04x} here looks like `{letter}` from an old encoding "
        "(Latin-1 or Windows-1252)."
    )
    return Refusal.because("BOOK-03", says, "Save the file again with the encoding UTF-8.", place)


def _place(file: str, before: str) -> Place:
    """The place right after some text."""
    lines = re.split(r"\r\n|\r|\n", before)
    return Place(file, len(lines), len(lines[-1]) + 1)
