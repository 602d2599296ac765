"""What to say when a text is no YAML: the parser's complaint in the builder's words."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from thundersheet.base.finding import Finding
from thundersheet.base.source import Place

if TYPE_CHECKING:
    from yaml import MarkedYAMLError

EXPLAINS = {
    "BOOK-05": "The text does not follow the rules of YAML, so nothing of it could be read. The "
    "place is where the reader noticed; the slip is there or in the lines just before: a bracket "
    "or quote left open, a missing comma in `{...}`, a text that holds `: ` or ` #` without "
    "quotes, or a line that is not indented like its neighbours.",
    "BOOK-06": "YAML indents with spaces only; a tab looks the same but is not allowed there. Let "
    "the editor turn tabs into spaces (often called `expand tabs`).",
}

# (what the parser says, what is wrong, what to do); the first that fits.
_PLAIN_WORDS = (
    (
        "mapping values are not allowed",
        "There is a second `:` in this value, or the line is indented more than it may be.",
        'Put a text that holds `: ` in quotes: "like: this".',
    ),
    (
        "did not find expected ',' or '}'",
        "A `{` is not closed, or a comma is missing inside of it.",
        "Write `{key: value, key: value}`.",
    ),
    (
        "did not find expected ',' or ']'",
        "A `[` is not closed, or a comma is missing inside of it.",
        "Write `[one, two]`.",
    ),
    (
        "unexpected end of stream",
        "A quote or bracket is opened and never closed.",
        "Close it, or put the whole text in the other kind of quotes.",
    ),
    (
        "could not find expected ':'",
        "This line has no `:` after its key.",
        "Write `key: value` with a space after the colon.",
    ),
    (
        "did not find expected key",
        "This line does not stand under its neighbours, or text goes on behind a closed quote.",
        "Indent the keys of one group alike, and quote a whole text or none of it.",
    ),
    (
        "did not find expected '-' indicator",
        "This line does not stand under the other items of its list.",
        "Begin each item with `- `, all indented alike.",
    ),
    (
        "block sequence entries are not allowed",
        "A `-` stands where no list item can begin.",
        "Begin list items on lines of their own below the key.",
    ),
    (
        "cannot start any token",
        "A text cannot begin with this character.",
        "Put the text in quotes.",
    ),
    (
        "unknown escape character",
        "Inside double quotes a backslash begins an escape, and this one is not known.",
        r"Write `\\` for a backslash, or use single quotes.",
    ),
    ("exceeded maximum nesting depth", "This is nested far too deep.", "Close some brackets."),
    (
        "while scanning an anchor",
        "A text that begins with `&` names an anchor.",
        "Put the text in quotes.",
    ),
    (
        "while scanning an alias",
        "A text that begins with `*` stands for another value.",
        "Put the text in quotes.",
    ),
)


def syntax_finding(error: MarkedYAMLError, text: str, file: str) -> Finding:
    """The parser's complaint as a finding at its place."""
    mark = error.problem_mark or error.context_mark
    line = mark.line + 1 if mark else 1
    place = Place(file, line, mark.column + 1 if mark else 1)
    if (tab := _tab(text, line)) is not None:
        return _finding(
            "BOOK-06",
            Place(file, *tab),
            "There is a tab in the indent of this line.",
            "Use spaces only.",
        )
    complaint = f"{error.context or ''} {error.problem or ''}"
    for sign, says, allowed in _PLAIN_WORDS:
        if sign in complaint:
            return _finding("BOOK-05", place, f"{says}{_opened(error, line)}", allowed)
    says = f"This is not YAML: {' '.join(complaint.split())}."
    return _finding("BOOK-05", place, says, "The slip is here or just before.")


def _finding(code: str, place: Place, says: str, allowed: str) -> Finding:
    return Finding(code=code, grade="refuse", place=place, says=says, allowed=allowed)


def _opened(error: MarkedYAMLError, line: int) -> str:
    """Where the bracket, quote or group began, when that is another line."""
    mark = error.context_mark
    return f" It began in line {mark.line + 1}." if mark and mark.line + 1 != line else ""


def _tab(text: str, line: int) -> tuple[int, int] | None:
    """Line and column of a tab in an indent at the line, or up to two before it."""
    lines = re.split(r"\r\n|\r|\n", text)
    for number in range(line, max(0, line - 3), -1):
        if number <= len(lines):
            indent = re.match(r"\s*", lines[number - 1])
            if indent is not None and "\t" in indent[0]:
                return number, indent[0].index("\t") + 1
    return None
