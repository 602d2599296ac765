"""Beats to targets: which moves have to land when, with ids made of names.

In: a book and the name of one of its variants. Out: targets in the order of the show, and what is
wrong with the beats themselves. Here, and nowhere else, a beat gets the lag of the screen that it
meets. No lead is known here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from thundersheet.base.finding import Finding, Refusal
from thundersheet.base.time import ZERO, Span, Time, clock
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Landing, Move
from thundersheet.model.show import Beat, Variant
from thundersheet.plan.records import Target
from thundersheet.plan.wording import said

EXPLAINS = {
    "SHOW-01": "A beat, or a repeat of one, lies before 0:00 or after the show's `length`. Give "
    "the show its true length, or move the beat.",
    "SHOW-02": "Two beats have the same `name`. The name becomes the cue's id, which joins plan, "
    "proof, journal and paper, so each must be its own.",
    "SHOW-03": "A variant was asked for that the book does not have.",
    "SHOW-04": "A beat's window does not hold the beat itself: every landing on the beat would "
    "count as a miss. Windows run from an early (negative) to a late (positive) bound.",
    "SHOW-09": "A beat asks for a landing that its moves do not have: a cylinder arrives, a lamp "
    "is at full brightness. The landings of each action stand on its kind's page. In a beat of "
    "several moves, those that have no such landing take their usual one.",
}


@dataclass(frozen=True, slots=True)
class Timeline:
    """Every landing of one variant of the show, in show order."""

    targets: tuple[Target, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Slot:
    """One move of one repeat of one beat, before the variant has its say."""

    id: str
    beat_id: str
    beat: Beat
    at: Time
    move: Move
    says: str
    """The move as the book says it."""


def timeline(book: Book, variant: str = "") -> Timeline:
    """The targets of one variant; the empty name is the show as written."""
    chosen = variant_of(book, variant)
    slots = _slots(book)
    kept = [slot for slot in slots if _plays(slot, variant, chosen)]
    targets = [_target(book, _swapped(book, slot, chosen)) for slot in kept]
    targets.sort(key=lambda target: target.land_at)  # stable: the book's order decides ties
    findings = (*_beat_findings(book), *_outside(book, targets))
    return Timeline(tuple(targets), findings)


def variant_of(book: Book, name: str) -> Variant | None:
    """The variant of this name, None for the empty one; refused when the book has none such."""
    if not name:
        return None
    for variant in book.variants:
        if variant.name == name:
            return variant
    known = ", ".join(f"`{v.name}`" for v in book.variants) or "none"
    raise Refusal.because(
        "SHOW-03", f"The book has no variant `{name}`.", f"It has: {known}.", book.origin.place
    )


def beats_by_id(book: Book) -> dict[str, Beat]:
    """The beat behind each beat id."""
    return {slot.beat_id: slot.beat for slot in _slots(book)}


def landing(book: Book, beat: Beat, move: Move) -> Landing:
    """Which point of the move meets the beat: as the beat says, if the action has such a point."""
    action = next(a for a in book.device(move.device).ACTIONS if a.name == move.action)
    wanted = next((land for land in action.lands if land == beat.land), None)
    return wanted or action.lands[0]


def screen_lag(book: Book, beat: Beat) -> Span:
    """How late the picture that a beat meets appears, its player's share included; or the sound."""
    meets = beat.meets or book.show.meets
    if meets == "sound":
        return book.show.sound_delay
    return picture_lag(book, book.device(meets))


def picture_lag(book: Book, screen: Device) -> Span:
    """The lag of a screen and of the player that feeds it."""
    players = [device for device in book.devices if getattr(device, "screen", "") == screen.name]
    return sum((lag_of(player) for player in players), start=lag_of(screen))


def lag_of(device: Device) -> Span:
    """A screen's or player's own lag; zero for any other device."""
    lag = getattr(device, "lag", None)
    return lag if isinstance(lag, Span) else Span(0)


def _slots(book: Book) -> list[_Slot]:
    """Ids are dealt over the whole show, so that a cue has the same id in every variant."""
    occasions = [
        (beat, index, repeat, beat.at + (beat.every or Span(0)) * repeat)
        for index, beat in enumerate(book.beats)
        for repeat in range(beat.times)
    ]
    occasions.sort(key=lambda each: each[3])
    taken = set(_given_ids(book))
    counts: dict[str, int] = {}
    first_ids: dict[int, str] = {}
    slots = []
    for beat, index, _, at in occasions:
        for move, says in zip(beat.moves, _words_of(book, beat), strict=True):
            if beat.name:
                named = slug(beat.name)
                counts[named] = counts.get(named, 0) + 1
                single = beat.times * len(beat.moves) == 1
                cue_id = named if single else f"{named}-{counts[named]}"
            else:
                cue_id = _free(slug(said(book, move)), counts, taken)
            beat_id = first_ids.setdefault(index, slug(beat.name) if beat.name else cue_id)
            slots.append(_Slot(cue_id, beat_id, beat, at, move, says))
    return _apart(slots)


