"""YAML text to our own nodes: what is written and where, nothing converted.

`no`, `12:30` and `1e3` stay the text they are (YAML 1.1 would make a flag, a number and a string
of them). Anchors and aliases work for whole values; tags, merge keys and several documents are
refused. Reading never runs deeper or wider than the limits below, whatever the text says.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import yaml

from thundersheet.base.finding import Finding
from thundersheet.base.source import Place
from thundersheet.book.syntax import syntax_finding

DEEPEST = 40
"""Levels of nesting; a book has about six."""
MOST_NODES = 500_000
"""Values in one file with every alias written out: 5,000 beats are some 60,000."""

EXPLAINS = {
    "BOOK-07": "Part of YAML that a book has no use for: tags (`!name`), merge keys (`<<`), "
    "several documents in one file, keys that are lists, or aliases that stand for themselves or "
    "grow without end. An anchor (`&valve`) and its alias (`*valve`) for one whole value are fine.",
    "BOOK-08": "The same key is written twice in one group. YAML programs would silently take "
    "one of the two; Thundersheet asks which is meant. Remove or rename one.",
    "BOOK-11": "The file holds no keys at all: it is empty, or everything in it is a comment, or "
    "it is a list or a bare text. `thundersheet new NAME` writes a book to start from.",
}


@dataclass(slots=True)
class Scalar:
    """One piece of text with its place; `start` and `end` are indices into the file's text."""

    text: str
    file: str
    line: int
    column: int
    start: int
    end: int
    plain: bool = True
    """Written without quotes."""
    cell: bool = False
    """A cell of a CSV file, where `;` parts the items of a list."""

    @property
    def place(self) -> Place:
        """Where it is written."""
        return Place(self.file, self.line, self.column)

    @property
    def empty(self) -> bool:
        """Whether a key stands here with nothing behind it."""
        return self.plain and not self.text


@dataclass(slots=True)
class Listing:
    """A list, in brackets (`flow`) or with dashes."""

    file: str
    line: int
    column: int
    start: int
    end: int = 0
    flow: bool = False
    items: list[Node] = field(default_factory=list)
    size: int = 1

    @property
    def place(self) -> Place:
        """Where it begins."""
        return Place(self.file, self.line, self.column)


@dataclass(slots=True)
class Mapping:
    """Keys with their values, in braces (`flow`) or by indent."""

    file: str
    line: int
    column: int
    start: int
    end: int = 0
    flow: bool = False
    entries: list[tuple[Scalar, Node]] = field(default_factory=list)
    size: int = 1

    @property
    def place(self) -> Place:
        """Where it begins."""
        return Place(self.file, self.line, self.column)

    def get(self, key: str) -> Node | None:
        """The value of a key; None when it is not there."""
        return next((value for name, value in self.entries if name.text == key), None)


Node = Scalar | Listing | Mapping


def nodes_of(text: str, file: str) -> tuple[Node | None, list[Finding]]:
    """The tree that a YAML text holds, and what is wrong with the text; no tree when it is."""
    builder = _Builder(file)
    try:
        for event in yaml.parse(text, Loader=yaml.CSafeLoader):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        builder.findings.append(syntax_finding(error, text, file))
    except _TooMuch:
        pass
    root = None if builder.findings else builder.root
    return root, builder.findings


class _TooMuch(Exception):
    """Reading has to stop here; the finding is already made."""


