"""Force and energy at guests' reach, the lunge after a dump, and flashing light.

In: a book and its cues. Out: findings. The limits are yardsticks borrowed from named documents
(see model/rules.py), never a certificate: they were written for doors and machine guards, and
nothing public covers home-built props.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from thundersheet.base.finding import Finding
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Impact
from thundersheet.plan.flash import flash
from thundersheet.plan.lead import setting_of
from thundersheet.plan.records import Cue
from thundersheet.plan.wording import said, shown

EXPLAINS = {
    "FORCE-01": "Something within guests' reach pushes harder, or carries more energy where it "
    "stops, than the yardstick for powered guards: 75 N and 4 J, or 150 N and 10 J with a "
    "pressure-sensitive edge that makes it give way. The force is that of full pressure with "
    "nothing moving, as on a trapped hand.",
    "FORCE-02": "Within the yardstick for powered guards, but over the stricter one for power "
    "operated doors (67 N, 1.69 J). Worth a thought where children come.",
    "FORCE-03": "After the air was dumped, a cylinder's first stroke meets no back pressure: it "
    "lunges, sooner and with more energy than planned. Fit a soft-start valve, or bring every "
    "device home before guests come near.",
    "FORCE-04": "The book does not say whether guests can reach something that moves with more "
    "force or energy than the yardstick. It was not checked.",
}

GUARD_SOURCE = "EN 953 5.2.5.2, now ISO 14120 (secondary source); guidance, not a certificate"
DOOR_SOURCE = "ANSI/BHMA A156.19, 4.4 and 4.5 (secondary source); guidance, not a certificate"
MUCH_MORE = 1.5
"""A first stroke with this many times the planned energy is called a lunge (our choice)."""
WORTH_A_WORD = 0.1
"""Share of the energy limit below which a lunge is not spoken of (our choice)."""


def safety(book: Book, cues: Sequence[Cue]) -> tuple[Finding, ...]:
    """Everything about force, energy and flashing light."""
    return (*_reach(book, cues), *_lunge(book, cues), *flash(book, cues))


def _reach(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    """One finding for each device: its hardest cue."""
    hardest: dict[str, Cue] = {}
    for cue in cues:
        if cue.lead.impact is not None:
            name = cue.target.move.device
            if name not in hardest or _strain(book, cue) > _strain(book, hardest[name]):
                hardest[name] = cue
    for name, cue in hardest.items():
        device = book.device(name)
        over = _strain(book, cue) > 1.0
        if device.reachable and over:
            yield _over_guard(book, cue)
        elif device.reachable and _over_door(book, cue):
            yield _over_door_note(book, cue)
        elif over and not device.origin.wrote("reachable"):
            yield _not_said(book, cue)


def limits_of(book: Book, device: Device) -> tuple[float, float]:
    """Most force and most energy at a device."""
    limits = book.limits
    if device.edge:
        return limits.force_with_edge_n, limits.energy_with_edge_j
    return limits.force_n, limits.energy_j


def _impact(cue: Cue) -> Impact:
    if cue.lead.impact is None:
        raise ValueError(f"{cue.id} moves nothing")
    return cue.lead.impact


def _strain(book: Book, cue: Cue) -> float:
    return strain(book, book.device(cue.target.move.device), _impact(cue))


def strain(book: Book, device: Device, impact: Impact) -> float:
    """The larger of force and energy as a multiple of its limit at this device."""
    force, energy = limits_of(book, device)
    return max(impact.force_n / force, impact.energy_j / energy)


def _figures(book: Book, cue: Cue) -> str:
    impact = _impact(cue)
    return _both(book, impact.force_n, impact.energy_j)


def _both(book: Book, force_n: float, energy_j: float) -> str:
    return f"{shown(book, force_n, 'force')} and {shown(book, energy_j, 'energy')}"


def _over_guard(book: Book, cue: Cue) -> Finding:
    device = book.device(cue.target.move.device)
    force, energy = limits_of(book, book.device(cue.target.move.device))
    edge = "with its edge" if device.edge else "without a pressure-sensitive edge"
    return Finding(
        code="FORCE-01",
        grade="refuse",
        place=device.origin.place,
        says=f"{said(book, cue.target.move)} is in reach and gives {_figures(book, cue)} at "
        f"{shown(book, _impact(cue).speed_m_s, 'speed')}.",
        allowed=f"At most {_both(book, force, energy)} {edge}, or a guard.",
        about=(cue.id,),
        source=GUARD_SOURCE,
    )


def _over_door(book: Book, cue: Cue) -> bool:
    impact, limits = _impact(cue), book.limits
    return impact.force_n > limits.door_force_n or impact.energy_j > limits.door_energy_j


def _over_door_note(book: Book, cue: Cue) -> Finding:
    limits = book.limits
    return Finding(
        code="FORCE-02",
        grade="note",
        place=book.device(cue.target.move.device).origin.place,
        says=f"{said(book, cue.target.move)} is in reach and gives {_figures(book, cue)}.",
        allowed="The stricter figure for doors is "
        f"{_both(book, limits.door_force_n, limits.door_energy_j)}.",
        about=(cue.id,),
        source=DOOR_SOURCE,
    )


def _not_said(book: Book, cue: Cue) -> Finding:
    force, energy = limits_of(book, book.device(cue.target.move.device))
    return Finding(
        code="FORCE-04",
        grade="warn",
        place=book.device(cue.target.move.device).origin.place,
        says=f"{said(book, cue.target.move)} gives {_figures(book, cue)}, and the book does not "
        "say whether a hand can get at it.",
        allowed="Write `reachable: no` where it cannot; in reach, the limit is "
        f"{_both(book, force, energy)}.",
        about=(cue.id,),
        source=GUARD_SOURCE,
    )


def _lunge(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    """One finding for all devices whose first stroke after a dump is much harder."""
    if book.air.dumped or book.air.parts:
        return  # then the kind itself warns, and the plan has it in its figures; or the plumbing
    first: dict[str, Cue] = {}
    for cue in cues:
        device = book.device(cue.target.move.device)
        guarded = device.origin.wrote("reachable") and not device.reachable
        if cue.lead.impact is not None and not guarded:
            first.setdefault(device.name, cue)
    worse = [(cue, after) for cue in first.values() if (after := _vented(book, cue)) is not None]
    if not worse:
        return
    cue, impact = max(worse, key=lambda each: each[1].energy_j)
    others = f" ({len(worse)} devices do)" if len(worse) > 1 else ""
    energy, speed = shown(book, impact.energy_j, "energy"), shown(book, impact.speed_m_s, "speed")
    yield Finding(
        code="FORCE-03",
        grade="note",
        place=book.device(cue.target.move.device).origin.place,
        says=f"When a stop has dumped the air, the next {said(book, cue.target.move)} lunges "
        f"with {energy} at {speed}{others}.",
        allowed="Fit a soft-start valve, or bring every device home with nobody near.",
        about=tuple(each.id for each, _ in worse),
        source="own model; ISO 4414 asks that the return of air must not cause motion",
    )


def _vented(book: Book, cue: Cue) -> Impact | None:
    """The impact of a first stroke after a dump, where it is much harder than one with air in."""
    move, land = cue.target.move, cue.target.land
    device = book.device(move.device)
    setting = setting_of(book, device)
    if setting.supply_pa is None:
        return None

    vented = replace(setting, vented=True)
    usual = cue.lead.impact  # the device's first cue: nothing is before it
    lunge = device.lead(move, land, device.at_rest(vented), None, vented).impact
    if usual is None or lunge is None:
        return None
    much = lunge.energy_j > MUCH_MORE * usual.energy_j
    return lunge if much and lunge.energy_j > WORTH_A_WORD * book.limits.energy_j else None
