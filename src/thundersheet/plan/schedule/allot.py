"""Which groups of cues get single tones and which get words, when symbols are short: exact.

In: jobs and an error that may not be passed. Out: the number of tones for each group's word, or
None when no allotment does. Symbols are split into four roles, so that one lost tone never makes
another cue of what is left (docs/decisions/0005-words-of-the-cue-track.md): singles, openers of
two, openers of three, closers. `s + o + O + c` symbols (14 of them) make `s` words of one tone,
`o c` of two and `O c c` of three.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache

from thundersheet.plan.schedule import fit as fitting
from thundersheet.plan.schedule.fit import Run
from thundersheet.plan.schedule.jobs import Channel, Emission, Inexact, Job

LONGEST = 3
MOST_KEYS = 600
"""Groups that a proposal may choose from; with more the search says that it could not tell."""
MOST_EFFORT = 60_000
"""Groups proposed from and runs looked at for one show, some 15 s in all; beyond it the search
says that it could not tell. A count and not a clock: each machine gives the same answer."""

PROPOSAL = 5
"""What a proposal takes for each group, against looking at a run (measured: 1 ms, 0.3 ms)."""

Tones = Mapping[int, int]
"""By command set: how many tones its word has."""


@dataclass(slots=True)
class Memory:
    """What one show's search has learnt on its way through one error after another."""

    effort: int = 0
    clauses: list[tuple[int, dict[int, int]]] = field(default_factory=list)
    """What must hold for this error and, all the more, for any smaller one."""
    found: Tones = field(default_factory=dict)
    """The last allotment that did; it may do again."""

    @property
    def tired(self) -> bool:
        """Whether the search was cut short for its length."""
        return self.effort > MOST_EFFORT

    def spend(self, effort: int) -> None:
        """Count the effort; Inexact when there is none left."""
        self.effort += effort
        if self.tired:
            raise Inexact


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

    def words(self, symbols: str) -> list[str]:
        """All words over these symbols, shortest first."""
        at = 0
        parts = []
        for count in (self.singles, self.openers, self.long_openers, self.closers):
            parts.append(symbols[at : at + count])
            at += count
        singles, openers, long_openers, closers = parts
        return [
            *singles,
            *(a + b for a in openers for b in closers),
            *(a + b + c for a in long_openers for b in closers for c in closers),
        ]


@cache
def all_roles(count: int) -> tuple[Roles, ...]:
    """Every split of so many symbols that no other beats at each length, most singles first."""
    every = [
        Roles(s, o, long, count - s - o - long)
        for s in range(count, -1, -1)
        for o in range(count - s, -1, -1)
        for long in range(count - s - o, -1, -1)
    ]
    best: dict[tuple[int, int, int], Roles] = {}
    for roles in every:
        best.setdefault(roles.reach, roles)
    unbeaten: list[tuple[int, int, int]] = []
    for reach in sorted(best, reverse=True):  # what beats a split sorts before it
        if not any(_beats(other, reach) for other in unbeaten):
            unbeaten.append(reach)
    return tuple(roles for reach, roles in best.items() if reach in unbeaten)


def _beats(one: tuple[int, int, int], two: tuple[int, int, int]) -> bool:
    return one[0] >= two[0] and one[1] >= two[1] and one[2] >= two[2]


def roles_for(lengths: Iterable[int], symbols: int) -> Roles | None:
    """Roles that give each group a word of its length or less, with most single tones."""
    lengths = list(lengths)
    needs = [sum(length <= tones for length in lengths) for tones in (1, 2, 3)]
    for roles in all_roles(symbols):
        # Groups that may have `tones` tones or fewer compete for the words up to that length:
        # enough when, for every length, the words up to it hold all who need one that short.
        if all(have >= need for have, need in zip(roles.reach, needs, strict=True)):
            return roles
    return None


