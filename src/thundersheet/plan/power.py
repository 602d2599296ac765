"""What the cues draw from the supplies, and what arrives at the far end of the wires.

In: a book and its cues. Out: findings. Only what the devices' `loads` say is added up: starting
peaks of screens, players and compressors are not known here.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from thundersheet.base.finding import Finding
from thundersheet.base.time import ZERO, Time, clock
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Load
from thundersheet.model.wiring import Supply
from thundersheet.plan.records import Cue
from thundersheet.plan.wording import shown

EXPLAINS = {
    "POWER-01": "At one instant the devices on a supply draw more than it gives. It will sag or "
    "shut down at the moment that matters most.",
    "POWER-02": "What is left at the far end of the wires, after the drop in the wire out and the "
    "shared return, is under 90 % of the supply's voltage: coils pull late or not at all.",
    "POWER-03": "Two devices are wired to one terminal: whatever switches one switches the other.",
    "POWER-04": "The load on a terminal is more than the board gives there.",
    "POWER-05": "A device has a voltage that no supply of the book gives, so its share was not "
    "added up.",
    "POWER-06": "The peak leaves less headroom on a supply than common practice asks for.",
}

LEAST_SHARE = 0.9
HEADROOM = 1.3
"""Supply at least 1.3 x the peak (common practice, no source)."""
NEVER = Time(1 << 62)
LIKE_VOLTS = 0.02
"""A load belongs to a supply when their voltages agree this closely."""


@dataclass(frozen=True, slots=True)
class Draw:
    """What one supply gives at its greatest."""

    begins: Time
    amps: float
    about: tuple[str, ...]
    """Cues that draw, largest first."""


def power(book: Book, cues: Sequence[Cue]) -> tuple[Finding, ...]:
    """Findings about supplies and terminals."""
    found: list[Finding] = [*_shared_terminals(book), *_overloaded(book, cues)]
    if book.supplies:
        loads = _loads(book, cues)
        for supply in book.supplies:
            own = [(cue, load) for cue, load in loads if feeds(book, supply, cue, load)]
            found += _supply_findings(book, supply, peak_of(cues, own))
        found += _unfed(book, loads)
    return tuple(found)


def feeds(book: Book, supply: Supply, cue: Cue, load: Load) -> bool:
    """Whether a supply feeds a load: by its list, else by its voltage where no list has it."""
    name = cue.target.move.device
    if abs(load.volts - supply.volts_v) > LIKE_VOLTS * supply.volts_v:
        return False
    if supply.feeds:
        return name in supply.feeds
    return not any(name in other.feeds for other in book.supplies)


def peak_of(cues: Sequence[Cue], loads: Sequence[tuple[Cue, Load]]) -> Draw | None:
    """The greatest current and when it begins; None when nothing draws."""
    spans = list(_spans(cues, loads))
    changes = [(end, 0, -load.amps) for _, end, _, load in spans]
    changes += [(begin, 1, load.amps) for begin, _, _, load in spans]
    now, peak, when = 0.0, 0.0, None
    for at, _, amps in sorted(changes):  # what ends at an instant ends before what begins then
        now += amps
        if now > peak + 1e-9:
            peak, when = now, at
    if when is None:
        return None
    on = [(load.amps, cue.id) for begin, end, cue, load in spans if begin <= when < end]
    on.sort(key=lambda each: (-each[0], each[1]))
    return Draw(when, sum(amps for amps, _ in on), tuple(cue_id for _, cue_id in on))


def _loads(book: Book, cues: Sequence[Cue]) -> list[tuple[Cue, Load]]:
    return [
        (cue, load)
        for cue in cues
        for load in book.device(cue.target.move.device).loads(cue.target.move)
        if load.amps > 0.0
    ]


def _spans(
    cues: Sequence[Cue], loads: Sequence[tuple[Cue, Load]]
) -> Iterator[tuple[Time, Time, Cue, Load]]:
    """From when to when each load draws: until its own stop or the device's next command."""
    instants: dict[str, list[Time]] = {}
    for cue in cues:  # in the order they leave
        instants.setdefault(cue.target.move.device, []).append(cue.at)
    for cue, load in loads:
        own = instants[cue.target.move.device]
        after = bisect_right(own, cue.at)
        end = own[after] if after < len(own) else NEVER
        if load.stop is not None:
            end = min(end, cue.at + load.stop)
        begin = cue.at + load.start
        if begin < end:
            yield begin, end, cue, load


