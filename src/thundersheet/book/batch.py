"""Many values set at once, as a recut does with every beat: the text is read twice, not twice each.

What cannot be done together (a key that is not there, a value that needs care) is answered with
None, and the edits are then made one by one, each with its own refusal.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from thundersheet.book.cells import rows_said, written_cell
from thundersheet.book.nodes import Listing, Mapping, Node, Scalar
from thundersheet.book.rows import table_of
from thundersheet.book.splice import Set, content, find, written

_PLAIN = re.compile(r"[\w.+-][\w .%/'+-]*(?::[\w .%/'+-]+)*")
"""Texts that no YAML misreads; others get quotes here."""

Piece = tuple[int, int, str]
"""From where to where, and what comes there."""


def texts_set(
    text: str, root: Node, edits: Sequence[Set], read: Callable[[str], Node | None]
) -> str | None:
    """A YAML text after edits that each set one text for another."""
    changes: dict[int, str] = {}
    pieces: list[Piece] = []
    for edit in edits:
        node = find(root, edit.path)
        if not isinstance(node, Scalar) or node.empty or not isinstance(edit.value, str):
            return None
        if id(node) in changes:
            return None
        changes[id(node)] = edit.value
        quote = not _PLAIN.fullmatch(edit.value) or edit.value[:2] in ("- ", "+ ")
        pieces.append((node.start, node.end, written(edit.value, quote)))
    met: list[int] = []
    wanted = _changed(root, changes, met)
    if len(met) != len(changes):  # an alias shows one of them twice
        return None
    new = _replaced(text, pieces)
    return new if content(read(new)) == wanted else None


def _changed(node: Node, changes: dict[int, str], met: list[int]) -> object:
    """What the tree says once the changes are made; the changed nodes as they are met."""
    if isinstance(node, Mapping):
        return [(key.text, _changed(value, changes, met)) for key, value in node.entries]
    if isinstance(node, Listing):
        return [_changed(item, changes, met) for item in node.items]
    if id(node) in changes:
        met.append(id(node))
    return changes.get(id(node), node.text)


def _replaced(text: str, pieces: list[Piece]) -> str:
    parts: list[str] = []
    at = 0
    for start, end, new in sorted(pieces):
        parts += [text[at:start], new]
        at = end
    return "".join([*parts, text[at:]])


def cells_set(text: str, file: str, edits: Sequence[Set]) -> str | None:
    """A CSV text after edits that each set one filled cell."""
    table = table_of(text, file)
    columns = {head.text: i for i, head in enumerate(table.header)}
    wanted = rows_said(text, file)
    pieces: list[Piece] = []
    for edit in edits:
        if len(edit.path) != 2 or not isinstance(edit.value, str) or not edit.value:
            return None
        row, key = edit.path
        if not isinstance(row, int) or not 0 <= row < len(table.rows) or key not in wanted[row]:
            return None
        cell = table.rows[row][columns[str(key)]]
        wanted[row][str(key)] = edit.value
        pieces.append((cell.start, cell.end, written_cell(edit.value, table.parting)))
    new = _replaced(text, pieces)
    return new if rows_said(new, file) == wanted else None
