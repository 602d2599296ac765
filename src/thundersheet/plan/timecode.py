"""Timecode as editors count it: hours, minutes, seconds, frames, with and without dropped numbers.

In: a time or a text and a frame rate. Out: the other. SMPTE ST 12-1: at 30000/1001 (and 60000/1001)
frames a second the count may skip frame numbers 0 and 1 (0 to 3) at the start of each minute that
is no tenth, so that it keeps step with the clock; written with `;` before the frames. No frame is
skipped, only its number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from thundersheet.base.read_time import Ruler
from thundersheet.base.time import NS, Time

_TIMECODE = re.compile(r"(-?)(\d{1,2}):(\d{2}):(\d{2})([:;.])(\d{2,3})")


@dataclass(frozen=True, slots=True)
class Frames:
    """How frames are counted: their exact rate, and whether numbers are dropped."""

    rate: Fraction
    drop: bool = False

    def __post_init__(self) -> None:
        if self.drop and self.rate not in (Fraction(30_000, 1001), Fraction(60_000, 1001)):
            raise ValueError("numbers are dropped only at 29.97 and 59.94 frames a second")

    @classmethod
    def of(cls, rate: float, *, drop: bool = False) -> Frames:
        """From a rate as people say it: 29.97 is 30000/1001."""
        exact = Ruler.of(rate).frame_rate
        if exact is None:
            raise ValueError("no frame rate")
        return cls(exact, drop)

    @property
    def nominal(self) -> int:
        """The rate that the count is made for: 30 for 29.97."""
        return round(self.rate)

    @property
    def dropped(self) -> int:
        """Numbers skipped each minute that is no tenth."""
        return self.nominal // 15 if self.drop else 0


def frame_at(time: Time, frames: Frames) -> int:
    """The nearest frame's index, counted from 0:00."""
    return round(Fraction(time.ns, NS) * frames.rate)


def time_of(index: int, frames: Frames) -> Time:
    """When a frame begins, to the nearest nanosecond."""
    return Time(round(index / frames.rate * NS))


def timecode(time: Time, frames: Frames) -> str:
    """`01:00:12:12` for the nearest frame; `;` before the frames where numbers are dropped."""
    index = frame_at(time, frames)
    sign = "-" if index < 0 else ""
    index = abs(index)
    if frames.drop:
        index += _skipped(index, frames)
    seconds, frame = divmod(index, frames.nominal)
    minutes, second = divmod(seconds, 60)
    hour, minute = divmod(minutes, 60)
    mark = ";" if frames.drop else ":"
    return f"{sign}{hour:02d}:{minute:02d}:{second:02d}{mark}{frame:02d}"


def read_timecode(text: str, frames: Frames) -> Time:
    """The time of a timecode; ValueError says what is wrong with it."""
    match = _TIMECODE.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"`{text}` is no timecode; write `01:00:12:12`")
    sign, hour, minute, second, _, frame = match.groups()
    hours, minutes, seconds, count = int(hour), int(minute), int(second), int(frame)
    if minutes > 59 or seconds > 59 or count >= frames.nominal:
        raise ValueError(f"`{text}` counts beyond 59, or beyond {frames.nominal - 1} frames")
    whole = hours * 60 + minutes
    if frames.drop and seconds == 0 and count < frames.dropped and whole % 10:
        raise ValueError(f"`{text}` is a number that is dropped")
    index = (whole * 60 + seconds) * frames.nominal + count
    index -= frames.dropped * (whole - whole // 10)
    return time_of(-index if sign else index, frames)


def _skipped(index: int, frames: Frames) -> int:
    """How many numbers were skipped up to the frame of this index."""
    per_minute = frames.nominal * 60 - frames.dropped
    per_ten = per_minute * 10 + frames.dropped
    tens, rest = divmod(index, per_ten)
    minutes = max(0, (rest - frames.dropped) // per_minute)
    return frames.dropped * (9 * tens + minutes)
