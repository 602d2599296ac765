"""Beats, rules, variants and measurements: their texts turned into moves of devices."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from thundersheet.base.shape import Record
from thundersheet.base.source import Place
from thundersheet.book import plumbing
from thundersheet.book.beats import MoveError, move_of
from thundersheet.book.names import check_name
from thundersheet.book.nodes import Mapping, Scalar
from thundersheet.book.reading import Reading, hint
from thundersheet.book.values import items_of
from thundersheet.model.air import Air, AirPart, Compressor, Evening
from thundersheet.model.book import Measured
from thundersheet.model.device import Device, Move
from thundersheet.model.night import Input, OutputLimit
from thundersheet.model.rules import Rule
from thundersheet.model.show import Beat, Variant

EXPLAINS = {
    "BOOK-44": "A variant leaves out something that is neither a device, nor a device with one of "
    "its actions, nor a beat that has this `name`.",
    "BOOK-47": "A variant is chosen by the pressure in a tank (`tank below`), and the book has no "
    "tank.",
    "BOOK-48": "A `home` input proves one device, and says which with `of`.",
    "BOOK-52": "`times` says how often a beat is repeated and `every` the time between: one needs "
    "the other.",
    "BOOK-55": "Two measurements are of the same action, under its own name and one of your words: "
    "only one of them can hold.",
    "BOOK-54": "A rule says either `never together` with two or more states, or `first` and "
    "`then`.",
}

Values = dict[str, Any]


def understood(
    cls: type[Record], values: Values, node: Mapping, name: str, reading: Reading
) -> Values:
    """The fields that the reader fills in beside those that are written; {} for most records."""
    if issubclass(cls, Device):
        return _device(cls, values, node, reading)
    make = _MAKE.get(cls)
    return {} if make is None else make(values, node, name, reading)


def _move(text: str, place: Place, reading: Reading) -> Move | None:
    """The move that a text says, or a finding at its place."""
    if text in reading.moves:
        return reading.moves[text]
    try:
        return reading.moves.setdefault(text, move_of(text, reading.devices))
    except MoveError as error:
        reading.say(error.code, place, error.says, error.allowed)
        return None


def _moves(key: str, node: Mapping, reading: Reading) -> tuple[Move, ...]:
    written = node.get(key)
    texts = [] if written is None else list(items_of(written))
    moves = (_move(*item, reading) for item in texts if isinstance(item, tuple) and item[0])
    return tuple(move for move in moves if move is not None)


def _beat(values: Values, node: Mapping, _name: str, reading: Reading) -> Values:
    if values.get("times", 1) > 1 and node.get("every") is None:
        says = f"This beat comes {values['times']} times, but not how far apart."
        reading.say("BOOK-52", node.place, says, "Write `every: 0.6 s` beside `times`.")
    if "every" in values and node.get("times") is None:
        says = "This beat says how far apart its repeats are, but not how many there are."
        reading.say("BOOK-52", node.place, says, "Write `times: 2` beside `every`.")
    return {"moves": _moves("do", node, reading)}


def _rule(values: Values, node: Mapping, _name: str, reading: Reading) -> Values:
    together = node.get("never together") is not None
    first, then = node.get("first"), node.get("then")
    if together == (first is not None and then is not None) or (first is None) != (then is None):
        says = "This rule is not complete, or it is two."
        reading.say("BOOK-54", node.place, says, EXPLAINS["BOOK-54"])
        return {}
    if together and "never_together" in values and len(values["never_together"]) < 2:
        says = "One state alone is never together with anything."
        reading.say("BOOK-54", node.place, says, "Write two or more: `[shutter open, hatch open]`.")
    return {
        "states": _moves("never together", node, reading),
        "first_move": next(iter(_moves("first", node, reading)), None),
        "then_move": next(iter(_moves("then", node, reading)), None),
    }


def _measured(_values: Values, node: Mapping, name: str, reading: Reading) -> Values:
    move = _move(name, node.place, reading)
    if move is not None and (move.device, move.action) in reading.measured:
        says = f"`{name}` is measured twice, by two names of one action."
        reading.say("BOOK-55", node.place, says, "Remove one of them.")
    elif move is not None:
        reading.measured.add((move.device, move.action))
    return {"move": move}


def _variant(_values: Values, node: Mapping, _name: str, reading: Reading) -> Values:
    devices: list[str] = []
    beats: list[str] = []
    moves: list[Move] = []
    if (below := node.get("tank below")) is not None and not reading.air_parts:
        says = "`tank below` chooses by the pressure in the tank, and the book has none."
        reading.say("BOOK-47", below.place, says, "Write `parts` with a tank under `air`.")
    written = node.get("leave out")
    for item in [] if written is None else items_of(written):
        if not isinstance(item, tuple):
            continue
        text, place = item
        if text in reading.devices:
            devices.append(text)
        elif text in reading.beats:
            beats.append(text)
        elif any(text.startswith(f"{name} ") for name in reading.devices):
            move = _move(text, place, reading)
            moves += [] if move is None else [move]
        else:
            says = f"`leave out` names `{text}`, which is no device, action or beat of this book."
            reading.say("BOOK-44", place, says, hint(text, {*reading.devices, *reading.beats}))
    return {
        "without_devices": tuple(devices),
        "without_moves": tuple(moves),
        "without_beats": tuple(beats),
        "swaps": _swaps(node, reading),
    }


def _input(values: Values, node: Mapping, name: str, reading: Reading) -> Values:
    if values.get("kind") == "home" and len(values.get("of", ())) != 1:
        says = f"`{name}` is a home switch, but not of one device."
        reading.say("BOOK-48", node.place, says, "Write the device that it proves: `of: shutter`.")
    return {}


def _output(_values: Values, node: Mapping, name: str, reading: Reading) -> Values:
    if name.partition(".")[0] not in reading.devices:
        check_name("terminal", name, node.place, "outputs", reading)
    return {}


def _swaps(node: Mapping, reading: Reading) -> tuple[tuple[Move, Move], ...]:
    written = node.get("instead")
    found = []
    for key, value in written.entries if isinstance(written, Mapping) else []:
        if isinstance(value, Scalar):
            usual = _move(key.text, key.place, reading)
            other = _move(value.text, value.place, reading)
            found += [(usual, other)] if usual and other else []
    return tuple(found)


def _device(cls: type[Device], values: Values, node: Mapping, reading: Reading) -> Values:
    """Nothing to fill in; but the builder's words have to stand for actions of this kind."""
    actions = {action.name for action in cls.ACTIONS}
    words = node.get("words")
    for key, value in words.entries if isinstance(words, Mapping) and values.get("words") else []:
        if isinstance(value, Scalar) and value.text not in actions:
            says = f"`{key.text}` is to stand for `{value.text}`, which {cls.KIND} cannot do."
            reading.say("BOOK-53", value.place, says, hint(value.text, actions))
        elif isinstance(value, Scalar) and key.text in actions and key.text != value.text:
            says = f"`{key.text}` is an action of {cls.KIND} itself; it cannot mean `{value.text}`."
            reading.say("BOOK-53", key.place, says, "Choose another word.")
    return {}


_MAKE: dict[type[Record], Callable[[Values, Mapping, str, Reading], Values]] = {
    Air: plumbing.air,
    AirPart: plumbing.air_part,
    Compressor: plumbing.compressor,
    Evening: plumbing.evening,
    Beat: _beat,
    Input: _input,
    OutputLimit: _output,
    Rule: _rule,
    Measured: _measured,
    Variant: _variant,
}
