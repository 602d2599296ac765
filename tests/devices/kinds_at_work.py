"""Books, settings and moves with which the tests of the kinds work."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from thundersheet.base.time import Span
from thundersheet.base.units import read_quantity
from thundersheet.book.read import read_text
from thundersheet.devices import all_kinds, kind_named
from thundersheet.model.book import Book
from thundersheet.model.device import Action, Device, Lead, Move, Setting

KINDS = all_kinds()
IDS = [kind.KIND for kind in KINDS]
ATMOSPHERE = 101_325.0

HEAD = """\
book: 1
show: {name: test, length: 2:00, tempo: [{at: 0:00, per minute: 120}]}
boards:
  main: {kind: transistor outputs, terminals: 32, takes: 1 ms}
  dimmer: {kind: dimmed outputs, terminals: 8, takes: 1 ms}
  relays: {kind: relays, terminals: 8, takes: 8 ms}
"""


def example_book(kind: type[Device]) -> Book:
    """A kind's example in the smallest book around it."""
    return read_text(HEAD + kind.EXAMPLE)


def device_of(text: str) -> Device:
    """The device named `x` whose keys a text holds: `kind: lamp, volts: 24 V`."""
    return read_text(f"{HEAD}devices:\n  x: {{{text}}}\nbeats: []\n").device("x")


def example_device(kind: type[Device]) -> Device:
    """The device of its kind that a kind's example shows."""
    return next(each for each in example_book(kind).devices if isinstance(each, kind))


def setting(pressure: str = "2 bar", ambient: str = "20 C", *, vented: bool = False) -> Setting:
    """Surroundings with a gauge pressure as a builder writes it."""
    return Setting(
        supply_pa=read_quantity(pressure, "pressure") + ATMOSPHERE,
        ambient_k=read_quantity(ambient, "temperature"),
        vented=vented,
    )


def moves_of(device: Device) -> Iterator[tuple[Action, Move]]:
    """A move for every action, plain and with each thing that it takes, that is not objected to."""
    for action in device.ACTIONS:
        to = {"share": 0.6, "angle": 0.5, "number": _on_scale(device)}.get(action.to)
        plain = Move(device=device.name, action=action.name, to=to if action.name == "to" else None)
        moves = [plain]
        if "to" in action.takes:
            moves.append(replace(plain, to=to))
        if "over" in action.takes:
            moves.append(replace(plain, over=Span.seconds(2)))
        if "for" in action.takes:
            moves.append(replace(plain, hold=Span.seconds(4)))
        for move in dict.fromkeys(moves):
            if not device.objections(move):
                yield action, move


def _on_scale(device: Device) -> float:
    low, high = getattr(device, "scale", (0.0, 1.0))
    return low + 0.6 * (high - low)


def lead(
    device: Device,
    action: str,
    land: str = "",
    *,
    before: object = None,
    since: Span | None = None,
    around: Setting | None = None,
    **more: object,
) -> Lead:
    """The lead of one move; from rest unless a state is given."""
    around = around or setting()
    move = Move(device=device.name, action=action, **more)  # type: ignore[arg-type]
    landing = land or next(a for a in device.ACTIONS if a.name == action).lands[0]
    state = device.at_rest(around) if before is None else before
    return device.lead(move, landing, state, since, around)  # type: ignore[arg-type]


def by_part(lead: Lead) -> dict[str, float]:
    """A lead's parts in milliseconds."""
    return {part.name: part.span.in_ms for part in lead.parts}


__all__ = [
    "ATMOSPHERE",
    "HEAD",
    "IDS",
    "KINDS",
    "by_part",
    "device_of",
    "example_book",
    "example_device",
    "kind_named",
    "lead",
    "moves_of",
    "setting",
]
