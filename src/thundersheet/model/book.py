"""The whole book as one frozen record: what the reader makes and everything else reads."""

from __future__ import annotations

from dataclasses import dataclass, field

from thundersheet.base.finding import Finding
from thundersheet.base.shape import Record, named, record, records, span, text, whole
from thundersheet.base.time import Span
from thundersheet.base.units import METRIC, UnitStyle
from thundersheet.model.air import Air, Evening
from thundersheet.model.device import Device, Move
from thundersheet.model.night import Night
from thundersheet.model.rules import Limits, Rule
from thundersheet.model.show import Beat, Guests, Show, Variant
from thundersheet.model.spreads import Spreads
from thundersheet.model.wiring import Board, Supply

VERSION = 1
"""The book format this program writes and reads."""


@dataclass(frozen=True, kw_only=True)
class Measured(Record):
    """What a recording showed for one action; it overrides the model."""

    name: str = ""
    """The device and action as a beat writes them: `shutter open`."""
    lead: Span = span("From the command to the landing.", low=0.0, example="312 ms")
    spread: Span = span("Standard deviation over the firings.", default=Span.ms(5), low=0.0)
    firings: int = whole("How many were measured.", default=10, low=1)
    on: str = text("Date and conditions.", default="")
    recording: str = text("Fingerprint of the recording.", default="")
    move: Move | None = None
    """`name`, understood: filled in by the reader."""


@dataclass(frozen=True, kw_only=True)
class Book(Record):
    """One prop and its show."""

    book: int = whole("Version of this file's format.", low=1, example="1")
    show: Show = record(Show, "The programme.")
    guests: Guests = record(Guests, "Who comes.", default=Guests())
    air: Air = record(Air, "What feeds the cylinders.", default=Air())
    evening: Evening | None = record(
        Evening, "What the leads and the air have to serve.", default=None
    )
    boards: tuple[Board, ...] = named(Board, "What switches the outputs.")
    supplies: tuple[Supply, ...] = named(Supply, "What powers them.")
    devices: tuple[Device, ...] = named(Device, "What acts and shows.")
    rules: tuple[Rule, ...] = records(Rule, "What must never be, what must come first.")
    limits: Limits = record(Limits, "Yardsticks for findings.", default=Limits())
    beats: tuple[Beat, ...] = records(Beat, "When what happens, or a CSV file that says so.")
    variants: tuple[Variant, ...] = named(Variant, "Other versions of the same show.")
    measured: tuple[Measured, ...] = named(Measured, "Written by tuning; overrides the model.")
    spreads: Spreads = record(
        Spreads, "How far values may be off, for `rehearse --scatter`.", default=Spreads()
    )
    night: Night = record(Night, "How it is run for guests.", default=Night())
    units: UnitStyle = field(default=METRIC, compare=False)
    """The units the builder writes, for saying things back."""
    findings: tuple[Finding, ...] = field(default=(), compare=False)
    """What the reader noticed without being stopped by it: warnings and notes."""

    def device(self, name: str) -> Device:
        """The device of this name; KeyError when there is none."""
        for device in self.devices:
            if device.name == name:
                return device
        raise KeyError(name)