def allot(
    jobs: Sequence[Job], error: int, channel: Channel, symbols: int, memory: Memory
) -> Tones | None:
    """Tones for each group that is used, such that all jobs fit; None: no allotment does."""
    runs = fitting.runs(jobs, error, channel)
    free = fitting.loose(runs)
    if runs is None or free is None:
        return None
    base = {job.commands for job in jobs} | {job.commands for run in runs for job in run.jobs}
    plain = fitting.sequences(runs, dict.fromkeys(base, 1))
    wide = replace(channel, most_tones=LONGEST)
    wide_runs = fitting.runs(jobs, error, wide) or []
    if memory.found and fitting.sequences(wide_runs, memory.found) is not None:
        return memory.found
    # Groups that the wants themselves make, then also those made by letting more leave as one.
    for emissions in (plain, free):
        if emissions is None:
            continue
        used = {emission.commands for emission in emissions}
        if len(used) <= symbols:
            return dict.fromkeys(used, 1)
        quick = _by_room(emissions, channel.first, wide_runs, all_roles(symbols))
        if quick is not None:
            return quick
    # Few groups first: what they can do can be done, though what they can't is not yet told.
    some = base | {emission.commands for emission in free}
    splits = all_roles(symbols)
    found = _search(wide_runs, error, splits, memory, some)
    if found is None and any(
        job.commands not in some for run in wide_runs for _, job in run.groups
    ):
        found = _search(wide_runs, error, splits, memory, None)
    memory.found = found or memory.found
    return found


def _by_room(
    emissions: Sequence[Emission], first: int, runs: Sequence[Run], splits: Sequence[Roles]
) -> Tones | None:
    """A first guess that mostly holds: long words where there is most room before every use."""
    room: dict[int, int] = {}
    before = first
    for emission in emissions:
        room[emission.commands] = min(room.get(emission.commands, 1 << 62), emission.x - before)
        before = emission.x
    tightest_first = sorted(room, key=lambda key: (room[key], key))
    offers = [(run, run.groups_within(room)) for run in runs]
    for roles in splits:
        if roles.reach[2] < len(room):
            continue
        one, two, _ = roles.reach
        tones = {
            key: 1 if rank < one else 2 if rank < two else 3
            for rank, key in enumerate(tightest_first)
        }
        if all(run.sequence(tones, offer) is not None for run, offer in offers):
            return tones
    return None


def _search(
    runs: Sequence[Run],
    error: int,
    splits: Sequence[Roles],
    memory: Memory,
    some: Collection[int] | None,
) -> Tones | None:
    """Allotments proposed by an integer programme, objected to run by run, until one holds.

    Only `some` groups are used, or any there are. Logic-based Benders decomposition (J. Hooker
    and G. Ottosson, "Logic-based Benders decomposition", Mathematical Programming 96, 2003): each
    run that does not fit says which groups would have to be shorter or exist; that no allotment
    without one of these can do is what makes the answer None a proof.
    """
    from thundersheet.plan.schedule.master import Master

    offers = [run.groups if some is None else run.groups_within(some) for run in runs]
    keys = {job.commands for offer in offers for _, job in offer}
    if len(keys) > MOST_KEYS:
        raise Inexact
    master = Master(keys, [roles.reach for roles in splits])
    for run, offer in zip(runs, offers, strict=True):
        for index in range(len(run.jobs)):
            master.one_of({job.commands: LONGEST for bits, job in offer if bits >> index & 1})
    for known_to, clause in memory.clauses if some is None else ():
        if known_to >= error:
            master.one_of({key: limit for key, limit in clause.items() if key in keys})
    while True:
        memory.spend(PROPOSAL * len(keys))
        tones = master.propose()
        if tones is None:
            return None
        cuts = [
            cut
            for run, offer in zip(runs, offers, strict=True)
            if (cut := _objection(run, offer, tones, memory)) is not None
        ]
        if not cuts:
            return tones
        for cut in cuts:
            master.one_of(cut)
        if some is None:
            memory.clauses += [(error, cut) for cut in cuts]


def _objection(
    run: Run, groups: Sequence[tuple[int, Job]], tones: Tones, memory: Memory
) -> dict[int, int] | None:
    """None when the run fits; else groups, one of which must have at most so many tones."""
    keys = {job.commands for _, job in groups}
    given = {key: tones[key] for key in keys if key in tones}
    memory.spend(1)
    if run.sequence(given, groups) is not None:
        return None
    memory.spend(len(keys))
    for key in sorted(keys):
        if given.get(key) == 1:
            continue
        eased = {**given, key: 1}
        if run.sequence(eased, groups) is None:
            given = eased
    return {key: given.get(key, LONGEST + 1) - 1 for key in sorted(keys) if given.get(key) != 1}
