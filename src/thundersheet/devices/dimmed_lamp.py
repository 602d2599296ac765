"""A lamp on a dimmer: any brightness, at once or over a time that the dimmer keeps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from thundersheet.devices._dimmed import Dimmed


@dataclass(frozen=True, kw_only=True)
class DimmedLamp(Dimmed):
    """A lamp whose brightness is set."""

    KIND: ClassVar[str] = "dimmed lamp"
    EXAMPLE: ClassVar[str] = """\
devices:
  lamp: {kind: dimmed lamp, what: great lamp, volts: 24 V, current: 0.63 A, on: dimmer 1}
beats:
  - {at: 0:06, do: lamp to 60 % over 2 s, window: soft}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><circle cx="12" cy="12" r="7"/>'
        '<path d="M7 7l10 10M17 7L7 17M3 21L21 3M21 3h-4M21 3v4"/></g>'
    )
