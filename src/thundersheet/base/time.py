"""Time on the programme's line, exact: whole nanoseconds, never a float.

``Time`` is an instant (``0:00`` is the first sample of the programme on the presentation
timeline), ``Span`` a distance between two. The one rounding to samples is here.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

NS = 1_000_000_000


@dataclass(frozen=True, order=True, slots=True)
class Span:
    """A signed length of time in whole nanoseconds."""

    ns: int

    @classmethod
    def seconds(cls, value: float | Fraction) -> Span:
        """The span of so many seconds, rounded to the nearest nanosecond."""
        return cls(round(value * NS))

    @classmethod
    def ms(cls, value: float | Fraction) -> Span:
        """The span of so many milliseconds, rounded to the nearest nanosecond."""
        return cls(round(value * 1_000_000))

    @property
    def s(self) -> float:
        """In seconds, for physics and for paper."""
        return self.ns / NS

    @property
    def in_ms(self) -> float:
        """In milliseconds, for paper."""
        return self.ns / 1_000_000

    def __add__(self, other: Span) -> Span:
        return Span(self.ns + other.ns)

    def __sub__(self, other: Span) -> Span:
        return Span(self.ns - other.ns)

    def __neg__(self) -> Span:
        return Span(-self.ns)

    def __abs__(self) -> Span:
        return Span(abs(self.ns))

    def __mul__(self, times: int | Fraction) -> Span:
        return Span(round(self.ns * times))

    def __floordiv__(self, other: Span) -> int:
        return self.ns // other.ns

    def __bool__(self) -> bool:
        return self.ns != 0

    def __str__(self) -> str:
        return f"{self.in_ms:g} ms" if abs(self.ns) < NS else f"{self.s:g} s"


@dataclass(frozen=True, order=True, slots=True)
class Time:
    """An instant of the programme in whole nanoseconds after its first sample."""

    ns: int

    @classmethod
    def seconds(cls, value: float | Fraction) -> Time:
        """The instant so many seconds in, rounded to the nearest nanosecond."""
        return cls(round(value * NS))

    @classmethod
    def of_sample(cls, index: int, rate: int) -> Time:
        """The instant of sample ``index`` at ``rate`` samples a second."""
        return cls(round(Fraction(index * NS, rate)))

    @property
    def s(self) -> float:
        """In seconds, for physics and for paper."""
        return self.ns / NS

    def sample(self, rate: int) -> int:
        """The nearest sample at ``rate``; halves go to the later one. The only such rounding."""
        return (2 * self.ns * rate + NS) // (2 * NS)

    def __add__(self, span: Span) -> Time:
        return Time(self.ns + span.ns)

    def __sub__(self, span: Span) -> Time:
        return Time(self.ns - span.ns)

    def since(self, earlier: Time) -> Span:
        """How long after ``earlier`` this is (negative when before)."""
        return Span(self.ns - earlier.ns)

    def __str__(self) -> str:
        return clock(self)


ZERO = Time(0)


def clock(time: Time, decimals: int = 3) -> str:
    """``minutes:seconds`` as a cue sheet writes it, rounded: ``0:41.500``, ``-0:00.400``."""
    step = 10 ** (9 - decimals)
    units = (abs(time.ns) + step // 2) // step
    per_minute = 60 * 10**decimals
    minutes, rest = divmod(units, per_minute)
    sign = "-" if time.ns < 0 and units else ""
    width = decimals + 3 if decimals else 2
    return f"{sign}{minutes}:{rest / 10**decimals:0{width}.{decimals}f}"
