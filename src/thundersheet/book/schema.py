"""JSON Schema 2020-12 of the book, made from the records and kinds, for completion in an editor.

It knows keys, words and shapes; whether `60 psi` is a pressure only the reader can tell, so a
book that fits the schema may still have findings.
"""

from __future__ import annotations

from typing import Any

from thundersheet.base.shape import Record, Spec, specs
from thundersheet.base.unit_table import DIMENSIONS
from thundersheet.devices import all_kinds
from thundersheet.model.book import VERSION, Book
from thundersheet.model.device import Device
from thundersheet.model.show import WINDOWS

Schema = dict[str, Any]

_NUMBERISH = ["string", "number"]
"""An editor's YAML sees a number in `0.2`, a text in `20 %`; both may stand for a quantity."""


_OF_DAY = r"\d{1,2}(:\d{2})?( ?[ap]m)?"
_HOURS: Schema = {"type": "string", "pattern": rf"^{_OF_DAY} ?(-|–|to) ?{_OF_DAY}$"}


def book_schema() -> Schema:
    """The whole schema, the same every time."""
    parts: dict[str, Schema] = {}
    top = _record(Book, parts)
    top["properties"]["book"]["const"] = VERSION
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Thundersheet book",
        **top,
        "$defs": dict(sorted(parts.items())),
    }


def _record(cls: type[Record], parts: dict[str, Schema]) -> Schema:
    found = specs(cls)
    schema: Schema = {
        "type": "object",
        "description": _doc(cls),
        "properties": {spec.key: _value(spec, parts, cls is Book) for spec in found},
        "additionalProperties": False,
    }
    if required := [spec.key for spec in found if spec.required]:
        schema["required"] = required
    return schema


def _doc(cls: type[Record]) -> str:
    return (cls.__doc__ or "").strip().split("\n")[0]


def _value(spec: Spec, parts: dict[str, Schema], top: bool) -> Schema:
    schema: Schema = {"description": spec.doc, **_shape(spec, parts, top)}
    if spec.example:
        schema["examples"] = [spec.example]
    return schema


def _shape(spec: Spec, parts: dict[str, Schema], top: bool) -> Schema:
    if spec.of is not None:
        return _group(spec, spec.of, parts, top)
    if spec.form == "choice":
        return {"enum": list(spec.choices)}
    if spec.form == "quantity":
        kind = DIMENSIONS[spec.dimension]
        return {"type": _NUMBERISH, "$comment": f"{kind.a}, in SI: {kind.si or '1'}"}
    if spec.form == "window":
        return {"anyOf": [{"enum": list(WINDOWS)}, {"type": "string"}]}
    return dict(_PLAIN[spec.form])


_PLAIN: dict[str, Schema] = {
    "number": {"type": _NUMBERISH},
    "whole": {"type": "integer"},
    "text": {"type": ["string", "number"]},
    "flag": {"enum": [True, False, "yes", "no"]},
    "span": {"type": _NUMBERISH},
    "time": {"type": _NUMBERISH},
    "clock": {"type": "string", "pattern": rf"^{_OF_DAY}$"},
    "hours": {"anyOf": [_HOURS, {"type": "array", "items": _HOURS}]},
    "texts": {
        "anyOf": [{"type": "string"}, {"type": "array", "items": {"type": ["string", "number"]}}]
    },
    "numbers": {"anyOf": [{"type": _NUMBERISH}, {"type": "array", "items": {"type": _NUMBERISH}}]},
    "pairs": {"type": "object", "additionalProperties": {"type": ["string", "number", "boolean"]}},
}


def _group(spec: Spec, of: type[Record], parts: dict[str, Schema], top: bool) -> Schema:
    """A record, a list or names; at the top a file's name may stand instead."""
    one = _reference(of, parts)
    shape: Schema
    if spec.form == "record":
        shape = one
    elif spec.form == "named":
        shape = {"type": "object", "additionalProperties": one}
    else:
        shape = {"anyOf": [{"type": "array", "items": _or_file(one, top)}, one]}
    if spec.form != "record" or not spec.required:
        shape = {"anyOf": [shape, {"type": "null"}]}
    return _or_file(shape, top)


def _or_file(shape: Schema, top: bool) -> Schema:
    file = {"type": "string", "pattern": r"\.(csv|ya?ml)$"}
    return {"anyOf": [shape, file]} if top else shape


def _reference(of: type[Record], parts: dict[str, Schema]) -> Schema:
    """A pointer to the record's own part, which is made the first time."""
    name = "device" if of is Device else f"{of.__module__.rsplit('.', 1)[-1]}.{of.__name__}"
    if name not in parts:
        parts[name] = {}
        parts[name] = _devices(parts) if of is Device else _record(of, parts)
    return {"$ref": f"#/$defs/{name}"}


def _devices(parts: dict[str, Schema]) -> Schema:
    """A device: its `kind` decides which keys it may have."""
    kinds = all_kinds()
    return {
        "type": "object",
        "required": ["kind"],
        "properties": {"kind": {"enum": [kind.KIND for kind in kinds]}},
        "allOf": [
            {
                "if": {"required": ["kind"], "properties": {"kind": {"const": kind.KIND}}},
                "then": _kind(kind, parts),
            }
            for kind in kinds
        ],
    }


def _kind(cls: type[Device], parts: dict[str, Schema]) -> Schema:
    schema = _record(cls, parts)
    schema["properties"] = {"kind": {"const": cls.KIND}, **schema["properties"]}
    return schema
