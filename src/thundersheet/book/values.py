"""One written value to the value of its field, or a finding that says what it should be."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Iterator
from typing import Any, Final

from thundersheet.base.read_time import (
    read_clock,
    read_span,
    read_stretch,
    read_time,
    read_window,
)
from thundersheet.base.shape import Spec
from thundersheet.base.source import Place
from thundersheet.base.time import Span, Time
from thundersheet.base.units import UnitError, UnitStyle, quantity_in
from thundersheet.book.names import check_name
from thundersheet.book.nodes import Listing, Mapping, Node, Scalar
from thundersheet.book.reading import Reading, hint
from thundersheet.model.show import WINDOWS, Window

EXPLAINS = {
    "BOOK-22": "A value has the wrong shape: a list where one text is meant, a text where a group "
    "of keys is meant, and so on. The message shows how it is written.",
    "BOOK-30": "A value cannot be read as what it has to be: a quantity with an unknown unit or of "
    "another dimension, a number with letters in it, a time that no clock shows. The message names "
    "the units that fit.",
    "BOOK-31": "A value can be read but lies outside of what is sensible for it: often a slip of "
    "the unit or of the decimal point.",
    "BOOK-32": "Only a few words are possible here, and this is none of them.",
    "BOOK-33": "A key stands there with nothing behind it. Write its value, or remove the key: "
    "then the value that the program assumes holds.",
}


class Wrong:
    """The type of the mark for a value that could not be read; its finding is made."""


WRONG: Final = Wrong()

_DECIMAL = re.compile(r"[+-]?(?:\d{1,15}(?:\.\d{0,15})?|\.\d{1,15})(?:[eE][+-]?\d{1,2})?")
_RATIO = re.compile(r"([+-]?\d{1,9})/(\d{1,9})")
_WHOLE = re.compile(r"[+-]?\d{1,15}")
_FLAGS = {"yes": True, "no": False, "true": True, "false": False, "on": True, "off": False}


def plain_value(spec: Spec, node: Node, reading: Reading) -> Any:
    """The value of any field that holds no records; WRONG when it is none."""
    if spec.form in _LISTS:
        return _LISTS[spec.form](spec, node, reading)
    if not isinstance(node, Scalar):
        shape = "a list" if isinstance(node, Listing) else "a group of keys"
        reading.say("BOOK-22", node.place, f"`{spec.key}` is {shape} here.", _one(spec))
        return WRONG
    try:
        value = _READ[spec.form](spec, node, reading)
    except UnitError as error:
        if not _unjudged(node, reading):
            reading.say("BOOK-30", node.place, f"`{spec.key}`: {error.says}", error.allowed)
        return WRONG
    return value


def _unjudged(node: Scalar, reading: Reading) -> bool:
    """Whether this counts frames or bars while the show's rate or tempo is itself in error."""
    return not reading.ruler_known and node.text.lstrip().lower().startswith(("frame", "fr", "bar"))


def _one(spec: Spec) -> str:
    return f"Write one value, as in `{spec.key}: {spec.example}`." if spec.example else "Write one."


def _quantity(spec: Spec, node: Scalar, reading: Reading) -> Any:
    found = quantity_in(node.text, spec.dimension)
    reading.units[spec.dimension, found.unit] += 1
    style = UnitStyle({spec.dimension: found.unit})
    shown = functools.partial(style.show, dimension=spec.dimension)
    return _ranged(spec, found.value, node, reading, shown)


def decimal(text: str) -> float:
    """A plain number, `0.85` or `3/4`, without a unit."""
    word = text.strip().replace("−", "-")
    if (ratio := _RATIO.fullmatch(word)) is not None and int(ratio[2]):
        return int(ratio[1]) / int(ratio[2])
    if _DECIMAL.fullmatch(word):
        return float(word)
    if re.fullmatch(r"[+-]?\d+,\d+", word):
        point = word.replace(",", ".")
        raise UnitError(f"`{text}` has a decimal comma.", f"Write a point: `{point}`.")
    if (lead := _DECIMAL.match(word)) is not None and not word[lead.end() :][:1].isdigit():
        raise UnitError(f"`{text}` is more than a plain number.", "Write the number alone.")
    raise UnitError(f"`{text}` is no number.", "Write a plain number such as `1.5`.")


def _number(spec: Spec, node: Scalar, reading: Reading) -> Any:
    return _ranged(spec, decimal(node.text), node, reading, lambda value: f"{value:g}")


def _whole(spec: Spec, node: Scalar, reading: Reading) -> Any:
    word = node.text.strip()
    if not _WHOLE.fullmatch(word):
        raise UnitError(f"`{node.text}` is no whole number.", "Write a number such as `4`.")
    return _ranged(spec, int(word), node, reading, lambda value: f"{value:g}")


def _text(spec: Spec, node: Scalar, reading: Reading) -> Any:
    if spec.names and not check_name(spec.names, node.text, node.place, spec.key, reading):
        return WRONG
    return node.text


def _choice(spec: Spec, node: Scalar, reading: Reading) -> Any:
    if node.text in spec.choices:
        return node.text
    says = f"`{spec.key}` cannot be `{node.text}`."
    reading.say("BOOK-32", node.place, says, hint(node.text, spec.choices))
    return WRONG


def _flag(spec: Spec, node: Scalar, reading: Reading) -> Any:
    if (value := _FLAGS.get(node.text.strip().lower())) is not None:
        return value
    says = f"`{spec.key}` is a question, and `{node.text}` no answer to it."
    reading.say("BOOK-32", node.place, says, "Write `yes` or `no`.")
    return WRONG


