"""Layout `direct`: every tone or word is a group of cues for a simple receiver.

In: wants. Out: the emissions, what each symbol stands for, and a proof that no schedule has a
smaller worst error; or the cues in conflict and how much is missing. It places no fingerprint and
writes no words: `layout.py` does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from thundersheet.base.time import Span, Time
from thundersheet.model.device import Command
from thundersheet.model.show import CueTrack
from thundersheet.plan.schedule import fit as fitting
from thundersheet.plan.schedule.allot import MOST_EFFORT, Memory, Tones, allot, roles_for
from thundersheet.plan.schedule.code import CUE_SYMBOLS
from thundersheet.plan.schedule.ease import eased
from thundersheet.plan.schedule.jobs import (
    Channel,
    Emission,
    Inexact,
    Job,
    components,
    narrowed,
)
from thundersheet.plan.schedule.records import Allotment, Conflict, Want

Item = TypeVar("Item")
MOST_SORTING = MOST_EFFORT // 6
"""Of the effort, what may go into finding the fewest cues in conflict, and again what they miss."""
COARSE = Span.ms(0.5)
"""As near as a search goes on to look once it has been cut short."""
MOST_WIDENING = Span.seconds(1)
"""Conflicts are not said in greater lengths: so much later is another moment of the show."""


@dataclass(frozen=True, slots=True)
class Direct:
    """What the search found."""

    emissions: tuple[Emission, ...] = ()
    words: tuple[tuple[int, str], ...] = ()
    """Command set and its symbols, shortest words first."""
    bound: int = 0
    conflicts: tuple[Conflict, ...] = ()


class Bits:
    """Commands and outputs as bit sets, so that the search works on whole numbers."""

    def __init__(self, wants: Sequence[Want]) -> None:
        commands = {command for want in wants for command in want.commands}
        self.commands = sorted(commands, key=_order)
        self._bit = {command: 1 << index for index, command in enumerate(self.commands)}
        outputs = sorted({command.output for command in commands})
        self._output = {output: 1 << index for index, output in enumerate(outputs)}

    def job(self, index: int, want: Want) -> Job:
        """One want as integers."""
        ns = want.at.ns
        switched = sum({self._bit[command] for command in want.commands})
        on = sum({self._output[command.output] for command in want.commands})
        return Job((index,), (ns,), ns - want.early.ns, ns + want.late.ns, switched, on)

    def allotment(self, group: int, symbols: str, uses: int) -> Allotment:
        """A command set in the records' terms."""
        commands = tuple(c for i, c in enumerate(self.commands) if group >> i & 1)
        return Allotment(symbols=symbols, commands=commands, uses=uses)


def _order(command: Command) -> tuple[str, float, int, int]:
    none = Span(-1)
    hold, over = command.hold or none, command.over or none
    return command.output, command.value, hold.ns, over.ns


def channel_of(style: CueTrack, length: Time) -> Channel:
    """What the tones of this style ask for in a programme of this length."""
    pitch = (style.tone + style.gap).ns
    return Channel(
        pitch=pitch,
        first=style.listening.ns - pitch,
        last=(length - style.tone + style.listening).ns,
    )


def arrange(
    wants: Sequence[Want], style: CueTrack, length: Time, symbols: str = CUE_SYMBOLS
) -> Direct:
    """The emissions with the least worst error, proven, or the conflicts."""
    if not wants:
        return Direct()
    bits = Bits(wants)
    jobs = [bits.job(index, want) for index, want in enumerate(wants)]
    return _Search(jobs, channel_of(style, length), wants, symbols).result()


Decide = Callable[[int], "bool | None"]
"""Whether it can be done with so much; None: the search was cut short and can't tell."""


def least(decide: Decide, low: int, high: int) -> tuple[int | None, int]:
    """The least number from `low` to `high` that does, and what no number below can do.

    None: not even `high` is known to do. The second is 0 where nothing was proven.
    """
    if decide(low):
        return low, 0
    first, bound = first_that_does(decide, low, high)
    if first is None:
        return None, bound
    told, high = first == high, first
    while high - low > (1 if told else COARSE.ns):
        middle = (low + high) // 2
        answer = decide(middle)
        if answer:
            high = middle
        else:
            low = middle
            told = told and answer is False
            bound = middle + 1 if answer is False else bound
    return high, bound or (high if decide(low) is False else 0)