def _words_of(book: Book, beat: Beat) -> tuple[str, ...]:
    """A beat's moves in the user's words; for a book made by a program, in the kinds'."""
    if len(beat.do) == len(beat.moves):
        return beat.do
    return tuple(said(book, move) for move in beat.moves)


def _given_ids(book: Book) -> Iterator[str]:
    """Ids that named beats will take."""
    for beat in book.beats:
        if beat.name:
            named, count = slug(beat.name), beat.times * len(beat.moves)
            yield named
            yield from (f"{named}-{k}" for k in range(1, count + 1))


def _free(stem: str, counts: dict[str, int], taken: set[str]) -> str:
    """The next ordinal of this device and action that no named beat has taken."""
    while True:
        counts[stem] = counts.get(stem, 0) + 1
        cue_id = f"{stem}-{counts[stem]}"
        if cue_id not in taken:
            taken.add(cue_id)
            return cue_id


def _apart(slots: list[_Slot]) -> list[_Slot]:
    """The same with every id its own, also where two beats share a name (which is reported)."""
    seen: set[str] = set()
    out = []
    for slot in slots:
        cue_id, more = slot.id, 2
        while cue_id in seen:
            cue_id, more = f"{slot.id}-again-{more}", more + 1
        seen.add(cue_id)
        out.append(replace(slot, id=cue_id))
    return out


def slug(words: str) -> str:
    """Words as an id: lower case, anything but letters and digits becomes one hyphen."""
    return re.sub(r"[^\w]+|_", "-", words.lower()).strip("-")


def _plays(slot: _Slot, variant: str, chosen: Variant | None) -> bool:
    beat = slot.beat
    if beat.only and variant not in beat.only:
        return False
    if chosen is None:
        return True
    left_out = (
        variant in beat.without
        or (beat.may_drop and chosen.tank_below_pa is not None)
        or slot.move.device in chosen.without_devices
        or bool(beat.name and beat.name in chosen.without_beats)
        or any(same(move, slot.move) for move in chosen.without_moves)
    )
    return not left_out


def same(asked: Move, move: Move) -> bool:
    """Whether a move is the one asked for: `to` counts only where it was said."""
    return (asked.device, asked.action) == (move.device, move.action) and (
        asked.to is None or asked.to == move.to
    )


def _swapped(book: Book, slot: _Slot, chosen: Variant | None) -> _Slot:
    """The slot with what plays in its place; its id says both."""
    for asked, instead in chosen.swaps if chosen else ():
        if same(asked, slot.move):
            words = said(book, instead)
            return replace(slot, id=f"{slug(words)}-for-{slot.id}", move=instead, says=words)
    return slot


def _target(book: Book, slot: _Slot) -> Target:
    beat = slot.beat
    return Target(
        id=slot.id,
        beat=slot.beat_id,
        beat_at=slot.at,
        land_at=slot.at + screen_lag(book, beat),
        move=slot.move,
        land=landing(book, beat, slot.move),
        window=beat.window,
        what=beat.what,
        says=slot.says,
        place=beat.origin.place,
    )


def _beat_findings(book: Book) -> Iterator[Finding]:
    yield from _names_twice(book.beats)
    for beat in book.beats:
        yield from _no_such_landing(book, beat)
        if not beat.window.holds(Span(0)):
            yield Finding(
                code="SHOW-04",
                grade="refuse",
                place=beat.origin.of("window"),
                says=f"The window {beat.window} does not hold the beat itself.",
                allowed="It runs from an early bound at or below 0 to a late one at or above it.",
            )


def _no_such_landing(book: Book, beat: Beat) -> Iterator[Finding]:
    """Where none of a beat's moves has the landing that it asks for."""
    if beat.land is None or not beat.moves:
        return
    if any(landing(book, beat, move) == beat.land for move in beat.moves):
        return
    actions = book.device(beat.moves[0].device).ACTIONS
    lands = next(a.lands for a in actions if a.name == beat.moves[0].action)
    yield Finding(
        code="SHOW-09",
        grade="refuse",
        place=beat.origin.of("land"),
        says=f"{said(book, beat.moves[0])} has no landing `{beat.land}`.",
        allowed=f"It has {', '.join(f'`{land}`' for land in lands)}.",
    )


def _names_twice(beats: Iterable[Beat]) -> Iterator[Finding]:
    first: dict[str, Beat] = {}
    for beat in beats:
        if beat.name and first.setdefault(slug(beat.name), beat) is not beat:
            yield Finding(
                code="SHOW-02",
                grade="refuse",
                place=beat.origin.of("name"),
                says=f"Two beats are called `{beat.name}`.",
                allowed=f"The first stands at {first[slug(beat.name)].origin.of('name')}.",
            )


def _outside(book: Book, targets: Iterable[Target]) -> Iterator[Finding]:
    for target in targets:
        if not ZERO <= target.beat_at <= book.show.length:
            yield Finding(
                code="SHOW-01",
                grade="refuse",
                place=target.place,
                says=f"`{target.id}` is at {clock(target.beat_at)}, outside the show.",
                allowed=f"The show runs from 0:00 to {clock(book.show.length)}.",
                about=(target.id,),
            )
