"""Flash rate and lit area over all light sources together.

In: a book and its cues. Out: findings. A yardstick borrowed from W3C WCAG 2.2, criterion 2.3.1
(Three Flashes or Below Threshold): no more than three general flashes, and no more than three red
flashes, within any one second, where they light more than a quarter of the view. A general flash
is a pair of opposing changes of 10 % or more of the greatest relative luminance whose darker image
is below 0.80. Written for screens; here every lamp counts wherever it hangs, because eyes turn: a
chase of small lamps is one flashing area.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from thundersheet.base.finding import Finding
from thundersheet.base.time import ZERO, Span, Time, clock
from thundersheet.model.book import Book
from thundersheet.model.device import Light, Move
from thundersheet.plan.records import Cue
from thundersheet.plan.stretches import passing

EXPLAINS = {
    "FLASH-01": "More flashes in one second than the limit (`limits: flashes`, three), over more "
    "of the view than the limit (`flash share`, a quarter). Light sources are counted together, "
    "and so are the lamps of a chase. Flashes at such a rate can provoke seizures.",
    "FLASH-02": "More red flashes in one second than the limit. Saturated red provokes seizures "
    "more easily than other colours.",
    "FLASH-03": "More flashes in one second than the limit, but from sources that the book says "
    "light only a small share of the view. In a dark room a small lamp can fill it: look, and "
    "put a sign at the entry.",
    "FLASH-04": "Lamps that do not say what share of the view they light (`lit share`) flash more "
    "often in a second than the limit. Their area was not checked.",
}

ONE_SECOND = Span.seconds(1)
LEAST_CHANGE = 0.10
DARKER_BELOW = 0.80
AT_ONCE = Span.ms(20)
"""Flashes that begin nearer than this are seen as one (a frame of 50 Hz; our choice)."""
ANY_SHARE = -1.0
ALIKE = 4.0
"""Sources up to this many times smaller add to a larger one (our choice)."""
SOURCE = "W3C WCAG 2.2, criterion 2.3.1"


@dataclass(frozen=True, slots=True)
class Flash:
    """One pair of opposing changes of one source."""

    at: Time
    """When it gets brighter."""
    device: str
    area: float
    red: bool
    cue: Cue


@dataclass(frozen=True, slots=True)
class Burst:
    """The flashes that begin within one second."""

    flashes: tuple[Flash, ...]
    count: int
    """Flashes that begin together are one."""

    @property
    def share(self) -> float:
        """Share of the view that all sources in it light together."""
        return min(1.0, sum({flash.device: flash.area for flash in self.flashes}.values()))


def flash(book: Book, cues: Sequence[Cue]) -> tuple[Finding, ...]:
    """Findings about flashing light, one for each kind of trouble, at its worst second."""
    flashes = all_flashes(book, cues)
    limits = book.limits
    reds = [each for each in flashes if each.red]
    stated = [each for each in flashes if each.area > 0.0]
    found: list[Finding] = []
    wide = _worst(stated, limits.flashes, limits.flash_share)
    if wide is not None:
        found.append(_too_many(book, wide, "FLASH-01", "refuse"))
    red = _worst(reds, limits.flashes, ANY_SHARE)
    if red is not None:
        found.append(_too_many(book, red, "FLASH-02", "refuse"))
    if wide is None and red is None:
        small = _worst(stated, limits.flashes, ANY_SHARE)
        if small is not None:
            found.append(_too_many(book, small, "FLASH-03", "note"))
        elif (unstated := _worst(flashes, limits.flashes, ANY_SHARE)) is not None:
            found.append(_not_checked(book, unstated))
    return tuple(found)


def all_flashes(book: Book, cues: Sequence[Cue]) -> list[Flash]:
    """Every flash of every source, in the order of time."""
    lit: dict[str, list[tuple[Cue, Light]]] = {}
    known: dict[Move, Light | None] = {}
    for cue in cues:
        move = cue.target.move
        if move not in known:
            known[move] = book.device(move.device).light(move)
        light = known[move]
        if light is not None:
            lit.setdefault(cue.target.move.device, []).append((cue, light))
    end = book.show.length + ONE_SECOND
    out = [each for name, own in lit.items() for each in _flashes_of(name, own, end)]
    out.sort(key=lambda each: (each.at, each.device))
    return out


def _flashes_of(device: str, own: Sequence[tuple[Cue, Light]], end: Time) -> Iterator[Flash]:
    """Rises that a fall goes with, before or after, within one second."""
    rises: list[tuple[Time, Cue, Light]] = []
    falls: list[Time] = []
    level = 0.0
    extreme = 0.0
    rising = True
    for at, now, cue, light in _steps(own, end):
        if rising and now >= level:
            if now - extreme >= LEAST_CHANGE and extreme < DARKER_BELOW:
                rises.append((at, cue, light))
                rising, extreme = False, now
        elif not rising and now >= extreme:
            extreme = now
        elif not rising and extreme - now >= LEAST_CHANGE and now < DARKER_BELOW:
            falls.append(at)
            rising, extreme = True, now
        elif rising:
            extreme = min(extreme, now)
        level = now
    for at, cue, light in rises:
        near = bisect_left(falls, at + Span(-ONE_SECOND.ns))
        if near < len(falls) and falls[near] <= at + ONE_SECOND:
            yield Flash(at, device, light.area, light.red, cue)


def _steps(own: Sequence[tuple[Cue, Light]], end: Time) -> Iterator[tuple[Time, float, Cue, Light]]:
    """Brightness of one source over time: each cue's steps hold until the next cue's first."""
    now = 0.0
    for index, (cue, light) in enumerate(own):
        until = own[index + 1][0].at if index + 1 < len(own) else end
        begin = cue.at
        levels = light.levels if passing(cue) else _from(now, light)
        while begin < until:
            for after, level in levels:
                if begin + after < until:
                    now = level
                    yield begin + after, level, cue, light
            if not light.every:
                break
            begin = begin + light.every


def _from(now: float, light: Light) -> tuple[tuple[Span, float], ...]:
    """The steps of a light that stays, as they follow on what was lit before.

    A kind does not know that: it lets a light that goes down begin at full, one that comes up in
    the dark. Taken as they stand, such beginnings would be flashes that nobody sees.
    """
    values = [level for _, level in light.levels]
    if light.every or len(values) < 2:
        return light.levels
    downwards, upwards = values == sorted(values, reverse=True), values == sorted(values)
    if not (downwards or upwards):
        return light.levels
    bound = min if downwards else max
    *before, last = light.levels
    return (*((after, bound(level, now)) for after, level in before), last)


def _worst(flashes: Sequence[Flash], most: int, share: float) -> Burst | None:
    """The second with most flashes among those over both limits; None when there is none.

    Sources count together that are alike in size: a flicker in a corner does not add to lightning.
    """
    found: list[Burst] = []
    for area in sorted({each.area for each in flashes}):
        alike = [each for each in flashes if area / ALIKE <= each.area <= area]
        burst = _worst_second(alike, most, share)
        if burst is not None:
            found.append(burst)
    return max(found, key=lambda burst: (burst.count, burst.share), default=None)


def _worst_second(flashes: Sequence[Flash], most: int, share: float) -> Burst | None:
    worst: Burst | None = None
    begin = 0
    for end in range(len(flashes)):
        while flashes[end].at.since(flashes[begin].at) >= ONE_SECOND:
            begin += 1
        if end - begin < most:
            continue
        burst = _burst(flashes[begin : end + 1])
        over = burst.count > most and burst.share > share
        if over and (worst is None or burst.count > worst.count):
            worst = burst
    return worst


def _burst(flashes: Sequence[Flash]) -> Burst:
    count, last = 0, None
    for each in flashes:
        if last is None or each.at.since(last) > AT_ONCE:
            count, last = count + 1, each.at
    return Burst(tuple(flashes), count)


def _names(burst: Burst) -> str:
    names = list(dict.fromkeys(each.device for each in burst.flashes))
    return (
        ", ".join(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more"
    )


def _too_many(book: Book, burst: Burst, code: str, grade: str) -> Finding:
    limits = book.limits
    red = "red " if code == "FLASH-02" else ""
    first = burst.flashes[0]
    place = burst.flashes[-1].cue.target.place
    allowed = f"At most {limits.flashes} in any second"
    if code != "FLASH-02":
        allowed += f" over more than {limits.flash_share:.0%} of the view"
    return Finding(
        code=code,
        grade="refuse" if grade == "refuse" else "note",
        place=place,
        says=f"{burst.count} {red}flashes in the second from {clock(max(first.at, ZERO))}, over "
        f"{burst.share:.0%} of the view ({_names(burst)}).",
        allowed=f"{allowed}.",
        about=tuple(dict.fromkeys(each.cue.id for each in burst.flashes)),
        source=SOURCE,
    )


def _not_checked(book: Book, burst: Burst) -> Finding:
    silent = list(dict.fromkeys(each.device for each in burst.flashes if each.area <= 0.0))
    first = burst.flashes[0]
    return Finding(
        code="FLASH-04",
        grade="note",
        place=book.device(silent[0]).origin.place,
        says=f"{burst.count} flashes in the second from {clock(max(first.at, ZERO))}; what share "
        f"of the view {', '.join(silent)} light is not said, so their area was not checked.",
        allowed="Write `lit share: 5 %`, or what it is.",
        about=tuple(dict.fromkeys(each.cue.id for each in burst.flashes)),
        source=SOURCE,
    )
