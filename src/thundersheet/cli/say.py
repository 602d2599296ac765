"""What the verbs print: findings, tables, JSON documents, progress on long work."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from typing import Any

from thundersheet.base.finding import GRADES, Finding, worst

Progress = Callable[[float], None]
"""Takes the share done, 0 to 1."""


class Written(tuple[str, ...]):
    """Records that are JSON already: for lists so long that `json` would take the longest."""

    __slots__ = ()


def out(text: str = "") -> None:
    """A line for the user."""
    sys.stdout.write(text + "\n")


def put_json(document: Any) -> None:
    """One JSON document on standard output, and nothing else there.

    Long lists of records are written one record a line: indenting all of them takes longer than
    listening to ten minutes of tones.
    """
    sys.stdout.write(_laid_out(document) + "\n")


def _laid_out(value: Any, margin: str = "") -> str:
    """Dicts and lists of dicts opened up, all that is deeper in one line."""
    inner = margin + "  "
    if isinstance(value, dict) and value:
        rows = [f"{json.dumps(str(key))}: {_laid_out(part, inner)}" for key, part in value.items()]
        return "{\n" + ",\n".join(inner + row for row in rows) + f"\n{margin}}}"
    if isinstance(value, list | tuple) and value and isinstance(value[0], dict):
        value = Written(json.dumps(part, ensure_ascii=False, allow_nan=False) for part in value)
    if isinstance(value, Written) and value:
        return f"[\n{inner}" + f",\n{inner}".join(value) + f"\n{margin}]"
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def say_findings(findings: Sequence[Finding]) -> None:
    """The findings, gravest first, then in the order of the file."""
    for grade in GRADES:
        for finding in sorted((f for f in findings if f.grade == grade), key=lambda f: f.place):
            out(wrapped(f"{grade}: {finding}"))


def wrapped(text: str) -> str:
    """The text broken at the terminal's width, what follows a first line set in."""
    return "\n".join(
        part
        for line in text.split("\n")
        for part in textwrap.wrap(
            line,
            width(),
            subsequent_indent=" " * (6 if line.startswith("    ") else 4),
            break_long_words=False,
            break_on_hyphens=False,
        )
    )


def width() -> int:
    """Columns to fill: the terminal's, at most 100, as longer lines are hard to read."""
    return min(100, shutil.get_terminal_size((100, 24)).columns)


def count_findings(findings: Sequence[Finding]) -> str:
    """`2 refuse, 1 warn`; `nothing to say` when there are none."""
    counts = [(grade, sum(f.grade == grade for f in findings)) for grade in GRADES]
    found = ", ".join(f"{count} {grade}" for grade, count in counts if count)
    return found or "nothing to say"


def exit_code(findings: Sequence[Finding]) -> int:
    """1 when a finding refuses, else 0."""
    return 1 if worst(findings) == "refuse" else 0


def table(head: Sequence[str], rows: Iterable[Sequence[str]], right: Sequence[int] = ()) -> str:
    """A plain-text table; the columns in `right` stand flush right."""
    lines = [list(head), *(list(row) for row in rows)]
    widths = [max(len(line[i]) for line in lines) for i in range(len(head))]

    def put(line: Sequence[str]) -> str:
        cells = (
            cell.rjust(width) if i in right else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        )
        return "  ".join(cells).rstrip()

    return "\n".join(put(line) for line in lines)


def listed(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table whose last column is text, broken at the terminal's width within its column."""
    start = len(table(head, [(*row[:-1], "|") for row in rows]).split("\n")[-1]) - 1
    lines: list[Sequence[str]] = []
    for row in rows:
        first, *more = textwrap.wrap(row[-1], max(20, width() - start)) or [""]
        lines.append((*row[:-1], first))
        lines += [(*("" for _ in row[:-1]), line) for line in more]
    return table(head, lines)


@contextmanager
def progress(what: str) -> Iterator[Progress]:
    """A progress bar on standard error while long work runs; silent where that is no terminal."""
    if not sys.stderr.isatty():
        yield lambda _share: None
        return
    from rich.console import Console
    from rich.progress import Progress as Bar

    with Bar(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=1.0)
        yield lambda share: bar.update(task, completed=share)


@contextmanager
def late_progress(what: str) -> Iterator[Progress]:
    """The same, but begun only when it is first told anything: most work is over before."""
    with ExitStack() as stack:
        told: list[Progress] = []

        def tell(share: float) -> None:
            if not told:
                told.append(stack.enter_context(progress(what)))
            told[0](share)

        yield tell