def _span(spec: Spec, node: Scalar, reading: Reading) -> Any:
    span = read_span(node.text)
    inside = _ranged(spec, span.s, node, reading, lambda value: str(Span.seconds(value)))
    return span if inside is not WRONG else WRONG


def _time(spec: Spec, node: Scalar, reading: Reading) -> Any:
    time = read_time(node.text, reading.ruler)
    inside = _ranged(spec, time.s, node, reading, lambda value: str(Time.seconds(value)))
    return time if inside is not WRONG else WRONG


def _window(spec: Spec, node: Scalar, reading: Reading) -> Any:
    word = node.text.strip()
    if (known := WINDOWS.get(word.lower())) is not None:
        return known
    if word.replace(" ", "").isalpha():
        says = f"`{spec.key}` cannot be `{node.text}`."
        allowed = f"{hint(word, WINDOWS)} Or write early and late, `-20..+40 ms`."
        reading.say("BOOK-32", node.place, says, allowed)
        return WRONG
    return Window(*read_window(word))


def _ranged(
    spec: Spec, value: float, node: Scalar, reading: Reading, shown: Callable[[float], str]
) -> Any:
    """The value, unless it lies outside of the field's range."""
    low, high = spec.low, spec.high
    # Unit factors round: 10 bar may be a hair above 1e6 Pa.
    slack = 1e-12 * max(abs(value), 1e-3)
    if (low is None or value >= low - slack) and (high is None or value <= high + slack):
        return value
    bounds = [f"{shown(low)} or more"] if low is not None else []
    bounds += [f"{shown(high)} or less"] if high is not None else []
    says = f"`{spec.key}: {node.text}` is out of range."
    reading.say("BOOK-31", node.place, says, f"Write {', '.join(bounds)}.")
    return WRONG


def items_of(node: Node) -> Iterator[tuple[str, Place] | Node]:
    """The texts of a list, one alone standing bare, a CSV cell parted at `;` or line ends.

    Whatever is no text comes as its node.
    """
    for each in node.items if isinstance(node, Listing) else [node]:
        if not isinstance(each, Scalar):
            yield each
        elif each.cell:
            for part in re.split(r"[;\n]", each.text):
                if part.strip():
                    yield part.strip(), each.place
        else:
            yield each.text, each.place


def _texts(spec: Spec, node: Node, reading: Reading) -> Any:
    found: list[str] = []
    right = True
    for item in items_of(node):
        if not isinstance(item, tuple) or not item[0]:
            place = node.place if isinstance(item, tuple) else item.place
            reading.say("BOOK-22", place, f"`{spec.key}` is a list of texts.", _list(spec))
            right = False
            continue
        text, place = item
        if spec.names:
            right &= check_name(spec.names, text, place, spec.key, reading)
        found.append(text)
    return tuple(found) if right else WRONG


def _list(spec: Spec) -> str:
    return f"Write it as in `{spec.key}: {spec.example or '[one, two]'}`."


def _numbers(spec: Spec, node: Node, reading: Reading) -> Any:
    found: list[float] = []
    right = True
    for item in items_of(node):
        if not isinstance(item, tuple):
            reading.say("BOOK-22", item.place, f"`{spec.key}` is a list of numbers.", _list(spec))
            return WRONG
        try:
            found += [decimal(part) for part in _ends(item[0])]
        except UnitError as error:
            reading.say("BOOK-30", item[1], f"`{spec.key}`: {error.says}", error.allowed)
            right = False
    return tuple(found) if right else WRONG


def _ends(text: str) -> list[str]:
    """The two ends of a range, `26..31`, or the one number."""
    return text.split("..", 1) if ".." in text else [text]


def _pairs(spec: Spec, node: Node, reading: Reading) -> Any:
    if not isinstance(node, Mapping):
        says = f"`{spec.key}` is a group of names with a text each."
        example = spec.example or "{name: text}"
        reading.say("BOOK-22", node.place, says, f"Write it as in `{spec.key}: {example}`.")
        return WRONG
    found: list[tuple[str, str]] = []
    right = True
    for key, value in node.entries:
        if isinstance(value, Scalar) and value.text:
            found.append((key.text, value.text))
        else:
            says = f"`{key.text}` in `{spec.key}` has no single text."
            reading.say("BOOK-22", value.place, says, "Write one text behind each name.")
            right = False
    return tuple(found) if right else WRONG


def _clock(_spec: Spec, node: Scalar, _reading: Reading) -> Any:
    return read_clock(node.text)


def _hours(spec: Spec, node: Node, reading: Reading) -> Any:
    found: list[tuple[Span, Span]] = []
    right = True
    for item in items_of(node):
        if not isinstance(item, tuple):
            says = f"`{spec.key}` is a list of stretches of the day."
            reading.say("BOOK-22", item.place, says, _list(spec))
            return WRONG
        try:
            found.append(read_stretch(item[0]))
        except UnitError as error:
            reading.say("BOOK-30", item[1], f"`{spec.key}`: {error.says}", error.allowed)
            right = False
    return tuple(found) if right else WRONG


_READ: dict[str, Callable[[Spec, Scalar, Reading], Any]] = {
    "quantity": _quantity,
    "number": _number,
    "whole": _whole,
    "text": _text,
    "choice": _choice,
    "flag": _flag,
    "span": _span,
    "time": _time,
    "window": _window,
    "clock": _clock,
}
_LISTS: dict[str, Callable[[Spec, Node, Reading], Any]] = {
    "texts": _texts,
    "numbers": _numbers,
    "pairs": _pairs,
    "hours": _hours,
}
