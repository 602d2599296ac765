"""How findings and cures speak of moves, times and quantities: in the builder's own words."""

from __future__ import annotations

from collections.abc import Sequence

from thundersheet.base.time import Time, clock
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Move


def word_of(device: Device, action: str) -> str:
    """The user's own word for an action of a device, or the kind's where there is none."""
    return next((mine for mine, kinds in device.words if kinds == action), action)


def said(book: Book, move: Move) -> str:
    """A device and its action as the user words them: `shutter open`."""
    return f"{move.device} {word_of(book.device(move.device), move.action)}"


def shown(book: Book, value: float, dimension: str) -> str:
    """A quantity in the builder's units with three figures: a message is no table."""
    return book.units.show(float(f"{value:.3g}"), dimension)


def up(time: Time) -> str:
    """A time of the show rounded up to 10 ms, as advice is given."""
    return clock(Time(-(-time.ns // 10_000_000) * 10_000_000), 2)


def listed(names: Sequence[str]) -> str:
    """`one, two and three`."""
    first = ", ".join(names[:-1])
    return f"{first} and {names[-1]}" if first else names[-1]
