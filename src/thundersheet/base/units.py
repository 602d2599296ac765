"""Quantities as builders write them, in inch and metric, to SI and back.

`1-1/16 in`, `3 ft 6 in`, `60 psi`, `4.5 l/min`, `18 AWG`: text in, SI float out, or a
``UnitError`` that names the dimension and the nearest unit. The units are in unit_table.py.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from thundersheet.base.unit_table import DIMENSIONS, INCH, Dimension, Unit

_LONGEST = 80
"""Letters in the longest text that is looked at: no quantity is longer."""

_NUMBER = (
    r"(?:\d{1,9}[ -]+)?\d{1,9}/\d{1,9}|(?:\d{1,18}(?:\.\d{0,18})?|\.\d{1,18})(?:[eE][+-]?\d{1,2})?"
)
_ONE = re.compile(rf"([+-]?)\s*({_NUMBER})[\s-]*(.*)", re.DOTALL)
_JOINED = re.compile(rf"({_NUMBER})[\s-]*([^\d\s,.+-]+\.?)[\s,-]*")
_COMMA = re.compile(r"\d,\d")
_GAUGE = re.compile(r"([1-4])/0|0{1,4}(?!\d)")
_SIGNS = str.maketrans(
    {"µ": "u", "μ": "u", "²": "2", "³": "3", "−": "-", "–": "-", "·": " ", "⋅": " ", "×": " "}
    | {
        "’": "'",
        "′": "'",
        "″": '"',
        "”": '"',
        "“": '"',
        "\u00a0": " ",
        "\u202f": " ",
        "\u2009": " ",
    }
    | {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
    | {"\u2126": "ohm", "\u03a9": "ohm", "\u2044": "/", "\u2103": "C", "\u2109": "F"}
)


class UnitError(ValueError):
    """A text that is no quantity of the dimension asked for; the message says what would be."""

    def __init__(self, says: str, allowed: str = "") -> None:
        self.says = says
        """What was found, quoted, and what is wrong with it."""
        self.allowed = allowed
        """What would be right."""
        super().__init__(f"{says} {allowed}".rstrip())


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity as read: its exact SI value, and the unit it was written in."""

    exact: Fraction
    unit: str
    """The unit's symbol in our table (`psi` for `psig`), the last one where several are joined."""

    @property
    def value(self) -> float:
        """The SI value."""
        return float(self.exact)


def read_quantity(text: str, dimension: str) -> float:
    """The SI value of a quantity of one dimension; a bare 0 needs no unit."""
    return quantity_in(text, dimension).value


def unit_of(text: str, dimension: str) -> str:
    """The symbol of the unit that a quantity is written in: `psi` for `60 psig`."""
    return quantity_in(text, dimension).unit


@functools.lru_cache(maxsize=4096)
def quantity_in(text: str, dimension: str) -> Quantity:
    """The quantity that a text says, exactly, with its unit."""
    kind = DIMENSIONS[dimension]
    plain = " ".join(text.translate(_SIGNS).split())
    if not plain or len(plain) > _LONGEST:
        raise UnitError(f"{_quoted(text)} is not {kind.a}.", _example(kind))
    if _COMMA.search(plain):
        raise UnitError(*comma_words(plain, _quoted(text)))
    if dimension == "wire" and (gauge := _wire_gauge(plain)) is not None:
        return Quantity(Fraction(awg_area_m2(gauge)), "AWG")
    return _single(text, _number_first(plain, dimension), dimension)


def awg_area_m2(gauge: int) -> float:
    """Cross-section of a round wire of an American gauge; 2/0 is -1, 4/0 is -3.

    d = 0.005 in * 92^((36 - n) / 39) (ASTM B258), exact by definition at 36 and 4/0.
    """
    diameter: float = 0.005 * 0.0254 * 92.0 ** ((36 - gauge) / 39)
    return math.pi / 4 * diameter**2


def _wire_gauge(plain: str) -> int | None:
    """The gauge in `18 AWG`, `AWG 18` or `2/0 AWG`; None when no gauge is meant."""
    words = re.sub(r"(?i)\b(awg|gauge|ga)\b|(?<=\d)(awg|ga)\b", "", plain).strip()
    if words == plain:
        return None
    if (nought := _GAUGE.fullmatch(words)) is not None:
        return 1 - (int(nought[1]) if nought[1] else len(words))
    if words.isascii() and words.isdigit() and int(words) <= 40:
        return int(words)
    raise UnitError(f"`{plain}` is no wire gauge.", "Write 4/0 to 40, as in `18 AWG`.")


