"""Instants, spans and windows as people write them, to exact ``Time`` and ``Span``.

`0:12.480`, `1:02:03.5`, `12.48 s`, `frame 312`, `bar 5 count 2.5`; `70 ms`, `1 min 30 s`;
`-20..+40 ms`, `+-15 ms`; times of day, `19:30`. What cannot be
read is a ``UnitError``, as for any other quantity.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from thundersheet.base.time import NS, Span, Time
from thundersheet.base.units import UnitError, quantity_in

_CLOCK = re.compile(r"([+-]?)(?:(\d{1,3}):)?(\d{1,4}):(\d{1,2}(?:\.\d{0,12})?)")
_TIMECODE = re.compile(r"(\d{1,3}):(\d{2}):(\d{2}):(\d{2,3})")
_FRAME = re.compile(r"(?:frame|fr\.?)\s*(-?\d{1,12})", re.IGNORECASE)
_COUNT = re.compile(
    r"bar\s*(\d{1,6})(?:[\s,]*(?:count|beat)\s*(\d{1,3}(?:\.\d{0,9}|\s+\d{1,3}/\d{1,3})?))?",
    re.IGNORECASE,
)
_COMMA_CLOCK = re.compile(r"[\d:]+,\d+")
_TIMES = (
    "Write `0:12.480` (minutes:seconds), `12.48 s`, `frame 312` or `bar 5 count 2` "
    "(`count 2.5` is half-way to the next)."
)
_WINDOWS = "Write early and late as in `-20..+40 ms`, or `+-15 ms` for both."

# Rates that are spoken of in round figures but run a thousandth slower (SMPTE ST 12-1).
_DROPPED = {
    Fraction("23.976"): Fraction(24_000, 1001),
    Fraction("23.98"): Fraction(24_000, 1001),
    Fraction("29.97"): Fraction(30_000, 1001),
    Fraction("47.952"): Fraction(48_000, 1001),
    Fraction("59.94"): Fraction(60_000, 1001),
    Fraction("119.88"): Fraction(120_000, 1001),
}


class Counting(Protocol):
    """From `at` on: so many counts a minute and to a bar; a tempo of the book is one."""

    @property
    def at(self) -> Time:
        """Where the first count falls."""

    @property
    def per_minute(self) -> float:
        """Counts a minute."""

    @property
    def counts(self) -> int:
        """Counts to a bar."""

    @property
    def bar(self) -> int | None:
        """Number of its first bar; None: it follows on."""


@dataclass(frozen=True, slots=True)
class Measure:
    """One stretch of music: where bar `bar` begins and how it counts."""

    bar: int
    at: Time
    count_ns: Fraction
    """From one count to the next."""
    counts: int


@dataclass(frozen=True, slots=True)
class Ruler:
    """What frames and bars are counted against; the programme's own clock needs neither."""

    frame_rate: Fraction | None = None
    measures: tuple[Measure, ...] = ()

    @classmethod
    def of(cls, frame_rate: float | None = None, tempo: Iterable[Counting] = ()) -> Ruler:
        """A ruler for a frame rate as people say it (29.97 is 30000/1001) and a tempo map."""
        rate = None if frame_rate is None else Fraction(str(frame_rate))
        return cls(None if rate is None else _DROPPED.get(rate, rate), _measures(tempo))


CLOCK_ONLY = Ruler()


def _measures(tempo: Iterable[Counting]) -> tuple[Measure, ...]:
    """Bars follow on from one tempo to the next; a tempo that cuts a bar short begins a new one."""
    found: list[Measure] = []
    for mark in sorted(tempo, key=lambda each: each.at):
        bar = mark.bar
        if bar is None:
            bar = _next_bar(found[-1], mark.at) if found else 1
        found.append(Measure(bar, mark.at, 60 * NS / Fraction(str(mark.per_minute)), mark.counts))
    return tuple(found)