def _supply_findings(book: Book, supply: Supply, peak: Draw | None) -> Iterator[Finding]:
    if peak is None:
        return
    when = clock(max(peak.begins, ZERO))
    amps = shown(book, peak.amps, "current")
    gives = shown(book, supply.current_a, "current")
    if peak.amps > supply.current_a * 1.000001:
        yield Finding(
            code="POWER-01",
            grade="refuse",
            place=supply.origin.of("current_a"),
            says=f"Supply `{supply.name}` has to give {amps} at {when}.",
            allowed=f"It gives {gives}.",
            about=peak.about,
        )
    elif peak.amps * HEADROOM > supply.current_a * 1.000001:
        wanted = shown(book, peak.amps * HEADROOM, "current")
        yield Finding(
            code="POWER-06",
            grade="note",
            place=supply.origin.of("current_a"),
            says=f"Supply `{supply.name}` gives {gives}, and its peak is {amps} at {when}.",
            allowed=f"{wanted} leaves the usual headroom of {HEADROOM:g} times the peak.",
            about=peak.about,
            source="common practice, no source",
        )
    left = supply.volts_v - peak.amps * supply.wire_ohm
    if left < LEAST_SHARE * supply.volts_v:
        yield Finding(
            code="POWER-02",
            grade="refuse",
            place=supply.origin.of("wire_ohm"),
            says=f"At {when} supply `{supply.name}` gives {amps} through "
            f"{shown(book, supply.wire_ohm, 'resistance')} of wire: "
            f"{shown(book, left, 'voltage')} arrive at the far device.",
            allowed=f"{shown(book, LEAST_SHARE * supply.volts_v, 'voltage')} or more "
            f"({LEAST_SHARE:.0%} of {shown(book, supply.volts_v, 'voltage')}): thicker wire, "
            "a return of its own for the far device, or fewer at once.",
            about=peak.about,
            source="Ohm's law; 10 % drop in general, common practice",
        )


def _unfed(book: Book, loads: Sequence[tuple[Cue, Load]]) -> Iterator[Finding]:
    fed = {
        cue.target.move.device
        for cue, load in loads
        if any(feeds(book, supply, cue, load) for supply in book.supplies)
    }
    first: dict[str, Load] = {}
    for cue, load in loads:
        if cue.target.move.device not in fed:
            first.setdefault(cue.target.move.device, load)
    for name, load in first.items():
        volts = shown(book, load.volts, "voltage")
        yield Finding(
            code="POWER-05",
            grade="warn",
            place=book.device(name).origin.place,
            says=f"{name} runs on {volts}, and no supply of the book gives that.",
            allowed="Write the supply, or correct the voltage of one of the two.",
            about=(name,),
        )


def _terminals(device: Device) -> set[str]:
    return {out.terminal for out in device.outputs() if out.terminal}


def _shared_terminals(book: Book) -> Iterator[Finding]:
    wired = sorted(
        (terminal, index)
        for index, device in enumerate(book.devices)
        for terminal in _terminals(device)
    )
    for terminal, group in groupby(wired, key=lambda each: each[0]):
        on_it = [book.devices[index] for _, index in group]
        for device in on_it[1:]:
            yield Finding(
                code="POWER-03",
                grade="refuse",
                place=device.origin.of("on"),
                says=f"{device.name} and {on_it[0].name} are both on `{terminal}`.",
                allowed="One terminal for each, or one device that stands for both.",
                about=(device.name, on_it[0].name),
            )


def _overloaded(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    """Terminals that carry more than their board allows, all devices on them together."""
    limits = {board.name: board.each_a for board in book.boards}
    on: dict[str, list[Device]] = {}
    for device in book.devices:
        for terminal in _terminals(device):
            on.setdefault(terminal, []).append(device)
    draw: dict[str, float] = {}
    for cue, load in _loads(book, cues):
        name = cue.target.move.device
        draw[name] = max(draw.get(name, 0.0), load.amps)
    for terminal, devices in on.items():
        limit = limits.get(terminal.rpartition(" ")[0])
        amps = sum(draw.get(device.name, 0.0) for device in devices)
        if limit is not None and amps > limit * 1.000001:
            names = " and ".join(device.name for device in devices)
            yield Finding(
                code="POWER-04",
                grade="refuse",
                place=devices[-1].origin.of("on"),
                says=f"{names} {'draws' if len(devices) == 1 else 'draw'} "
                f"{shown(book, amps, 'current')} on `{terminal}`.",
                allowed=f"At most {shown(book, limit, 'current')} for one terminal of that board.",
                about=tuple(device.name for device in devices),
            )
