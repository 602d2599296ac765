"""A jet that is on: what it blows at a pressure of its store, and its share of what feeds it.

In come its record and feed, out come flows for the stores and for those that share the feed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf, sqrt

from thundersheet.physics.gas import RHO0, T0, Restriction, flow_function, standard_litres
from thundersheet.physics.plant.feeds import Feed, before_valve, behind_three, stands
from thundersheet.physics.plant.flows import Blow, Flow, Load, share_of
from thundersheet.physics.plant.records import Jet, Landing, Switch

OPEN_S = 3600.0
"""A jet that nobody has shut yet is taken to go on for so long."""


class OpenJet:
    """A jet that is on."""

    def __init__(
        self,
        jet: Jet,
        device: int,
        feed: Feed,
        number: int,
        switch: Switch,
        begin_s: float,
        atmosphere_pa: float,
        kelvin: float,
    ) -> None:
        self.jet, self.device, self.feed = jet, device, feed
        self.number, self.switch = number, switch
        self.begin_s, self.end_s = begin_s, inf
        self._atmosphere, self._kelvin = atmosphere_pa, kelvin
        self.took_kg, self.lowest_pa = 0.0, inf
        self.shares = (1.0,) * len(feed.segments)

    def kg_s(self, store_pa: float) -> float:
        """What it blows when its store stands at ``store_pa``.

        Feed and nozzle are met at the pressure between them: from the quick rule for parts in a
        row, which lets some per cent too much through, by two steps and Aitken's from there.
        """
        atmosphere = self._atmosphere
        pa, feed = before_valve(self.feed.segments, store_pa, atmosphere, self.shares, 0.0)
        if feed[0] == 0.0:
            return self._through(pa)
        cubes, squares, indices = (a + b for a, b in zip(feed, _three(self.jet.flow), strict=True))
        c: float = cubes ** (-1.0 / 3.0)
        b = min(max(0.0, 1.0 - c * c * squares), 0.99)
        psi = flow_function(atmosphere / pa, b, min(1.0, indices / cubes))
        first = c * RHO0 * pa * sqrt(T0 / self._kelvin) * psi
        then = self._through(behind_three(feed, pa, first))
        last = self._through(behind_three(feed, pa, then))
        bend = last - 2.0 * then + first
        return first - (then - first) ** 2 / bend if bend else last

    def _through(self, pa: float) -> float:
        """Through valve, hose and nozzle alone, from ``pa`` into the open."""
        part, ratio = self.jet.flow, self._atmosphere / max(pa, self._atmosphere)
        choked: float = part.c_m3_s_pa * RHO0 * pa * sqrt(T0 / self._kelvin)
        return choked * flow_function(ratio, part.b, part.m)

    def blow(self) -> Blow:
        """As the stores' walk wants it."""
        return Blow(
            self.begin_s, self.end_s, self.device, self.feed.store, self.feed.shared,
            self.kg_s,
        )  # fmt: skip

    def flow(self, now_s: float, pa: Sequence[float]) -> Flow:
        """As those that share its feed see it."""
        end = min(self.end_s, now_s + OPEN_S)
        kg = self.kg_s(pa[self.feed.store]) * max(end - self.begin_s, 0.0)
        return Flow(self.begin_s, end, kg, self.device, self.feed.store, self.feed.shared)

    def share(self, flow: Flow, loads: Mapping[str, Load]) -> None:
        """Find its share of every stretch anew."""
        if flow.end_s <= flow.begin_s:
            return
        self.shares = tuple(
            share_of(flow.kg, loads[each.name].within(flow.begin_s, flow.end_s))
            if each.name in self.feed.shared
            else 1.0
            for each in self.feed.segments
        )

    def landing(self, pa: Sequence[float]) -> Landing:
        """What is to be said of it."""
        low = min(self.lowest_pa, pa[self.feed.store])
        way = [each for each in self.feed.segments if each.name]
        return Landing(
            switch=self.switch,
            start_s=self.begin_s,
            full_s=self.begin_s,
            supply_pa=stands(way, low, self._atmosphere),
            air_l=standard_litres(self.took_kg),
        )


def _three(part: Restriction) -> tuple[float, float, float]:
    cube = part.c_m3_s_pa**-3
    return cube, (1.0 - part.b) / part.c_m3_s_pa**2, part.m * cube
