"""Runs command lines in one process in which files must stay small.

In: JSON on standard input, `{"warm": [...], "lines": [...], "largest": bytes}`.
Out: for each line its exit code and what it printed, as JSON. `warm` runs before the world gets
hard, so that every module that a line needs is loaded by then.
"""

from __future__ import annotations

import contextlib
import io
import json
import resource
import sys

from thundersheet.cli import main


def run(words: list[str]) -> tuple[int, str, str]:
    """One command line: exit code, standard output, standard error."""
    said, complained = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(complained):
        code = main(words)
    return code, said.getvalue(), complained.getvalue()


def harden(wish: dict) -> None:
    """Give up the right to large files (setrlimit(2): then EFBIG)."""
    if wish.get("largest"):
        resource.setrlimit(resource.RLIMIT_FSIZE, (wish["largest"],) * 2)


if __name__ == "__main__":
    wish = json.load(sys.stdin)
    for words in wish.get("warm", ()):
        run(words)
    harden(wish)
    json.dump([run(words) for words in wish["lines"]], sys.stdout)
