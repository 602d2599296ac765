"""An evening of guests: when they come, how they gather into shows, how long they wait.

In: arrivals, a length of service, how many fit into one show. Out: the starts and the queue. A show
begins as soon as somebody waits and the prop is ready; whoever comes while it plays waits for the
next. Lots come from a seeded Mersenne twister, so that an evening can be had again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from thundersheet.rehearse.records import Queue


@dataclass(frozen=True, slots=True)
class Party:
    """Guests who come together; a show takes them together, unless they are too many."""

    at_s: float
    """Seconds of the evening."""
    guests: int = 1


@dataclass(frozen=True, slots=True)
class Start:
    """One show's start and who is in it."""

    at_s: float
    guests: int


@dataclass(frozen=True, slots=True)
class Gathered:
    """What became of the parties."""

    starts: tuple[Start, ...]
    queue: Queue


def fixed(every_s: float, until_s: float, guests: int = 1) -> tuple[Party, ...]:
    """A party every so many seconds, the first one at once."""
    count = int(until_s / every_s + 1e-9)
    return tuple(Party(k * every_s, guests) for k in range(count + 1) if k * every_s < until_s)


def poisson(per_hour: float, until_s: float, seed: int, guests: int = 1) -> tuple[Party, ...]:
    """Parties that come at random, so many an hour in the mean: exponential times between them."""
    lot, at = Random(seed), 0.0
    found: list[Party] = []
    while True:
        at += lot.expovariate(per_hour / 3600.0)
        if at >= until_s:
            return tuple(found)
        found.append(Party(at, guests))


def gather(
    parties: Sequence[Party],
    *,
    per_show: int,
    service_s: float,
    until_s: float,
    pressed: bool = False,
) -> Gathered:
    """First come, first served, up to ``per_show`` at a time; no show begins after ``until_s``.

    ``pressed``: the start is pressed all the time, so that a show begins whenever the prop is
    ready, whether somebody waits or not. Whoever still waits at the end counts with how long.
    """
    line = [(each.at_s, each.guests) for each in sorted(parties, key=lambda each: each.at_s)]
    came = sum(guests for _, guests in line)
    starts: list[Start] = []
    waits: list[tuple[float, int]] = []
    longest_line, head, ready = 0, 0, 0.0
    while head < len(line) or pressed:
        begins = ready if pressed else max(ready, line[head][0])
        if begins > until_s or (pressed and begins == until_s):
            break
        here, waiting = head, 0
        while here < len(line) and line[here][0] <= begins:
            waiting += line[here][1]
            here += 1
        longest_line = max(longest_line, waiting)
        taken = 0
        while head < here and taken < per_show:
            at, guests = line[head]
            goes = min(guests, per_show - taken)
            if taken and goes < guests <= per_show:
                break  # a party that fits into one show is not torn apart
            taken += goes
            waits.append((begins - at, goes))
            line[head] = (at, guests - goes)
            head += goes == guests
        starts.append(Start(begins, taken))
        ready = begins + service_s
    left = [(max(until_s - at, 0.0), guests) for at, guests in line[head:] if at <= until_s]
    longest_line = max(longest_line, sum(guests for _, guests in left))
    return Gathered(tuple(starts), _queue(came, waits, left, longest_line))


def _queue(
    came: int, waits: Sequence[tuple[float, int]], left: Sequence[tuple[float, int]], longest: int
) -> Queue:
    everyone = [*waits, *left]
    count = sum(guests for _, guests in everyone)
    total = sum(wait * guests for wait, guests in everyone)
    return Queue(
        came=came,
        played=sum(guests for _, guests in waits),
        left_waiting=sum(guests for _, guests in left),
        mean_wait_s=total / count if count else 0.0,
        longest_wait_s=max((wait for wait, _ in everyone), default=0.0),
        longest_line=longest,
    )
