"""When a compressor runs: its pressure switch, its duty over ten minutes, its quiet stretches.

In come pressures as they pass the switch's two points, out come whether it runs now and when that
may change. It knows nothing of tanks.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

from thundersheet.physics.plant.records import Compressor, State

WINDOW_S = 600.0
"""Ten minutes: the stretch over which makers state an intermittent duty."""
TINY_S = 1e-9


class Running:
    """A compressor's past and its present wish; told of pressures by `see`, of time by `go_on`.

    It calls for work from cut-in until cut-out, and works while it calls, is not held by a quiet
    stretch, and has run for less than its duty allows in the last 600 s. At that limit it goes on
    as soon as an earlier run begins to leave the 600 s.
    """

    def __init__(self, compressor: Compressor | None, state: State | None, pa: float, at_s: float):
        self._compressor = compressor
        self.stretches: list[tuple[float, float]] = list(state.ran_s) if state else []
        self._began_s = at_s
        self.calls = bool(state and (state.running or state.calls))
        self.now = False
        if compressor and not compressor.cut_in_pa < compressor.cut_out_pa:
            raise ValueError("a compressor cuts in at a lower pressure than it cuts out")
        self.see(pa, at_s)

    def see(self, pa: float, at_s: float) -> None:
        """Note the pressure at this instant and decide anew."""
        if self._compressor is None:
            return
        if pa <= self._compressor.cut_in_pa:
            self.calls = True
        elif pa >= self._compressor.cut_out_pa:
            self.calls = False
        self.now = self.calls and not self._quiet(at_s) and self._rested(at_s)

    def go_on(self, at_s: float, to_s: float) -> None:
        """Time passed in its present state; only up to what `changes_s` said."""
        if not self.now or to_s <= at_s:
            return
        if self.stretches and at_s - self.stretches[-1][1] <= TINY_S:
            self.stretches[-1] = (self.stretches[-1][0], to_s)
        else:
            self.stretches.append((at_s, to_s))

    def changes_s(self, at_s: float) -> float:
        """The next instant at which something other than pressure may start or stop it."""
        if self._compressor is None or not self.calls:
            return inf
        soon = inf
        for begin, end in self._compressor.quiet_s:
            for edge in (begin, end):
                if at_s + TINY_S < edge < soon:
                    soon = edge
        if self._compressor.duty >= 1.0:
            return soon
        return min(soon, self._duty_changes_s(at_s))

    def ran_s(self, at_s: float) -> float:
        """Seconds that it ran within the last 600."""
        return ran_within(self._late(at_s), at_s - WINDOW_S, at_s)

    def since(self, at_s: float) -> tuple[tuple[float, float], ...]:
        """The runs that the last 600 s still show, for the next state."""
        return tuple(each for each in self._late(at_s) if each[1] > at_s - WINDOW_S)

    @property
    def own(self) -> tuple[tuple[float, float], ...]:
        """The stretches of this run, what came before left out."""
        began = self._began_s
        return tuple((max(a, began), b) for a, b in self.stretches if b > began)

    def _late(self, at_s: float) -> list[tuple[float, float]]:
        found = []
        for each in reversed(self.stretches):
            if each[1] < at_s - WINDOW_S - TINY_S:
                break
            found.append(each)
        return found[::-1]

    def _quiet(self, at_s: float) -> bool:
        quiet = self._compressor.quiet_s if self._compressor else ()
        return any(begin - TINY_S <= at_s < end - TINY_S for begin, end in quiet)

    def _left_s(self, at_s: float) -> float:
        duty = self._compressor.duty if self._compressor else 1.0
        return duty * WINDOW_S - self.ran_s(at_s)

    def _leaving(self, at_s: float) -> tuple[bool, float]:
        """Whether the window's tail lies in an earlier run, and how long that stays so."""
        tail = at_s - WINDOW_S
        for begin, end in self._late(at_s):
            if tail < begin - TINY_S:
                return False, begin - tail
            if tail < end - TINY_S:
                return True, end - tail
        return False, inf

    def _rested(self, at_s: float) -> bool:
        if self._compressor is None or self._compressor.duty >= 1.0:
            return True
        return self._left_s(at_s) > TINY_S or self._leaving(at_s)[0]

    def _duty_changes_s(self, at_s: float) -> float:
        leaving, lasts = self._leaving(at_s)
        left = self._left_s(at_s)
        if self.now and not leaving:
            return at_s + min(lasts, max(left, TINY_S))
        return at_s + lasts


def ran_within(stretches: Iterable[tuple[float, float]], begin_s: float, end_s: float) -> float:
    """Seconds of the stretches that lie between two instants."""
    return sum(max(0.0, min(b, end_s) - max(a, begin_s)) for a, b in stretches)


def worst_duty(stretches: tuple[tuple[float, float], ...], window_s: float = WINDOW_S) -> float:
    """Largest share of any ``window_s`` that the stretches fill.

    The fullest window begins where a run begins or ends where one ends.
    """
    starts = [a for a, _ in stretches] + [b - window_s for _, b in stretches]
    most = max((ran_within(stretches, at, at + window_s) for at in starts), default=0.0)
    return most / window_s
