"""Quantities as builders write them, in inch and metric, to SI and back.

`1-1/16 in`, `3 ft 6 in`, `60 psi`, `4.5 l/min`, `18 AWG`: text in, SI float out, or a
``UnitError`` that names the dimension and the nearest unit. The table below is the whole list.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


class UnitError(ValueError):
    """A text that is no quantity of the dimension asked for; the message says what would be."""


@dataclass(frozen=True, slots=True)
class UnitStyle:
    """Which unit the builder writes for each dimension, so that they see their own back."""

    units: Mapping[str, str] = field(default_factory=dict)

    def show(self, value: float, dimension: str) -> str:
        """`60 psi` for 413 685 Pa where the book writes psi; three significant figures or so."""
        raise NotImplementedError


METRIC = UnitStyle()


def read_quantity(text: str, dimension: str) -> float:
    """The SI value of a quantity of one dimension."""
    raise NotImplementedError
