"""What is wrong with moves: they never land, begin before 0:00, or come too close to each other.

In: a device, what it is asked for and its cues. Out: findings. No lead is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from thundersheet.base.finding import Finding
from thundersheet.base.time import ZERO, Span, clock
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Move
from thundersheet.plan.records import Cue, Target
from thundersheet.plan.wording import said, up

EXPLAINS = {
    "MOVE-01": "The device never makes this landing: its thrust does not move the load, or it has "
    "no air. The message says which.",
    "MOVE-02": "The command for this move would leave before the device's previous move is at "
    "rest. What happens then is not what the beat says: a cylinder turns round half-way.",
    "MOVE-03": "Two commands to one device are closer than the device can follow, whatever its "
    "air or supply: a hammer must fall back before it can strike again.",
    "MOVE-04": "The lead is longer than the time from 0:00 to the beat, so the command would have "
    "to leave before the programme starts. A shift that stays inside the beat's window is allowed "
    "and shows as the cue's expected error.",
}


def move_findings(
    book: Book, device: Device, targets: Iterable[Target], cues: Sequence[Cue]
) -> Iterator[Finding]:
    """What a device says to its moves, and what is wrong with their cues."""
    yield from _objections(device, targets)
    yield from _device_findings(book, device, cues)


def _objections(device: Device, targets: Iterable[Target]) -> Iterator[Finding]:
    """What a device says to a move at all, once for each move, at the first beat that asks."""
    seen: set[Move] = set()
    for target in targets:
        if target.move in seen:
            continue
        seen.add(target.move)
        for finding in device.objections(target.move):
            yield replace(finding, place=target.place, about=(target.id,))


def _device_findings(book: Book, device: Device, cues: Sequence[Cue]) -> Iterator[Finding]:
    for cue in cues:
        yield from _never(book, cue)
        yield from _before_zero(book, cue)
    for earlier, later in pairwise(cues):
        yield from _too_close(book, device, earlier, later)


def _never(book: Book, cue: Cue) -> Iterator[Finding]:
    if cue.lead.never:
        yield Finding(
            code="MOVE-01",
            grade="refuse",
            place=cue.target.place,
            says=f"{said(book, cue.target.move)} at {clock(cue.target.beat_at)} never "
            f"{_lands(cue)}: {cue.lead.never.rstrip('.')}.",
            about=(cue.id,),
        )


def _lands(cue: Cue) -> str:
    return {"starts": "starts", "half-way": "gets half-way", "arrives": "arrives"}.get(
        cue.target.land, "reaches its full strength"
    )


def _before_zero(book: Book, cue: Cue) -> Iterator[Finding]:
    late = ZERO.since(cue.at)
    if late > max(cue.target.window.late, Span(0)) and cue.target.beat_at >= ZERO:
        earliest = cue.target.beat_at + late
        yield Finding(
            code="MOVE-04",
            grade="refuse",
            place=cue.target.place,
            says=f"{said(book, cue.target.move)} cannot land at {clock(cue.target.beat_at)}: it "
            f"needs {cue.lead.total.in_ms:.0f} ms from the command, and the programme starts "
            f"only {cue.target.land_at.since(ZERO).in_ms:.0f} ms before.",
            allowed=f"Move the beat to {up(earliest)} or later.",
            about=(cue.id,),
        )


def _too_close(book: Book, device: Device, earlier: Cue, later: Cue) -> Iterator[Finding]:
    if earlier.target.beat == later.target.beat and earlier.at == later.at:
        return  # told twice at once: the gate says so
    gap = later.at.since(earlier.at)
    least = device.least_gap(earlier.target.move, later.target.move)
    unfinished = moves_something(earlier) and gap < earlier.lead.rest
    if unfinished and (gap >= least or gap.ns < 0):
        yield _unfinished(book, earlier, later, earlier.lead.rest - gap)
    elif gap < least:
        yield Finding(
            code="MOVE-03",
            grade="refuse",
            place=later.target.place,
            says=f"{said(book, later.target.move)} at {clock(later.target.beat_at)} comes "
            f"{gap.in_ms:.0f} ms after {said(book, earlier.target.move)} "
            f"at {clock(earlier.target.beat_at)}.",
            allowed=f"{device.name} needs {least.in_ms:.0f} ms between the two: move the beat to "
            f"{up(later.target.beat_at + (least - gap))} or later.",
            about=(later.id, earlier.id),
        )


def _unfinished(book: Book, earlier: Cue, later: Cue, wait: Span) -> Finding:
    return Finding(
        code="MOVE-02",
        grade="refuse",
        place=later.target.place,
        says=f"{said(book, later.target.move)} cannot land at {clock(later.target.beat_at)}: it "
        f"needs {later.lead.total.in_ms:.0f} ms from the command, and "
        f"{said(book, earlier.target.move)} of {clock(earlier.target.beat_at)} is at rest only "
        f"{wait.in_ms:.0f} ms after that.",
        allowed=f"Move the beat to {up(later.target.beat_at + wait)} or later.",
        about=(later.id, earlier.id),
    )


def moves_something(cue: Cue) -> bool:
    """Whether a cue sets a body in motion, which has to come to rest before it can turn round."""
    return cue.lead.impact is not None
