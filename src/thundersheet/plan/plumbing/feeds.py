"""Whether what feeds several devices passes what they ask for together.

In: a book, its tree and its cues. Out: findings. Steady flow and a stated drop of pressure: a rule
of thumb for the eye that reads the plumbing. How much later a stroke is for it, the leads know.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.time import Time, clock
from thundersheet.model.air import AirPart
from thundersheet.model.book import Book
from thundersheet.physics.gas import RHO0, Restriction, Tube, in_series, mass_flow
from thundersheet.plan.plumbing.asks import Ask, asks_of, freely
from thundersheet.plan.plumbing.graph import Plumbing
from thundersheet.plan.plumbing.plant import CRITICAL
from thundersheet.plan.plumbing.pressures import (
    atmosphere,
    behind,
    lowest_pa,
    set_of,
)
from thundersheet.plan.records import Cue
from thundersheet.plan.wording import listed, shown

EXPLAINS = {
    "AIR-14": "A hose or part passes less than the devices behind it ask for at once, at a drop of "
    "a tenth of their pressure. They slow each other down: a stroke that lands well alone is late "
    "when another one breathes. The narrowest place counts: a short piece of thin hose, a small "
    "regulator. A tank near the valves helps as well, for it feeds them while it is fed slowly.",
}

DROP = 0.1
"""Share of the gauge pressure that may be lost on the way: a well laid system loses much less than
a tenth (US Department of Energy, Improving Compressed Air System Performance, 2003, fact sheet on
pressure drop). The figure is
from memory."""
SOURCE = (
    "US Department of Energy, Improving Compressed Air System Performance: well below 10 % of "
    "the pressure"
)


@dataclass(frozen=True, slots=True)
class _Worst:
    """The greatest flow asked through a part, when and by whom."""

    flow_kg_s: float
    at_s: float
    devices: tuple[str, ...]
    asks: tuple[Ask, ...] = ()


@dataclass(frozen=True, slots=True)
class _Place:
    """A part that is too narrow, and the way that it is on."""

    part: AirPart
    worst: _Worst
    before_pa: float
    """Absolute, where it begins."""
    lost_pa: float
    whole_pa: float
    """What the whole way loses."""
    full_pa: float
    """Gauge pressure at its end, nothing flowing."""


BORES = (2.7e-3, 4e-3, 6e-3, 8e-3, 10e-3, 13e-3)
"""Inside diameters of common hoses of 4, 6, 8, 10, 12 and 16 mm outside (common practice)."""


def feeds(book: Book, tree: Plumbing, cues: Sequence[Cue]) -> Iterator[Finding]:
    """One finding for each place that is too narrow for what hangs behind it."""
    asks = asks_of(book, tree, cues)
    worst = {part: _worst(tree, part, asks) for part in tree.parts}
    told: set[str] = set()
    for end in dict.fromkeys(tree.hangs.values()):
        found = _narrow(book, tree, end, worst)
        if found is not None and found.about[0] not in told:
            told.add(found.about[0])
            yield found


def _worst(tree: Plumbing, part: str, asks: Sequence[Ask]) -> _Worst:
    """The most that is asked at one instant of what lies behind a part."""
    behind_it = set(tree.devices_behind(part))
    mine = [ask for ask in asks if ask.device in behind_it]
    best = _Worst(0.0, 0.0, ())
    for ask in mine:
        now = [each for each in mine if each.begins_s <= ask.begins_s < each.ends_s]
        flow = sum(each.flow_kg_s for each in now)
        if flow > best.flow_kg_s:
            asking = {each.device for each in now}
            names = tuple(name for name in tree.hangs if name in asking)
            best = _Worst(flow, ask.begins_s, names, tuple(now))
    return best


def _narrow(book: Book, tree: Plumbing, end: str, worst: Mapping[str, _Worst]) -> Finding | None:
    """The finding about the way to one part from the last tank before it, if it loses too much.

    Each part on it loses what its own share of the flow makes it lose.
    """
    way = tree.way_to(end)
    first = max(i for i, part in enumerate(way) if part.kind == "tank")
    low = lowest_pa(book.air, tree.root)
    if low is None or first == len(way) - 1:
        return None
    outside = atmosphere(book.air)
    start = behind(book.air, way[: first + 1], low)
    full = behind(book.air, way, low)
    pressure = start
    losses: dict[str, tuple[float, float]] = {}
    for part in way[first + 1 :]:
        flow, before = worst[part.name].flow_kg_s, pressure
        if part.kind == "regulator":  # its hose comes before it
            pressure -= min(_lost(_hose(part), pressure + outside, flow), pressure)
            pressure = behind(book.air, (part,), pressure)
            if pressure >= set_of(book.air, part):
                losses.clear()  # what is lost before a regulator, it makes good
                before = pressure
        lost = min(_lost(_flows(part), pressure + outside, flow), pressure)
        losses[part.name] = (lost, before + outside)
        pressure -= lost
    if full - pressure <= DROP * full:
        return None
    narrow = max(losses, key=lambda name: losses[name])
    part, (lost, before) = tree.parts[narrow], losses[narrow]
    asked = worst[narrow]
    asked = replace(asked, flow_kg_s=sum(freely(book, ask) for ask in asked.asks))
    truly = min(_lost(_flows(part), before, asked.flow_kg_s), before - outside)
    place = _Place(part, asked, before, truly, full - pressure - lost + truly, full)
    return _finding(book, place, outside)


def _flows(part: AirPart) -> list[Restriction]:
    """What a part and its hose let through; of a regulator its droop, for its hose comes before."""
    return _own(part) if part.kind == "regulator" else [*_own(part), *_hose(part)]


def _own(part: AirPart) -> list[Restriction]:
    flow = part.passes_m3_s_pa
    return [Restriction(flow, CRITICAL)] if flow < inf else []


def _hose(part: AirPart) -> list[Restriction]:
    hose = part.hose
    return [Tube(hose.bore_m, hose.length_m).flow] if hose is not None and hose.length_m else []


def _lost(flows: Sequence[Restriction], up_pa: float, flow_kg_s: float) -> float:
    """By how much the pressure falls over parts in a row; all of it where so much can't pass."""
    if flow_kg_s <= 0.0 or not flows:
        return 0.0
    part = in_series(flows)
    if mass_flow(part, up_pa, part.b * up_pa) <= flow_kg_s:
        return (1.0 - part.b) * up_pa
    low, high = part.b * up_pa, up_pa
    for _ in range(50):
        down = 0.5 * (low + high)
        low, high = (low, down) if mass_flow(part, up_pa, down) < flow_kg_s else (down, high)
    return up_pa - 0.5 * (low + high)