def _next_bar(before: Measure, at: Time) -> int:
    bars = Fraction(at.ns - before.at.ns) / (before.count_ns * before.counts)
    # A tempo mark is written to the millisecond or the frame: a tenth of a count is no new bar.
    return before.bar + -int(-(bars - Fraction(1, 10 * before.counts)) // 1)


def read_time(text: str, ruler: Ruler = CLOCK_ONLY) -> Time:
    """The instant that a text names; to the nearest nanosecond."""
    plain = text.replace("−", "-").strip()
    if (match := _CLOCK.fullmatch(plain)) is not None:
        return _clock(text, match)
    if (match := _FRAME.fullmatch(plain)) is not None:
        return _at_frame(text, int(match[1]), ruler)
    if (match := _COUNT.fullmatch(plain)) is not None:
        return _at_count(text, int(match[1]), match[2] or "1", ruler)
    if (match := _TIMECODE.fullmatch(plain)) is not None:
        return _at_timecode(text, [int(part) for part in match.groups()], ruler)
    if _COMMA_CLOCK.fullmatch(plain):
        point = plain.replace(",", ".")
        raise UnitError(f"`{text}` has a decimal comma.", f"Write a point: `{point}`.")
    try:
        return Time(_ns(quantity_in(plain, "time").exact))
    except UnitError as error:
        raise UnitError(*_no_time(text, error)) from None


def _no_time(text: str, error: UnitError) -> tuple[str, str]:
    if "is not a time" in error.says:
        short = text if len(text) <= 40 else text[:37] + "..."
        return f"`{short}` is no time of the programme.", _TIMES
    return error.says, _TIMES if "no unit" in error.says else error.allowed


def _ns(seconds: Fraction) -> int:
    return round(seconds * NS)


def _clock(text: str, match: re.Match[str]) -> Time:
    sign, hours, minutes, seconds = match.groups()
    if Fraction(seconds) >= 60 or (hours and int(minutes) >= 60):
        wrong = "seconds" if Fraction(seconds) >= 60 else "minutes"
        raise UnitError(f"`{text}` has more than 59 {wrong}.", _TIMES)
    total = (int(hours or 0) * 60 + int(minutes)) * 60 + Fraction(seconds)
    return Time(_ns(-total if sign == "-" else total))


def _at_frame(text: str, frame: int, ruler: Ruler) -> Time:
    if ruler.frame_rate is None:
        raise UnitError(
            f"`{text}` counts frames, but the show does not say how many there are in a second.",
            "Write `frame rate: 25`, or what the picture has, under `show`.",
        )
    return Time(_ns(frame / ruler.frame_rate))


def _at_timecode(text: str, parts: list[int], ruler: Ruler) -> Time:
    """Hours:minutes:seconds:frames, every number counted, none dropped (SMPTE ST 12-1)."""
    hours, minutes, seconds, frames = parts
    nominal = round(ruler.frame_rate) if ruler.frame_rate else 0
    if nominal and (minutes >= 60 or seconds >= 60 or frames >= nominal):
        raise UnitError(f"`{text}` counts beyond 59, or beyond {nominal - 1} frames.", _TIMES)
    return _at_frame(text, ((hours * 60 + minutes) * 60 + seconds) * nominal + frames, ruler)


def _at_count(text: str, bar: int, count: str, ruler: Ruler) -> Time:
    if not ruler.measures:
        raise UnitError(
            f"`{text}` counts bars, but the show has no tempo.",
            "Write `tempo: [{at: 0:00, per minute: 96}]` under `show`.",
        )
    number = sum((Fraction(part) for part in _parts(text, count)), start=Fraction(0))
    index = max((i for i, each in enumerate(ruler.measures) if each.bar <= bar), default=None)
    if index is None:
        raise UnitError(
            f"`{text}` is before the first bar.", f"The first one is bar {ruler.measures[0].bar}."
        )
    here = ruler.measures[index]
    if not 1 <= number < here.counts + 1:
        raise UnitError(f"`{text}`: bar {bar} has {here.counts} counts.", "The first one is 1.")
    at = Time(round(here.at.ns + ((bar - here.bar) * here.counts + number - 1) * here.count_ns))
    if index + 1 < len(ruler.measures) and at >= ruler.measures[index + 1].at:
        after = ruler.measures[index + 1]
        raise UnitError(
            f"`{text}` would be at {at}, but there the next tempo has begun with bar {after.bar}.",
            "Count from that one.",
        )
    return at


def _parts(text: str, count: str) -> list[str]:
    parts = count.split()
    if parts[-1].endswith("/0"):
        raise UnitError(f"`{text}` divides by nothing.", _TIMES)
    return parts


@functools.lru_cache(maxsize=1024)
def read_span(text: str) -> Span:
    """The length of time that a text says: `70 ms`, `1 min 30 s`, `1:30`; a bare 0 is none."""
    if (match := _CLOCK.fullmatch(text.strip())) is not None:
        return Span(_clock(text, match).ns)
    return Span(_ns(quantity_in(text, "time").exact))


_PLUS_MINUS = re.compile(r"(?:\+/?-|±)\s*(.+)")
_EARLY_LATE = re.compile(r"(.+?)\s*(?:\.\.+|…|\bto\b)\s*(.+)")
_NUMBER_ONLY = re.compile(r"[+-]?[\d./]+")


def read_window(text: str) -> tuple[Span, Span]:
    """How early (negative) and how late: `-20..+40 ms`, `-20 ms to 40 ms`, `+-15 ms`."""
    plain = text.replace("−", "-").strip()
    if (match := _PLUS_MINUS.fullmatch(plain)) is not None:
        late = read_span(match[1])
        return _in_order(text, -late, late)
    if (match := _EARLY_LATE.fullmatch(plain)) is None:
        raise UnitError(f"`{text}` is no window.", _WINDOWS)
    first, second = match.groups()
    if _NUMBER_ONLY.fullmatch(first):
        first += " " + re.sub(r"^[+-]?\s*[\d./]+\s*", "", second)
    return _in_order(text, read_span(first), read_span(second))


def _in_order(text: str, early: Span, late: Span) -> tuple[Span, Span]:
    if early > late:
        raise UnitError(f"`{text}` ends before it begins.", _WINDOWS)
    return early, late


_OF_DAY = re.compile(r"(\d{1,2})(?::(\d{2}))?(?:\s*([ap])\.?m\.?)?", re.IGNORECASE)
_STRETCH = re.compile(r"(.+?)\s*(?:-|–|\bto\b)\s*(.+)")
_CLOCKS = "Write a time of day as in `19:30` or `7:30 pm`."


def read_clock(text: str) -> Span:
    """The time since midnight that a clock shows: `19:30`, `24:00`, `7:30 pm`, `8 am`."""
    match = _OF_DAY.fullmatch(text.strip())
    if match is None or not (match[2] or match[3]):
        raise UnitError(f"`{text}` is no time of day.", _CLOCKS)
    hour, minute = int(match[1]), int(match[2] or 0)
    if match[3] is not None:
        if not 1 <= hour <= 12:
            raise UnitError(f"`{text}` is no time of day.", _CLOCKS)
        hour = hour % 12 + (12 if match[3] in "pP" else 0)
    if minute > 59 or 60 * hour + minute > 24 * 60:
        raise UnitError(f"`{text}` is a time that no clock shows.", _CLOCKS)
    return Span.seconds(3600 * hour + 60 * minute)


def read_stretch(text: str) -> tuple[Span, Span]:
    """Two times of day, `20:00-22:00`; the second may be the next day's, and then is smaller."""
    match = _STRETCH.fullmatch(text.strip())
    if match is None:
        raise UnitError(
            f"`{text}` is no stretch of the day.", "Write it from clock to clock: `20:00-22:00`."
        )
    begins, ends = read_clock(match[1]), read_clock(match[2])
    if begins == ends:
        raise UnitError(f"`{text}` begins and ends at once.", "Write two different times.")
    return begins, ends
