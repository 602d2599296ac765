"""CSV as spreadsheets write it to the same nodes as YAML: each row a group, the header its keys.

Comma, semicolon or tab between cells; quotes; a byte order mark; a decimal comma where another
sign parts the cells. An empty cell is a key that is not written.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from thundersheet.base.finding import Finding
from thundersheet.base.source import Place
from thundersheet.book.nodes import Listing, Mapping, Scalar

EXPLAINS = {
    "BOOK-10": "A CSV file has its keys in the first row, one for each column, and one beat or "
    "item in each row below. A row may be shorter, never longer; a quote that is opened is closed.",
}

_COMMA_NUMBER = re.compile(r"(?<![\d,])([+-]?(?:\d+:)*\d+),(\d+)(?![\d,])")
_SEP_LINE = re.compile(r"sep=(.)(?:\r\n|\r|\n)", re.IGNORECASE)


@dataclass(slots=True)
class Table:
    """The cells of a CSV text as they stand."""

    parting: str
    """What stands between two cells."""
    header: list[Scalar] = field(default_factory=list)
    rows: list[list[Scalar]] = field(default_factory=list)
    """Rows with anything in them."""
    findings: list[Finding] = field(default_factory=list)


def table_of(text: str, file: str) -> Table:
    """The cells of a CSV text, empty rows left out."""
    said = _SEP_LINE.match(text)
    table = Table(said[1] if said else _parting(text))
    start, line = (said.end(), 2) if said else (0, 1)
    rows = _rows(text, start, line, table.parting, file, table.findings)
    filled = (row for row in rows if any(cell.text for cell in row))
    table.header = next(filled, [])
    table.rows = list(filled)
    return table


def rows_of(text: str, file: str) -> tuple[Listing, list[Finding]]:
    """The rows of a CSV text as a list of groups, and what is wrong with it."""
    cells = table_of(text, file)
    header, parting = cells.header, cells.parting
    findings = cells.findings + _header_findings(header)
    table = Listing(file, 1, 1, 0, len(text))
    for row in cells.rows:
        for extra in row[len(header) :]:
            if extra.text:
                says = f"`{extra.text[:40]}` stands in a column that has no key at its head."
                findings.append(_finding(extra.place, says, "Is there a comma without quotes?"))
        table.items.append(_group(header, row, parting))
    return table, findings


def _group(header: list[Scalar], row: list[Scalar], parting: str) -> Mapping:
    first, last = row[0], row[-1]
    group = Mapping(first.file, first.line, first.column, first.start, last.end)
    for key, cell in zip(header, row, strict=False):
        if cell.text and key.text:
            if parting != ",":
                cell.text = _COMMA_NUMBER.sub(_point, cell.text)
            group.entries.append((key, cell))
    group.size += 2 * len(group.entries)
    return group


def _point(match: re.Match[str]) -> str:
    """A decimal comma as a point, unless the comma may group thousands: `1,500`."""
    whole, part = match.groups()
    grouping = len(part) == 3 and ":" not in whole and whole.lstrip("+-") != "0"
    return match[0] if grouping else f"{whole}.{part}"


def _header_findings(header: list[Scalar]) -> list[Finding]:
    seen: set[str] = set()
    found = []
    for key in header:
        if key.text and key.text in seen:
            says = f"Two columns are called `{key.text}`."
            found.append(_finding(key.place, says, "Rename or remove one of them."))
        seen.add(key.text)
    return found


def _parting(text: str) -> str:
    """What parts the cells: the sign that the first filled line has most of, outside quotes."""
    line = next((each for each in re.split(r"\r\n|\r|\n", text) if each.strip(";,\t ")), "")
    bare = re.sub(r'"[^"]*"', "", line)
    return max((";", "\t", ","), key=bare.count) if bare else ","


def _rows(
    text: str, start: int, line: int, parting: str, file: str, findings: list[Finding]
) -> Iterator[list[Scalar]]:
    cell = re.compile(
        rf'[ ]*"((?:[^"]|"")*)"[ ]*(?={re.escape(parting)}|\r|\n|\Z)|([^{re.escape(parting)}\r\n]*)'
    )
    at, line_start = start, start
    row: list[Scalar] = []
    while at < len(text):
        match = cell.match(text, at)
        assert match is not None  # the second branch matches an empty cell too
        quoted = match[1] is not None
        words = match[1].replace('""', '"') if quoted else match[2].strip()
        column = at - line_start + 1
        node = Scalar(words, file, line, column, at, match.end(), plain=not quoted, cell=True)
        if not quoted and words.startswith('"'):
            says = "A quote is opened here, and not closed before the cell ends."
            findings.append(_finding(node.place, says, 'Write `""` for a quote inside of quotes.'))
        row.append(node)
        if quoted and (breaks := len(re.findall(r"\r\n|\r|\n", match[0]))):
            line += breaks
            line_start = (
                max(text.rfind("\n", at, match.end()), text.rfind("\r", at, match.end())) + 1
            )
        at = match.end()
        if text.startswith(parting, at):
            at += 1
            if at < len(text) and text[at] not in "\r\n":
                continue
            row.append(Scalar("", file, line, at - line_start + 1, at, at, cell=True))
        if text.startswith("\r\n", at):
            at += 2
        elif at < len(text):
            at += 1
        yield row
        row, line, line_start = [], line + 1, at


def _finding(place: Place, says: str, allowed: str) -> Finding:
    return Finding(code="BOOK-10", grade="refuse", place=place, says=says, allowed=allowed)
