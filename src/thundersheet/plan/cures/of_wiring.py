"""Cures at supplies, wires and terminals."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from thundersheet.model.wiring import Supply
from thundersheet.plan.cures.idea import (
    BUY,
    SAY,
    Change,
    Idea,
    Step,
    Trouble,
    device_of,
    with_device,
)
from thundersheet.plan.wording import shown


def _supply_of(trouble: Trouble) -> Supply | None:
    place = trouble.finding.place
    for supply in trouble.book.supplies:
        if place in (supply.origin.of("current_a"), supply.origin.of("wire_ohm")):
            return supply
    return None


def _with_supply(name: str, **changes: Any) -> Change:
    return lambda book: replace(
        book,
        supplies=tuple(replace(s, **changes) if s.name == name else s for s in book.supplies),
    )


def stronger_supply(trouble: Trouble) -> Iterator[Idea]:
    """A supply that gives more."""
    supply = _supply_of(trouble)
    if supply is not None:
        amps = [supply.current_a * k for k in (1.25, 1.5, 2.0, 3.0, 5.0)]
        steps = tuple(
            Step(
                f"Fit a supply of {shown(trouble.book, a, 'current')} for `{supply.name}`.",
                _with_supply(supply.name, current_a=a),
            )
            for a in amps
        )
        yield Idea(BUY, steps, "a larger supply")


def thicker_wire(trouble: Trouble) -> Iterator[Idea]:
    """Wire that loses less."""
    supply = _supply_of(trouble)
    if supply is not None:
        steps = tuple(
            Step(
                f"Wire `{supply.name}` with {k:g} times the copper, or that many wires side by "
                f"side: {shown(trouble.book, supply.wire_ohm / k, 'resistance')}.",
                _with_supply(supply.name, wire_ohm=supply.wire_ohm / k),
            )
            for k in (1.5, 2.0, 3.0, 4.0, 6.0, 10.0)
        )
        yield Idea(BUY, steps, "thicker wire, out and back")


def free_terminal(trouble: Trouble) -> Iterator[Idea]:
    """Another terminal of the same board for the last device of several on one."""
    device = device_of(trouble)
    if device is None or not device.on:
        return
    board_name = device.on.rpartition(" ")[0]
    board = next((b for b in trouble.book.boards if b.name == board_name), None)
    if board is None:
        return
    taken = {out.terminal for d in trouble.book.devices for out in d.outputs()}
    free = [f"{board_name} {n}" for n in range(1, board.terminals + 1)]
    free = [terminal for terminal in free if terminal not in taken]
    if free:
        do = f"Wire {device.name} to `{free[0]}`, which is free."
        yield Idea(SAY, (Step(do, with_device(device.name, on=free[0])),), "one more wire")
