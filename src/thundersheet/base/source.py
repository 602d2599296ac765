"""Where a value stands in the user's file: every value of the book knows its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, order=True, slots=True)
class Place:
    """A place in a file, counted from one, as an editor's go-to-line takes it."""

    file: str
    line: int = 0
    """0: the file as a whole."""
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file


NOWHERE = Place("")
"""The place of a value that no file holds: a default, or a value made by a test."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a record and each of its values came from, and how the user wrote them."""

    place: Place = NOWHERE
    places: Mapping[str, Place] = field(default_factory=dict)
    """By field name. A field that is missing here was not written: it holds its default."""
    texts: Mapping[str, str] = field(default_factory=dict)
    """By field name: the value as the user wrote it, `1-1/16 in`."""

    def of(self, name: str) -> Place:
        """The place of one field, or of the record where the field was not written."""
        return self.places.get(name, self.place)

    def wrote(self, name: str) -> bool:
        """Whether the user wrote this field (if not, it is an `estimated` default)."""
        return name in self.places


UNWRITTEN = Origin()
