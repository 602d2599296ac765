"""With symbols and worst error settled: the instants whose errors add up to least.

In: one run of jobs that fit, and the words' lengths. Out: emissions. It never makes the
worst error larger and changes no symbol. Runs of up to `FREE_ORDER` jobs are searched over every
order and grouping, longer ones in the order they have; both exactly, for in some best answer each
word stands at a breakpoint of a cost (an instant wanted, an end of a window) or a whole number of
pitches from one, as words that touch move together until one of them meets such a point.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from thundersheet.plan.schedule.fit import Run
from thundersheet.plan.schedule.jobs import Channel, Emission, Inexact, Job

FREE_ORDER = 6


@dataclass(frozen=True, slots=True)
class _State:
    """A last switch, the errors so far, and the way here."""

    x: int
    cost: int
    job: Job | None = None
    before: _State | None = None


def eased(run: Run, known: Sequence[Emission], tones: Mapping[int, int]) -> list[Emission]:
    """The emissions of one run with the least sum of errors; `known` is a sequence that fits."""
    if 1 < len(run.jobs) <= FREE_ORDER:
        return _free(run, tones)
    return _walk([_whole(run.jobs, emission) for emission in known], run, tones)


def _whole(jobs: Sequence[Job], emission: Emission) -> Job:
    """The jobs of one emission as one."""
    inside = [job for job in jobs if set(job.members) <= set(emission.members)]
    lo, hi = max(job.lo for job in inside), min(job.hi for job in inside)
    ats = tuple(at for job in inside for at in job.ats)
    return Job(emission.members, ats, lo, hi, emission.commands, 0)


def _instants(jobs: Sequence[Job], channel: Channel) -> list[int]:
    """Every instant at which some best answer may switch."""
    points = {channel.first} | {p for job in jobs for p in (job.lo, job.hi, *job.ats)}
    lo, hi = min(job.lo for job in jobs), max(job.hi for job in jobs)
    reach = len(jobs) * channel.most_tones
    return sorted(
        {
            x
            for point in points
            for k in range(-reach, reach + 1)
            if lo <= (x := point + k * channel.pitch) <= hi
        }
    )


def _after(
    states: Sequence[_State], job: Job, tones: int, channel: Channel, instants: Sequence[int]
) -> Iterator[_State]:
    """Every way to add this word: for each instant the cheapest state that leaves room."""
    ways = iter(states)
    upcoming = next(ways, None)
    best: _State | None = None
    for x in instants:
        if not job.lo <= x <= job.hi:
            continue
        while upcoming is not None and upcoming.x + tones * channel.pitch <= x:
            best = upcoming if best is None or upcoming.cost < best.cost else best
            upcoming = next(ways, None)
        if best is not None:
            yield _State(x, best.cost + sum(abs(x - at) for at in job.ats), job, best)


def _useful(states: Sequence[_State]) -> list[_State]:
    """Those that no earlier one matches in cost, by instant."""
    kept: list[_State] = []
    for state in sorted(states, key=lambda s: (s.x, s.cost)):
        if not kept or state.cost < kept[-1].cost:
            kept.append(state)
    return kept


def _best(states: Sequence[_State]) -> list[Emission]:
    if not states:
        raise Inexact
    state: _State | None = min(states, key=lambda s: (s.cost, s.x))
    out = []
    while state is not None and state.job is not None:
        out.append(Emission(state.x, state.job.members, state.job.commands))
        state = state.before
    return out[::-1]


def _walk(order: Sequence[Job], run: Run, tones: Mapping[int, int]) -> list[Emission]:
    """The best instants in a given order of words."""
    instants = _instants(run.jobs, run.channel)
    states = [_State(run.channel.first, 0)]
    for job in order:
        added = _after(states, job, tones[job.commands], run.channel, instants)
        states = _useful(list(added))
    return _best(states)


def _free(run: Run, tones: Mapping[int, int]) -> list[Emission]:
    """The best instants over every order and grouping."""
    instants = _instants(run.jobs, run.channel)
    choices = [(bits, job) for bits, job in run.groups if job.commands in tones]
    everything = (1 << len(run.jobs)) - 1
    found: dict[int, list[_State]] = {0: [_State(run.channel.first, 0)]}
    for done in range(everything):
        states = _useful(found.pop(done, []))
        for bits, job in choices:
            if states and not bits & done:
                more = found.setdefault(done | bits, [])
                more += _after(states, job, tones[job.commands], run.channel, instants)
    return _best(found.get(everything, []))
