"""Which version of the format a book is in, and what to do when it is not ours.

There has been one version only, so there is nothing to bring up to date yet; a book of another
version is refused with what to do, never read as if it were this one.
"""

from __future__ import annotations

from thundersheet.base.finding import Finding
from thundersheet.book.nodes import Mapping, Scalar
from thundersheet.model.book import VERSION

EXPLAINS = {
    "BOOK-12": "`book:` says in which version of the format a book is written; numbers may mean "
    "something else in another one, so it is never guessed.",
}


def version_finding(root: Mapping) -> Finding | None:
    """Why the book cannot be read by this program, as far as its version goes; None: it can."""
    written = root.get("book")
    if written is None:
        says = "The book does not say which version of the format it is in."
        allowed = f"Write `book: {VERSION}` in its first line."
        return Finding(code="BOOK-12", grade="refuse", place=root.place, says=says, allowed=allowed)
    word = written.text.strip() if isinstance(written, Scalar) else "..."
    if word == str(VERSION):
        return None
    says, allowed = _other(word)
    return Finding(code="BOOK-12", grade="refuse", place=written.place, says=says, allowed=allowed)


def _other(word: str) -> tuple[str, str]:
    if word.isascii() and word.isdigit() and int(word[:6]) > VERSION:
        return (
            f"The book is in version {word} of the format; this program reads up to {VERSION}.",
            "Bring the program up to date: `pipx upgrade thundersheet`.",
        )
    return (
        f"`book: {word}` is no version of the format.",
        f"There is only version {VERSION}: write `book: {VERSION}` if the book was written for it.",
    )
