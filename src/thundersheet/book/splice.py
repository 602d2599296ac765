"""Edits of a book's text: one value, key or item changed, every other byte as it was.

Pure: text in, text out. A path leads to a value by keys and by numbers of items counted from 0:
`("devices", "shutter", "bore")`, `("beats", 3, "at")`. After each edit the new text is read
again and held against the old one, so that an edit does what was asked or is refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from collections.abc import Mapping as Keys
from dataclasses import dataclass

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.book.nodes import Listing, Mapping, Node, Scalar

EXPLAINS = {
    "BOOK-70": "An edit names a place of the book that is not there, or is there already.",
    "BOOK-71": "An edit could not be made without changing something else, so nothing was changed. "
    "Make it by hand in an editor.",
}

Path = tuple[str | int, ...]
Written = str | Sequence[str] | Keys[str, "Written"]
"""What an edit writes: a text, a list of texts, or keys with such values."""


@dataclass(frozen=True, slots=True)
class Set:
    """Give the value at a path another text; the key must be there already."""

    path: Path
    value: Written


@dataclass(frozen=True, slots=True)
class Add:
    """Add a key to a group or an item to a list.

    The path ends with the new key, or with the number the item will have; -1: at the end.
    """

    path: Path
    value: Written


@dataclass(frozen=True, slots=True)
class Remove:
    """Take out a key with its value, or an item."""

    path: Path


@dataclass(frozen=True, slots=True)
class Put:
    """Set a value where its key is there, else add it, with the groups above that are missing."""

    path: Path
    value: Written


Plain = Set | Add | Remove
Edit = Plain | Put


def find(root: Node, path: Path) -> Node | None:
    """The node at a path; None when there is none."""
    node: Node | None = root
    for part in path:
        if isinstance(node, Mapping) and isinstance(part, str):
            node = node.get(part)
        elif isinstance(node, Listing) and isinstance(part, int) and 0 <= part < len(node.items):
            node = node.items[part]
        else:
            return None
    return node


def content(node: Node | None) -> object:
    """What a tree says, without where and how."""
    if isinstance(node, Mapping):
        return [(key.text, content(value)) for key, value in node.entries]
    if isinstance(node, Listing):
        return [content(item) for item in node.items]
    return None if node is None else node.text


def put(root: Node, edit: Put) -> Set | Add:
    """The plain edit that a Put comes to in a tree."""
    for length in range(len(edit.path), 0, -1):
        node = find(root, edit.path[:length])
        empty = isinstance(node, Scalar) and node.empty
        if node is None or (length < len(edit.path) and not empty):
            continue
        return Set(edit.path[:length], _nested(edit.path[length:], edit.value))
    there = next(n for n in range(len(edit.path), -1, -1) if find(root, edit.path[:n]) is not None)
    return Add(edit.path[: there + 1], _nested(edit.path[there + 1 :], edit.value))


def _nested(path: Path, value: Written) -> Written:
    for part in reversed(path):
        value = {str(part): value}
    return value


def spliced(text: str, root: Node, edit: Edit, read: Callable[[str], Node | None]) -> str:
    """The text after one edit; `read` makes a tree of a text (None when it is no YAML)."""
    if isinstance(edit, Put):
        edit = put(root, edit)
    wanted = _wanted(root, edit)
    for quote in (False, True):
        for new in _candidates(text, root, edit, quote):
            if content(read(new)) == wanted:
                return new
    says = f"{_named(edit.path)} cannot be changed without touching what stands around it."
    raise Refusal.because("BOOK-71", says, "Change it by hand in an editor.", root.place)


def _named(path: Path) -> str:
    return "`" + ": ".join(str(part) for part in path) + "`"


def _wanted(root: Node, edit: Plain) -> object:
    """What the tree has to say after the edit."""
    *_, last = edit.path
    parent = find(root, edit.path[:-1])
    there = find(root, edit.path) is not None
    adds = isinstance(edit, Add)
    if parent is None or (adds and there and isinstance(last, str)) or (not adds and not there):
        why = "is there already" if there and parent is not None else "is not in the book"
        place = parent.place if parent is not None else root.place
        raise Refusal.because("BOOK-70", f"{_named(edit.path)} {why}.", "", place)
    if not isinstance(parent, Mapping if isinstance(last, str) else Listing):
        says = f"{_named(edit.path)} cannot be added there."
        raise Refusal.because("BOOK-70", says, "", parent.place)
    return _changed(root, edit.path, edit)


def _changed(node: Node, path: Path, edit: Plain) -> object:
    head, *rest = path
    if isinstance(node, Mapping):
        entries = [(key.text, content(value)) for key, value in node.entries]
        if rest:
            return [
                (
                    key.text,
                    _changed(value, tuple(rest), edit) if key.text == head else content(value),
                )
                for key, value in node.entries
            ]
        if isinstance(edit, Add):
            return [*entries, (str(head), said(edit.value))]
        if isinstance(edit, Remove):
            return [each for each in entries if each[0] != head]
        return [(key, said(edit.value) if key == head else value) for key, value in entries]
    assert isinstance(node, Listing)
    assert isinstance(head, int)
    items = [content(item) for item in node.items]
    if rest:
        items[head] = _changed(node.items[head], tuple(rest), edit)
    elif isinstance(edit, Add):
        items.insert(len(items) if head < 0 else head, said(edit.value))
    elif isinstance(edit, Remove):
        del items[head]
    else:
        items[head] = said(edit.value)
    return items


def said(value: Written) -> object:
    """What a written value says, in the form of ``content``."""
    if isinstance(value, str):
        return value
    if isinstance(value, Keys):
        return [(key, said(each)) for key, each in value.items()]
    return list(value)


def _candidates(text: str, root: Node, edit: Plain, quote: bool) -> list[str]:
    """New texts that may do, the plainest first."""
    if isinstance(edit, Remove):
        return _without(text, root, edit.path)
    shown = written(edit.value, quote)
    if isinstance(edit, Set):
        node = find(root, edit.path)
        assert node is not None
        gap = " " if text[node.start - 1 : node.start] in (":", "-") else ""
        return [text[: node.start] + gap + shown + text[node.end :]]
    return _with(text, root, edit.path, shown)


def written(value: Written, quote: bool) -> str:
    """A value as YAML on one line; texts in quotes where plain ones would be misread."""
    if isinstance(value, str):
        return _quoted(value) if quote or not value else value
    if isinstance(value, Keys):
        inside = ", ".join(f"{key}: {written(each, quote)}" for key, each in value.items())
        return f"{{{inside}}}"
    return "[" + ", ".join(written(each, quote) for each in value) + "]"


_ESCAPED = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r", "\x85": "\\N"}


def _quoted(value: str) -> str:
    return '"' + "".join(_ESCAPED.get(letter, letter) for letter in value) + '"'


def _with(text: str, root: Node, path: Path, shown: str) -> list[str]:
    """A key or item put in beside the others, in the way that the others are written."""
    parent, last = find(root, path[:-1]), path[-1]
    if isinstance(parent, Mapping):
        line = f"{last}: {shown}"
        ends = [value.end for _, value in parent.entries] or [parent.start + 1]
        if parent.flow:
            return [_in_flow(text, ends[-1], bool(parent.entries), line)]
        first = parent.entries[0][0]
        return [_after_line(text, parent.end, _indent(text, first.start) + line)]
    assert isinstance(parent, Listing)
    assert isinstance(last, int)
    count = len(parent.items)
    at = count if last < 0 or last > count else last
    if parent.flow:
        if at == 0 and count:
            start = parent.items[0].start
            return [f"{text[:start]}{shown}, {text[start:]}"]
        end = parent.items[at - 1].end if at else parent.start + 1
        return [_in_flow(text, end, bool(at), shown)]
    indent = " " * (_column(text, parent.start))
    if at < count:
        start = _line_start(text, _dash(text, parent.items[at]))
        return [f"{text[:start]}{indent}- {shown}{_break(text)}{text[start:]}"]
    return [_after_line(text, parent.end, f"{indent}- {shown}")]


def _in_flow(text: str, end: int, others: bool, shown: str) -> str:
    return f"{text[:end]}{', ' if others else ''}{shown}{text[end:]}"


def _after_line(text: str, end: int, line: str) -> str:
    """The line put below the one in which `end` lies, comments at its end included."""
    match = re.compile(r"[^\r\n]*").match(text, max(end - 1, 0) if _ends_line(text, end) else end)
    assert match is not None
    stop = match.end()
    newline = _break(text)
    if stop == len(text):
        return f"{text}{newline}{line}{newline}"
    after = stop + (2 if text.startswith("\r\n", stop) else 1)
    return f"{text[:after]}{line}{newline}{text[after:]}"


def _ends_line(text: str, end: int) -> bool:
    """Whether a value's end lies behind its line end, as that of a block text does."""
    return end > 0 and text[end - 1] in "\r\n"


