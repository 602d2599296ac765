"""A plan's cues as what happens on the boards' terminals: when each output is told what.

In: cues and when each in fact leaves. Out: `Told` rows by terminal, a board's own time counted, and
outputs that the board lets go by itself. No device is known here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.plan.records import Cue


@dataclass(frozen=True, slots=True, order=True)
class Told:
    """One output told one thing."""

    at_s: float
    """When the terminal switches: the board's own time is in it."""
    output: str
    value: float
    over_s: float = 0.0
    """The board ramps there for so long."""
    cue: str = ""
    """Whose command it is; empty where the board lets go by itself."""


def told_by(
    book: Book, cues: Iterable[Cue], leaves_s: Mapping[str, float]
) -> dict[str, tuple[Told, ...]]:
    """By output, everything it is told in order of time; a cue that never leaves is not there."""
    takes = {board.name: board.takes.s for board in book.boards}
    safe = {name_of(device, i): out.safe for device in book.devices
            for i, out in enumerate(device.outputs())}  # fmt: skip
    rows: dict[str, list[tuple[Told, float | None]]] = {}
    for cue in cues:
        if cue.id not in leaves_s:
            continue
        for command in cue.commands:
            board = command.output.rpartition(" ")[0]
            at = leaves_s[cue.id] + takes.get(board, 0.0)
            over = command.over.s if command.over else 0.0
            hold = command.hold.s if command.hold is not None else None
            row = Told(at, command.output, command.value, over, cue.id)
            rows.setdefault(command.output, []).append((row, hold))
    return {name: tuple(_with_releases(each, safe.get(name, 0.0))) for name, each in rows.items()}


def _with_releases(rows: Sequence[tuple[Told, float | None]], safe: float) -> Iterable[Told]:
    """With what a board does by itself at the end of a hold, unless it was told anew before."""
    ordered = sorted(rows, key=lambda each: each[0].at_s)
    for index, (row, hold) in enumerate(ordered):
        yield row
        if hold is None:
            continue
        ends = row.at_s + hold
        if index + 1 == len(ordered) or ordered[index + 1][0].at_s > ends:
            yield Told(ends, row.output, safe)


def name_of(device: Device, index: int) -> str:
    """What a command calls a device's output."""
    out = device.outputs()[index]
    return out.terminal or f"{device.name}.{out.name}"


def outputs_of(device: Device) -> tuple[str, ...]:
    """What commands call all of a device's outputs, in wiring order."""
    return tuple(name_of(device, index) for index in range(len(device.outputs())))
