"""What an idea for a cure is: a sentence, and a function from book to book.

An idea that can be small or large carries its steps; the least that works is kept. Nothing is
tried here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from thundersheet.base.finding import Finding
from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.model.show import Beat
from thundersheet.plan.records import Cue
from thundersheet.plan.timeline import beats_by_id

"""More lamps alike than this are a chase."""
Change = Callable[[Book], Book]
TURN, SAY, SHIFT, DROP, BUY = range(5)
"""What an idea asks of the builder, cheapest first: a screw, a line in the book, another time,
something less, something bought."""


@dataclass(frozen=True, slots=True)
class Step:
    """One size of an idea."""

    do: str
    change: Change


@dataclass(frozen=True, slots=True)
class Idea:
    """One way that may help."""

    price: int
    steps: tuple[Step, ...]
    """Smallest first; the first that helps is the cure."""
    cost: str = ""
    device: str = ""
    """Whose motion changes by it: the cure then says how."""
    quick: Callable[[Book], bool] | None = None
    """What must hold of the changed book at least, and is soon told; the first step for which it
    does is then the only one that is planned."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """A finding with what it is about."""

    book: Book
    finding: Finding
    cues: Mapping[str, Cue]

    def cue(self, index: int) -> Cue | None:
        """The finding's cue of this rank; None where it is about no such cue."""
        about = self.finding.about
        return self.cues.get(about[index]) if index < len(about) else None

    def beat(self, index: int) -> Beat | None:
        """The beat of that cue."""
        cue = self.cue(index)
        return None if cue is None else beats_by_id(self.book).get(cue.target.beat)


def device_of(trouble: Trouble, index: int = 0) -> Device | None:
    """The device of the finding's cue of this rank, or of that name; None where there is none."""
    cue = trouble.cue(index)
    if cue is not None:
        return trouble.book.device(cue.target.move.device)
    names = {device.name: device for device in trouble.book.devices}
    about = trouble.finding.about
    return names.get(about[index]) if index < len(about) else None


def with_device(name: str, **changes: Any) -> Change:
    """A device with other values."""
    return lambda book: replace(
        book,
        devices=tuple(replace(d, **changes) if d.name == name else d for d in book.devices),
    )
