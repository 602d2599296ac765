"""The air of a whole evening as the leads see it: one cue, several states of its air.

In: a book and its cues as if each device had the air to itself. Out: for every cue of an air
device the settings in which its stroke has to land: as usual, and the corners of the evening (the
fullest and the emptiest tank that the cue finds, each in the coldest and the warmest air). Colder
is later, always; less pressure is later where a load is moved and can be earlier where little but
the exhausted air holds the piston, so that half-way between full and low is looked at as well. No
lead is worked out here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from typing import Literal

from thundersheet.base.time import Span
from thundersheet.model.book import Book
from thundersheet.model.device import Setting
from thundersheet.plan.air.evening import Followed, follow
from thundersheet.plan.air.feed import PRESSURE_STEP_PA, Line, fed
from thundersheet.plan.air.share import (
    Common,
    Draw,
    asked_for,
    carried,
    commons,
    store_pressures,
)
from thundersheet.plan.plumbing import atmosphere
from thundersheet.plan.records import Cue
from thundersheet.plan.setting import Piping, bare_setting, piping_of

USUAL = 0
"""Where the usual state stands among a cue's: a full tank, the book's ambient."""

TANKS = (("full", 0.0), ("half", 0.5), ("low", 1.0))
"""The tanks that a cue is looked at with in each warmth, and where they stand between the fullest
and the emptiest that it finds."""

LEAST_CARRIED = 0.2
"""A link is taken to be at most five times as wide for what a small body gives."""

Settings = Mapping[str, tuple[Setting, ...]]


@dataclass(frozen=True, slots=True)
class AirState:
    """One state of an evening's air."""

    name: str
    """`low tank, 2 C`."""
    kelvin: float
    low: float = 0.0
    """From 0, the fullest tank that the cue finds, to 1, the emptiest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Airs:
    """The states of all cues' air."""

    settings: Settings
    """By cue id, the usual one first; only cues of devices that feel the air."""
    states: tuple[AirState, ...]
    """What each of them is; the usual one first."""
    commons: tuple[Common, ...] = ()
    followed: Mapping[float, Followed] = field(default_factory=dict)
    """The evening by temperature; empty where none is declared, or nothing can run low."""
    full_pa: float = 0.0
    """At the root, with a full tank."""

    @property
    def names(self) -> tuple[str, ...]:
        """Of its states."""
        return tuple(state.name for state in self.states)

    def root_pa(self, cue: str, state: str) -> float | None:
        """What stands at the root for a cue in the state of this name; None: nothing can say."""
        found = next((each for each in self.states[1:] if each.name == state), None)
        if found is None or found.kelvin not in self.followed:
            return self.full_pa or None
        high, low = _between(self.followed, cue)
        return high + (low - high) * found.low


def _between(followed: Mapping[float, Followed], cue: str) -> tuple[float, float]:
    """The most and the least that a cue finds at the root, in whatever weather.

    A tank that was filled while it was warm and has cooled since is as low as the warm one.
    """
    high = max(each.highest_pa[cue] for each in followed.values())
    return high, min(each.lowest_pa[cue] for each in followed.values())


def feels_air(book: Book) -> bool:
    """Whether the leads of a book have more to heed than a supply that never changes."""
    return bool(book.air.parts) or book.evening is not None


def usual_k(book: Book) -> float:
    """The usual temperature: the book's ambient, within what the evening has."""
    cold, warm = temperatures(book)
    return min(max(book.air.ambient_k, cold), warm)


def temperatures(book: Book) -> tuple[float, float]:
    """The coldest and the warmest that the leads have to serve."""
    evening, usual = book.evening, book.air.ambient_k
    if evening is None:
        return usual, usual
    cold = usual if evening.coldest_k is None else evening.coldest_k
    warm = usual if evening.warmest_k is None else evening.warmest_k
    return min(cold, warm), max(cold, warm)


def every_of(book: Book) -> Span:
    """From one start of the evening to the next."""
    if book.evening is not None and book.evening.every is not None:
        return book.evening.every
    return Span(book.show.length.ns) + book.show.rest


