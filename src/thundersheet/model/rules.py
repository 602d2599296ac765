"""What must never be and what must come first; and the limits that findings hold things against.

Every default limit is a yardstick borrowed from a named document, never a certificate; the
book may set its own under `limits`.
"""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, quantity, span, text, texts, whole
from thundersheet.base.time import Span
from thundersheet.model.device import Move


@dataclass(frozen=True, kw_only=True)
class Rule(Record):
    """One thing that must never be, or must come first; one of its lines is written."""

    never_together: tuple[str, ...] = texts(
        "States of devices that must never hold at once.", example="[shutter open, hatch open]"
    )
    first: str = text("What must be so before `then` may start.", default="", example="latch back")
    then: str = text("What has to wait.", default="", example="gate open")
    apart: Span | None = span("Least time between `first` done and `then` begun.", default=None)
    because: str = text("Why, for the message.", default="")
    states: tuple[Move, ...] = ()
    """`never together`, understood: the moves that lead into these states. From the reader."""
    first_move: Move | None = None
    """`first`, understood."""
    then_move: Move | None = None
    """`then`, understood."""


@dataclass(frozen=True, kw_only=True)
class Limits(Record):
    """Yardsticks for guests' reach and eyes."""

    force_n: float = quantity(
        "force",
        "Most force at reach without a reopening edge (EN 953 5.2.5.2, now ISO 14120: powered "
        "guards 75 N; secondary source).",
        default=75.0,
    )
    energy_j: float = quantity(
        "energy", "Most energy at reach without an edge (same clause: 4 J).", default=4.0
    )
    force_with_edge_n: float = quantity(
        "force", "Most force at reach with a reopening edge (same clause: 150 N).", default=150.0
    )
    energy_with_edge_j: float = quantity(
        "energy", "Most energy at reach with an edge (same clause: 10 J).", default=10.0
    )
    door_force_n: float = quantity(
        "force",
        "Stricter door figure, noted (ANSI/BHMA A156.19 4.4: 15 lbf = 67 N; secondary source).",
        default=67.0,
    )
    door_energy_j: float = quantity(
        "energy", "Stricter door figure, noted (ANSI/BHMA A156.19 4.5: 1.69 J).", default=1.69
    )
    flashes: int = whole(
        "Most flashes in any one second (W3C WCAG 2.2, criterion 2.3.1: three).", default=3
    )
    flash_share: float = quantity(
        "share",
        "Share of the view above which flashes count (W3C WCAG 2.2 general flash threshold: 25 %).",
        default=0.25,
    )
