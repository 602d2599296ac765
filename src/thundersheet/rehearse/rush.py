"""A whole evening on one plant: shows back to back, or as guests arrive; what it does to the air.

In: a book, its plan, when shows start. Out: a `Rehearsal` by the event-driven solver. Which version
plays is the ladder's, how an air-moved device lands the plant's; nothing here is a guess.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil
from typing import Literal

from thundersheet.base.time import Time
from thundersheet.model.book import Book
from thundersheet.physics.bulk import quiet
from thundersheet.plan.records import Plan
from thundersheet.rehearse.arrivals import Gathered, Party, Start, gather
from thundersheet.rehearse.faults import Fault, Hammered, HeldStart
from thundersheet.rehearse.house import House
from thundersheet.rehearse.questions import answers
from thundersheet.rehearse.records import Differs, Played, Queue, Rehearsal
from thundersheet.rehearse.world import differs, nothing, presses

Say = Callable[[str], None]
Progress = Callable[[float], None]


def again_s(book: Book) -> float:
    """From one start to the earliest next one."""
    if book.guests.again is not None:
        return book.guests.again.since(Time(0)).s
    return book.show.length.s + book.show.rest.s


def rehearse_rush(
    book: Book,
    plan: Plan,
    shows: int,
    every_s: float | None = None,
    faults: Sequence[Fault] = (),
    *,
    from_s: float | None = None,
    say: Say = quiet,
    progress: Progress = nothing,
) -> Rehearsal:
    """So many shows, one start every so many seconds; None: as soon as it may start again."""
    every = _hammered_s(book, faults) or every_s or again_s(book)
    starts = [Start(k * every, book.guests.per_show) for k in range(shows)]
    if any(isinstance(fault, HeldStart) for fault in faults):
        starts = starts[:1]
    house = House(book, plan, faults, from_s=from_s, say=say)
    played = _played(house, starts, shows * every, progress)
    per_hour = book.guests.per_show * 3600.0 / every
    return _found("rush", house, plan, played, per_hour=per_hour, every_s=every)


def rehearse_evening(
    book: Book,
    plan: Plan,
    parties: Sequence[Party],
    length_s: float,
    faults: Sequence[Fault] = (),
    *,
    seed: int | None = None,
    from_s: float | None = None,
    say: Say = quiet,
    progress: Progress = nothing,
) -> Rehearsal:
    """An evening of guests as they arrive; the last show begins before it ends."""
    gathered = evening_of(book, parties, length_s, faults)
    house = House(book, plan, faults, from_s=from_s, say=say)
    played = _played(house, gathered.starts, length_s, progress)
    per_hour = gathered.queue.played * 3600.0 / length_s if length_s else 0.0
    return _found(
        "evening",
        house,
        plan,
        played,
        per_hour=per_hour,
        every_s=length_s / max(len(played), 1),
        queue=gathered.queue,
        seed=seed,
    )


def evening_of(
    book: Book, parties: Sequence[Party], length_s: float, faults: Sequence[Fault]
) -> Gathered:
    """When shows start and who waits.

    A start that sticks lets nobody in after the first show; one that is hammered starts a show
    whenever the prop is ready, with whoever waits by then.
    """
    held = any(isinstance(fault, HeldStart) for fault in faults)
    every = _hammered_s(book, faults)
    service = again_s(book) if every is None else every
    return gather(
        parties,
        per_show=book.guests.per_show,
        service_s=2.0 * (length_s + service) if held else service,
        until_s=length_s,
        pressed=every is not None,
    )


def _hammered_s(book: Book, faults: Sequence[Fault]) -> float | None:
    """From start to start where somebody keeps pressing: the first press when it is ready."""
    presses = [fault.every_s for fault in faults if isinstance(fault, Hammered)]
    return ceil(again_s(book) / presses[0] - 1e-9) * presses[0] if presses else None


def _played(
    house: House, starts: Sequence[Start], length_s: float, progress: Progress
) -> tuple[Played, ...]:
    ends = max(length_s, starts[-1].at_s + again_s(house.book)) if starts else length_s
    played = []
    for index, start in enumerate(starts):
        until = starts[index + 1].at_s if index + 1 < len(starts) else ends
        played.append(house.play(index + 1, start.at_s, until, start.guests))
        progress((index + 1) / len(starts))
    house.wait(ends)
    return tuple(played)


def _found(
    mode: Literal["rush", "evening"],
    house: House,
    plan: Plan,
    played: tuple[Played, ...],
    *,
    per_hour: float,
    every_s: float,
    queue: Queue | None = None,
    seed: int | None = None,
) -> Rehearsal:
    rest, tank = house.rest(), house.tank()
    return Rehearsal(
        show=plan.show,
        mode=mode,
        solver="event-driven",
        seed=seed,
        length_s=plan.length.s,
        shows=played,
        tank=tank,
        queue=queue,
        guests_per_hour=per_hour,
        rest_s=rest.seconds,
        rest_why=rest.why,
        faults=tuple(fault.says for fault in house.faults),
        started=presses(house.book, house.faults, plan.length.s),
        differs=None if house.faults else _differs(house, played),
        answers=answers(
            house.plant,
            house.first_state,
            house.state,
            played,
            tank,
            plan.units,
            every_s=every_s,
        ),
        findings=plan.findings,
        units=plan.units,
        atmosphere_pa=house.plant.atmosphere_pa,
    )


def _differs(house: House, played: Sequence[Played]) -> Differs | None:
    """Over all shows, each against the plan of its variant."""
    parts = []
    for variant, plan in house.plans.items():
        own = [show for show in played if show.variant == variant]
        found = differs(plan, own)
        if found is not None:
            parts.append(found)
    if not parts:
        return None
    worst = max(parts, key=lambda each: abs(each.worst_ms))
    count = sum(each.landings for each in parts)
    mean = sum(each.mean_ms * each.landings for each in parts) / count
    return Differs(mean_ms=mean, worst_ms=worst.worst_ms, worst_cue=worst.worst_cue, landings=count)
