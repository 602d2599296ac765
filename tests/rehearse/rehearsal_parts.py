"""Books, devices and moves with which the tests of the rehearsal work."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from thundersheet.base.time import Span
from thundersheet.book.read import read_text
from thundersheet.devices import all_kinds
from thundersheet.model.book import Book
from thundersheet.model.device import Action, Command, Device, Move, Setting, Wire
from thundersheet.rehearse.motion import Track, follow
from thundersheet.rehearse.wires import Told

KINDS = all_kinds()
IDS = [kind.KIND for kind in KINDS]
ON_AIR = ("air cylinder", "air jet")
SETTING = Setting(supply_pa=301_325.0)
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


def example_device(kind: type[Device]) -> Device:
    """The device of its kind that a kind's example shows."""
    return next(each for each in example_book(kind).devices if isinstance(each, kind))


def device_of(text: str) -> Device:
    """The device named `x` whose keys a text holds: `kind: lamp, volts: 24 V`."""
    return read_text(f"{HEAD}devices:\n  x: {{{text}}}\nbeats: []\n").device("x")


def moves_of(device: Device) -> Iterator[tuple[Action, Move]]:
    """A move for every action, plain and with each thing that it takes, that is not objected to."""
    for action in device.ACTIONS:
        low, high = getattr(device, "scale", (0.0, 1.0))
        to = {"share": 0.6, "angle": 0.5, "number": low + 0.6 * (high - low)}.get(action.to)
        plain = Move(device=device.name, action=action.name, to=to if action.name == "to" else None)
        moves = [plain]
        if "over" in action.takes:
            moves.append(replace(plain, over=Span.seconds(2)))
        if "for" in action.takes:
            moves.append(replace(plain, hold=Span.seconds(0.4)))
        for move in moves:
            if not device.objections(move):
                yield action, move


def rows(commands: tuple[Command, ...], at_s: float) -> dict[str, list[Told]]:
    """Commands as rows of a board that takes no time."""
    found: dict[str, list[Told]] = {}
    for each in commands:
        over = each.over.s if each.over else 0.0
        found.setdefault(each.output, []).append(Told(at_s, each.output, each.value, over, "x"))
        if each.hold is not None:
            found[each.output].append(Told(at_s + each.hold.s, each.output, 0.0))
    return found


def played(device: Device, *moves: tuple[float, Move], ends_s: float = 100.0) -> Track:
    """A device told moves at instants."""
    told: dict[str, list[Told]] = {}
    for at_s, move in moves:
        for name, more in rows(device.commands(move), at_s).items():
            told.setdefault(name, []).extend(more)
    return follow(device, told, ends_s, SETTING)


def wires_of(device: Device, value: float, goal: float, left_s: float) -> tuple[Wire, ...]:
    """The same wire on all of its outputs; a switch stands at 0 or 1."""
    return tuple(
        Wire.at(float(value >= 0.5)) if out.drives == "switch" else Wire(value, goal, left_s)
        for out in device.outputs()
    )
