"""What the verbs print: findings, tables, JSON documents, progress on long work."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from thundersheet.base.finding import GRADES, Finding, worst

Progress = Callable[[float], None]
"""Takes the share done, 0 to 1."""


def out(text: str = "") -> None:
    """A line for the user."""
    sys.stdout.write(text + "\n")


def put_json(document: Any) -> None:
    """One JSON document on standard output, and nothing else there."""
    json.dump(document, sys.stdout, indent=2, ensure_ascii=False, allow_nan=False)
    sys.stdout.write("\n")


def say_findings(findings: Sequence[Finding]) -> None:
    """The findings, gravest first, then in the order of the file."""
    for grade in GRADES:
        for finding in sorted((f for f in findings if f.grade == grade), key=lambda f: f.place):
            out(wrapped(f"{grade}: {finding}"))


def wrapped(text: str) -> str:
    """The text broken at the terminal's width, what follows a first line set in.

    Widths beyond 100 are not used: long lines are hard to read in the dark.
    """
    width = min(100, shutil.get_terminal_size((100, 24)).columns)
    return "\n".join(
        part
        for line in text.split("\n")
        for part in textwrap.wrap(
            line,
            width,
            subsequent_indent=" " * (6 if line.startswith("    ") else 4),
            break_long_words=False,
            break_on_hyphens=False,
        )
    )


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
