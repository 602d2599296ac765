"""Frozen records as plain JSON values and back, and the JSON Schema of both, from type hints.

In: any frozen dataclass made of texts, numbers, times, tuples, mappings and other such records.
Out: the same as dicts and lists. Times and spans become whole nanoseconds under a key that ends
in `_ns`. Where a value was written in a book (`origin`) is left out.
"""

from __future__ import annotations

import collections.abc
import dataclasses
import functools
import types
import typing
from typing import Any, Literal, TypeVar

from thundersheet.base.time import Span, Time

T = TypeVar("T")
Json = Any
"""None, bool, int, float, str, or a list or dict of these."""
_INSTANTS = (Time, Span)
_PLAIN: dict[Any, str] = {str: "string", int: "integer", float: "number", bool: "boolean"}


def pack(value: Any) -> Json:
    """A record, or a tuple or mapping of records, as JSON values."""
    if isinstance(value, _INSTANTS):
        return value.ns
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {key: pack(getattr(value, name)) for name, key, _ in _fields(type(value))}
    if isinstance(value, (tuple, list)):
        return [pack(item) for item in value]
    if isinstance(value, (frozenset, set)):
        return [pack(item) for item in sorted(value)]
    if isinstance(value, collections.abc.Mapping):
        return {str(key): pack(item) for key, item in value.items()}
    return value


def unpack(cls: type[T], data: Json) -> T:
    """The record that `pack` made `data` of."""
    made: T = _read(cls, data)
    return made


def schema(cls: Any) -> Json:
    """The JSON Schema (2020-12) of what `pack` makes of a class."""
    optional = _optional(cls)
    if optional is not None:
        inner = schema(optional)
        if set(inner) == {"type"}:
            return {"type": [inner["type"], "null"]}
        return {"anyOf": [inner, {"type": "null"}]}
    if cls in _INSTANTS:
        return {"type": "integer"}
    if cls in _PLAIN:
        return {"type": _PLAIN[cls]}
    if isinstance(cls, type) and dataclasses.is_dataclass(cls):
        return closed({key: schema(hint) for _, key, hint in _fields(cls)})
    return _schema_of_generic(typing.get_origin(cls), typing.get_args(cls))


def closed(properties: dict[str, Json]) -> Json:
    """The schema of an object with just these keys, all of them required."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _schema_of_generic(origin: Any, args: tuple[Any, ...]) -> Json:
    if origin is Literal:
        return {"enum": list(args)}
    if origin is collections.abc.Mapping:
        return {"type": "object", "additionalProperties": schema(args[1])}
    if origin is tuple and args[-1] is Ellipsis:
        return {"type": "array", "items": schema(args[0])}
    if origin is tuple:
        return {
            "type": "array",
            "prefixItems": [schema(arg) for arg in args],
            "minItems": len(args),
            "maxItems": len(args),
        }
    raise TypeError(f"no schema for {origin}")


def _read(hint: Any, data: Json) -> Any:
    optional = _optional(hint)
    if optional is not None:
        return None if data is None else _read(optional, data)
    if hint in _INSTANTS:
        return hint(data)
    if hint is float:
        return float(data)
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return hint(**{name: _read(kind, data[key]) for name, key, kind in _fields(hint)})
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin is tuple:
        kinds = [args[0]] * len(data) if args[-1] is Ellipsis else args
        return tuple(_read(kind, item) for kind, item in zip(kinds, data, strict=True))
    if origin is collections.abc.Mapping:
        return {key: _read(args[1], item) for key, item in data.items()}
    return data


@functools.cache
def _fields(cls: type[Any]) -> tuple[tuple[str, str, Any], ...]:
    """Name, key and type of each field that is carried."""
    hints = typing.get_type_hints(cls)
    return tuple(
        (f.name, f.name + "_ns" if _timed(hints[f.name]) else f.name, hints[f.name])
        for f in dataclasses.fields(cls)
        if f.init and f.name != "origin"
    )


def _timed(hint: Any) -> bool:
    """Whether a type is a time or span, one that may be missing, or several of them."""
    optional = _optional(hint)
    if optional is not None:
        return _timed(optional)
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin is tuple:
        return len(args) == 2 and args[1] is Ellipsis and _timed(args[0])
    if origin is collections.abc.Mapping:
        return _timed(args[1])
    return hint in _INSTANTS


def _optional(hint: Any) -> Any:
    """`X` where the type is `X | None`, else None."""
    if typing.get_origin(hint) not in (typing.Union, types.UnionType):
        return None
    inner = [arg for arg in typing.get_args(hint) if arg is not type(None)]
    return inner[0] if len(inner) == 1 else None
