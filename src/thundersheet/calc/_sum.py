"""What every quick sum is: what it asks, what it answers, and where its formula comes from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from thundersheet.base.shape import Record, specs
from thundersheet.devices.air_cylinder import AirCylinder


@dataclass(frozen=True, slots=True)
class Result:
    """One answer, in the unit that the sum prints."""

    name: str
    value: float | int | str | bool | None
    """None: there is no such thing here (a stroke that never arrives)."""
    unit: str = ""
    dimension: str = ""
    """With an SI value, the dimension in which the builder's own unit is shown; empty: as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sum:
    """One quick sum."""

    about: str
    """What it is for, in one sentence."""
    asks: type[Record]
    """Its inputs: a record as the book's, so that keys, units and ranges work the same."""
    answer: Callable[[Any], tuple[Result, ...]]
    """From a filled record to the results; a ValueError's text goes to the user."""
    formula: str
    source: str
    cautions: tuple[str, ...]
    example: str
    """Its inputs as typed after `thundersheet calc NAME`."""
    aliases: Mapping[str, str] = field(default_factory=dict)
    """Other spellings of keys: formula letters, as handbooks write them."""


BREAKAWAY_PA: float = next(s.default for s in specs(AirCylinder) if s.name == "breakaway_pa")
"""Friction that the plan starts from, as a pressure on the bore."""
AIR_CAUTION = (
    "Compressed air moves suddenly and with full force: shut off and vent before reaching in, keep "
    "guards on, and follow the local code for compressed air."
)
STARTING_VALUES = (
    "Valve flow, friction and delays are starting values until measured: expect +-30 % for fast "
    "strokes."
)
