"""Rules of the book and of any show, held against the planned cues.

In: a book and its cues. Out: findings. When a state holds, ``stretches`` says. Nothing is moved
here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

from thundersheet.base.finding import Finding
from thundersheet.base.time import ZERO, Span, Time, clock
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Move
from thundersheet.model.rules import Rule
from thundersheet.plan.lead import moves_something
from thundersheet.plan.records import Cue
from thundersheet.plan.stretches import Held, begins, holds, passing
from thundersheet.plan.timeline import same
from thundersheet.plan.wording import said, up

EXPLAINS = {
    "RULE-01": "Two states that the book says must never hold at once do so. A state counts from "
    "the first movement into it until the movement out of it is at rest, not from command to "
    "command.",
    "RULE-02": "Something starts before what has to come first is done, or sooner after it than "
    "the rule's `apart`. Done means at rest, not commanded.",
    "RULE-03": "Two beats tell one output two different things at the same instant; which of the "
    "two wins would be chance.",
    "RULE-04": "A device is told what it was told before, at the same instant or with nothing in "
    "between: a shutter that is open is told to open. The later beat does nothing. Often a beat "
    "that brings it back was forgotten.",
    "RULE-05": "The start may be given again while a device of the last show still moves. Guests "
    "do press it again: the start has to stay locked until every device is home and at rest.",
    "RULE-06": "At the end of the show a device is left away from home, so the next show would "
    "start from another state than this plan reckons with.",
    "RULE-07": "The shows an hour that the book hopes for do not fit into an hour with the show's "
    "length and the rest after it.",
}

AT_ONCE = Span.ms(1)
"""Commands nearer than this are one instant: boards and receivers do not tell them apart."""


def gate(book: Book, cues: Sequence[Cue]) -> tuple[Finding, ...]:
    """Everything that the rules of this book, or of any, say against these cues."""
    by_device: dict[str, list[Cue]] = {}
    for cue in cues:
        by_device.setdefault(cue.target.move.device, []).append(cue)
    found: list[Finding] = []
    for rule in book.rules:
        found += _never_together(book, rule, by_device)
        found += _first_then(book, rule, by_device)
    found += _one_output(book, cues)
    for own in by_device.values():
        found += _said_before(book, own)
    found += _again(book, by_device)
    found += _home(book, by_device)
    found += _per_hour(book)
    return tuple(found)


def is_home(device: Device, state: Move) -> bool:
    """Whether a state is the one in which the device waits between shows."""
    return device.is_home(state)


def _never_together(book: Book, rule: Rule, by_device: dict[str, list[Cue]]) -> Iterator[Finding]:
    for a, b in combinations(rule.states, 2):
        if a.device == b.device:
            continue
        others = holds(book, by_device.get(b.device, []), b)
        for one in holds(book, by_device.get(a.device, []), a).all:
            for two in others.within(one.begins, one.ends):
                yield _together(book, rule, (a, one), (b, two))


def _together(
    book: Book, rule: Rule, first: tuple[Move, Held], second: tuple[Move, Held]
) -> Finding:
    (a, one), (b, two) = sorted((first, second), key=lambda each: each[1].begins)
    blamed = two.cue or one.cue
    both_from, both_to = max(one.begins, two.begins), min(one.ends, two.ends)
    because = f" ({rule.because.rstrip('.')})" if rule.because else ""
    return Finding(
        code="RULE-01",
        grade="refuse",
        place=blamed.target.place if blamed else rule.origin.place,
        says=f"{said(book, b)} begins at {clock(two.begins)}, while {said(book, a)} holds until "
        f"{clock(one.ends)}: together for {both_to.since(both_from).in_ms:.0f} ms.",
        allowed=f"Never together, by the rule at {rule.origin.place}{because}.",
        about=tuple(held.cue.id for held in (two, one) if held.cue),
    )


def _first_then(book: Book, rule: Rule, by_device: dict[str, list[Cue]]) -> Iterator[Finding]:
    if rule.first_move is None or rule.then_move is None:
        return
    first, then = rule.first_move, rule.then_move
    apart = rule.apart or Span(0)
    done = holds(book, by_device.get(first.device, []), first)
    for cue in by_device.get(then.device, []):
        if not same(then, cue.target.move):
            continue
        start = begins(cue)
        if any(_settled(held, start, apart) for held in done.at(start)):
            continue
        at_rest = done.done_by(start)
        state = (
            "has not happened by then" if at_rest is None else f"is done only at {clock(at_rest)}"
        )
        because = f" ({rule.because.rstrip('.')})" if rule.because else ""
        wait = f" {apart} after" if apart else ""
        yield Finding(
            code="RULE-02",
            grade="refuse",
            place=cue.target.place,
            says=f"{said(book, then)} begins at {clock(start)}, but {said(book, first)} {state}.",
            allowed=f"It may begin{wait} once that is done, by the rule at "
            f"{rule.origin.place}{because}.",
            about=(cue.id,),
        )


def _settled(held: Held, start: Time, apart: Span) -> bool:
    return held.cue is None or held.way_ends + apart <= start


def _one_output(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    """Contradictions and repetitions at one instant. Cues come in the order they leave."""
    last: dict[str, tuple[Cue, float]] = {}
    said_already: set[tuple[str, str]] = set()
    for cue in cues:
        for command in cue.commands:
            other = last.get(command.output)
            last[command.output] = (cue, command.value)
            if other is None or cue.at.since(other[0].at) > AT_ONCE or other[0] is cue:
                continue
            pair = (other[0].id, cue.id)
            if pair not in said_already:
                said_already.add(pair)
                yield _clash(book, other[0], cue, command.output, other[1] == command.value)


def _clash(book: Book, one: Cue, two: Cue, output: str, same: bool) -> Finding:
    at = clock(two.target.beat_at)
    if same:
        return Finding(
            code="RULE-04",
            grade="warn",
            place=two.target.place,
            says=f"{said(book, two.target.move)} is asked for twice at {at}.",
            allowed=f"Once is enough; the other stands at {one.target.place}.",
            about=(two.id, one.id),
        )
    return Finding(
        code="RULE-03",
        grade="refuse",
        place=two.target.place,
        says=f"At {at} output `{output}` is told two things at once: "
        f"{said(book, one.target.move)} and {said(book, two.target.move)}.",
        allowed="Move one of the two beats, or leave one out.",
        about=(two.id, one.id),
    )


def _said_before(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    """Moves that find their device where they would bring it; `cues` are one device's."""
    for before, cue in pairwise(cues):
        once, twice = before.target.move, cue.target.move
        same_place = (once.action, once.to) == (twice.action, twice.to)
        apart = cue.at.since(before.at) > AT_ONCE
        if same_place and apart and cue.commands and not passing(before):
            yield Finding(
                code="RULE-04",
                grade="warn",
                place=cue.target.place,
                says=f"{said(book, twice)} at {clock(cue.target.beat_at)} does nothing: it has "
                f"been so since {clock(before.target.beat_at)}.",
                allowed="Leave it out, or bring the device back in between.",
                about=(cue.id, before.id),
            )


