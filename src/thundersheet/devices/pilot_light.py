"""Pilot lights: the small lamps of a panel, one or several on one output."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.devices._lights import SwitchedLight


@dataclass(frozen=True, kw_only=True)
class PilotLight(SwitchedLight):
    """One or more pilot lights that are on or off together."""

    KIND: ClassVar[str] = "pilot light"
    EXAMPLE: ClassVar[str] = """\
devices:
  pilots: {kind: pilot light, what: six pilots, volts: 24 V, current: 0.12 A, on: main 9}
beats:
  - {at: 0:54, do: pilots on}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><circle cx="12" cy="12" r="4"/>'
        '<path d="M9.2 9.2l5.6 5.6M14.8 9.2l-5.6 5.6M2 12h6M16 12h6"/></g>'
    )
