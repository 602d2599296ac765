"""Cures in the plumbing and the evening: more air, air nearer, less of it asked for, more time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from thundersheet.base.time import Span
from thundersheet.model.air import AirPart, FeedHose
from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.plan.cures.idea import (
    BUY,
    DROP,
    SAY,
    TURN,
    Change,
    Idea,
    Step,
    Trouble,
    device_of,
    with_device,
)
from thundersheet.plan.cures.of_beats import earlier, later
from thundersheet.plan.plumbing import plumbing_of
from thundersheet.plan.wording import shown

LITRE = 1e-3
TANKS_L = (1, 2, 3, 5, 6, 10, 15, 20, 24, 30, 40, 50, 75, 100, 150, 200, 300, 500)
"""Sizes of tanks that are sold, in litres (common practice, no source)."""
NEAR_L = (0.5, 1, 2, 5, 10)
COMPRESSORS = (1.5, 2.0, 3.0, 4.0)
LONGER_S = (5, 10, 15, 20, 30, 45, 60, 90, 120, 180)
LOWER = (0.9, 0.8, 0.7, 0.6)
WIDER = (1.5, 2.0, 3.0)


def bigger_tank(trouble: Trouble) -> Iterator[Idea]:
    """A tank that holds more."""
    tree, _ = plumbing_of(trouble.book)
    if tree is None or not tree.root.volume_m3:
        return
    root = tree.root
    steps = tuple(
        Step(
            f"Fit a tank of {shown(trouble.book, litres * LITRE, 'volume')} as `{root.name}`.",
            _with_part(root.name, volume_m3=litres * LITRE),
        )
        for litres in TANKS_L
        if litres * LITRE > root.holds_m3 * 1.05
    )
    yield Idea(BUY, steps, "a larger tank, and longer to fill it")


def tank_near(trouble: Trouble) -> Iterator[Idea]:
    """A tank near the valves, behind what is narrow."""
    _, end = _fed_end(trouble)
    if end is None:
        return
    steps = tuple(
        Step(
            f"Put a tank of {shown(trouble.book, litres * LITRE, 'volume')} near the valves, "
            f"where `{end.name}` is.",
            _with_part(end.name, kind="tank", volume_m3=litres * LITRE),
        )
        for litres in NEAR_L
        if litres * LITRE > end.holds_m3 * 1.05
    )
    yield Idea(BUY, steps, "a tank with its fittings")


def bigger_compressor(trouble: Trouble) -> Iterator[Idea]:
    """A compressor that brings more, or a second one beside it."""
    machine = trouble.book.air.compressor
    if machine is None:
        return
    steps = []
    for times in COMPRESSORS:
        flow = machine.delivers_m3_s * times
        also = machine.also_delivers_m3_s
        more = replace(
            machine,
            delivers_m3_s=flow,
            also_delivers_m3_s=None if also is None else also * times,
        )
        second = ", or a second one beside it" if times >= 2.0 else ""
        do = f"Fit a compressor of {shown(trouble.book, flow, 'volume flow')}{second}."
        steps.append(Step(do, _with_air(compressor=more)))
    yield Idea(BUY, tuple(steps), "a larger compressor, and its noise")


def lower_set(trouble: Trouble) -> Iterator[Idea]:
    """Less pressure behind the common regulator: each stroke takes less, the tank lasts longer."""
    device = device_of(trouble)
    tree, _ = plumbing_of(trouble.book)
    if device is None or tree is None or device.name not in tree.hangs:
        return
    book = trouble.book
    way = tree.way_to(tree.hangs[device.name])
    regulator = next((part for part in reversed(way) if part.kind == "regulator"), None)
    if regulator is None:
        return
    now = regulator.set_pa if regulator.set_pa is not None else book.air.set_pa
    if now is None:
        return
    steps = tuple(
        Step(
            f"Set `{regulator.name}` to {shown(book, now * share, 'pressure')}.",
            _with_part(regulator.name, set_pa=float(round(now * share, -2))),
        )
        for share in LOWER
    )
    yield Idea(TURN, steps, device=device.name)


def longer_rest(trouble: Trouble) -> Iterator[Idea]:
    """More time between two shows."""
    evening = trouble.book.evening
    if evening is None:
        return
    from thundersheet.plan.air.states import every_of  # which needs no cure

    every = every_of(trouble.book)
    steps = tuple(
        Step(
            f"Write `every: {(every + Span.seconds(more))}` under `evening`.",
            _with_evening(every=every + Span.seconds(more)),
        )
        for more in LONGER_S
    )
    yield Idea(SAY, steps, "fewer shows an hour")


def fewer_shows(trouble: Trouble) -> Iterator[Idea]:
    """An evening of as many shows as the air is good for."""
    evening = trouble.book.evening
    if evening is None or evening.shows < 2:
        return
    counts = sorted({max(1, round(evening.shows * tenths / 20)) for tenths in range(1, 20)})
    steps = tuple(
        Step(
            f"Plan for {count} shows in a row (`shows: {count}`), and let the tank fill then.",
            _with_evening(shows=count),
        )
        for count in reversed(counts)
    )
    yield Idea(DROP, steps, "a pause in the evening")


def drop_repeats(trouble: Trouble) -> Iterator[Idea]:
    """Beats that may be dropped are."""
    optional = [beat for beat in trouble.book.beats if beat.may_drop]
    if not optional:
        return
    words = ", ".join(f"`{beat.name or beat.do[0]}`" for beat in optional[:3])
    yield Idea(DROP, (Step(f"Leave out {words}.", _without_optional),), "what may drop is gone")


def wider_feed(trouble: Trouble) -> Iterator[Idea]:
    """A wider hose where moves share one."""
    device = device_of(trouble)
    tree, _ = plumbing_of(trouble.book)
    if device is None or tree is None or device.name not in tree.hangs:
        return
    for part in reversed(tree.way_to(tree.hangs[device.name])):
        if part.hose is None:
            continue
        steps = tuple(
            Step(
                f"Lay a hose of {shown(trouble.book, part.hose.bore_m * times, 'length')} bore to "
                f"`{part.name}`.",
                _with_part(part.name, hose=replace(part.hose, bore_m=part.hose.bore_m * times)),
            )
            for times in WIDER
        )
        yield Idea(BUY, steps, "a wider hose and its fittings")
        return


def wider_regulator(trouble: Trouble) -> Iterator[Idea]:
    """A regulator that sags less."""
    device = device_of(trouble)
    tree, _ = plumbing_of(trouble.book)
    if device is None or tree is None or device.name not in tree.hangs:
        return
    way = tree.way_to(tree.hangs[device.name])
    regulator = next((part for part in reversed(way) if part.kind == "regulator"), None)
    if regulator is not None:
        steps = tuple(
            Step(
                f"Fit a regulator of {shown(trouble.book, flow, 'conductance')} as "
                f"`{regulator.name}`.",
                _with_part(regulator.name, flow_m3_s_pa=flow),
            )
            for flow in (regulator.passes_m3_s_pa * times for times in (2.0, 4.0, 8.0))
        )
        yield Idea(BUY, steps, "a larger regulator")


def own_feed(trouble: Trouble) -> Iterator[Idea]:
    """The one that disturbs gets its air from before the narrow place."""
    device, end = _fed_end(trouble)
    if device is None or end is None:
        return
    hose = end.hose or FeedHose(bore_m=4e-3, length_m=1.0)
    own = AirPart(name=f"{device.name}-feed", kind="manifold", fed_by=end.fed_by, hose=hose)
    do = f"Lay a hose of its own to {device.name}, from `{end.fed_by}`."

    def change(book: Book) -> Book:
        parted = replace(book, air=replace(book.air, parts=(*book.air.parts, own)))
        return with_device(device.name, air_from=own.name)(parted)

    yield Idea(BUY, (Step(do, change),), "a hose and two fittings")


def apart(trouble: Trouble) -> Iterator[Idea]:
    """The two do not ask for air at the same time; moves of one beat stay together."""
    one, other = trouble.cue(0), trouble.cue(1)
    if one is not None and other is not None and one.target.beat != other.target.beat:
        yield from later(trouble)
        yield from earlier(trouble)


def _fed_end(trouble: Trouble) -> tuple[Device | None, AirPart | None]:
    """The device in trouble, and the part that feeds it where that is not the first of all."""
    device = device_of(trouble)
    tree, _ = plumbing_of(trouble.book)
    if device is None or tree is None or device.name not in tree.hangs:
        return device, None
    end = tree.parts[tree.hangs[device.name]]
    return device, end if end.fed_by else None


def _with_air(**changes: Any) -> Change:
    return lambda book: replace(book, air=replace(book.air, **changes))


def _with_evening(**changes: Any) -> Change:
    def change(book: Book) -> Book:
        evening = book.evening
        return book if evening is None else replace(book, evening=replace(evening, **changes))

    return change


def _with_part(name: str, **changes: Any) -> Change:
    """A part of the plumbing with other values."""

    def change(book: Book) -> Book:
        parts = tuple(
            replace(part, **changes) if part.name == name else part for part in book.air.parts
        )
        return replace(book, air=replace(book.air, parts=parts))

    return change


def _without_optional(book: Book) -> Book:
    return replace(book, beats=tuple(beat for beat in book.beats if not beat.may_drop))
