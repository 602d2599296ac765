"""Names in the book that stand for something written elsewhere in it: are they there."""

from __future__ import annotations

import re
from collections.abc import Iterable

from thundersheet.base.source import Place
from thundersheet.book.reading import Reading, hint
from thundersheet.model.wiring import Board

EXPLAINS = {
    "BOOK-41": "A terminal is named that no board has: the board's name is not under `boards`, or "
    "its number is beyond the board's `terminals`.",
    "BOOK-42": "A variant is named that is not under `variants`.",
    "BOOK-43": "A screen is named that is not under `devices` as `kind: screen`. What beats meet "
    "is either `sound` or such a screen, whose lag then shifts them.",
    "BOOK-46": "A part of the plumbing is named that is not under `parts` of `air`.",
    "BOOK-45": "A device is named that is not under `devices`.",
}

_TERMINAL = re.compile(r"(.*\S) (0|[1-9]\d{0,3})")


def check_name(names: str, text: str, place: Place, key: str, reading: Reading) -> bool:
    """Whether what a text names is in the book; a finding when it is not."""
    before = len(reading.findings)
    if not text:
        return True
    if names == "terminal":
        _check_terminal(text, place, reading)
    elif names == "variant":
        _check(text, reading.variants, "BOOK-42", "variant", place, key, reading)
    elif names == "device":
        _check(text, reading.devices, "BOOK-45", "device", place, key, reading)
    elif names == "air part":
        _check(text, reading.air_parts, "BOOK-46", "part", place, key, reading)
    elif not (names == "sound or screen" and text == "sound"):
        _check_screen(text, place, key, reading)
    return len(reading.findings) == before


def _check(
    text: str,
    known: Iterable[str],
    code: str,
    what: str,
    place: Place,
    key: str,
    reading: Reading,
) -> None:
    names = frozenset(known)
    if text not in names:
        says = f"`{key}` names the {what} `{text}`, which is not in the book."
        reading.say(code, place, says, hint(text, names) or f"It has no {what}s yet.")


def _check_screen(text: str, place: Place, key: str, reading: Reading) -> None:
    screens = {
        name
        for name, known in reading.devices.items()
        if known.kind is None or known.kind.KIND == "screen"
    }
    if text not in screens:
        says = f"`{key}` names the screen `{text}`, which is not in the book."
        allowed = hint(text, screens | {"sound"}) if key == "meets" else hint(text, screens)
        reading.say("BOOK-43", place, says, allowed or "Write it under `devices`, `kind: screen`.")


def _check_terminal(text: str, place: Place, reading: Reading) -> None:
    match = _TERMINAL.fullmatch(text)
    if match is None:
        says = f"`{text}` is no terminal."
        reading.say("BOOK-41", place, says, "Write a board and a number, as in `main 4`.")
        return
    board, number = match[1], int(match[2])
    if board not in reading.boards:
        says = f"`{text}` is on the board `{board}`, which is not in the book."
        allowed = hint(board, reading.boards) or "Write it under `boards`, `main: {terminals: 8}`."
        reading.say("BOOK-41", place, says, allowed)
        return
    count = reading.boards[board] or Board.terminals
    if not 1 <= number <= count:
        says = f"`{text}`: the board `{board}` has terminals 1 to {count}."
        reading.say("BOOK-41", place, says, "Take one of them, or mend its `terminals`.")