def _break(text: str) -> str:
    """The line end that the text uses."""
    match = re.search(r"\r\n|\r|\n", text)
    return match[0] if match else "\n"


def _line_start(text: str, index: int) -> int:
    return max(text.rfind("\n", 0, index), text.rfind("\r", 0, index)) + 1


def _column(text: str, index: int) -> int:
    return index - _line_start(text, index)


def _indent(text: str, index: int) -> str:
    """Blanks as wide as what stands before the index in its line: also behind `- `."""
    return " " * _column(text, index)


def _dash(text: str, item: Node) -> int:
    """Where the dash of a block list's item stands."""
    return text.rindex("-", 0, item.start)


def _without(text: str, root: Node, path: Path) -> list[str]:
    parent, last = find(root, path[:-1]), path[-1]
    if isinstance(parent, Mapping):
        spans = [(key.start, value.end) for key, value in parent.entries]
        at = next(i for i, (key, _) in enumerate(parent.entries) if key.text == last)
        starts = [start for start, _ in spans]
    else:
        assert isinstance(parent, Listing)
        assert isinstance(last, int)
        spans = [(item.start, item.end) for item in parent.items]
        at = last
        starts = [s for s, _ in spans] if parent.flow else [_dash(text, i) for i in parent.items]
    if parent.flow:
        return _without_in_flow(text, spans, at)
    return _without_lines(text, starts[at], max(spans[at][1], starts[at] + 1), parent, starts, at)


