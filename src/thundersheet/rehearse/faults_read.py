"""Faults as they are asked for: `stuck valve: shutter from 0:40`, to records with the book's names.

In: texts and the book. Out: faults, or a Refusal that says what can be asked for. What a fault does
is in `faults`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from thundersheet.base.finding import Refusal
from thundersheet.base.read_time import Ruler, read_span, read_time
from thundersheet.base.units import UnitError, read_quantity
from thundersheet.book.reading import hint
from thundersheet.model.book import Book
from thundersheet.plan.plumbing import plumbing_of
from thundersheet.rehearse.faults import (
    Drifted,
    Fault,
    Hammered,
    HeldStart,
    LatePlayer,
    Leak,
    LostWords,
    Sag,
    SlowValve,
    StuckValve,
)

EXPLAINS = {
    "FAULT-01": "A fault that the rehearsal does not know was asked for. The message lists those "
    "that it can play.",
    "FAULT-02": "A fault was asked for in words that do not say where or how much. The message "
    "shows how it is written.",
    "FAULT-03": "A fault names a device, supply or body of air that the book does not have, or one "
    "that cannot have this fault.",
}

WRITTEN = {
    "stuck valve": "stuck valve: shutter from 0:40",
    "slow valve": "slow valve: shutter by 60 ms",
    "leak": "leak: 5 l/min",
    "lost words": "lost words: 0:10..0:20",
    "late player": "late player: second-player by 300 ms",
    "follower drifted": "follower drifted: second-player by 200 ppm",
    "supply sag": "supply sag: main to 80 % from 0:40 for 3 s",
    "start button hammered": "start button hammered",
    "start button stuck": "start button stuck",
}
"""Each fault as it is asked for."""


def read_faults(texts: Iterable[str], book: Book) -> tuple[Fault, ...]:
    """The faults asked for, in their order."""
    return tuple(_read(text, book) for text in texts)


def _read(text: str, book: Book) -> Fault:
    plain = " ".join(text.split())
    name, _, _ = plain.partition(":")
    known = next((each for each in WRITTEN if _named(plain, each)), None)
    if known is None:
        raise Refusal.because("FAULT-01", f"There is no fault `{name}`.", hint(name, WRITTEN))
    rest = plain[len(known) :].lstrip(" :")
    asked = _Asked(text.strip(), known, rest, book)
    try:
        return _READERS[known](asked)
    except UnitError as error:
        raise asked.unclear(f"{error.says} {error.allowed}".strip()) from error


def _named(text: str, fault: str) -> bool:
    """Whether a text begins with a fault's name, in capitals or with dashes if need be."""
    start = text[: len(fault)].lower().replace("-", " ")
    return start == fault and text[len(fault) :][:1] in ("", " ", ":")


@dataclass(frozen=True, slots=True)
class _Asked:
    """One fault on its way from text to record."""

    text: str
    name: str
    rest: str
    book: Book

    def unclear(self, why: str = "") -> Refusal:
        says = why or f"`{self.text}` does not say all of it."
        return Refusal.because("FAULT-02", says, f"Write it as `{WRITTEN[self.name]}`.")

    def parts(self, form: str) -> re.Match[str]:
        """The text after the colon, taken apart; refused where it has another form."""
        found = re.fullmatch(form, self.rest)
        if found is None:
            raise self.unclear()
        return found

    def one_of(self, name: str, known: Iterable[str], what: str) -> str:
        """A name of the book that can have this fault."""
        names = tuple(known)
        if name in names:
            return name
        allowed = hint(name, names) if names else f"The book has no {what}."
        raise Refusal.because("FAULT-03", f"`{self.text}`: `{name}` is no {what}.", allowed)

    def second(self, text: str | None, default: float) -> float:
        """An instant of the programme."""
        if text is None:
            return default
        show = self.book.show
        return read_time(text, Ruler.of(show.frame_rate, show.tempo)).s


def _valves(book: Book) -> list[str]:
    return [device.name for device in book.devices if hasattr(device, "valve")]


