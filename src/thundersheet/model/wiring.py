"""Boards and supplies, as far as the plan needs them: which terminal, how many, how fast."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, flag, quantity, span, text, texts, whole
from thundersheet.base.time import Span


@dataclass(frozen=True, kw_only=True)
class Board(Record):
    """Something with terminals that switches outputs."""

    name: str = ""
    kind: str = text("What it is.", default="", example="8-relay board")
    terminals: int = whole("How many outputs it has.", default=16, low=1, high=512)
    takes: Span = span(
        "From the command until its terminal has switched.",
        default=Span.ms(0),
        low=0.0,
        high=1.0,
        example="8 ms",
    )
    active_low: bool = flag("Whether a low signal switches it on.", default=False)
    each_a: float | None = quantity(
        "current", "Most current one terminal may carry.", default=None, low=0.001, example="2 A"
    )


@dataclass(frozen=True, kw_only=True)
class Supply(Record):
    """A power supply and the devices' common rail."""

    name: str = ""
    volts_v: float = quantity(
        "voltage", "Its voltage.", low=0.5, high=400.0, example="24 V", key="volts"
    )
    current_a: float = quantity("current", "Most current it gives.", low=0.01, example="6.5 A")
    wire_ohm: float = quantity(
        "resistance",
        "Resistance out and back to the farthest device that shares its wires.",
        default=0.0,
        low=0.0,
        example="0.9 ohm",
    )
    feeds: tuple[str, ...] = texts(
        "Devices that it feeds; left out: all of its voltage that no other supply lists.",
        names="device",
        example="[bell-g, bell-a]",
    )
