"""Arrivals as they are asked for: `poisson:60/h`, `fixed:104 s`, or a file of clock times.

In: a text, and what stands in a file. Out: parties, or a Refusal that says what is allowed. The
file itself is opened by `book.files`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from thundersheet.base.finding import Finding, Refusal
from thundersheet.base.read_time import read_clock, read_span
from thundersheet.base.source import Place
from thundersheet.base.time import Span
from thundersheet.base.units import UnitError
from thundersheet.book.files import open_text
from thundersheet.model.book import Book
from thundersheet.rehearse.arrivals import Party, fixed, poisson

EXPLAINS = {
    "EVENING-01": "Arrivals are `poisson:60/h` (at random, so many an hour in the mean), "
    "`fixed:104 s` or `fixed:30/h` (evenly), each with `of 4` behind it for parties of four, or "
    "the name of a file with a clock time in each line: `19:03`, or `19:03, 4` for four guests.",
    "EVENING-02": "A line of the file of arrivals is no clock time with a number of guests. "
    "Nothing was rehearsed, so that no guest is lost without a word.",
    "EVENING-03": "The evening's hours leave no time for a show: it has to end after it begins.",
}
_SPEC = re.compile(r"(poisson|fixed)\s*:\s*(.+?)(?:\s+of\s+(\d{1,4}))?")
_RATE = re.compile(r"(\d+(?:\.\d+)?)\s*(?:/\s*h|an hour|per hour)")
BEGINS, ENDS = "19:00", "22:00"
DAY_S = 86_400.0
MOST = 200_000
"""Parties in one evening; more are a mistake."""
_ALLOWED = "Write `poisson:60/h`, `fixed:104 s`, `fixed:30/h`, or name a file of clock times."


@dataclass(frozen=True, slots=True)
class Hours:
    """When an evening begins and ends, seconds after midnight; the end may be the next day's."""

    from_s: float
    to_s: float

    @property
    def length_s(self) -> float:
        """Of the evening."""
        return self.to_s - self.from_s


def read_hours(book: Book, begins: str | None, ends: str | None) -> Hours:
    """Two clock times as typed, else the book's evening, else 19:00 to 22:00.

    An end before the beginning is the next day's.
    """
    own = book.evening
    first = _clock(begins, own.begins if own else None, BEGINS)
    last = _clock(ends, own.ends if own else None, ENDS)
    if first == last:
        raise Refusal.because(
            "EVENING-03",
            "The evening ends when it begins.",
            "Write for example --from 19:00 --to 22:00.",
        )
    return Hours(first, last if last > first else last + DAY_S)


def _clock(typed: str | None, own: Span | None, usual: str) -> float:
    if typed is None:
        return read_clock(usual).s if own is None else own.s
    try:
        return read_clock(typed).s
    except UnitError as error:
        raise Refusal.because("EVENING-03", error.says, error.allowed) from error


def read_arrivals(text: str, hours: Hours, seed: int) -> tuple[Party, ...]:
    """The parties of an evening, in seconds from its beginning."""
    found = _SPEC.fullmatch(text.strip())
    if found is None:
        return _of_file(text, hours)
    guests = int(found[3] or 1)
    every_s = _every(text, found[2])
    if guests < 1 or hours.length_s / every_s > MOST:
        raise Refusal.because("EVENING-01", f"`{text}` is no evening of guests.", _ALLOWED)
    if found[1] == "fixed":
        return fixed(every_s, hours.length_s, guests)
    return poisson(3600.0 / every_s, hours.length_s, seed, guests)


def _every(text: str, amount: str) -> float:
    """Seconds from party to party, in the mean."""
    if rate := _RATE.fullmatch(amount):
        per_hour = float(rate[1])
        seconds = 3600.0 / per_hour if per_hour > 0.0 else 0.0
    else:
        try:
            seconds = read_span(amount.removeprefix("every ")).s
        except UnitError as error:
            raise Refusal.because("EVENING-01", f"`{text}`: {error.says}", _ALLOWED) from error
    if seconds <= 0.0:
        raise Refusal.because("EVENING-01", f"`{text}` has no time between guests.", _ALLOWED)
    return seconds


def _of_file(name: str, hours: Hours) -> tuple[Party, ...]:
    text = open_text(Path(name), name, hint=_ALLOWED).text
    findings: list[Finding] = []
    parties = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.split("#")[0].strip():
            continue
        try:
            parties += list(_party(line.split("#")[0], hours))
        except (UnitError, ValueError) as error:
            if number == 1 and not any(digit.isdigit() for digit in line):
                continue  # a spreadsheet's heading
            findings.append(
                Finding(
                    code="EVENING-02",
                    grade="refuse",
                    place=Place(name, number),
                    says=f"`{line.strip()[:60]}`: {getattr(error, 'says', error)}",
                    allowed="Write a clock time, and behind a comma how many come: `19:03, 4`.",
                )
            )
    if findings:
        raise Refusal(*findings[:20])
    if not parties:
        raise Refusal.because(
            "EVENING-02", f"Nobody comes between the evening's hours in {name}.", _ALLOWED,
            Place(name),
        )  # fmt: skip
    return tuple(sorted(parties, key=lambda each: each.at_s))


def _party(line: str, hours: Hours) -> Iterator[Party]:
    """A line's party, if it comes within the evening's hours."""
    clock, *more = (part.strip().strip('"') for part in re.split(r"[,;\t]", line))
    guests = 1
    if more and more[0]:
        if not re.fullmatch(r"[1-9]\d{0,3}", more[0]):
            raise ValueError(f"`{more[0]}` is no number of guests.")
        guests = int(more[0])
    at = _seconds(clock)
    at += DAY_S if at < hours.from_s and hours.to_s > DAY_S else 0.0
    if hours.from_s <= at <= hours.to_s:
        yield Party(at - hours.from_s, guests)


def _seconds(clock: str) -> float:
    """A clock time, with seconds where a till or a counter writes them."""
    if found := re.fullmatch(r"(\d{1,2}:\d{2}):(\d{2}(?:\.\d+)?)", clock):
        return read_clock(found[1]).s + float(found[2])
    return read_clock(clock).s
