"""What letting off the air does: whether it reaches every actuator, what falls, what lunges after.

In: a book and its tree. Out: findings. The dump valve and the stop are hardware; this says what
they will do and watches over nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import exp, log

from thundersheet.base.finding import Cure, Finding
from thundersheet.model.air import AirPart
from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.physics.gas import R, Restriction, Tube, in_series, mass_flow
from thundersheet.plan.plumbing.graph import Plumbing
from thundersheet.plan.plumbing.plant import CRITICAL, plant_of
from thundersheet.plan.plumbing.pressures import atmosphere, behind, highest_pa
from thundersheet.plan.wording import listed, shown

EXPLAINS = {
    "AIR-15": "An operator's stop opens the dump valve, and all that moves by air has to lose it. "
    "A device that hangs before the dump valve, or beside it, keeps its air; so does whatever lies "
    "behind a check valve, and a tank behind it takes so long to empty that a hand may be caught "
    "meanwhile.",
    "AIR-16": "With no dump valve a stop cannot take the air away: what is pressed on stays "
    "pressed on until somebody reaches the shut-off.",
    "AIR-17": "When the air is let off, by a stop, a burst hose or the end of the evening, nothing "
    "carries a raised load any longer. Say in the book what it does: with `when vented: falls` you "
    "say that you know, and that nobody can be under it; `held` means that a latch, a brake or a "
    "counterweight carries it, which has to be tested.",
    "AIR-18": "After a dump the cylinders stand without back pressure, so that flow controls on "
    "their exhausts do not hold them: when the air comes back at once they lunge. A soft-start "
    "valve behind the dump valve lets it come slowly.",
    "AIR-22": "A 5/3 valve with closed centre shuts both sides of its cylinder when its coils are "
    "off. The dump valve does not reach the air in there: the rod stays pressed on, and moves "
    "when somebody opens a fitting.",
}

LETS_GO_S = 2.0
"""A tank behind the dump valve has to empty as fast as a person lets go of a stop and looks
(common practice, no source)."""
EMPTY_SHARE = 0.1
"""Of its gauge pressure, at which a tank is called empty: a tenth of the force is left."""
STEPS = 60


def venting(book: Book, tree: Plumbing) -> Iterator[Finding]:
    """Everything about letting the air off."""
    dumps = [part for part in tree.parts.values() if part.kind == "dump valve"]
    if not dumps:
        yield from _no_dump(book, tree)
    else:
        yield from _out_of_reach(tree)
        yield from _kept(book, tree)
        yield from _slow_starts(book, tree, dumps)
    yield from _closed_centres(book, tree)
    yield from _falling(book, tree)


def _no_dump(book: Book, tree: Plumbing) -> Iterator[Finding]:
    if not tree.hangs:
        return
    near = [name for name in tree.hangs if book.device(name).reachable]
    yield Finding(
        code="AIR-16",
        grade="warn" if near else "note",
        place=book.air.origin.of("parts"),
        says="No dump valve lets the air off"
        + (f", and guests can reach {listed(near)}." if near else "."),
        allowed="Put `{kind: dump valve}` behind the regulator, opened by the operator's stop.",
        about=tuple(near or tree.hangs),
    )


def _out_of_reach(tree: Plumbing) -> Iterator[Finding]:
    """Devices on whose way there is no dump valve."""
    missed: dict[str, list[str]] = {}
    for device, end in tree.hangs.items():
        if not any(part.kind == "dump valve" for part in tree.way_to(end)):
            missed.setdefault(end, []).append(device)
    for end, devices in missed.items():
        yield Finding(
            code="AIR-15",
            grade="refuse",
            place=tree.parts[end].origin.place,
            says=f"No dump valve stands on the way to {listed(devices)}, through `{end}`: a stop "
            "leaves the air on.",
            allowed="Let them hang behind the dump valve, or give that way one of its own.",
            about=(*devices, end),
        )


def _kept(book: Book, tree: Plumbing) -> Iterator[Finding]:
    """Check valves and tanks that keep air behind a dump valve."""
    for part in tree.parts.values():
        way = tree.way_to(part.name)
        dumped = [i for i, each in enumerate(way) if each.kind == "dump valve"]
        if not dumped or not tree.devices_behind(part.name):
            continue
        if part.kind == "check valve":
            yield _keeps(part, f"`{part.name}` holds back the air behind it when {_dump(way)} "
                         "opens.", "No check valve may stand behind the dump valve.")  # fmt: skip
        elif part.kind == "tank":
            lasts = emptying_s(book, way[dumped[-1] :], way)
            if lasts > LETS_GO_S:
                yield _keeps(part, f"`{part.name}` takes {lasts:.1f} s to empty through "
                             f"{_dump(way)}.", f"{LETS_GO_S:.0f} s at most.")  # fmt: skip


def _dump(way: Sequence[AirPart]) -> str:
    return f"`{next(each.name for each in reversed(way) if each.kind == 'dump valve')}`"


def _keeps(part: AirPart, says: str, allowed: str) -> Finding:
    return Finding(
        code="AIR-15",
        grade="refuse",
        place=part.origin.place,
        says=says,
        allowed=allowed,
        cures=(
            Cure(do=f"Move `{part.name}` before the dump valve"),
            Cure(do="Fit a second dump valve right behind it", cost="a valve and its wire"),
            Cure(do="Fit a larger dump valve and a wider hose", cost="a valve"),
        ),
        about=(part.name,),
        source="common practice, no source",
    )


def emptying_s(book: Book, back: Sequence[AirPart], way: Sequence[AirPart]) -> float:
    """Seconds in which the last part of a way falls to a tenth of its gauge pressure.

    Isothermal: t is the sum of V dp/(R T mdot(p)) through the parts back to the open in series.
    """
    tank = back[-1]
    high = highest_pa(book.air, way[0])
    if high is None:
        return 0.0
    outside, warm = atmosphere(book.air), book.air.ambient_k
    flows = [Restriction(p.passes_m3_s_pa, CRITICAL) for p in back if p.passes_m3_s_pa < 1.0]
    hoses = [p.hose for p in back[1:] if p.hose is not None and p.hose.length_m > 0.0]
    tubes = [Tube(hose.bore_m, hose.length_m) for hose in hoses]
    out = in_series([*flows, *(tube.flow for tube in tubes)])
    volume = tank.holds_m3 + sum(tube.volume_m3 for tube in tubes)
    gauge = behind(book.air, way, high)
    total = 0.0
    ratio = exp(log(EMPTY_SHARE) / STEPS)
    for _ in range(STEPS):
        middle, step = gauge * ratio**0.5, gauge * (1.0 - ratio)
        total += volume * step / (R * warm * mass_flow(out, outside + middle, outside, warm))
        gauge *= ratio
    return total


def _slow_starts(book: Book, tree: Plumbing, dumps: Sequence[AirPart]) -> Iterator[Finding]:
    """Dump valves behind which nothing lets the air back slowly, and what lunges then."""
    throttled = {
        each.name
        for each in plant_of(book).cylinders
        if each.out.acting == "double" and (each.out.exhaust_end or each.back.exhaust_end)
    }
    for dump in dumps:
        lunging = [
            name
            for name in tree.devices_behind(dump.name)
            if name in throttled and not _soft(tree, name)
        ]
        if lunging:
            meet, lunge = ("meets", "lunges") if len(lunging) == 1 else ("meet", "lunge")
            yield Finding(
                code="AIR-18",
                grade="note",
                place=dump.origin.place,
                says=f"No soft-start valve stands behind `{dump.name}`: when the air comes back, "
                f"{listed(lunging)} {meet} no back pressure and {lunge}.",
                allowed="Put `{kind: soft-start valve}` behind it.",
                about=tuple(lunging),
            )


def _soft(tree: Plumbing, device: str) -> bool:
    return any(part.kind == "soft-start valve" for part in tree.way_to(tree.hangs[device]))


def _closed_centres(book: Book, tree: Plumbing) -> Iterator[Finding]:
    for each in plant_of(book).cylinders:
        if each.middle == "closed" and each.name in tree.hangs:
            yield Finding(
                code="AIR-22",
                grade="warn",
                place=book.device(each.name).origin.of("valve"),
                says=f"The 5/3 valve of {each.name} closes both its sides when its coils are off: "
                "letting the air off leaves it pressed on.",
                allowed="Take one with exhausted centre, or fit dump valves at its ports.",
                about=(each.name,),
            )


def _falling(book: Book, tree: Plumbing) -> Iterator[Finding]:
    shut = {each.name for each in plant_of(book).cylinders if each.middle == "closed"}
    for name in tree.hangs:
        device = book.device(name)
        if name in shut:
            continue  # its air stays in, and that is said
        pull = getattr(device, "pull_when_vented_n", None)
        if pull is None or getattr(device, "when_vented", None) in ("falls", "held"):
            continue
        pulls = pull()
        if pulls > 0.0:
            yield _falls(book, device, pulls)


def _falls(book: Book, device: Device, pulls: float) -> Finding:
    says_stays = getattr(device, "when_vented", None) == "stays"
    but = ", though the book says that it stays" if says_stays else ""
    return Finding(
        code="AIR-17",
        grade="warn",
        place=device.origin.of("when_vented"),
        says=f"{device.name} falls when the air is let off{but}: its load pulls with "
        f"{shown(book, pulls, 'force')} more at the rod than friction holds.",
        allowed="Nobody may be under it. Say so with `when vented: falls`, or `held` with what "
        "holds it.",
        cures=(
            Cure(do=f"Keep people from under {device.name}, write `when vented: falls`"),
            Cure(do="Fit a latch, a rod lock or a counterweight, write `when vented: held`",
                 cost="the part, and a test each evening"),
        ),
        about=(device.name,),
    )  # fmt: skip