def first_that_does(decide: Decide, low: int, high: int) -> tuple[int | None, int]:
    """`high`, or when that can't be told some smaller number that does; and what is proven.

    Where little may be missed, cues have less choice, and the search gets further.
    """
    top = decide(high)
    if top is None:
        steps = (low + (1_000_000 << n) for n in range(24))
        return next((step for step in steps if step < high and decide(step)), None), 0
    return (high, 0) if top else (None, high + 1)


def growing(decide: Decide) -> int | None:
    """The least number up to MOST_WIDENING that does, looked for from below.

    Wide windows leave much to choose and take long, and mostly little is missing.
    """
    low = 0
    for high in (1_000_000 << n for n in range(10)):
        if high <= MOST_WIDENING.ns and decide(high):
            return least(decide, low, high)[0]
        low = high
    return None


def without_spare(items: Sequence[Item], holds: Callable[[Sequence[Item]], bool]) -> list[Item]:
    """A part of the items for which `holds` and from which none can be taken."""
    kept = list(items)
    for item in items:
        fewer = [other for other in kept if other is not item]
        if fewer and holds(fewer):
            kept = fewer
    return kept


def widened(jobs: Sequence[Job], by: int) -> list[Job]:
    """The jobs with this much more room on both sides."""
    return [replace(job, lo=job.lo - by, hi=job.hi + by) for job in jobs]


def _told(search: Callable[[], object]) -> bool | None:
    """Whether the search finds anything; None when it was cut short."""
    try:
        return search() is not None
    except Inexact:
        return None


