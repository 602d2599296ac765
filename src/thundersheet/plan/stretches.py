"""When the states of a device hold, as stretches of the show that can be asked for overlaps.

In: a book and the cues of one device. Out: stretches at their true width: from the start of the
motion that leads into a state until the motion that ends it is at rest. Nothing is judged here.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from thundersheet.base.time import ZERO, Span, Time
from thundersheet.model.book import Book
from thundersheet.model.device import Move
from thundersheet.plan.records import Cue
from thundersheet.plan.timeline import same


@dataclass(frozen=True, slots=True)
class Held:
    """A stretch of the show in which a state holds, or a device is on its way in or out of it."""

    cue: Cue | None
    """What led into it; None: it held from the start."""
    begins: Time
    ends: Time
    way_ends: Time
    """When the motion into it is at rest."""


class Stretches:
    """The stretches of one state in the order in which they begin; a long show has thousands."""

    def __init__(self, stretches: Sequence[Held]) -> None:
        self.all = sorted(stretches, key=lambda held: held.begins)
        self._begins = [held.begins for held in self.all]
        self._last_end = list(accumulate((held.ends for held in self.all), max))
        self._last_rest = list(accumulate((held.way_ends for held in self.all), max))

    def within(self, begins: Time, ends: Time) -> Iterator[Held]:
        """Those that share some time with the stretch from `begins` to `ends`."""
        first = bisect_right(self._last_end, begins)
        beyond = bisect_left(self._begins, ends)
        return (held for held in self.all[first:beyond] if held.ends > begins)

    def at(self, instant: Time) -> Iterator[Held]:
        """Those that hold at an instant."""
        return self.within(instant, instant + Span(1))

    def done_by(self, instant: Time) -> Time | None:
        """When the last motion that has begun by an instant is at rest; None: none has."""
        begun = bisect_right(self._begins, instant)
        return self._last_rest[begun - 1] if begun else None


def holds(book: Book, cues: Sequence[Cue], state: Move) -> Stretches:
    """When a state of one device holds; `cues` are that device's, in the order they leave."""
    end_of_show = max([book.show.length, *(cue.at + cue.lead.rest for cue in cues)])
    ended = end_of_show  # when what holds just before the cue looked at is over
    out: list[Held] = []
    for cue in reversed(cues):
        rest = cue.at + cue.lead.rest
        if same(state, cue.target.move):
            out.append(Held(cue, begins(cue), rest if passing(cue) else ended, rest))
        else:
            ended = rest
    if book.device(state.device).is_home(state):
        out.append(Held(None, ZERO, ended, ZERO))
    return Stretches(out[::-1])


def passing(cue: Cue) -> bool:
    """Whether what a cue does ends by itself: the board lets go of every output.

    Where the lead found how long (a stop part-way), the device stays where it then is.
    """
    let_go = bool(cue.commands) and all(command.hold is not None for command in cue.commands)
    return let_go and cue.lead.hold is None


def begins(cue: Cue) -> Time:
    """When guests first see a cue's effect; the command itself where the curve does not say."""
    if not cue.lead.curve:
        return cue.at
    start = cue.lead.curve[0][1]
    for (t, _), (_, after) in pairwise(cue.lead.curve):
        if abs(after - start) > 1e-3:
            return cue.at + Span.seconds(max(t, 0.0))
    return cue.at
