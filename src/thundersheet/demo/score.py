"""What happens when in a demo show, and the sheet of samples on which its sounds are laid.

In: a book. Out: events taken from its beats, so that moving a beat in the book moves its sound
and its picture too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from thundersheet.base.time import Span, Time
from thundersheet.demo.instruments import RATE, Samples
from thundersheet.model.book import Book
from thundersheet.plan.timeline import timeline


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that a guest hears or sees, at its beat."""

    at: Time
    device: str
    kind: str
    action: str
    to: float | None
    hold: Span | None
    over: Span | None


def events(book: Book) -> tuple[Event, ...]:
    """All events of the show as written, in order."""
    return tuple(
        Event(
            target.beat_at,
            target.move.device,
            book.device(target.move.device).KIND,
            target.move.action,
            target.move.to,
            target.move.hold,
            target.move.over,
        )
        for target in timeline(book).targets
    )


def times(of: tuple[Event, ...], device: str, action: str = "") -> tuple[float, ...]:
    """When a device does something, in seconds; any action when none is named."""
    return tuple(e.at.s for e in of if e.device == device and action in ("", e.action))


def relit(happens: tuple[Event, ...], device: str) -> tuple[float, ...]:
    """When a lamp that had been put out is lit again, in seconds."""
    own = [e for e in happens if e.device == device]
    return tuple(
        after.at.s
        for before, after in pairwise(own)
        if before.action == "off" and after.action == "on"
    )


class Sheet:
    """Two channels of silence as long as the show, on which sounds are laid."""

    def __init__(self, length: Time) -> None:
        self.samples: Samples = np.zeros((length.sample(RATE), 2), np.float32)

    def lay(self, sound: Samples, at: Time, level: float = 1.0, pan: float = 0.0) -> None:
        """Add a mono sound whose first sample falls on `at`; `pan` -1 is left, +1 right."""
        first = at.sample(RATE)
        skipped = max(-first, 0)
        room = max(len(self.samples) - max(first, 0), 0)
        piece = sound[skipped : skipped + room]
        angle = (pan + 1) * math.pi / 4
        sides = np.array([math.cos(angle), math.sin(angle)], np.float32) * np.float32(level)
        self.samples[max(first, 0) : max(first, 0) + len(piece)] += piece[:, None] * sides

    def bed(self, left: Samples, right: Samples, level: Samples) -> None:
        """Add a sound that lasts all the show, its level given for each sample."""
        count = len(self.samples)
        self.samples[:, 0] += left[:count] * level[:count]
        self.samples[:, 1] += right[:count] * level[:count]

    def finished(self) -> Samples:
        """The sheet with soft tops, peak at -1 dBFS, last 0.4 s faded."""
        soft = np.tanh(self.samples * np.float32(0.9))
        soft *= np.float32(10 ** (-1 / 20) / max(float(np.abs(soft).max()), 1e-9))
        tail = min(round(0.4 * RATE), len(soft))
        soft[len(soft) - tail :] *= np.linspace(1, 0, tail, dtype=np.float32)[:, None]
        return np.asarray(soft, dtype=np.float32)