def _without_in_flow(text: str, spans: list[tuple[int, int]], at: int) -> list[str]:
    start, end = spans[at]
    if at + 1 < len(spans):
        return [text[:start] + text[spans[at + 1][0] :]]
    if at:
        return [text[: spans[at - 1][1]] + text[end:]]
    return [text[:start] + text[end:]]


def _without_lines(
    text: str, start: int, end: int, parent: Node, starts: list[int], at: int
) -> list[str]:
    line = _line_start(text, start)
    stop = end
    if not _ends_line(text, end):
        match = re.compile(r"[^\r\n]*(\r\n|\r|\n)?").match(text, end)
        assert match is not None
        stop = match.end()
    if text[line:start].strip():  # the first key of `- key: value`: the next one moves up
        return [text[:start] + text[starts[at + 1] :]] if at + 1 < len(starts) else []
    found = [text[:line] + text[stop:]]
    if len(starts) == 1 and not isinstance(parent, Scalar):
        empty = "[]" if isinstance(parent, Listing) else "{}"
        found = [f"{text[:line]}{text[line:start]}{empty}{_break(text)}{text[stop:]}"]
    return found


def place_of(root: Node, path: Path) -> Place:
    """Where the value at a path is written, or the nearest group above it."""
    for length in range(len(path), -1, -1):
        if (node := find(root, path[:length])) is not None:
            return node.place
    return root.place