def _number_first(plain: str, dimension: str) -> str:
    """`Cv 0.4` as `0.4 Cv`, `Qn 250 l/min` as `250 l/min Qn`: catalogues put the letter first."""
    head, _, tail = plain.replace("=", " ").partition(" ")
    if tail.strip() and head.isalpha() and _find(dimension, head) is not None:
        return f"{tail.strip()} {head}"
    return plain


def _single(text: str, plain: str, dimension: str) -> Quantity:
    kind = DIMENSIONS[dimension]
    match = _ONE.fullmatch(plain)
    if match is None:
        raise UnitError(f"{_quoted(text)} is not {kind.a}.", _example(kind))
    sign, digits, letters = match.groups()
    number = _number(digits, text) * (-1 if sign == "-" else 1)
    if (unit := _find(dimension, letters)) is not None and (letters or kind.bare):
        if not letters and abs(number) > 1:
            says = f"{_quoted(text)} is more than the whole, as {kind.a}."
            raise UnitError(says, f"Write `{digits} %`, or a number from 0 to 1.")
        return Quantity(number * unit.factor + unit.offset, unit.symbol)
    if not letters and number == 0 and dimension != "temperature":
        return Quantity(Fraction(0), "")
    if kind.joins and (joined := _joined(text, plain, dimension)) is not None:
        return joined
    raise UnitError(*_no_unit(text, digits, letters, kind))


def _joined(text: str, plain: str, dimension: str) -> Quantity | None:
    """`3 ft 6 in`: several units, each smaller than the one before; None when it is not that."""
    sign = -1 if plain.startswith("-") else 1
    rest, total, last = plain.lstrip("+- "), Fraction(0), None
    while rest:
        match = _JOINED.match(rest)
        unit = _find(dimension, match[2]) if match else None
        if match is None or unit is None or (last is not None and unit.factor >= last.factor):
            return None
        total += _number(match[1], text) * unit.factor
        rest, last = rest[match.end() :], unit
    return None if last is None else Quantity(sign * total, last.symbol)


def _number(digits: str, text: str) -> Fraction:
    """`1-1/16`, `17/16`, `.5` or `1e-3`, exactly."""
    if "/" not in digits:
        return Fraction(digits)
    *wholes, fraction = re.split(r"[ -]+", digits)
    top, bottom = fraction.split("/")
    if not int(bottom):
        raise UnitError(f"{_quoted(text)} divides by nothing.", "Write a fraction such as `1/16`.")
    return Fraction(int(top), int(bottom)) + sum(int(whole) for whole in wholes)


@functools.cache
def _names(dimension: str) -> Mapping[str, Unit]:
    """Every spelling of every unit of a dimension, also with the case folded where that is safe."""
    units = DIMENSIONS[dimension].units
    exact = {_tidy(name): unit for unit in units for name in (unit.symbol, *unit.also)}
    folded: dict[str, Unit] = {}
    for name, unit in exact.items():
        folded.setdefault(_fold(name), unit)
    return folded | exact


def _tidy(letters: str) -> str:
    """One spelling for `lbf*in`, `lbf-in` and `lbf in`."""
    return " ".join(re.sub(r"[*-]", " ", letters).split())


def _fold(name: str) -> str:
    """Small letters, but for a leading m or M: milli and mega are a billion apart."""
    return name[:1] + name[1:].lower() if name[:1] in "mM" else name.lower()


def _find(dimension: str, letters: str) -> Unit | None:
    names = _names(dimension)
    tidy = _tidy(letters)
    return names.get(tidy) or names.get(_fold(tidy))


def _quoted(text: str) -> str:
    short = text if len(text) <= 40 else text[:37] + "..."
    return f"`{short}`"


def comma_words(plain: str, shown: str) -> tuple[str, str]:
    """What to say of a number with a comma: found, and what to write; never which it is."""
    if re.search(r"\d,\d{3}(?!\d)", plain) and not re.search(r"(?<!\d)0+,", plain):
        one, other = plain.replace(",", ""), plain.replace(",", ".")
        return (
            f"{shown} has a comma, which may be a decimal comma or group thousands.",
            f"Write `{one}` or `{other}`.",
        )
    point = plain.replace(",", ".")
    return (f"{shown} has a decimal comma.", f"Write a point: `{point}`.")


def _no_unit(text: str, digits: str, letters: str, kind: Dimension) -> tuple[str, str]:
    """What to say when the letters behind the number are no unit of this dimension."""
    if not letters:
        shown = " or ".join(f"`{digits} {symbol}`" for symbol in _symbols(kind)[:2])
        return f"{_quoted(text)} has no unit.", f"Write {kind.a} as in {shown}."
    if (word := kind.not_here.get(_tidy(letters))) is not None:
        return f"{_quoted(text)} will not do here: {word}.", ""
    for other in DIMENSIONS.values():
        if letters in {name for unit in other.units for name in (unit.symbol, *unit.also) if name}:
            return f"{_quoted(text)} is {other.a}, where {kind.a} is wanted.", _known(kind)
    near = _nearest(letters, kind)
    hint = f"Did you mean `{near}`? " if near else ""
    return f"`{letters}` in {_quoted(text)} is no unit of {kind.a}.", hint + _known(kind)


