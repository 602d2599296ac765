"""Which groups of cues get single tones and which get words, when symbols are short: exact.

In: jobs and an error that may not be passed. Out: the number of tones for each group's word, or
None when no allotment does. Symbols are split into four roles, so that one lost tone never makes
another cue of what is left (docs/decisions/0105-words-of-the-cue-track.md):
singles, openers of two, openers of three, closers. `s + o + O + c = 14` symbols make `s` words of
one tone, `o c` of two and `O c c` of three.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from thundersheet.plan.schedule import fit as fitting
from thundersheet.plan.schedule.code import CUE_SYMBOLS
from thundersheet.plan.schedule.fit import Channel, Inexact, Job

LONGEST = 3
MOST_ROUNDS = 400
"""Of proposal and objection; beyond it the search says that it could not tell."""

Tones = Mapping[int, int]
"""By command set: how many tones its word has."""


@dataclass(frozen=True, slots=True)
class Roles:
    """How many of the fourteen cue symbols play which part."""

    singles: int
    openers: int
    long_openers: int
    closers: int

    @property
    def reach(self) -> tuple[int, int, int]:
        """So many groups with a word of at most one, two, three tones."""
        two = self.singles + self.openers * self.closers
        return self.singles, two, two + self.long_openers * self.closers**2

    def words(self) -> list[str]:
        """All words, shortest first."""
        at = 0
        parts = []
        for count in (self.singles, self.openers, self.long_openers, self.closers):
            parts.append(CUE_SYMBOLS[at : at + count])
            at += count
        singles, openers, long_openers, closers = parts
        return [
            *singles,
            *(a + b for a in openers for b in closers),
            *(a + b + c for a in long_openers for b in closers for c in closers),
        ]


@cache
def all_roles() -> tuple[Roles, ...]:
    """Every split that no other beats at each length, most singles first."""
    count = len(CUE_SYMBOLS)
    every = [
        Roles(s, o, long, count - s - o - long)
        for s in range(count, -1, -1)
        for o in range(count - s, -1, -1)
        for long in range(count - s - o, -1, -1)
    ]
    best: dict[tuple[int, int, int], Roles] = {}
    for roles in every:
        best.setdefault(roles.reach, roles)
    return tuple(
        roles
        for reach, roles in best.items()
        if not any(
            other != reach and all(a >= b for a, b in zip(other, reach, strict=True))
            for other in best
        )
    )


def roles_for(lengths: Iterable[int]) -> Roles | None:
    """Roles that give each group a word of its length or less, with most single tones."""
    lengths = list(lengths)
    needs = [sum(length <= tones for length in lengths) for tones in (1, 2, 3)]
    for roles in all_roles():
        # Groups that may have `tones` tones or fewer compete for the words up to that length:
        # enough when, for every length, the words up to it hold all who need one that short.
        if all(have >= need for have, need in zip(roles.reach, needs, strict=True)):
            return roles
    return None


def allot(jobs: Sequence[Job], error: int, channel: Channel) -> Tones | None:
    """Tones for each group that is used, such that all jobs fit; None: no allotment does."""
    singles = len(CUE_SYMBOLS)
    for known_only in (True, False):
        used = _relaxed(jobs, error, channel, known_only=known_only)
        if used is None:
            if not known_only:
                return None
            continue
        if len(used) <= singles:
            return dict.fromkeys(used, 1)
        quick = _by_room(jobs, error, channel, used)
        if quick is not None:
            return quick
    return _search(jobs, error, replace(channel, most_tones=LONGEST))


def _relaxed(
    jobs: Sequence[Job], error: int, channel: Channel, *, known_only: bool
) -> set[int] | None:
    """The groups in use when every group may have a single tone; None: not even so."""
    base = {job.commands for job in jobs}
    cut = fitting.narrowed(jobs, error, channel)
    whole = fitting.bound_together(cut, channel.pitch)
    base |= {job.commands for job in whole or ()}
    out = fitting.fit(
        jobs, error, channel, lambda key: 1 if not known_only or key in base else None
    )
    return None if out is None else {emission.commands for emission in out}


def _by_room(jobs: Sequence[Job], error: int, channel: Channel, used: set[int]) -> Tones | None:
    """A first guess that mostly holds: long words where there is most room before every use."""
    out = fitting.fit(jobs, error, channel, lambda key: 1 if key in used else None)
    if out is None:
        return None
    room: dict[int, int] = dict.fromkeys(used, 1 << 62)
    before = channel.first
    for emission in out:
        room[emission.commands] = min(room[emission.commands], emission.x - before)
        before = emission.x
    tightest_first = sorted(used, key=lambda key: (room[key], key))
    for roles in all_roles():
        if roles.reach[2] < len(used):
            continue
        one, two, _ = roles.reach
        tones = {
            key: 1 if rank < one else 2 if rank < two else 3
            for rank, key in enumerate(tightest_first)
        }
        wide = replace(channel, most_tones=max(tones.values()))
        if fitting.fit(jobs, error, wide, tones.get) is not None:
            return tones
    return None


@dataclass(frozen=True, slots=True)
class _Run:
    """Jobs that touch no others, and every group they could form."""

    jobs: tuple[Job, ...]
    groups: tuple[tuple[int, int], ...]
    """Jobs as a bit set over `jobs`, and the command set."""

    @classmethod
    def of(cls, jobs: Sequence[Job]) -> _Run:
        """The run of these jobs."""
        ordered = sorted(jobs, key=lambda j: (j.hi, j.lo, j.members))
        groups = [(bits, job.commands) for bits, job in fitting.groupings(ordered)]
        return cls(tuple(ordered), tuple(groups))


def _search(jobs: Sequence[Job], error: int, channel: Channel) -> Tones | None:
    """Allotments proposed by an integer programme, objected to run by run, until one holds.

    Logic-based Benders decomposition (J. Hooker and G. Ottosson, "Logic-based Benders
    decomposition", Mathematical Programming 96, 2003): each run that does not fit says which
    groups would have to be shorter or exist; that no allotment with at least one of them is lost
    is what makes the answer None a proof.
    """
    from thundersheet.plan.schedule.master import Master

    whole = fitting.bound_together(fitting.narrowed(jobs, error, channel), channel.pitch)
    if whole is None:
        return None
    runs = [_Run.of(run) for run in fitting.components(whole, channel)]
    master = Master({key for run in runs for _, key in run.groups}, [r.reach for r in all_roles()])
    for run in runs:
        for index in range(len(run.jobs)):
            master.one_of({key: LONGEST for bits, key in run.groups if bits >> index & 1})
    for _ in range(MOST_ROUNDS):
        tones = master.propose()
        if tones is None:
            return None
        objections = [cut for run in runs if (cut := _objection(run, channel, tones)) is not None]
        if not objections:
            return tones
        for cut in objections:
            master.one_of(cut)
    raise Inexact


def _objection(run: _Run, channel: Channel, tones: Tones) -> dict[int, int] | None:
    """None when the run fits; else groups, one of which must have at most so many tones."""
    if fitting.sequence(run.jobs, channel, tones.get) is not None:
        return None
    given: dict[int, int | None] = {key: tones.get(key) for _, key in run.groups}
    for key in sorted(given):
        if given[key] == 1:
            continue
        eased = {**given, key: 1}
        if fitting.sequence(run.jobs, channel, eased.get) is None:
            given = eased
    return {
        key: (count or LONGEST + 1) - 1
        for key, count in given.items()
        if count is None or count > 1
    }
