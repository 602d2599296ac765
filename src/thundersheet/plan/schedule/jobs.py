"""Cues as whole numbers: what may leave together, what must, and what can't touch.

In: jobs in whole nanoseconds. Out: jobs made one, and runs apart from each other. It puts nothing
in order: `fit` does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

MOST_GROUPINGS = 5_000
"""Of one run; beyond it the search says that it could not tell."""


@dataclass(frozen=True, slots=True)
class Job:
    """One want, or several that must leave together, as integers."""

    members: tuple[int, ...]
    ats: tuple[int, ...]
    """The instants wanted, one for each member."""
    lo: int
    hi: int
    commands: int
    """Bit set: what it switches."""
    outputs: int
    """Bit set: on which outputs. Two jobs that share one can't leave as one."""


@dataclass(frozen=True, slots=True)
class Emission:
    """Jobs that leave as one word, and when it switches."""

    x: int
    members: tuple[int, ...]
    commands: int


@dataclass(frozen=True, slots=True)
class Channel:
    """What the tones themselves ask for."""

    pitch: int
    first: int
    """A word of m tones switches at `first` + m pitches or later: its first tone is at 0:00."""
    last: int
    """And at `last` or sooner: its last tone ends with the programme."""
    most_tones: int = 1
    """The longest word in use."""


class Inexact(Exception):
    """The search had to be cut short, so a failure to find proves nothing."""


def narrowed(jobs: Sequence[Job], error: int, channel: Channel) -> list[Job]:
    """The jobs with their windows cut to at most this error and to the programme."""
    cut = []
    for job in jobs:
        lo = max([job.lo, channel.first + channel.pitch, *(at - error for at in job.ats)])
        hi = min([job.hi, channel.last, *(at + error for at in job.ats)])
        cut.append(Job(job.members, job.ats, lo, hi, job.commands, job.outputs))
    return cut


def merged(a: Job, b: Job) -> Job | None:
    """Both as one, or None when they share an output or no instant suits both."""
    lo, hi = max(a.lo, b.lo), min(a.hi, b.hi)
    if a.outputs & b.outputs or lo > hi:
        return None
    return Job(
        (*a.members, *b.members),
        (*a.ats, *b.ats),
        lo,
        hi,
        a.commands | b.commands,
        a.outputs | b.outputs,
    )


def bound_together(jobs: Sequence[Job], pitch: int) -> list[Job] | None:
    """The jobs with those made one that can't leave a pitch apart; None when that fails."""
    out: list[Job] = []
    for job in sorted(jobs, key=lambda j: (j.lo, j.hi, j.members)):
        joined = job
        while partner := next(
            (o for o in reversed(out[-64:]) if max(o.hi, joined.hi) - min(o.lo, joined.lo) < pitch),
            None,
        ):
            out.remove(partner)
            both = merged(partner, joined)
            if both is None:
                return None
            joined = both
        out.append(joined)
    return out


def components(jobs: Sequence[Job], channel: Channel) -> list[list[Job]]:
    """The jobs in runs that cannot touch each other whatever is chosen inside each."""
    reach = channel.most_tones * channel.pitch
    runs: list[list[Job]] = []
    end = None
    for job in sorted(jobs, key=lambda j: (j.lo, j.hi, j.members)):
        if end is None or job.lo - end >= reach:
            runs.append([])
            end = job.hi
        runs[-1].append(job)
        end = max(end, job.hi)
    return runs


def groupings(
    jobs: Sequence[Job], may: Callable[[int, int, Job], bool] = lambda _bits, _index, _both: True
) -> list[tuple[int, Job]]:
    """Each set of jobs that may leave as one, with its bit set over `jobs`.

    `may` says whether a set (bits) plus one later job (index), as one, is of use; what it turns
    down is not extended either.
    """
    # From each job on, where the earliest window of those that follow starts: the end of a search.
    starts = [job.lo for job in jobs]
    for index in range(len(starts) - 2, -1, -1):
        starts[index] = min(starts[index], starts[index + 1])
    found: list[tuple[int, Job]] = []
    fresh = [(1 << index, job) for index, job in enumerate(jobs)]
    while fresh:
        found += fresh
        if len(found) > MOST_GROUPINGS:
            raise Inexact
        fresh = [
            (bits | 1 << index, both)
            for bits, job in fresh
            for index in _followers(bits.bit_length(), job, starts)
            if (both := merged(job, jobs[index])) is not None and may(bits, index, both)
        ]
    return found


def _followers(index: int, job: Job, starts: Sequence[int]) -> Iterator[int]:
    """The later jobs that may still share an instant with this one."""
    while index < len(starts) and starts[index] <= job.hi:
        yield index
        index += 1