def _symbols(kind: Dimension) -> list[str]:
    return [unit.symbol for unit in kind.units if unit.symbol]


def _known(kind: Dimension) -> str:
    bare = " (or a plain number)" if kind.bare else ""
    return f"Known here: {', '.join(_symbols(kind))}{bare}."


def _example(kind: Dimension) -> str:
    return f"Write a number and a unit, as in `2.5 {_symbols(kind)[0]}`. {_known(kind)}"


def _nearest(letters: str, kind: Dimension) -> str:
    import difflib

    names = [name for unit in kind.units for name in (unit.symbol, *unit.also)]
    lower = {name.lower(): name for name in reversed(names)}
    found = difflib.get_close_matches(letters.lower(), lower, n=1, cutoff=0.5)
    return lower[found[0]] if found else ""


WITH_INCHES = {
    "length": "in",
    "area": "in2",
    "mass": "lb",
    "pressure": "psi",
    "force": "lbf",
    "energy": "ft lbf",
    "speed": "ft/s",
}
"""What a builder who writes inches reads for dimensions that the book does not mention."""


@dataclass(frozen=True, slots=True)
class UnitStyle:
    """Which unit the builder writes for each dimension, so that they see their own back."""

    units: Mapping[str, str] = field(default_factory=dict)
    """By dimension: the symbol of a unit."""

    @classmethod
    def of(cls, written: Mapping[str, str]) -> UnitStyle:
        """The units written; who writes inches or psi gets forces, speeds and energies to match."""
        inches = written.get("length") in ("in", "ft") or written.get("pressure") == "psi"
        return cls({**(WITH_INCHES if inches else {}), **written})

    def show(self, value: float, dimension: str) -> str:
        """`60 psi` for 413 685 Pa where the book writes psi; four significant figures at most.

        Inches that are whole sixteenths come as fractions: `1-1/16 in`.
        """
        if not math.isfinite(value):
            return f"{value:g} {DIMENSIONS[dimension].si}".strip()
        if self.units.get(dimension) == "AWG":
            return f"{_awg(value)} AWG"
        unit = self._unit(value, DIMENSIONS[dimension], dimension)
        number = (value - float(unit.offset)) / float(unit.factor)
        if unit.factor == INCH and (sixteenths := _sixteenths(number)):
            return f"{sixteenths} in"
        return f"{_figures(number)} {unit.symbol}".strip()

    def _unit(self, value: float, kind: Dimension, dimension: str) -> Unit:
        """The builder's unit, or the metric one that suits the size of the value."""
        by_symbol = {unit.symbol: unit for unit in kind.units}
        own = by_symbol.get(self.units.get(dimension, "?"))
        if own is not None and (own.symbol not in kind.metric or _handy(value, own)):
            return own
        ladder = [by_symbol[symbol] for symbol in kind.metric]
        if not value:
            return own or ladder[0]
        fits = (unit for unit in ladder if abs(value) >= float(unit.factor) * 0.9999)
        return next(fits, ladder[-1])


METRIC = UnitStyle()


def _handy(value: float, unit: Unit) -> bool:
    """Whether a value looks well in a unit: from a hundredth to ten thousand of it."""
    return not value or 0.01 <= abs(value) / float(unit.factor) < 10_000


def _figures(number: float) -> str:
    """At most four significant figures, no exponent, no trailing zeros."""
    if abs(number) >= 1000:
        return f"{number:.0f}"
    if number == 0 or abs(number) < 1e-9:
        return "0"
    decimals = max(0, 3 - math.floor(math.log10(abs(number))))
    shown = f"{number:.{decimals}f}"
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def _sixteenths(inches: float) -> str:
    """`1-1/16` for inches that are whole sixteenths but no whole inches; else empty."""
    count = round(inches * 16)
    if count % 16 == 0 or abs(inches * 16 - count) > 1e-6:
        return ""
    whole, part = divmod(abs(count), 16)
    fraction = str(Fraction(part, 16))
    return ("-" if count < 0 else "") + (f"{whole}-{fraction}" if whole else fraction)


def _awg(area_m2: float) -> str:
    """The nearest gauge of a cross-section."""
    diameter = math.sqrt(area_m2 * 4 / math.pi)
    gauge = round(36 - 39 * math.log(diameter / (0.005 * 0.0254), 92))
    return str(gauge) if gauge > 0 else f"{1 - gauge}/0"
