"""A lamp that is on or off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.devices._lights import SwitchedLight


@dataclass(frozen=True, kw_only=True)
class Lamp(SwitchedLight):
    """A lamp, a string of lights or a panel on one switching output."""

    KIND: ClassVar[str] = "lamp"
    EXAMPLE: ClassVar[str] = """\
devices:
  porch: {kind: lamp, what: porch lamp, type: filament, volts: 12 V, current: 1.5 A, on: main 7}
beats:
  - {at: 0:05, do: porch on, land: half-way}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><circle cx="12" cy="12" r="8"/>'
        '<path d="M6.3 6.3l11.4 11.4M17.7 6.3L6.3 17.7M1 12h3M20 12h3"/></g>'
    )
