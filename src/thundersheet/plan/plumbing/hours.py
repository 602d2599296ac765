"""Whether the evening that a book declares can be played at all: shows, their length, the clock.

In: a book. Out: findings. It needs no plumbing.
"""

from __future__ import annotations

from collections.abc import Iterator

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.time import Span
from thundersheet.model.air import Evening
from thundersheet.model.book import Book
from thundersheet.plan.plumbing.machine import DAY_S

EXPLAINS = {
    "AIR-28": "The next show of the evening starts before the one before is over and has had its "
    "rest. Figures of such an evening would be of a show that nobody can play.",
    "AIR-29": "So many shows, one after another, take longer than the evening lasts by the clock.",
}


def hours(book: Book) -> Iterator[Finding]:
    """What contradicts itself in the evening and the show's length."""
    evening = book.evening
    if evening is None:
        return
    takes = Span(book.show.length.ns) + book.show.rest
    every = takes if evening.every is None else evening.every
    if every < takes:
        yield Finding(
            code="AIR-28",
            grade="warn",
            place=evening.origin.of("every"),
            says=f"A show starts every {every}, and one takes {takes} with its rest.",
            allowed=f"{takes} or more.",
        )
    yield from _too_many(evening, every)


def _too_many(evening: Evening, every: Span) -> Iterator[Finding]:
    """Shows that do not fit between the evening's beginning and its end."""
    if evening.begins is None or evening.ends is None:
        return
    lasts_s = (evening.ends - evening.begins).s % DAY_S
    fit = int(lasts_s / every.s + 1e-9)
    if evening.shows <= fit:
        return
    yield Finding(
        code="AIR-29",
        grade="warn",
        place=evening.origin.of("shows"),
        says=f"{evening.shows} shows, one every {every}, take {_minutes(evening.shows * every.s)}, "
        f"and the evening lasts {_minutes(lasts_s)}.",
        allowed=f"{fit} shows fit.",
        cures=(Cure(do=f"Write `shows: {fit}`"),) if fit else (),
    )


def _minutes(seconds: float) -> str:
    return f"{seconds / 60.0:.0f} min"