def plain(book: Book) -> Settings:
    """Each air device alone on its feed with a full tank: no cue has a state of its own yet."""
    piping = piping_of(book, usual_k(book))
    found = {}
    for device in book.devices:
        bare = replace(bare_setting(book, device), ambient_k=usual_k(book))
        line = piping.lines.get(device.name) if piping else None
        if piping is not None and line is not None:
            bare = piping.alone(bare, line)
        if line is not None or device.on_the_air(bare) is not None:
            found[device.name] = (replace(bare, landing_only=True),)
    return found


How = Literal["alone", "together", "over the evening"]


def expected(
    book: Book, cues: Sequence[Cue], used: Mapping[str, Setting], how: How, variant: str = ""
) -> Airs:
    """The states in which these cues' strokes have to land.

    ``used``: by cue, the setting that it was worked out in. ``how``: each with the feeds to itself,
    or as they share them, either as usual only; or that in all states of the evening in which this
    ``variant`` is played.
    """
    piping = piping_of(book, usual_k(book))
    if piping is None:
        return _weather_only(book, cues)
    draws = [draw for cue in cues for draw in draws_of(cue, piping, used)]
    _, most = played_between(book, variant)
    groups = [[draw] for draw in draws] if how == "alone" else [draws]
    shared = tuple(each for group in groups for each in commons(group, piping.lines, piping.stores))
    lacks = _lacks(piping, groups)
    shares = _shares(piping, groups, shared)
    followed = _followed(book, draws, variant) if how == "over the evening" else {}
    settings = {}
    for draw in draws:
        feeding = _Feeding(
            bare=bare_setting(book, book.device(draw.device)),
            line=piping.lines[draw.device],
            shares=shares.get(draw.cue, {}),
            lacks={store: lack.get(draw.cue, 0.0) for store, lack in lacks.items()},
        )
        usual = feeding.at(usual_k(book), min(piping.full_pa, most))
        corners = (
            each
            for kelvin in followed
            for each in feeding.between(kelvin, *_between(followed, draw.cue))
        )
        settings[draw.cue] = (usual, *(replace(each, landing_only=True) for each in corners))
    states = (
        AirState(f"{tank} tank, {_warm(book, kelvin)}", kelvin, low)
        for kelvin in followed
        for tank, low in TANKS
    )
    return Airs(
        settings=settings,
        states=(AirState("as usual", usual_k(book)), *states),
        commons=shared,
        followed=followed,
        full_pa=piping.full_pa,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Feeding:
    """One cue's way to the air, ready for any state of it."""

    bare: Setting
    line: Line
    shares: Mapping[str, float]
    lacks: Mapping[str, float]
    """By store: how much less than full it has."""

    def between(self, kelvin: float, high_pa: float, low_pa: float) -> tuple[Setting, ...]:
        """Its settings with these two at the root, and half-way between; see `TANKS`."""
        full, low = self.at(kelvin, high_pa), self.at(kelvin, low_pa)
        if full.supply_pa is None or low.supply_pa is None:
            return full, low, low
        middle = PRESSURE_STEP_PA * round(0.5 * (full.supply_pa + low.supply_pa) / PRESSURE_STEP_PA)
        return full, replace(low, supply_pa=middle), low

    def at(self, kelvin: float, root_pa: float) -> Setting:
        """Its setting in such air, with so much at the root."""
        stores = {
            store: self.line.standing_at(store, root_pa) - lack
            for store, lack in self.lacks.items()
            if self.line.has(store)
        }
        bare = replace(self.bare, ambient_k=kelvin)
        return fed(bare, self.line, root_pa, shares=self.shares, stores=stores)


def played_between(book: Book, variant: str) -> tuple[float, float]:
    """Absolute pressures at the root between which a version begins a show.

    The show as written down to the highest `tank below`, above which no lesser version takes its
    place; a lesser one from its own down to the next. Another version, any tank.
    """
    outside = atmosphere(book.air)
    steps = {v.name: v.tank_below_pa + outside for v in book.variants if v.tank_below_pa}
    if variant and variant not in steps:
        return 0.0, inf
    most = steps.get(variant, inf)
    return max((step for step in steps.values() if step < most), default=0.0), most


def _weather_only(book: Book, cues: Sequence[Cue]) -> Airs:
    """An endless supply: only the temperature changes over the evening."""
    kelvins = sorted(set(temperatures(book)))
    settings = {}
    for cue in cues:
        bare = bare_setting(book, book.device(cue.target.move.device))
        if book.device(cue.target.move.device).on_the_air(bare) is not None:
            usual = replace(bare, ambient_k=usual_k(book))
            corners = (replace(bare, ambient_k=k, landing_only=True) for k in kelvins)
            settings[cue.id] = (usual, *corners)
    states = (AirState(_warm(book, kelvin), kelvin) for kelvin in kelvins)
    return Airs(settings=settings, states=(AirState("as usual", usual_k(book)), *states))


def _warm(book: Book, kelvin: float) -> str:
    return book.units.show(kelvin, "temperature")


def draws_of(cue: Cue, piping: Piping, used: Mapping[str, Setting]) -> list[Draw]:
    """What a cue's move draws; nothing for a device that is not on the plant."""
    device, lead = cue.target.move.device, cue.lead
    if device not in piping.lines:
        return []
    at = cue.at.s
    steps = lead.draws or ((lead.total.s, 0.0),)
    asks = asked_for(steps, used[cue.id]) if cue.id in used else steps
    return [
        Draw(
            cue=cue.id,
            device=device,
            steps=tuple((at + t, flow) for t, flow in steps),
            lands_s=at + lead.total.s,
            litres=lead.air_l,
            asks=tuple((at + t, flow) for t, flow in asks),
        )
    ]


Groups = Sequence[Sequence[Draw]]
"""Draws that have to do with each other."""


def _lacks(piping: Piping, groups: Groups) -> dict[str, dict[str, float]]:
    """By store and cue: how much less than full it stands at while the stroke is on its way."""
    found: dict[str, dict[str, float]] = {store: {} for store in piping.stores}
    for store, mine in _on(piping, groups, lambda _: piping.stores):
        full = piping.lines[mine[0].device].standing_at(store, piping.full_pa)
        means = store_pressures(piping.plant, piping.lines, mine, store, piping.full_pa)
        found[store] |= {cue: full - mean for cue, mean in means.items()}
    return found


def _shares(
    piping: Piping, groups: Groups, shared: Sequence[Common]
) -> dict[str, dict[str, float]]:
    """By cue and link: its share of it, more where a small body on the way helps out.

    A body that gives a part of the stroke's air itself leaves the link before it that much less to
    carry: as if it were that much wider.
    """
    found: dict[str, dict[str, float]] = {}
    for each in shared:
        found.setdefault(each.cue, {})[each.link] = each.share
    for body, mine in _on(piping, groups, piping.felt):
        for cue, part in carried(piping.plant, piping.lines, mine, body, piping.full_pa).items():
            own = found.setdefault(cue, {})
            own[body] = own.get(body, 1.0) / min(max(part, LEAST_CARRIED), 1.0 / LEAST_CARRIED)
    return found


def _on(
    piping: Piping, groups: Groups, bodies_of: Callable[[Line], Sequence[str]]
) -> Iterator[tuple[str, list[Draw]]]:
    """Each body with the draws of one group that take their air through it."""
    for group in groups:
        names = {body: None for draw in group for body in bodies_of(piping.lines[draw.device])}
        for body in names:
            mine = [draw for draw in group if body in bodies_of(piping.lines[draw.device])]
            mine = [draw for draw in mine if piping.lines[draw.device].has(body)]
            if mine:
                yield body, mine


def _followed(book: Book, draws: Sequence[Draw], variant: str) -> dict[float, Followed]:
    """The evening in the coldest and in the warmest air; nothing where none is declared."""
    if book.evening is None:
        return {}
    least, most = played_between(book, variant)
    found = {}
    for kelvin in sorted(set(temperatures(book))):
        piping = piping_of(book, kelvin)
        if piping is not None:
            found[kelvin] = follow(
                piping.plant,
                piping.from_root(most),
                draws,
                piping.lines,
                shows=book.evening.shows,
                every_s=every_of(book).s,
                least_pa=least,
            )
    return found
