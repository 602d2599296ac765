"""The outline of a book, seen before anything in it is read: its files together, its names."""

from __future__ import annotations

import re
from collections.abc import Callable

from thundersheet.book.nodes import Listing, Mapping, Node, Scalar
from thundersheet.book.reading import Known, Reading
from thundersheet.devices import kind_named, kind_names

FILES = (".csv", ".yaml", ".yml")
"""Ends of names that stand for another file of the book where a list or group is meant."""

Include = Callable[[Scalar], Node | None]
"""The tree of another file of the book; None when it could not be read, which has been said."""


def with_files(value: Node, include: Include) -> Node:
    """A group or list with the trees of other files put where their names stand."""
    if not isinstance(value, Listing):
        return _file(value, include)
    whole = Listing(value.file, value.line, value.column, value.start, value.end, value.flow)
    for part in (_file(item, include) for item in value.items):
        whole.items += part.items if isinstance(part, Listing) else [part]
    return whole


def _file(node: Node, include: Include) -> Node:
    if not isinstance(node, Scalar) or not node.text.lower().endswith(FILES):
        return node
    tree = include(node)
    return tree if tree is not None else Scalar("", node.file, node.line, node.column, 0, 0)


def learn_names(top: dict[str, Node], reading: Reading) -> None:
    """Which names the book gives, before anything that may use them is read."""
    kinds = frozenset(kind_names())
    for key, value in _entries(top.get("devices")):
        kind = value.get("kind") if isinstance(value, Mapping) else None
        if isinstance(kind, Scalar) and kind.text in kinds:
            reading.kinds.setdefault(kind.text, kind_named(kind.text))
        words = value.get("words") if isinstance(value, Mapping) else None
        reading.devices[key.text] = Known(
            reading.kinds.get(kind.text) if isinstance(kind, Scalar) else None,
            {word.text: own.text for word, own in _entries(words) if isinstance(own, Scalar)},
        )
    for key, value in _entries(top.get("boards")):
        count = value.get("terminals") if isinstance(value, Mapping) else None
        number = count.text if isinstance(count, Scalar) else ""
        reading.boards[key.text] = int(number) if re.fullmatch(r"\d{1,6}", number) else None
    air = top.get("air")
    parts = air.get("parts") if isinstance(air, Mapping) else None
    reading.air_parts = frozenset(key.text for key, _ in _entries(parts))
    reading.variants = frozenset(key.text for key, _ in _entries(top.get("variants")))
    beats = top.get("beats")
    names = (
        beat.get("name") for beat in (beats.items if isinstance(beats, Listing) else [])
        if isinstance(beat, Mapping)
    )  # fmt: skip
    reading.beats = frozenset(name.text for name in names if isinstance(name, Scalar))


def _entries(node: Node | None) -> list[tuple[Scalar, Node]]:
    return node.entries if isinstance(node, Mapping) else []