class _Search:
    """One search over fixed jobs."""

    def __init__(
        self, jobs: Sequence[Job], channel: Channel, wants: Sequence[Want], symbols: str
    ) -> None:
        self.jobs, self.channel, self.wants, self.symbols = jobs, channel, wants, symbols
        self.memory = Memory()
        self.tones: Tones = {}
        self.most = max(max(want.early.ns, want.late.ns) for want in wants)

    def result(self) -> Direct:
        """The best schedule, or what stands in its way."""
        reach, bound, crowds = self._room()
        if crowds:
            return Direct(conflicts=tuple(crowds), bound=bound)
        error, proved = self._least_allotted(reach)
        bound = max(bound, proved)
        if error is None:
            return Direct(conflicts=(self._short_of_symbols(proven=proved > 0),), bound=bound)
        emissions, words = self._finish(error, self.tones)
        return Direct(tuple(emissions), words, bound)

    def _fits(self, jobs: Sequence[Job], error: int) -> bool | None:
        """Whether these fit when symbols are plenty."""
        return _told(lambda: fitting.loose(fitting.runs(jobs, error, self.channel)))

    def _allots(self, error: int) -> bool | None:
        """Whether all fit with the symbols there are; keeps the words with which they do."""
        try:
            found = allot(self.jobs, error, self.channel, len(self.symbols), self.memory)
        except Inexact:
            return None
        self.tones = found or self.tones
        return found is not None

    def _keeps(self, error: int) -> bool | None:
        """Whether all fit with the words that were found last."""
        wide = replace(self.channel, most_tones=max(self.tones.values()))
        runs = fitting.runs(self.jobs, error, wide)
        return runs is not None and _told(lambda: fitting.sequences(runs, self.tones))

    def _least_allotted(self, low: int) -> tuple[int | None, int]:
        """The least error of at least `low` with the symbols there are, and its proven bound.

        What an allotment can do at best is found cheaply; then a nanosecond less, which mostly
        can't be done, is the proof, and else the middle is tried.
        """
        if self._allots(low):
            return low, 0
        high, bound = first_that_does(self._allots, low, max(low, self.most))
        while high is not None and high > low:
            best, _ = least(self._keeps, low, high)
            high = high if best is None else best
            less = self._allots(high - 1) if high > low else None
            if less is False:
                return high, high
            if less is None:
                break
            high -= 1
            middle = (low + high) // 2
            if middle > low and self._allots(middle) is False:
                low, bound = middle, middle + 1
            elif middle > low and self._keeps(middle):
                high = middle
        return high, bound

    def _room(self) -> tuple[int, int, list[Conflict]]:
        """The worst error that plenty of symbols would allow, what is proven of it, and crowds."""
        by_index = {job.members[0]: job for job in self.jobs}
        reach = bound = 0
        crowds = []
        wide = narrowed(self.jobs, self.most, self.channel)
        for run in components(wide, self.channel):
            jobs = [by_index[job.members[0]] for job in run]
            error, proved = least(
                lambda e, jobs=jobs: self._fits(jobs, e),  # type: ignore[misc]
                reach,
                max(reach, self.most),
            )
            bound = max(bound, proved)
            if error is None:
                crowds.append(self._crowd(jobs))
            else:
                reach = max(reach, error)
        return reach, bound, crowds

    def _crowd(self, jobs: Sequence[Job]) -> Conflict:
        """The least part of a run that does not fit, and what it lacks."""
        if self._fits(jobs, self.most) is None:
            return self._conflict(jobs, None, unsure=True)
        part = without_spare(jobs, lambda some: self._fits(some, self.most) is False)
        missing = growing(lambda by: self._fits(widened(part, by), self.most + by))
        return self._conflict(part, missing)

    def _short_of_symbols(self, *, proven: bool) -> Conflict:
        """The least part for which the symbols do not reach, and what would spare some."""
        if not proven:
            return self._conflict(self.jobs, None, unsure=True, for_symbols=True)
        spent = Memory(effort=MOST_EFFORT - MOST_SORTING)

        def reach(jobs: Sequence[Job], by: int = 0) -> bool | None:
            # What is learnt of some jobs does not hold for others; only the effort adds up.
            memory = Memory(effort=spent.effort)
            wide = widened(jobs, by)
            found = _told(
                lambda: allot(wide, self.most + by, self.channel, len(self.symbols), memory)
            )
            spent.effort = memory.effort
            return found

        part = without_spare(self.jobs, lambda some: reach(some) is False)
        fewest = not spent.tired
        spent = Memory(effort=MOST_EFFORT - MOST_SORTING)
        missing = growing(lambda by: reach(part, by))
        return self._conflict(part, missing, for_symbols=True, fewest=fewest)

    def _conflict(
        self,
        jobs: Sequence[Job],
        missing: int | None,
        *,
        unsure: bool = False,
        for_symbols: bool = False,
        fewest: bool = True,
    ) -> Conflict:
        indices = sorted(index for job in jobs for index in job.members)
        return Conflict(
            cues=tuple(self.wants[index].cue_id for index in indices),
            missing=None if missing is None else Span(missing),
            unsure=unsure,
            for_symbols=for_symbols,
            fewest=fewest and not unsure,
        )

    def _finish(
        self, error: int, tones: Tones
    ) -> tuple[list[Emission], tuple[tuple[int, str], ...]]:
        """Words for the groups, and the least sum of errors with them."""
        roles = roles_for(tones.values(), len(self.symbols))
        if roles is None:
            raise AssertionError("an allotment went beyond the symbols")
        shortest_first = sorted(tones, key=lambda key: (tones[key], key))
        words = dict(zip(shortest_first, roles.words(self.symbols), strict=False))
        lengths = {key: len(word) for key, word in words.items()}
        channel = replace(self.channel, most_tones=max(lengths.values()))
        out: list[Emission] = []
        for run in fitting.runs(self.jobs, error, channel) or ():
            known = run.sequence(lengths)
            if known is None:
                raise AssertionError("a schedule that was found is lost")
            out += eased(run, known, lengths)
        used = {emission.commands for emission in out}
        return out, tuple((key, word) for key, word in words.items() if key in used)
