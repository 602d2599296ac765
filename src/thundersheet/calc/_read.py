"""The inputs of a sum: keys and values as typed or as JSON gives them, to its record.

A value with a unit is read as in the book; a bare number counts in SI, as programs write it.
Everything that is wrong is said at once.
"""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Mapping
from typing import Any

from thundersheet.base.finding import Finding, Refusal
from thundersheet.base.read_time import read_span
from thundersheet.base.shape import Record, Spec, specs
from thundersheet.base.source import Origin, Place
from thundersheet.base.time import Span
from thundersheet.base.unit_table import DIMENSIONS
from thundersheet.base.units import UnitError, UnitStyle, read_quantity, unit_of

EXPLAINS = {
    "CALC-01": "A quick sum was given a key that it does not take. `thundersheet calc NAME --help` "
    "lists them.",
    "CALC-02": "A value of a quick sum could not be read: a number with a unit of the right kind, "
    "or a bare number in SI.",
    "CALC-03": "A quick sum misses an input that it has no starting value for.",
    "CALC-04": "The inputs of a quick sum contradict each other or describe nothing that can be.",
    "CALC-05": "There is no quick sum of this name.",
    "CALC-06": "A file of inputs for a quick sum could not be read: it must be a JSON object.",
}
PLACE = Place("calc")
YES, NO = ("yes", "true", "on", "1"), ("no", "false", "off", "0")


def fill(asks: type[Record], given: Mapping[str, Any], aliases: Mapping[str, str]) -> Record:
    """The record with what was given, the rest at its starting values (Refusal with all errors)."""
    by_key = {spec.key: spec for spec in specs(asks)}
    values: dict[str, Any] = {}
    texts: dict[str, str] = {}
    wrong: list[Finding] = []
    by_given = {key: _key(key, value, by_key, aliases) for key, value in given.items()}
    for key, value in given.items():
        spec = by_key.get(by_given[key])
        if spec is None:
            wrong.append(_unknown(key, by_key))
            continue
        try:
            values[spec.name] = read_value(spec, value)
            texts[spec.name] = str(value)
        except ValueError as error:
            wrong.append(_finding("CALC-02", f"{spec.key}: {error}"))
    named = set(by_given.values())
    missing = [s.key for s in by_key.values() if s.required and s.key not in named]
    if missing:
        wrong.append(_finding("CALC-03", f"missing: {', '.join(missing)}.", _help(asks)))
    if wrong:
        raise Refusal(*wrong)
    places = dict.fromkeys(values, PLACE)
    return asks(origin=Origin(PLACE, places, texts), **values)


def style_of(record: Record) -> UnitStyle:
    """The units that the values were given in, so that the answers come back in them."""
    by_name = {spec.name: spec for spec in specs(type(record))}
    units = {}
    for name, text in record.origin.texts.items():
        spec = by_name[name]
        if spec.form == "quantity" and not is_bare(text):
            units[spec.dimension] = unit_of(text, spec.dimension)
    return UnitStyle.of(units)


def read_value(spec: Spec, value: Any) -> Any:
    """One value by its spec (ValueError with what is wrong and what would be right)."""
    text = (json.dumps(value) if isinstance(value, (list, dict)) else str(value)).strip()
    match spec.form:
        case "quantity":
            number = float(text) if is_bare(text) else read_quantity(text, spec.dimension)
            return _within(spec, number, text)
        case "number":
            return _within(spec, number_in(text), text)
        case "whole":
            return int(_within(spec, float(_whole(text)), text))
        case "span":
            return Span.seconds(float(text)) if is_bare(text) else read_span(text)
        case "flag":
            return _flag(text, value)
        case "choice":
            return _choice(text, spec)
        case _:
            return text


def is_bare(text: str) -> bool:
    """Whether a text is a number alone: it counts in SI."""
    try:
        float(text)
    except ValueError:
        return False
    return True


def number_in(text: object) -> float:
    """The plain number that a value is (UnitError, a ValueError, when it is none)."""
    try:
        return float(str(text))
    except ValueError:
        raise UnitError(f"`{text}` is no number.") from None


def _whole(text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise UnitError(f"`{text}` is no whole number.") from None


def _within(spec: Spec, number: float, text: str) -> float:
    low, high = spec.low, spec.high
    if (
        number != number
        or (low is not None and number < low)
        or (high is not None and number > high)
        or abs(number) == math.inf
    ):
        unit = DIMENSIONS[spec.dimension].si if spec.dimension else ""
        unit = f" {unit}" if unit else ""
        bounds = f"{low or 0:g}{unit} " + ("or more" if high is None else f"to {high:g}{unit}")
        raise UnitError(f"`{text}` is out of range.", f"Allowed: {bounds}.")
    return number


def _flag(text: str, value: Any) -> bool:
    if isinstance(value, bool):
        return value
    if text.lower() in YES or text.lower() in NO:
        return text.lower() in YES
    raise UnitError(f"`{text}` is neither yes nor no.")


def _choice(text: str, spec: Spec) -> str:
    if text in spec.choices:
        return text
    near = difflib.get_close_matches(text, spec.choices, n=1)
    hint = f" Did you mean `{near[0]}`?" if near else ""
    raise UnitError(f"`{text}` is none of {', '.join(spec.choices)}.{hint}")


def _key(key: str, value: Any, by_key: Mapping[str, Spec], aliases: Mapping[str, str]) -> str:
    """The key that is meant: a list given for `drive valve` is its `drive valve parts`."""
    plain = _plain(aliases.get(key, key))
    parts = f"{plain} parts"
    return parts if isinstance(value, (list, dict)) and parts in by_key else plain


def _plain(key: str) -> str:
    return key.replace("-", " ").replace("_", " ").strip()


def _unknown(key: str, by_key: Mapping[str, Spec]) -> Finding:
    near = difflib.get_close_matches(_plain(key), by_key, n=1)
    hint = f" Did you mean `{near[0].replace(' ', '-')}`?" if near else ""
    return _finding("CALC-01", f"there is no input `{key}`.{hint}")


def _finding(code: str, says: str, allowed: str = "") -> Finding:
    return Finding(code=code, grade="refuse", place=PLACE, says=says, allowed=allowed)


def _help(asks: type[Record]) -> str:
    needed = (f"{s.key.replace(' ', '-')}={s.example or '...'}" for s in specs(asks) if s.required)
    return f"For example: {' '.join(needed)}"
