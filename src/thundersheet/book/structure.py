"""Nodes to records: walks what each record says may be written and gathers everything wrong.

Stages of one book, each going on after errors so that one run shows them all: names (which
devices, boards, variants, beats there are), structure and values (keys, shapes, quantities),
references and actions. A book with a finding that refuses is none.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator
from typing import Any, TypeVar

from thundersheet.base.read_time import Ruler
from thundersheet.base.shape import Record, Spec, specs
from thundersheet.base.source import Origin, Place
from thundersheet.base.units import UnitError, comma_words
from thundersheet.book.nodes import Listing, Mapping, Node, Scalar, twice
from thundersheet.book.outline import Include, learn_names, with_files
from thundersheet.book.reading import Reading, hint
from thundersheet.book.understood import understood
from thundersheet.book.values import WRONG, decimal, plain_value
from thundersheet.devices import kind_names
from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.model.show import Show

EXPLAINS = {
    "BOOK-20": "A key that means nothing where it stands: a slip of the pen, or a key of another "
    "group or kind of device. The message lists those that are known there.",
    "BOOK-21": "A key that has to be there is missing: nothing sensible can be reckoned "
    "without it, and no value can be assumed for it.",
    "BOOK-23": "A device says what it is with `kind`, and this word is no kind that is known.",
    "BOOK-24": "A name may hold letters, digits, spaces and - _ . ' and begins with a letter or "
    "digit; it is used in beats, files and on paper.",
}

T = TypeVar("T", bound=Record)

_NAME = re.compile(r"[^\W_][\w .'-]{0,59}")
_GROUPS = ("record", "records", "named")


def book_from(root: Mapping, include: Include, reading: Reading) -> Book | None:
    """The book that a tree says; None when a finding (now in the reading) stands against it."""
    top = {key.text: _whole(key.text, value, include) for key, value in root.entries}
    if reading.findings:  # a file is missing: what it would have held cannot be judged
        return None
    learn_names(top, reading)
    node = Mapping(root.file, root.line, root.column, root.start, root.end, root.flow)
    node.entries = [(key, top[key.text]) for key, _ in root.entries]
    reading.findings += twice(root)
    _set_ruler(top.get("show"), reading)
    values, complete = _fields(Book, node, "a book", reading)
    if not complete or any(each.grade == "refuse" for each in reading.findings):
        return None
    return Book(**values, units=reading.style())


def record_from(cls: type[T], root: Mapping, label: str, reading: Reading) -> T | None:
    """The record that the top of another file says; None when a finding stands against it."""
    values, complete = _fields(cls, root, label, reading)
    return cls(**values) if complete else None


def _whole(key: str, value: Node, include: Include) -> Node:
    spec = _by_key(Book).get(key)
    return value if spec is None or spec.form not in _GROUPS else with_files(value, include)


def _set_ruler(show: Node | None, reading: Reading) -> None:
    """Frame rate and tempo come first: other times may be counted against them."""
    if not isinstance(show, Mapping):
        return
    rate = show.get("frame rate")
    if isinstance(rate, Scalar):
        try:
            reading.ruler = Ruler.of(max(decimal(rate.text), 1.0))
        except UnitError:
            reading.ruler_known = False
    if (tempo := show.get("tempo")) is not None:
        spec = _by_key(Show)["tempo"]
        marks = _value(spec, tempo, "the show", reading)
        if marks is WRONG:
            reading.ruler_known = False
        else:
            at_rate = reading.ruler.frame_rate
            reading.ruler = Ruler(at_rate, Ruler.of(None, marks).measures)


def _by_key(cls: type[Record]) -> dict[str, Spec]:
    key: Any = cls  # see shape.specs
    return _keys(key)


@functools.cache
def _keys(cls: Any) -> dict[str, Spec]:
    return {spec.key: spec for spec in specs(cls)}


def _record(cls: type[Record], node: Node, label: str, name: str, reading: Reading) -> Any:
    """One record, or WRONG."""
    if isinstance(node, Scalar) and node.empty:
        node = Mapping(node.file, node.line, node.column, node.start, node.end)
    if not isinstance(node, Mapping):
        wanted = [spec.key for spec in specs(cls) if spec.required] or ["key"]
        shown = ", ".join(f"{key}: ..." for key in wanted)
        found = f"`{node.text}`" if isinstance(node, Scalar) else "a list"
        says = f"{label[:1].upper()}{label[1:]} is a group of keys, and {found} is none."
        reading.say("BOOK-22", node.place, says, f"Write `{{{shown}}}`, or keys on lines below.")
        return WRONG
    if issubclass(cls, Device):
        return _device(node, label, name, reading)
    return _filled(cls, node, label, name, reading)


def _filled(cls: type[Record], node: Mapping, label: str, name: str, reading: Reading) -> Any:
    values, complete = _fields(cls, node, label, reading)
    more = understood(cls, values, node, name, reading)
    if name:
        more["name"] = name
    return cls(**{**values, **more}) if complete else WRONG


def _device(node: Mapping, label: str, name: str, reading: Reading) -> Any:
    kind = node.get("kind")
    if kind is None:
        allowed = f"Write `kind:` and one of: {', '.join(kind_names())}."
        reading.say("BOOK-21", node.place, f"{label} does not say what it is.", allowed)
        return WRONG
    word = kind.text if isinstance(kind, Scalar) else ""
    cls = reading.kinds.get(word)
    if cls is None:
        says = f"{label} is of the kind `{word}`, which is not known."
        reading.say("BOOK-23", kind.place, says, hint(word, kind_names()))
        return WRONG
    return _filled(cls, node, f"{label} ({cls.KIND})", name, reading)


def _fields(
    cls: type[Record], node: Mapping, label: str, reading: Reading
) -> tuple[dict[str, Any], bool]:
    """The values written in a group, with their origin, and whether a record can be made."""
    known = _by_key(cls)
    values: dict[str, Any] = {}
    places: dict[str, Place] = {}
    texts: dict[str, str] = {}
    complete = True
    reading.findings += twice(node)
    for key, value in _without_torn(node, reading):
        spec = known.get(key.text)
        if spec is None:
            complete &= _other_key(cls, key, label, reading)
            continue
        if isinstance(value, Scalar):
            texts[spec.name] = value.text
            if value.empty and _is_empty(spec, key, reading):
                complete &= spec.form in _GROUPS
                continue
        places[spec.name] = value.place
        got = _value(spec, value, label, reading)
        if got is WRONG:
            complete = False
        else:
            values[spec.name] = got
    _all_there(cls, node, label, reading)
    complete &= all(spec.name in values for spec in known.values() if spec.required)
    values["origin"] = Origin(node.place, places, texts)
    return values, complete


def _without_torn(node: Mapping, reading: Reading) -> Iterator[tuple[Scalar, Node]]:
    """The entries, but for those that a decimal comma tears in two: `{at: 12,5 s}`."""
    entries = node.entries
    torn = {
        i
        for i in range(1, len(entries))
        if node.flow and _tears(entries[i - 1][1], entries[i][0], entries[i][1])
    }
    for i, (key, value) in enumerate(entries):
        if i in torn:
            before = entries[i - 1][1]
            assert isinstance(before, Scalar)
            torn_text = f"{before.text},{key.text}"
            says, allowed = comma_words(torn_text, f"`{torn_text}` is parted in two here: it")
            reading.say("BOOK-30", before.place, says, allowed)
        elif i + 1 not in torn:
            yield key, value


def _tears(before: Node, key: Scalar, value: Node) -> bool:
    return (
        isinstance(before, Scalar)
        and isinstance(value, Scalar)
        and value.empty
        and before.text[-1:].isdigit()
        and key.text[:1].isdigit()
        and key.start == before.end + 1
    )


def _other_key(cls: type[Record], key: Scalar, label: str, reading: Reading) -> bool:
    """A key without a field: `kind` is one for devices; anything else is a finding."""
    if key.text == "kind" and issubclass(cls, Device):
        return True
    says = f"`{key.text}` is no key of {_lower(label)}."
    reading.say("BOOK-20", key.place, says, hint(key.text, _by_key(cls), most=40))
    return False


def _lower(label: str) -> str:
    return label if label.startswith("`") else label[:1].lower() + label[1:]


def _is_empty(spec: Spec, key: Scalar, reading: Reading) -> bool:
    """An empty group is as good as none; an empty value is a finding."""
    if spec.form not in _GROUPS:
        allowed = f"Write `{spec.key}: {spec.example or '...'}`, or remove the key."
        reading.say("BOOK-33", key.place, f"`{spec.key}` has no value.", allowed)
        return True
    return not spec.required


def _all_there(cls: type[Record], node: Mapping, label: str, reading: Reading) -> None:
    """A finding for the required keys that are not written."""
    written = {key.text for key, _ in node.entries}
    missing = [spec for spec in specs(cls) if spec.required and spec.key not in written]
    if missing:
        names = " and no ".join(f"`{spec.key}`" for spec in missing)
        shown = "; ".join(f"`{spec.key}: {spec.example or '...'}`" for spec in missing)
        says = f"{label[:1].upper()}{label[1:]} has no {names}."
        reading.say("BOOK-21", node.place, says, f"Write {shown}.")


def _value(spec: Spec, node: Node, label: str, reading: Reading) -> Any:
    if spec.form not in _GROUPS:
        return plain_value(spec, node, reading)
    assert spec.of is not None
    if spec.form == "record":
        return _record(spec.of, node, _label(spec, label), "", reading)
    if spec.form == "records":
        return _records(spec, spec.of, node, label, reading)
    return _named(spec, spec.of, node, reading)


def _label(spec: Spec, label: str) -> str:
    return f"`{spec.key}`" if label == "a book" else f"`{spec.key}` of {_lower(label)}"


def _records(spec: Spec, of: type[Record], node: Node, label: str, reading: Reading) -> Any:
    """A list of records; one alone may stand bare."""
    if isinstance(node, Scalar) and not node.empty:
        says = f"`{spec.key}` is a list, and `{node.text}` is none."
        allowed = "Write items that begin with `- `, or the name of a CSV file beside the book."
        reading.say("BOOK-22", node.place, says, allowed)
        return WRONG
    items = node.items if isinstance(node, Listing) else [node]
    one = f"this {of.__name__.lower()}" if label == "a book" else _label(spec, label)
    found = [_record(of, item, one, "", reading) for item in items if not _nothing(item)]
    return WRONG if WRONG in found else tuple(found)


def _nothing(node: Node) -> bool:
    return isinstance(node, Scalar) and node.empty


def _named(spec: Spec, of: type[Record], node: Node, reading: Reading) -> Any:
    if not isinstance(node, Mapping):
        says = f"`{spec.key}` is a group of names, each with its own keys behind it."
        reading.say(
            "BOOK-22", node.place, says, f"Write `{spec.key}:` and below it `name: {{...}}`."
        )
        return WRONG
    reading.findings += twice(node)
    found = []
    for key, value in node.entries:
        if not _NAME.fullmatch(key.text):
            says = f"`{key.text}` is no name for one of `{spec.key}`."
            reading.say("BOOK-24", key.place, says, EXPLAINS["BOOK-24"])
            found.append(WRONG)
        else:
            found.append(_record(of, value, f"`{key.text}`", key.text, reading))
    return WRONG if WRONG in found else tuple(found)
