"""Every order, grouping and allotment of a few wants, tried one by one.

Shares no code with the search. For a given sequence the least worst error has a closed form, as
the constraints are differences of two instants: it is the largest over pairs of words (with S the
time that must lie between their switches) of half of S plus the first's lateness, and of what the
windows force (a longest path; T. Cormen and others, "Introduction to Algorithms", ch. 24.4).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import combinations, product

from thundersheet.plan.schedule import Want

BIG = 1 << 60


def ordered_partitions(items: tuple[int, ...]) -> Iterator[list[tuple[int, ...]]]:
    """Every way to put the items into a row of groups."""
    if not items:
        yield []
    for size in range(1, len(items) + 1):
        for first in combinations(items, size):
            rest = tuple(item for item in items if item not in first)
            for row in ordered_partitions(rest):
                yield [first, *row]


@cache
def splits(symbols: int) -> set[tuple[int, int, int]]:
    """How many words of one, two, three tones there are, for every split of the symbols."""
    return {
        (s, o * c, big * c * c)
        for s, o, big, c in product(range(symbols + 1), repeat=4)
        if s + o + big + c == symbols
    }


@cache
def lengths_for(count: int, symbols: int) -> set[tuple[int, ...]]:
    """Every allotment of lengths to so many groups that some split allows."""
    found = set()
    for lengths in product((1, 2, 3), repeat=count):
        for split in splits(symbols):
            if all(lengths.count(n) <= split[n - 1] for n in (1, 2, 3)):
                found.add(lengths)
    return found


def least_of_sequence(
    groups: Sequence[Sequence[Want]], tones: Sequence[int], pitch: int, first: int, last: int
) -> int | None:
    """The least worst error (ns, rounded up) of this row of words, or None: it can't be."""
    least = 0
    for i, early_group in enumerate(groups):
        for j in range(i, len(groups)):
            gap = pitch * sum(tones[i + 1 : j + 1])
            for a in early_group:
                for b in groups[j]:
                    behind = a.at.ns + gap - b.at.ns
                    if behind > a.early.ns + b.late.ns:
                        return None
                    least = max(least, -(-behind // 2), behind - a.early.ns, behind - b.late.ns)
    start = first
    for j, group in enumerate(groups):
        start += pitch * tones[j]
        for b in group:
            if start - b.at.ns > b.late.ns:
                return None
            least = max(least, start - b.at.ns)
    for i, group in enumerate(groups):
        end = last - pitch * sum(tones[i + 1 :])
        for a in group:
            if a.at.ns - end > a.early.ns:
                return None
            least = max(least, a.at.ns - end)
    return least


def least_worst(
    wants: Sequence[Want], pitch: int, first: int, last: int, symbols: int = 14
) -> int | None:
    """The least worst error over everything there is, or None when nothing fits."""
    best = BIG
    for row in ordered_partitions(tuple(range(len(wants)))):
        groups = [[wants[index] for index in group] for group in row]
        outputs = [[c.output for w in group for c in w.commands] for group in groups]
        if any(len(set(names)) < len(names) for names in outputs):
            continue
        sets = [frozenset(c for w in group for c in w.commands) for group in groups]
        kinds = sorted(set(sets), key=sorted_outputs)
        for lengths in lengths_for(len(kinds), symbols):
            tones = [lengths[kinds.index(one)] for one in sets]
            least = least_of_sequence(groups, tones, pitch, first, last)
            best = min(best, BIG if least is None else least)
    return None if best == BIG else best


def sorted_outputs(commands: frozenset) -> tuple[str, ...]:
    return tuple(sorted(command.output for command in commands))
