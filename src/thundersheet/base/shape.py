"""What a record of the book looks like, said once beside its fields.

A record is a frozen dataclass that derives from ``Record``; each field is made by one of the
functions below, which say what the user writes there. The reader, the JSON Schema, the
reference pages and the page's forms all walk ``specs(record)``; there is no second list.
"""

from __future__ import annotations

import dataclasses
import functools
import re
from dataclasses import MISSING, dataclass, field
from typing import Any, Literal

from thundersheet.base.source import UNWRITTEN, Origin

Form = Literal[
    "quantity",  # a number with a unit: SI float
    "number",  # a plain number: float
    "whole",  # a whole number: int
    "text",  # str
    "choice",  # one of `choices`: str
    "flag",  # yes or no: bool
    "span",  # a length of time: Span
    "time",  # an instant of the programme: Time
    "window",  # early and late: Window, read by its class name or two spans
    "record",  # one record of class `of`
    "records",  # a list of records: tuple
    "named",  # name -> record: tuple of records that have a `name`
    "texts",  # a list of text, one alone may stand bare: tuple[str, ...]
    "pairs",  # name -> text: tuple[tuple[str, str], ...]
    "numbers",  # a list of plain numbers: tuple[float, ...]
    "clock",  # a time of day: Span since midnight
    "hours",  # stretches of the day, one alone may stand bare: tuple[tuple[Span, Span], ...]
]


@dataclass(frozen=True, kw_only=True)
class Record:
    """Base of everything the book holds: a record that knows where it was written."""

    origin: Origin = field(default=UNWRITTEN, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What the user writes for one field, and what it means."""

    name: str
    """The field's name in Python: `moving_mass_kg`."""
    key: str
    """The key in the book: `moving mass`."""
    form: Form
    required: bool
    default: Any
    """None also where the field is required."""
    doc: str
    dimension: str = ""
    """For quantities: a dimension of base/units.py."""
    low: float | None = None
    high: float | None = None
    """Allowed range, both ends included, in SI (quantity, number, whole) or seconds (span)."""
    choices: tuple[str, ...] = ()
    of: type[Record] | None = None
    estimated: str = ""
    """Why the default is what it is; not empty: the plan calls it `estimated` until written."""
    example: str = ""
    """As a builder would write it."""
    names: Literal["", "terminal", "variant", "device", "screen", "sound or screen", "air part"] = (
        ""
    )
    """For texts: what of the book they have to name; the reader checks that it is there."""


_SI_SUFFIXES = (
    "m3_s_pa|m3_s|n_per_m|n_s_per_m|kg_m2|rad_s2|rad_s|n_m|m_s2|m_s|m3|m2|w_m2k|"
    "pa|kg|rad|ohm|hz|cd|lm|lux|db|m|n|j|s|a|v|w|k|h"
)
_SUFFIX = re.compile(rf"_({_SI_SUFFIXES})$")


def key_of(name: str, form: Form) -> str:
    """The book's key for a field: spaces for underscores, no unit: `supply_pa` -> `supply`."""
    return (_SUFFIX.sub("", name) if form == "quantity" else name).replace("_", " ")


def _field(form: Form, default: Any, doc: str, key: str = "", **more: Any) -> Any:
    """A dataclass field that carries its Spec's parts."""
    metadata = {"form": form, "doc": doc, "key": key, **more}
    if isinstance(default, (list, dict)):
        raise TypeError("a record's default must be immutable")
    return field(default=default, metadata=metadata)


def quantity(
    dimension: str,
    doc: str,
    *,
    default: Any = MISSING,
    low: float | None = None,
    high: float | None = None,
    estimated: str = "",
    example: str = "",
    key: str = "",
) -> Any:
    """A number with a unit; the field holds it in SI, the user writes `60 psi`."""
    return _field(
        "quantity",
        default,
        doc,
        key,
        dimension=dimension,
        low=low,
        high=high,
        estimated=estimated,
        example=example,
    )


def number(doc: str, *, default: Any = MISSING, **more: Any) -> Any:
    """A plain number without a unit: a ratio, a share."""
    return _field("number", default, doc, **more)


def whole(doc: str, *, default: Any = MISSING, **more: Any) -> Any:
    """A whole number."""
    return _field("whole", default, doc, **more)


def text(doc: str, *, default: Any = MISSING, **more: Any) -> Any:
    """Text as it stands."""
    return _field("text", default, doc, **more)


def choice(doc: str, choices: tuple[str, ...], *, default: Any = MISSING, **more: Any) -> Any:
    """One of a few words."""
    return _field("choice", default, doc, choices=choices, **more)


def flag(doc: str, *, default: Any = MISSING, **more: Any) -> Any:
    """`yes` or `no`."""
    return _field("flag", default, doc, **more)


def span(doc: str, *, default: Any = MISSING, **more: Any) -> Any:
    """A length of time, `70 ms`; the field holds a Span."""
    return _field("span", default, doc, **more)


def time(doc: str, *, default: Any = MISSING, **more: Any) -> Any:
    """An instant of the programme, `0:12.480`, `frame 312`, `bar 5 count 2`; holds a Time."""
    return _field("time", default, doc, **more)


def window(doc: str, *, default: Any = MISSING, **more: Any) -> Any:
    """How early and how late: a class name or `-20..+40 ms`."""
    return _field("window", default, doc, **more)


def record(of: type[Record], doc: str, *, default: Any = MISSING, **more: Any) -> Any:
    """One record inside this one."""
    return _field("record", default, doc, of=of, **more)


def records(of: type[Record], doc: str, *, default: Any = (), **more: Any) -> Any:
    """A list of records."""
    return _field("records", default, doc, of=of, **more)


def named(of: type[Record], doc: str, *, default: Any = (), **more: Any) -> Any:
    """Records under their names; each must have a `name` field, which takes the key."""
    return _field("named", default, doc, of=of, **more)


def texts(doc: str, *, default: Any = (), **more: Any) -> Any:
    """A list of texts; a single one may be written bare."""
    return _field("texts", default, doc, **more)


def numbers(doc: str, *, default: Any = (), **more: Any) -> Any:
    """A list of plain numbers."""
    return _field("numbers", default, doc, **more)


def clock(doc: str, *, default: Any = MISSING, **more: Any) -> Any:
    """A time of day, `19:30`; the field holds the Span since midnight."""
    return _field("clock", default, doc, **more)


def hours(doc: str, *, default: Any = (), **more: Any) -> Any:
    """Stretches of the day, `20:00-22:00`, as Spans since midnight; an end may be the next day's.

    Such an end lies before its beginning.
    """
    return _field("hours", default, doc, **more)


def pairs(doc: str, *, default: Any = (), **more: Any) -> Any:
    """Names with a text each, `{open: out, shut: back}`."""
    return _field("pairs", default, doc, **more)


def specs(cls: type[Record]) -> tuple[Spec, ...]:
    """What may be written in a record of this class, in the order of its fields."""
    key: Any = cls  # mypy takes a class whose instances hash their own way for unhashable
    return _specs(key)


@functools.cache
def _specs(cls: Any) -> tuple[Spec, ...]:
    return tuple(_spec(f) for f in dataclasses.fields(cls) if "form" in f.metadata)


def _spec(f: dataclasses.Field[Any]) -> Spec:
    parts = dict(f.metadata)
    form: Form = parts.pop("form")
    required = f.default is MISSING and f.default_factory is MISSING
    return Spec(
        name=f.name,
        key=parts.pop("key") or key_of(f.name, form),
        form=form,
        required=required,
        default=None if required else f.default,
        **parts,
    )
