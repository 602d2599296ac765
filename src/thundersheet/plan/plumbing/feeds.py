"""Whether what feeds several devices passes what they ask for together.

In: a book, its tree and its cues. Out: findings. Steady flow and a stated drop of pressure: a rule
of thumb for the eye that reads the plumbing. How much later a stroke is for it, the leads know.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.time import Time, clock
from thundersheet.model.air import AirPart
from thundersheet.model.book import Book
from thundersheet.physics.gas import RHO0, Restriction, Tube, in_series, mass_flow
from thundersheet.plan.plumbing.graph import Plumbing
from thundersheet.plan.plumbing.plant import CRITICAL
from thundersheet.plan.plumbing.pressures import atmosphere, behind, lowest_pa, set_of
from thundersheet.plan.records import Cue
from thundersheet.plan.wording import shown

EXPLAINS = {
    "AIR-14": "A hose or part passes less than the devices behind it ask for at once, at a drop of "
    "a tenth of their pressure. They slow each other down: a stroke that lands well alone is late "
    "when another one breathes. The narrowest place counts: a short piece of thin hose, a small "
    "regulator. A tank near the valves helps as well, for it feeds them while it is fed slowly.",
}

DROP = 0.1
"""Share of the gauge pressure that may be lost on the way: a well laid system loses much less than
a tenth (US Department of Energy, Improving Compressed Air System Performance, 2003, fact sheet on
pressure drop)."""
SOURCE = (
    "US Department of Energy, Improving Compressed Air System Performance: well below 10 % of "
    "the pressure"
)


@dataclass(frozen=True, slots=True)
class Ask:
    """What one cue asks of the air: so much, from then to then."""

    device: str
    begins_s: float
    ends_s: float
    flow_kg_s: float


@dataclass(frozen=True, slots=True)
class _Worst:
    """The greatest flow asked through a part, when and by whom."""

    flow_kg_s: float
    at_s: float
    devices: tuple[str, ...]


def asks_of(tree: Plumbing, cues: Sequence[Cue]) -> tuple[Ask, ...]:
    """The mean flow of each move, from its command until it has landed or, if it blows, ended."""
    found = []
    for cue in cues:
        device, lead = cue.target.move.device, cue.lead
        if device not in tree.hangs or not lead.air_l:
            continue
        begins, ends, litres = 0.0, lead.total.s, lead.air_l
        if lead.draws:
            last = lead.draws[-1][0]
            ends = last if lead.impact is None else min(ends, last)
            begins = next((t for t, flow in lead.draws if flow > 0.0), 0.0)
            litres = _litres(lead.draws, ends)
        if ends > begins:
            flow = litres * RHO0 / 1000.0 / (ends - begins)
            found.append(Ask(device, cue.at.s + begins, cue.at.s + ends, flow))
    return tuple(found)


def _litres(draws: Sequence[tuple[float, float]], until_s: float) -> float:
    steps = zip(draws, (*(t for t, _ in draws[1:]), inf), strict=True)
    return sum(flow * max(min(end, until_s) - t, 0.0) for (t, flow), end in steps if flow > 0.0)


def feeds(book: Book, tree: Plumbing, cues: Sequence[Cue]) -> Iterator[Finding]:
    """One finding for each place that is too narrow for what hangs behind it."""
    asks = asks_of(tree, cues)
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
            best = _Worst(flow, ask.begins_s, names)
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
    losses: dict[str, float] = {}
    for part in way[first + 1 :]:
        if part.kind == "regulator":
            pressure = behind(book.air, (part,), pressure)
            if pressure >= set_of(book.air, part):
                losses.clear()  # what is lost before a regulator, it makes good
        flows = _flows(part)
        lost = _lost(flows, pressure + outside, worst[part.name].flow_kg_s) if flows else 0.0
        losses[part.name] = min(lost, pressure)
        pressure -= losses[part.name]
    if full - pressure <= DROP * full:
        return None
    narrow = max(losses, key=lambda name: losses[name])
    return _finding(book, tree.parts[narrow], worst[narrow], full - pressure, full, outside)


def _flows(part: AirPart) -> list[Restriction]:
    flows = []
    if part.passes_m3_s_pa < inf:
        flows.append(Restriction(part.passes_m3_s_pa, CRITICAL))
    if part.hose is not None and part.hose.length_m > 0.0:
        flows.append(Tube(part.hose.bore_m, part.hose.length_m).flow)
    return flows


def _lost(flows: Sequence[Restriction], up_pa: float, flow_kg_s: float) -> float:
    """By how much the pressure falls over parts in a row; all of it where so much can't pass."""
    part = in_series(flows)
    if flow_kg_s <= 0.0:
        return 0.0
    if mass_flow(part, up_pa, part.b * up_pa) <= flow_kg_s:
        return (1.0 - part.b) * up_pa
    low, high = part.b * up_pa, up_pa
    for _ in range(50):
        down = 0.5 * (low + high)
        low, high = (low, down) if mass_flow(part, up_pa, down) < flow_kg_s else (down, high)
    return up_pa - 0.5 * (low + high)


def _finding(
    book: Book, part: AirPart, worst: _Worst, lost: float, full: float, outside: float
) -> Finding:
    passes = mass_flow(in_series(_flows(part)), full + outside, (1.0 - DROP) * full + outside)
    width = f" ({shown(book, part.hose.bore_m, 'length')} bore)" if part.hose is not None else ""
    drop = shown(book, DROP * full, "pressure")
    return Finding(
        code="AIR-14",
        grade="warn",
        place=part.origin.of("hose" if part.hose is not None else "flow_m3_s_pa"),
        says=f"`{part.name}`{width} is too narrow for {' and '.join(worst.devices)} at "
        f"{_clock(worst.at_s)}: they ask for {_minute(worst.flow_kg_s)}, and it passes "
        f"{_minute(passes)} at a drop of {drop}.",
        allowed=f"At most a tenth of {shown(book, full, 'pressure')} may be lost on the way; "
        + _would_be(book, lost, full),
        cures=(
            Cure(do="Lay a wider or shorter hose, or a hose to each device", cost="some hose"),
            Cure(do="Put a small tank near the valves, behind the narrow place", cost="a tank"),
            Cure(do="Move the beats apart", cost="the show"),
        ),
        about=(part.name, *worst.devices),
        source=SOURCE,
    )


def _would_be(book: Book, lost: float, full: float) -> str:
    if lost > 0.9 * full:
        return "so much does not pass at all."
    return f"it would be {shown(book, lost, 'pressure')}."


def _minute(flow_kg_s: float) -> str:
    return f"{flow_kg_s / RHO0 * 60_000.0:.3g} l/min"


def _clock(at_s: float) -> str:
    return clock(Time.seconds(at_s), 1)