def _stuck(asked: _Asked) -> Fault:
    found = asked.parts(r"(\S+)(?: from (.+))?")
    device = asked.one_of(found[1], _valves(asked.book), "device with a valve")
    return StuckValve(says=asked.text, device=device, from_s=asked.second(found[2], 0.0))


def _slow(asked: _Asked) -> Fault:
    found = asked.parts(r"(\S+) by (.+)")
    device = asked.one_of(found[1], _valves(asked.book), "device with a valve")
    return SlowValve(says=asked.text, device=device, by_s=read_span(found[2]).s)


def _leak(asked: _Asked) -> Fault:
    found = asked.parts(r"(.+?)(?: at (\S+))?")
    tree, _ = plumbing_of(asked.book)
    if tree is None:
        raise Refusal.because(
            "FAULT-03", f"`{asked.text}`: the book's air is without end, so it cannot leak.",
            "Write the tank under `air: parts`.",
        )  # fmt: skip
    holds = [part.name for part in tree.parts.values() if part.holds_m3]
    body = asked.one_of(found[2], holds, "tank or manifold") if found[2] else ""
    return Leak(says=asked.text, m3_s=read_quantity(found[1], "flow"), body=body)


def _words(asked: _Asked) -> Fault:
    if found := re.fullmatch(r"(\S+)\s*(?:\.\.|to)\s*(\S+)", asked.rest):
        between = (asked.second(found[1], 0.0), asked.second(found[2], 0.0))
        return LostWords(says=asked.text, between_s=between)
    found = asked.parts(r"\d{1,5}(?:\s*,\s*\d{1,5})*")
    numbers = tuple(int(each) for each in found[0].split(","))
    return LostWords(says=asked.text, numbers=numbers)


def _player(asked: _Asked, name: str, role: str = "") -> tuple[str, str]:
    """A player and the screen it feeds."""
    players = {
        device.name: getattr(device, "screen", "")
        for device in asked.book.devices
        if hasattr(device, "starts_after") and (not role or getattr(device, "role", "") == role)
    }
    found = asked.one_of(name, players, role or "media player")
    return found, players[found]


def _late(asked: _Asked) -> Fault:
    found = asked.parts(r"(\S+) by (.+)")
    player, screen = _player(asked, found[1])
    return LatePlayer(says=asked.text, player=player, screen=screen, by_s=read_span(found[2]).s)


def _drifted(asked: _Asked) -> Fault:
    found = asked.parts(r"(\S+) by ([+-]?[\d.]+) ?ppm")
    player, screen = _player(asked, found[1], "follower")
    return Drifted(says=asked.text, player=player, screen=screen, ppm=float(found[2]))


def _sag(asked: _Asked) -> Fault:
    found = asked.parts(r"(\S+) to (.+?)(?: from (.+?))?(?: for (.+))?")
    names = [supply.name for supply in asked.book.supplies]
    supply = asked.one_of(found[1], names, "supply")
    to = read_quantity(found[2], "share")
    if not 0.0 <= to <= 1.0:
        raise asked.unclear(f"A supply does not sag to {found[2]}.")
    lasts = None if found[4] is None else read_span(found[4]).s
    from_s = asked.second(found[3], 0.0)
    return Sag(says=asked.text, supply=supply, to=to, from_s=from_s, for_s=lasts)


def _hammered(asked: _Asked) -> Fault:
    found = asked.parts(r"(?:every (.+))?")
    if not found[1]:
        return Hammered(says=asked.text)
    every = read_span(found[1]).s
    if every <= 0.0:
        raise asked.unclear("There is time between two presses.")
    return Hammered(says=asked.text, every_s=every)


def _held(asked: _Asked) -> Fault:
    asked.parts("")
    return HeldStart(says=asked.text)


_READERS: dict[str, Callable[[_Asked], Fault]] = {
    "stuck valve": _stuck,
    "slow valve": _slow,
    "leak": _leak,
    "lost words": _words,
    "late player": _late,
    "follower drifted": _drifted,
    "supply sag": _sag,
    "start button hammered": _hammered,
    "start button stuck": _held,
}