def _finding(book: Book, place: _Place, outside: float) -> Finding:
    part, worst, full = place.part, place.worst, place.full_pa
    passes = mass_flow(in_series(_flows(part)), full + outside, (1.0 - DROP) * full + outside)
    hose = None if part.kind == "regulator" else part.hose
    width = f" ({shown(book, hose.bore_m, 'length')} bore)" if hose is not None else ""
    drop = shown(book, DROP * full, "pressure")
    return Finding(
        code="AIR-14",
        grade="warn",
        place=part.origin.of("flow_m3_s_pa" if hose is None else "hose"),
        says=f"`{part.name}`{width} is too narrow for {listed(worst.devices)} at "
        f"{_clock(worst.at_s)}: {_minute(worst.flow_kg_s)} are asked for, and it passes "
        f"{_minute(passes)} at a drop of {drop}.",
        allowed=f"At most a tenth of {shown(book, full, 'pressure')} may be lost on the way; "
        + _would_be(book, place.whole_pa, full),
        cures=tuple(_cures(book, place)),
        about=(part.name, *worst.devices),
        source=SOURCE,
    )


def _cures(book: Book, place: _Place) -> Iterator[Cure]:
    """A hose or part that is wide enough for what is asked; a tank behind it; beats apart."""
    part, flow = place.part, place.worst.flow_kg_s
    allowed = DROP * place.full_pa - (place.whole_pa - place.lost_pa)
    hose = None if part.kind == "regulator" else part.hose
    if hose is not None and (bore := _bore(place, hose.length_m, allowed)):
        width = shown(book, bore, "length")
        yield Cure(do=f"Lay a hose of {width} bore or more to `{part.name}`", cost="some hose")
    elif part.passes_m3_s_pa < inf and allowed > 0.0:
        needs = _least_flow(place.before_pa, allowed, flow)
        width = shown(book, needs, "conductance")
        yield Cure(do=f"Fit a larger `{part.name}`: {width} or more", cost=f"a {part.kind}")
    yield Cure(do="Put a small tank near the valves, behind the narrow place", cost="a tank")
    yield Cure(do="Move the beats apart", cost="the show")


def _bore(place: _Place, length_m: float, allowed_pa: float) -> float | None:
    """The least usual bore at which a part with its hose loses no more than that."""
    for bore in BORES:
        flows = [*_own(place.part), Tube(bore, length_m).flow]
        if _lost(flows, place.before_pa, place.worst.flow_kg_s) <= allowed_pa:
            return bore
    return None


def _least_flow(up_pa: float, drop_pa: float, flow_kg_s: float) -> float:
    """The sonic conductance that passes a flow at a drop: the flow law is linear in it."""
    return flow_kg_s / mass_flow(Restriction(1.0, CRITICAL), up_pa, up_pa - drop_pa)


def _would_be(book: Book, lost: float, full: float) -> str:
    if lost > 0.9 * full:
        return "so much does not pass at all."
    return f"it would be {shown(book, lost, 'pressure')}."


def _minute(flow_kg_s: float) -> str:
    return f"{flow_kg_s / RHO0 * 60_000.0:.3g} l/min"


def _clock(at_s: float) -> str:
    return clock(Time.seconds(at_s), 1)
