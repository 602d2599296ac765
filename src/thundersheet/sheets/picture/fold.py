"""The sheet's time scale: busy stretches drawn large, quiet ones folded like a pleat in paper.

In: instants that have to be readable. Out: a monotone map from the programme's time down the
page. It never leaves time out: a folded stretch is drawn too, only short, and says how long it is.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace

from thundersheet.base.time import ZERO, Span, Time

MOST_PER_MS = 0.34
"""Drawing units for a millisecond: a lead of 300 ms is about 100 units, a tenth of a page."""
TALLEST_LEAD, TALLEST_WINDOW = 180.0, 70.0
"""A long lead (fan, mist) or a loose window is drawn at a smaller scale, to stay this tall."""
LABEL = 31.0
"""Height of a beat's label of two lines."""
JOIN = Span.ms(90)
"""Stretches closer than this are drawn as one: a pleat between them would save nothing."""
MARGIN = Span.ms(25)


@dataclass(frozen=True, slots=True)
class Need:
    """What must be readable: from when to when, and how many beats are labelled in it."""

    start: Time
    end: Time
    lead: Span = Span(0)
    """The longest lead in it."""
    window: Span = Span(0)
    """The widest window in it."""
    labels: int = 1


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of the programme at one scale."""

    start: Time
    end: Time
    top: float
    bottom: float
    folded: bool

    @property
    def lasts(self) -> Span:
        """How long it is."""
        return self.end.since(self.start)

    @property
    def per_ms(self) -> float:
        """Drawing units for a millisecond."""
        return (self.bottom - self.top) / self.lasts.in_ms


@dataclass(frozen=True, slots=True)
class Scale:
    """Stretches that follow each other without a gap, in time and down the page."""

    stretches: tuple[Stretch, ...]

    @property
    def start(self) -> Time:
        """The first instant drawn."""
        return self.stretches[0].start

    @property
    def end(self) -> Time:
        """The last instant drawn."""
        return self.stretches[-1].end

    @property
    def bottom(self) -> float:
        """Where the last stretch ends."""
        return self.stretches[-1].bottom

    def holds(self, time: Time) -> bool:
        """Whether the instant is drawn."""
        return self.start <= time <= self.end

    def at(self, time: Time) -> Stretch:
        """The stretch that shows the instant; the first or last one for instants outside."""
        index = bisect_right(self.stretches, time, key=lambda stretch: stretch.start) - 1
        return self.stretches[min(max(index, 0), len(self.stretches) - 1)]

    def y(self, time: Time) -> float:
        """How far down the page the instant is drawn; instants outside stop at the ends."""
        stretch = self.at(min(max(time, self.start), self.end))
        inside = min(max(time, self.start), self.end).since(stretch.start)
        return stretch.top + inside.in_ms * stretch.per_ms


def even(start: Time, end: Time, top: float, height: float) -> Scale:
    """One scale throughout, for an overview or for one enlarged hit."""
    return Scale((Stretch(start, end, top, top + height, folded=False),))


def pleated(needs: Sequence[Need], length: Time, top: float = 0.0) -> Scale:
    """The whole programme from the first need or 0:00 to its end, quiet stretches folded."""
    merged = _merged(needs)
    start = min([ZERO, *(need.start for need in merged)])
    end = max([length, *(need.end for need in merged)])
    stretches: list[Stretch] = []
    reached, y = start, top
    for need in merged:
        if need.start > reached:
            y = _fold(stretches, reached, need.start, y)
        stretches.append(Stretch(need.start, need.end, y, y + _open_height(need), folded=False))
        y = stretches[-1].bottom
        reached = need.end
    if end > reached:
        _fold(stretches, reached, end, y)
    return Scale(tuple(stretches))


def strips(scale: Scale, most: float) -> tuple[Scale, ...]:
    """The scale cut at its pleats into pieces of at most `most` height, each starting at zero.

    A single stretch taller than that stays whole.
    """
    pieces: list[list[Stretch]] = [[]]
    for index, stretch in enumerate(scale.stretches):
        follows = scale.stretches[index + 1 : index + 2]
        top = pieces[-1][0].top if pieces[-1] else stretch.top
        reaches = follows[0].bottom if stretch.folded and follows else stretch.bottom
        if pieces[-1] and reaches - top > most:
            pieces.append([])
        pieces[-1].append(stretch)
    return tuple(_from_zero(piece) for piece in pieces)


def moved(scale: Scale, down: float) -> Scale:
    """The same scale, further down the page."""
    return Scale(
        tuple(
            Stretch(s.start, s.end, s.top + down, s.bottom + down, s.folded)
            for s in scale.stretches
        )
    )


def pleat_height(lasts: Span) -> float:
    """A pleat grows slowly with what it hides: 10 units for half a second, 40 for a minute."""
    return 7.0 + 5.5 * math.log2(1 + max(lasts.s, 0.0))


def _from_zero(piece: Sequence[Stretch]) -> Scale:
    return moved(Scale(tuple(piece)), -piece[0].top)


def _fold(stretches: list[Stretch], start: Time, end: Time, y: float) -> float:
    stretches.append(Stretch(start, end, y, y + pleat_height(end.since(start)), folded=True))
    return stretches[-1].bottom


def _open_height(need: Need) -> float:
    lead = min(need.lead.in_ms * MOST_PER_MS, TALLEST_LEAD)
    window = min(need.window.in_ms * MOST_PER_MS, TALLEST_WINDOW)
    wanted = max(lead + 0.6 * window, window + 0.3 * lead, LABEL * need.labels) + 6
    return min(wanted, max(need.end.since(need.start).in_ms * MOST_PER_MS, LABEL * need.labels))


def _merged(needs: Sequence[Need]) -> list[Need]:
    merged: list[Need] = []
    for need in sorted(needs, key=lambda need: (need.start, need.end)):
        grown = replace(need, start=need.start - MARGIN, end=need.end + MARGIN)
        if merged and grown.start.since(merged[-1].end) < JOIN:
            last = merged.pop()
            grown = Need(
                last.start,
                max(last.end, grown.end),
                max(last.lead, grown.lead),
                max(last.window, grown.window),
                last.labels + grown.labels,
            )
        merged.append(grown)
    return merged
