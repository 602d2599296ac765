"""What the moves of a show ask of their feed: so much air, from then to then.

In: a book, its tree and its cues. Out: asks. Mean flows, as a steady flow through the plumbing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

from thundersheet.model.book import Book
from thundersheet.model.device import Lead, Setting
from thundersheet.physics.gas import RHO0, mass_flow
from thundersheet.plan.plumbing.graph import Plumbing
from thundersheet.plan.plumbing.plant import plant_of
from thundersheet.plan.plumbing.pressures import atmosphere, nominal_pa
from thundersheet.plan.records import Cue


@dataclass(frozen=True, slots=True)
class Ask:
    """What one cue asks of the air: so much, from then to then."""

    cue: Cue
    begins_s: float
    ends_s: float
    flow_kg_s: float

    @property
    def device(self) -> str:
        """Which device."""
        return self.cue.target.move.device


def asks_of(book: Book, tree: Plumbing, cues: Sequence[Cue]) -> tuple[Ask, ...]:
    """The mean flow of each move, from its command until it has landed or, if it blows, ended.

    A jet asks for what it would blow at its full pressure, however little comes.
    """
    blown = _blown(book)
    found = []
    for cue in cues:
        device = cue.target.move.device
        if device in tree.hangs and (ask := _ask(cue, cue.lead)) is not None:
            flow = blown.get(device, ask.flow_kg_s)
            found.append(replace(ask, flow_kg_s=flow))
    return tuple(found)


def _ask(cue: Cue, lead: Lead) -> Ask | None:
    """What a cue asks for with this lead; None: nothing."""
    begins, ends, litres = 0.0, lead.total.s, lead.air_l
    if lead.draws:
        last = lead.draws[-1][0]
        ends = last if lead.impact is None else min(ends, last)
        begins = next((t for t, flow in lead.draws if flow > 0.0), 0.0)
        litres = _litres(lead.draws, ends)
    if ends <= begins or not litres:
        return None
    flow = litres * RHO0 / 1000.0 / (ends - begins)
    return Ask(cue, cue.at.s + begins, cue.at.s + ends, flow)


def freely(book: Book, ask: Ask) -> float:
    """What a move asks for when nothing holds it back, kg/s: with a regulator at its valve.

    One that is starved asks for less, because it is slow.
    """
    move, land = ask.cue.target.move, ask.cue.target.land
    device = book.device(move.device)
    gauge = nominal_pa(book, device)
    if ask.cue.lead.impact is None or gauge is None:
        return ask.flow_kg_s
    setting = Setting(
        supply_pa=gauge + atmosphere(book.air),
        atmosphere_pa=atmosphere(book.air),
        ambient_k=book.air.ambient_k,
        landing_only=True,
    )
    lead = device.lead(move, land, device.at_rest(setting), None, setting)
    free = _ask(ask.cue, lead)
    return ask.flow_kg_s if free is None else max(free.flow_kg_s, ask.flow_kg_s)


def _blown(book: Book) -> dict[str, float]:
    """What each jet blows at its full pressure, kg/s."""
    outside, warm = atmosphere(book.air), book.air.ambient_k
    found = {}
    for each in plant_of(book).jets:
        gauge = nominal_pa(book, book.device(each.name)) or 0.0
        found[each.name] = mass_flow(each.flow, gauge + outside, outside, warm)
    return found


def _litres(draws: Sequence[tuple[float, float]], until_s: float) -> float:
    steps = zip(draws, (*(t for t, _ in draws[1:]), inf), strict=True)
    return sum(flow * max(min(end, until_s) - t, 0.0) for (t, flow), end in steps if flow > 0.0)
