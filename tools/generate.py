"""Write again what is generated from the code: schemas and reference pages.

`python tools/generate.py` writes; `--check` only says which files are stale. A test calls
`generated()` and compares, so that a stale page never lands.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import re
import shlex
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import thundersheet
from thundersheet.base.codes import explained
from thundersheet.base.shape import Record, Spec, specs
from thundersheet.cli import VERBS
from thundersheet.cli.ends import help_of

ROOT = Path(__file__).resolve().parent.parent
MADE = "<!-- Made by tools/generate.py from the code; edit there. -->"


def generated() -> dict[Path, str]:
    """Every generated file with the text that it should have."""
    return {
        ROOT / "docs/reference/findings.md": findings_page(),
        ROOT / "docs/reference/book.md": book_page(),
        ROOT / "docs/reference/devices.md": devices_page(),
        ROOT / "docs/reference/commands.md": commands_page(),
        ROOT / "docs/reference/calc.md": calc_page(),
        ROOT / "README.md": with_output((ROOT / "README.md").read_text()),
        **schemas(),
    }


def schemas() -> dict[Path, str]:
    """The JSON Schemas of the book and of what the verbs print."""
    from thundersheet.book.schema import book_schema
    from thundersheet.cli.documents import DOCUMENTS

    found = {"book": book_schema(), **DOCUMENTS}
    return {
        ROOT / f"schema/{name}.json": json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
        for name, schema in found.items()
    }


def with_output(page: str) -> str:
    """A page whose `console` blocks hold what their commands print, run on its first book."""
    book = re.search(r"```yaml\n(.*?)```", page, re.DOTALL)
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        if book:
            Path("book.yaml").write_text(book[1])
        return re.sub(r"```console\n\$ (.*?)\n.*?```", _rerun, page, flags=re.DOTALL)


def _rerun(block: re.Match[str]) -> str:
    from thundersheet.cli import main as thundersheet

    said = io.StringIO()
    before = os.environ.get("COLUMNS")
    os.environ["COLUMNS"] = "80"
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            thundersheet(shlex.split(block[1])[1:])
    finally:
        os.environ.pop("COLUMNS")
        if before is not None:
            os.environ["COLUMNS"] = before
    return f"```console\n$ {block[1]}\n{said.getvalue().rstrip()}\n```"


def findings_page() -> str:
    """Each code with its paragraph, under a heading that its messages can point to."""
    lines = [
        "# Findings",
        "",
        MADE,
        "",
        "A finding is graded `refuse` (do not play it so), `warn` (look at it) or `note`. All are",
        "guidance, not a certificate; where local codes differ, local codes govern.",
    ]
    for code, text in explained(thundersheet).items():
        lines += ["", f"## {code}", "", *_wrapped(text)]
    return "\n".join(lines) + "\n"


def book_page() -> str:
    """What may be written in a book, record by record."""
    from thundersheet.model.book import Book

    lines = [
        "# The book",
        "",
        MADE,
        "",
        "YAML text. Values are written as builders write them, with units: `1-1/16 in`, `60 psi`,",
        "`0:12.480`. What is marked `~` is a starting value that the plan calls `estimated` until",
        "you write your own.",
    ]
    for path, record in _tree("", Book):
        lines += [
            "",
            f"## {path or 'the whole'}",
            "",
            *_wrapped(_first(record)),
            "",
            *_rows(record),
        ]
    return "\n".join(lines) + "\n"


def devices_page() -> str:
    """Every device kind: what it does, what is written, an example that the tests run."""
    from thundersheet.devices import all_kinds

    lines = [
        "# Devices",
        "",
        MADE,
        "",
        "Each kind is one file in `src/thundersheet/devices/`; how to add one is told in",
        "[docs/how-to/add-a-device-kind.md](../how-to/add-a-device-kind.md).",
    ]
    for kind in sorted(all_kinds(), key=lambda each: each.KIND):
        lines += ["", f"## {kind.KIND}", "", *_wrapped(_first(kind)), "", "```yaml"]
        lines += [kind.EXAMPLE.strip("\n"), "```", "", "Actions:", ""]
        for action in kind.ACTIONS:
            follows = " ".join(
                f"`{word}`" for word in ("to", "over", "for") if word in action.takes
            )
            more = f" May be followed by {follows}." if follows else ""
            lands = f"Lands: {', '.join(action.lands)}."
            lines += _wrapped(f"- `{action.name}`: {action.doc} {lands}{more}", "  ")
        lines += ["", *_rows(kind)]
    return "\n".join(lines) + "\n"


def commands_page() -> str:
    """The help of every verb, as it prints."""
    lines = ["# Commands", "", MADE, ""]
    for verb in VERBS:
        lines += [f"## {verb}", "", "```text", help_of(verb).rstrip("\n"), "```", ""]
    return "\n".join(lines)


def calc_page() -> str:
    """The quick sums: what goes in, what comes out, formula and source."""
    from thundersheet.calc import SUMS, sum_named

    lines = [
        "# Quick sums",
        "",
        MADE,
        "",
        "`thundersheet calc NAME key=value ...`; each is the very function that the plan uses.",
    ]
    for name in SUMS:
        each = sum_named(name)
        lines += ["", f"## {name}", "", *_wrapped(each.about), ""]
        formula, source = f"Formula: {each.formula}", f"Source: {each.source}"
        lines += [*_wrapped(formula), "", *_wrapped(source), "", *_rows(each.asks)]
    return "\n".join(lines) + "\n"


def _tree(path: str, record: type[Record]) -> Iterator[tuple[str, type[Record]]]:
    yield path, record
    for spec in specs(record):
        if spec.of is not None and spec.name != "devices":
            yield from _tree(f"{path}.{spec.key}".lstrip("."), spec.of)


def _rows(record: type[Record]) -> list[str]:
    head = ["| key | what it is | for example | left out |", "|---|---|---|---|"]
    return head + [_row(spec) for spec in specs(record)]


def _row(spec: Spec) -> str:
    left_out = "must be written" if spec.required else _default(spec)
    allowed = f" One of {', '.join(f'`{c}`' for c in spec.choices)}." if spec.choices else ""
    doc = (spec.doc + allowed).replace("|", "\\|")
    return f"| `{spec.key}` | {doc} | {f'`{spec.example}`' if spec.example else ''} | {left_out} |"


def _default(spec: Spec) -> str:
    from thundersheet.base.units import METRIC

    value = spec.default
    if value is None or value == () or value == "":
        return f"~ {spec.estimated}" if spec.estimated else ""
    if isinstance(value, Record):
        return "as below"
    if spec.form == "quantity":
        shown = METRIC.show(value, spec.dimension)
    elif spec.form == "flag":
        shown = "yes" if value else "no"
    elif spec.form == "window":
        shown = value.name
    else:
        shown = str(value)
    return f"{'~ ' if spec.estimated else ''}{shown}" + (
        f" ({spec.estimated})" if spec.estimated else ""
    )


def _first(record: type) -> str:
    return " ".join((record.__doc__ or "").split("\n\n")[0].split())


def _wrapped(text: str, indent: str = "") -> list[str]:
    import textwrap

    return textwrap.wrap(
        text, 96, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )


def main() -> int:
    """Write the files, or with --check name the stale ones."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    check = parser.parse_args().check
    texts = generated()
    stale = [p for p, text in texts.items() if not p.exists() or p.read_text() != text]
    for path in stale:
        print(("stale: " if check else "written: ") + str(path.relative_to(ROOT)))
        if not check:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(texts[path])
    return 1 if check and stale else 0


if __name__ == "__main__":
    sys.exit(main())