class _Builder:
    """Takes the parser's events one by one and never recurses."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.root: Node | None = None
        self.findings: list[Finding] = []
        self._open: list[Listing | Mapping] = []
        self._keys: list[Scalar | None] = []
        self._anchors: dict[str, Node] = {}
        self._anchored: list[str | None] = []
        self._documents = 0

    def take(self, event: Any) -> None:
        kind = type(event)
        if kind is yaml.ScalarEvent:
            self._scalar(event)
        elif kind is yaml.MappingStartEvent or kind is yaml.SequenceStartEvent:
            self._start(event, Mapping if kind is yaml.MappingStartEvent else Listing)
        elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
            self._finish(event)
        elif kind is yaml.AliasEvent:
            self._alias(event)
        elif kind is yaml.DocumentStartEvent:
            self._documents += 1
            if self._documents == 2:
                self._say("BOOK-07", event, "A second document begins here.", "Remove the `---`.")
                raise _TooMuch

    def _scalar(self, event: Any) -> None:
        start = event.start_mark
        node = Scalar(
            event.value,
            self.file,
            start.line + 1,
            start.column + 1,
            start.index,
            event.end_mark.index,
            event.style in (None, ""),  # an empty value has an empty style
        )
        self._check_tag(event)
        if event.anchor:
            self._anchors[event.anchor] = node
        self._put(node, event)

    def _start(self, event: Any, kind: type[Listing] | type[Mapping]) -> None:
        start = event.start_mark
        node = kind(
            self.file, start.line + 1, start.column + 1, start.index, flow=bool(event.flow_style)
        )
        self._check_tag(event)
        if len(self._open) >= DEEPEST:
            self._say("BOOK-07", event, f"This is nested more than {DEEPEST} deep.", "Close some.")
            raise _TooMuch
        if self._open and isinstance(self._open[-1], Mapping) and self._keys[-1] is None:
            self._say("BOOK-07", event, "A key must be plain text, not a list or group.", "")
            raise _TooMuch
        self._open.append(node)
        self._keys.append(None)
        self._anchored.append(event.anchor)

    def _finish(self, event: Any) -> None:
        node = self._open.pop()
        self._keys.pop()
        node.end = event.end_mark.index if node.flow else _last_end(node)
        if (anchor := self._anchored.pop()) is not None:
            self._anchors[anchor] = node
        self._put(node, event)

    def _alias(self, event: Any) -> None:
        target = self._anchors.get(event.anchor)
        if target is None:
            says = f"`*{event.anchor}` is an alias, but nothing is marked `&{event.anchor}` before."
            if event.anchor in self._anchored:
                says = f"`*{event.anchor}` stands inside of what it stands for."
            self._say("BOOK-07", event, says, "A text that begins with `*` needs quotes.")
            raise _TooMuch
        self._put(target, event)

    def _put(self, node: Node, event: Any) -> None:
        """Hang a finished node where it belongs."""
        if not self._open:
            self.root = node
            return
        parent = self._open[-1]
        parent.size += 1 if isinstance(node, Scalar) else node.size
        if parent.size > MOST_NODES:
            says = f"The book holds more than {MOST_NODES:,} values, its aliases written out."
            self._say("BOOK-07", event, says, "Write fewer aliases of aliases, or fewer beats.")
            raise _TooMuch
        if isinstance(parent, Listing):
            parent.items.append(node)
        elif (key := self._keys[-1]) is not None:
            parent.entries.append((key, node))
            self._keys[-1] = None
        else:
            self._key(node, event)

    def _key(self, node: Node, event: Any) -> None:
        if not isinstance(node, Scalar):
            self._say("BOOK-07", event, "A key must be plain text, not an alias of a group.", "")
            raise _TooMuch
        if node.text == "<<" and node.plain:
            says = "`<<` (merge) is not part of a book."
            self._say("BOOK-07", event, says, "Write the keys out, or alias a whole value.")
        self._keys[-1] = node

    def _check_tag(self, event: Any) -> None:
        if event.tag and event.tag != "!":
            tag = event.tag.replace("tag:yaml.org,2002:", "!!")
            says = f"`{tag}` is a tag, and a book has none."
            self._say("BOOK-07", event, says, "Put a text that begins with `!` in quotes.")

    def _say(self, code: str, event: Any, says: str, allowed: str) -> None:
        mark = event.start_mark
        place = Place(self.file, mark.line + 1, mark.column + 1)
        self.findings.append(
            Finding(code=code, grade="refuse", place=place, says=says, allowed=allowed)
        )


def _last_end(node: Listing | Mapping) -> int:
    """Where an indented group's text ends: with its last value, not with the blank lines after."""
    last: Node | None = None
    if isinstance(node, Mapping):
        last = node.entries[-1][1] if node.entries else None
    else:
        last = node.items[-1] if node.items else None
    return node.start if last is None else max(node.start, last.end)


def twice(node: Mapping) -> list[Finding]:
    """A finding for each key that stands twice in one group."""
    seen: dict[str, Scalar] = {}
    found = []
    for key, _ in node.entries:
        first = seen.setdefault(key.text, key)
        if first is not key:
            says = f"`{key.text}` is written twice here, first in line {first.line}."
            allowed = "Remove or rename one of them."
            found.append(
                Finding(code="BOOK-08", grade="refuse", place=key.place, says=says, allowed=allowed)
            )
    return found
