"""Wants in few strokes, for the tests of the cue track."""

from __future__ import annotations

from thundersheet.base.time import Span, Time
from thundersheet.model.device import Command
from thundersheet.model.show import CueTrack
from thundersheet.plan.schedule import Want

DIRECT = CueTrack(layout="direct")
MARKS = CueTrack(layout="marks")
MINUTE = Time.seconds(60)
PRINT = "c0ffee4200000000"


def want(
    name: str, at_ms: float, outputs: str = "", early_ms: float = 80, late_ms: float = 40
) -> Want:
    """A want that switches one output for each letter of `outputs` (else one named like it)."""
    return Want(
        cue_id=name,
        at=Time.seconds(at_ms / 1000),
        early=Span.ms(early_ms),
        late=Span.ms(late_ms),
        commands=tuple(Command(output=output, value=1.0) for output in outputs or [name]),
    )
