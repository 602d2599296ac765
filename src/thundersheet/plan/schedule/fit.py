"""Whether cues fit one channel when none may miss its instant by more than so much: exact.

In: jobs in whole nanoseconds, the pitch of tones, the length of each group's word. Out: emissions
in their order, or None when it cannot be. It chooses no symbols.

An emission of m tones that switches at x owns the channel from x - (m-1) pitches (its first tone)
to x + one pitch (the end of the last one's gap), so after a switch at x the next word of m tones
may switch at x + m pitches or later. Orders differ from the order of the wants where windows
differ; groups of cues may leave as one. For a set of cues already sent only the earliest possible
last switch matters, hence an exact dynamic programme over sets: state = set, value = that instant.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from thundersheet.plan.schedule.jobs import (
    Channel,
    Emission,
    Inexact,
    Job,
    bound_together,
    components,
    groupings,
    narrowed,
)

MOST_STATES = 4_000
"""Sets kept for each count of cues sent; beyond it the answer None is no longer a proof."""

Length = Callable[[int], int | None]
"""Tones of the word for a command set; None: there is no word for it."""


@dataclass(frozen=True, slots=True)
class _Step:
    """The way to a state: the last emission and the state before."""

    x: int
    job: Job | None
    before: _Step | None


def _emissions(step: _Step | None) -> list[Emission]:
    """The emissions along the way, first to last."""
    out: list[Emission] = []
    while step is not None and step.job is not None:
        out.append(Emission(step.x, step.job.members, step.job.commands))
        step = step.before
    return out[::-1]


Choice = tuple[int, Job, int, int]
"""Jobs as a bit set, the same as one, tones of its word, jobs that must not come later."""


@dataclass(frozen=True)
class Run:
    """Jobs that touch no others, in the order of their last instants."""

    jobs: tuple[Job, ...]
    channel: Channel

    @classmethod
    def of(cls, jobs: Iterable[Job], channel: Channel) -> Run:
        """The run of these jobs."""
        return cls(tuple(sorted(jobs, key=lambda j: (j.hi, j.lo, j.members))), channel)

    @cached_property
    def groups(self) -> list[tuple[int, Job]]:
        """Every set of jobs that may leave as one, by the first instant of its window."""
        return sorted(groupings(self.jobs), key=lambda choice: choice[1].lo)

    @cached_property
    def before(self) -> tuple[int, ...]:
        """For each job those that need not leave later than it when every group has a word.

        Two jobs whose windows start and end in the same order can change places without harm,
        unless that brings two jobs of one output together; it can't when no other job of the run
        has their outputs, or when both have the same. Each such change makes the sum of rank
        times place larger, so some best answer has none left to make.
        """
        seen = twice = 0
        for job in self.jobs:
            twice |= seen & job.outputs
            seen |= job.outputs
        return tuple(
            sum(
                1 << i
                for i, one in enumerate(self.jobs[:j])
                if one.lo <= other.lo
                and (not (one.outputs | other.outputs) & twice or one.outputs == other.outputs)
            )
            for j, other in enumerate(self.jobs)
        )

    def _between(self, bits: int, index: int, _both: Job) -> bool:
        """Whether no job that must lie between a job of the set and this later one is left out."""
        others = self.before[index] & ~bits
        return not any(bits & self.before[j] for j in _ones(others))

    @cached_property
    def _ordered(self) -> list[Choice]:
        choices = [
            (bits, job, 1, _union(self.before[j] for j in _ones(bits)))
            for bits, job in groupings(self.jobs, self._between)
        ]
        return sorted(choices, key=lambda choice: choice[1].lo)

    def loose(self) -> list[Emission] | None:
        """Emissions when every group has a word of one tone, or None: there are none."""
        if len(self.jobs) == 1:
            return self._alone(lambda _commands: 1)
        return self._search(self._ordered)

    def groups_within(self, keys: Collection[int]) -> list[tuple[int, Job]]:
        """Those groups whose command set is one of these, by the first instant of their window."""
        here = _union(job.commands for job in self.jobs)
        mine = [key for key in keys if not key & ~here]

        def may(_bits: int, _index: int, both: Job) -> bool:
            return any(not both.commands & ~key for key in mine)

        found = groupings(self.jobs, may)
        return sorted((g for g in found if g[1].commands in keys), key=lambda g: g[1].lo)

    def sequence(
        self, tones: Mapping[int, int], groups: Sequence[tuple[int, Job]] | None = None
    ) -> list[Emission] | None:
        """Emissions with these words only, or None: there are none.

        `groups`: where known, all that these words may be for, as `groups_within` gives them.
        """
        if len(self.jobs) == 1:
            return self._alone(tones.get)
        groups = self.groups_within(tones.keys()) if groups is None else groups
        return self._search(
            [(bits, job, tones[job.commands], 0) for bits, job in groups if job.commands in tones]
        )

    def _search(self, choices: Sequence[Choice]) -> list[Emission] | None:
        layers: list[dict[int, _Step]] = [{} for _ in range(len(self.jobs) + 1)]
        layers[0][0] = _Step(self.channel.first, None, None)
        cut = False
        for layer in layers[:-1]:
            kept = sorted(layer.items(), key=lambda item: item[1].x)
            cut = cut or len(kept) > MOST_STATES
            for done, step in kept[:MOST_STATES]:
                _advance(done, step, self.jobs, choices, self.channel.pitch, layers)
            layer.clear()
        whole = layers[-1].get((1 << len(self.jobs)) - 1)
        if whole is None and cut:
            raise Inexact
        return None if whole is None else _emissions(whole)

    def _alone(self, length: Length) -> list[Emission] | None:
        job = self.jobs[0]
        tones = length(job.commands)
        if tones is None:
            return None
        x = max(job.lo, self.channel.first + tones * self.channel.pitch)
        return [Emission(x, job.members, job.commands)] if x <= job.hi else None


def _advance(
    done: int,
    step: _Step,
    jobs: Sequence[Job],
    choices: Sequence[Choice],
    pitch: int,
    layers: list[dict[int, _Step]],
) -> None:
    """Try every word that may follow this state."""
    # Jobs stand in the order of their last instants, so the first one not yet sent is the most
    # urgent: a word that switches after it, without it, leaves it dead.
    urgent = (~done & (done + 1)).bit_length() - 1
    deadline = jobs[urgent].hi
    for bits, job, tones, needs in choices:
        if job.lo > deadline:
            break
        if bits & done or needs & ~(done | bits):
            continue
        x = max(job.lo, step.x + tones * pitch)
        if x > job.hi or (x + pitch > deadline and not bits >> urgent & 1):
            continue
        after = done | bits
        layer = layers[after.bit_count()]
        known = layer.get(after)
        if known is None or x < known.x:
            layer[after] = _Step(x, job, step)


def runs(jobs: Sequence[Job], error: int, channel: Channel) -> list[Run] | None:
    """The jobs, none to be more than `error` from its instant, in runs; None: they can't fit."""
    cut = narrowed(jobs, error, channel)
    if any(job.lo > job.hi for job in cut):
        return None
    whole = bound_together(cut, channel.pitch)
    if whole is None:
        return None
    return [Run.of(run, channel) for run in components(whole, channel)]


def loose(parts: Iterable[Run] | None) -> list[Emission] | None:
    """Emissions of all runs when symbols are plenty, or None: there are none."""
    return None if parts is None else _joined(run.loose() for run in parts)


def sequences(parts: Iterable[Run], tones: Mapping[int, int]) -> list[Emission] | None:
    """Emissions of all runs with these words, or None: there are none.

    Both raise Inexact when the search was cut short before it could tell.
    """
    return _joined(run.sequence(tones) for run in parts)


def _joined(found: Iterable[list[Emission] | None]) -> list[Emission] | None:
    out: list[Emission] = []
    for emissions in found:
        if emissions is None:
            return None
        out += emissions
    return out


def _ones(bits: int) -> Iterator[int]:
    """The places of the bits that are set, lowest first."""
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low


def _union(parts: Iterable[int]) -> int:
    whole = 0
    for part in parts:
        whole |= part
    return whole
