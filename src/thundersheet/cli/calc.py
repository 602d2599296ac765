"""`calc`: the quick sums of the bench, each the very function that the plan uses."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thundersheet.base.finding import Refusal
from thundersheet.base.shape import specs
from thundersheet.base.unit_table import DIMENSIONS
from thundersheet.base.units import UnitStyle
from thundersheet.cli.say import listed, out, put_json, table, wrapped

if TYPE_CHECKING:
    from thundersheet.base.shape import Record
    from thundersheet.calc import Result, Sum

ABOUT = """\
The quick sums people do at the bench, each the very function that the plan and the paper use,
with its formula, source and cautions. Without a name: lists them. With a name alone: its inputs.

Values carry units as in the book (quote those with spaces, or leave the space out: 60psi); a
bare number counts in SI."""
EXAMPLE = """\
  thundersheet calc                               # which sums there are
  thundersheet calc stroke                        # what it takes
  thundersheet calc cylinder bore=1.5in pressure=80psi
  thundersheet calc stroke --input case.json --json"""

FORM = 'Write for example {"bore": "25 mm", "pressure": "4 bar"}.'


def arguments(parser: argparse.ArgumentParser) -> None:
    """The sum, its inputs, a file of inputs, and how to print."""
    parser.add_argument("name", nargs="?", help="which sum")
    parser.add_argument("inputs", nargs="*", metavar="key=value", help="its inputs")
    parser.add_argument("--input", metavar="FILE", help="a JSON object with inputs")
    parser.add_argument("--json", action="store_true", help="print one JSON document instead")


def run(args: argparse.Namespace) -> int:
    """Print the answer, or what there is to ask."""
    from thundersheet.calc import SUMS, sum_named

    if args.name is None:
        out(listed(("sum", "what for"), [(name, sum_named(name).about) for name in SUMS]))
        return 0
    if args.name not in SUMS:
        raise _no_such(args.name, SUMS)
    found = sum_named(args.name)
    given = _from_file(args.input) | _typed(args.inputs)
    if not given:
        out(_inputs_of(args.name, found))
        return 0
    return _answer(found, given, as_json=args.json)


def _answer(found: Sum, given: dict[str, Any], *, as_json: bool) -> int:
    from thundersheet.calc._read import fill, style_of

    record = fill(found.asks, given, found.aliases)
    try:
        results = found.answer(record)
    except ValueError as error:
        raise Refusal.because("CALC-04", f"{error}.") from error
    if as_json:
        put_json(_document(found, record, results))
    else:
        _say(found, results, style_of(record))
    return 0


def _document(found: Sum, record: Record, results: tuple[Result, ...]) -> dict[str, Any]:
    """The document of design section 4."""
    return {
        "inputs": {spec.key: _input(record, spec.name) for spec in specs(type(record))},
        "results": {each.name: {"value": each.value, "unit": each.unit} for each in results},
        "formula": found.formula,
        "source": found.source,
        "cautions": list(found.cautions),
    }


def _input(record: Record, name: str) -> dict[str, Any]:
    spec = next(spec for spec in specs(type(record)) if spec.name == name)
    value = getattr(record, name)
    if spec.form == "span":
        value, unit = (None if value is None else value.s), "s"
    else:
        unit = DIMENSIONS[spec.dimension].si if spec.dimension else ""
    return {"value": value, "unit": unit, "given": record.origin.texts.get(name)}


def _say(found: Sum, results: tuple[Result, ...], style: UnitStyle) -> None:
    out(table(("", ""), ((each.name, _shown(each, style)) for each in results)).lstrip("\n"))
    out()
    for label, text in (("formula", found.formula), ("source", found.source)):
        out(wrapped(f"{label}: {text}"))
    for caution in found.cautions:
        out(wrapped(f"caution: {caution}"))


def _shown(result: Result, style: UnitStyle) -> str:
    if result.value is None:
        return "-"
    if isinstance(result.value, float):
        if result.dimension:
            return style.show(result.value, result.dimension)
        if result.unit == "s":
            return f"{result.value * 1000:.2f} ms"
        return f"{result.value:.6g} {result.unit}".strip()
    return f"{result.value} {result.unit}".strip()


def _inputs_of(name: str, found: Sum) -> str:
    rows = [
        (
            spec.key.replace(" ", "-"),
            DIMENSIONS[spec.dimension].si if spec.dimension else spec.form,
            "needed" if spec.required else "",
            spec.doc + (f" One of: {', '.join(spec.choices)}." if spec.choices else ""),
        )
        for spec in specs(found.asks)
    ]
    return (
        f"{wrapped(found.about)}\n\n{listed(('key', 'SI unit', '', 'what it is'), rows)}\n\n"
        f"example:\n  thundersheet calc {name} {found.example}"
    )


def _typed(words: list[str]) -> dict[str, Any]:
    bad = [word for word in words if "=" not in word]
    if bad:
        raise Refusal.because(
            "CALC-01", f"`{bad[0]}` is no key=value.", "Write for example `bore=25mm`."
        )
    return dict(word.split("=", 1) for word in words)


def _from_file(name: str | None) -> dict[str, Any]:
    if name is None:
        return {}
    try:
        found = json.loads(Path(name).read_text(encoding="utf-8"))
    except OSError as error:
        raise Refusal.because("CALC-06", f"{name} cannot be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise Refusal.because("CALC-06", f"{name} is no text.", FORM) from error
    except (ValueError, RecursionError) as error:
        raise Refusal.because("CALC-06", f"{name} is no JSON: {_where(error)}.", FORM) from error
    if not isinstance(found, dict):
        raise Refusal.because("CALC-06", f"{name} holds no object of keys and values.", FORM)
    return found


def _where(error: ValueError | RecursionError) -> str:
    if isinstance(error, json.JSONDecodeError):
        return f"line {error.lineno}, column {error.colno}: {error.msg.lower()}"
    return "it is nested too deeply or holds too long a number"


def _no_such(name: str, names: tuple[str, ...]) -> Refusal:
    import difflib

    near = difflib.get_close_matches(name, names, n=1)
    hint = f" Did you mean `{near[0]}`?" if near else ""
    return Refusal.because(
        "CALC-05", f"There is no sum `{name}`.{hint}", f"There are: {', '.join(names)}."
    )
