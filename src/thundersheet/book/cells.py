"""Edits of a CSV text that belongs to a book: one cell or row changed, every other byte kept."""

from __future__ import annotations

import re
from collections.abc import Mapping as Keys

from thundersheet.base.finding import Refusal
from thundersheet.base.source import Place
from thundersheet.book.nodes import Mapping, Scalar
from thundersheet.book.rows import Table, rows_of, table_of
from thundersheet.book.splice import Add, Edit, Put, Remove, Set, Written


def cell_spliced(text: str, file: str, edit: Edit) -> str:
    """The text after an edit at (row,) or (row, key); rows count from 0 below the header."""
    table = table_of(text, file)
    row, *rest = edit.path
    if not isinstance(row, int) or len(rest) > 1:
        raise _no("BOOK-70", "A CSV file has rows, and in each a cell for a key.", file)
    if not rest:
        return _row(text, file, table, row, edit)
    if not 0 <= row < len(table.rows):
        raise _no("BOOK-70", f"There is no row {row} below the header.", file)
    value = "" if isinstance(edit, Remove) else _flat(edit.value)
    return _cell(text, file, table, row, str(rest[0]), value)


def _no(code: str, says: str, file: str, line: int = 0) -> Refusal:
    place = Place(file, line, 1 if line else 0)
    return Refusal.because(code, says, "Change it in the spreadsheet.", place)


def _flat(value: Written) -> str:
    """A value as the text of one cell; the items of a list parted by `;`."""
    if isinstance(value, str):
        return value
    if isinstance(value, Keys):
        raise Refusal.because("BOOK-71", "A group of keys does not fit into a cell.")
    return "; ".join(value)


def written_cell(value: str, parting: str) -> str:
    """A text as a cell, in quotes where it would otherwise end too soon."""
    risky = parting in value or value != value.strip() or re.search(r'["\r\n;]', value)
    return '"' + value.replace('"', '""') + '"' if risky else value


def _cell(text: str, file: str, table: Table, row: int, key: str, value: str) -> str:
    column = next((i for i, head in enumerate(table.header) if head.text == key), None)
    if column is None:
        raise _no("BOOK-70", f"No column is called `{key}`.", file)
    cells = table.rows[row]
    shown = written_cell(value, table.parting)
    if column < len(cells):
        old = cells[column]
        new = text[: old.start] + shown + text[old.end :]
    else:
        end = cells[-1].end
        new = text[:end] + table.parting * (column - len(cells) + 1) + shown + text[end:]
    wanted = rows_said(text, file)
    wanted[row] = {**wanted[row], key: value} if value else _but(wanted[row], key)
    if rows_said(new, file) != [each for each in wanted if each]:
        raise _no("BOOK-71", f"`{value}` cannot be written into this cell.", file, cells[0].line)
    return new


def _but(said: dict[str, str], key: str) -> dict[str, str]:
    return {name: text for name, text in said.items() if name != key}


def rows_said(text: str, file: str) -> list[dict[str, str]]:
    """What each row says, by key."""
    groups = (group for group in rows_of(text, file)[0].items if isinstance(group, Mapping))
    return [
        {key.text: cell.text for key, cell in group.entries if isinstance(cell, Scalar)}
        for group in groups
    ]


def _row(text: str, file: str, table: Table, row: int, edit: Edit) -> str:
    if isinstance(edit, Set | Put):
        raise _no("BOOK-70", "Set the cells of a row one by one.", file)
    if isinstance(edit, Remove):
        if not 0 <= row < len(table.rows):
            raise _no("BOOK-70", f"There is no row {row} below the header.", file)
        start, stop = _lines_of(text, table.rows[row])
        return text[:start] + text[stop:]
    return _added(text, file, table, row, edit)


def _added(text: str, file: str, table: Table, row: int, edit: Add) -> str:
    if not isinstance(edit.value, Keys):
        raise _no("BOOK-70", "A row needs a value for each of its keys.", file)
    heads = [head.text for head in table.header]
    if strange := [key for key in edit.value if key not in heads]:
        raise _no("BOOK-70", f"No column is called `{strange[0]}`.", file)
    values = [_flat(edit.value[head]) if head in edit.value else "" for head in heads]
    line = table.parting.join(written_cell(value, table.parting) for value in values)
    match = re.search(r"\r\n|\r|\n", text)
    newline = match[0] if match else "\n"
    count = len(table.rows)
    at = count if row < 0 else min(row, count)
    if at < count:
        start = _lines_of(text, table.rows[at])[0]
        new = f"{text[:start]}{line}{newline}{text[start:]}"
    else:
        stop = _lines_of(text, table.rows[-1] if table.rows else table.header)[1]
        gap = "" if text[:stop].endswith(("\n", "\r")) else newline
        new = f"{text[:stop]}{gap}{line}{newline}{text[stop:]}"
    wanted = rows_said(text, file)
    wanted.insert(at, {key: _flat(value) for key, value in edit.value.items() if value})
    if rows_said(new, file) != wanted:
        raise _no("BOOK-71", "This row cannot be written so that it reads the same.", file)
    return new


def _lines_of(text: str, row: list[Scalar]) -> tuple[int, int]:
    """Where the lines of a row begin and end, their line end included."""
    start = max(text.rfind("\n", 0, row[0].start), text.rfind("\r", 0, row[0].start)) + 1
    match = re.compile(r"[^\r\n]*(\r\n|\r|\n)?").match(text, row[-1].end)
    return start, match.end() if match else len(text)