def start_again(book: Book) -> Time:
    """When the start may be given again, from the start of a show."""
    return book.guests.again or book.show.length + book.show.rest


def _again(book: Book, by_device: dict[str, list[Cue]]) -> Iterator[Finding]:
    again = start_again(book)
    late = [
        (cue.at + cue.lead.rest, cue)
        for cues in by_device.values()
        for cue in cues[-1:]
        if moves_something(cue) and cue.at + cue.lead.rest > again
    ]
    if not late:
        return
    rests, last = max(late, key=lambda each: each[0])
    yield Finding(
        code="RULE-05",
        grade="refuse",
        place=book.guests.origin.of("again"),
        says=f"The start may be given again at {clock(again)}, but {said(book, last.target.move)} "
        f"is at rest only at {clock(rests)}.",
        allowed=f"Lock the start until every device is proved home: `again: {up(rests)}` at the "
        "earliest.",
        about=tuple(cue.id for _, cue in sorted(late, key=lambda each: each[0], reverse=True)),
    )


def _home(book: Book, by_device: dict[str, list[Cue]]) -> Iterator[Finding]:
    for name, cues in by_device.items():
        device, last = book.device(name), cues[-1]
        if not moves_something(last) or passing(last):
            continue
        if not is_home(device, last.target.move):
            yield Finding(
                code="RULE-06",
                grade="warn",
                place=last.target.place,
                says=f"{said(book, last.target.move)} at {clock(last.target.beat_at)} is the last "
                f"that {name} does: it is not home when the next show starts.",
                allowed=f"Bring {name} home with a beat of its own before the end.",
                about=(last.id,),
            )


def _per_hour(book: Book) -> Iterator[Finding]:
    hoped = book.guests.shows_per_hour
    each = max(start_again(book), book.show.length).since(ZERO)
    if hoped is None or hoped * each.s <= 3600.0:
        return
    can = math.floor(3600.0 / each.s * 10) / 10
    yield Finding(
        code="RULE-07",
        grade="warn",
        place=book.guests.origin.of("shows_per_hour"),
        says=f"{hoped:g} shows an hour do not fit: one with its rest takes {each.s:.1f} s.",
        allowed=f"{can:g} an hour at most.",
    )
