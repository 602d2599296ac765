"""Layout `direct`: the search against brute force over every order, grouping and allotment."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from schedule_brute import least_worst, ordered_partitions
from schedule_wants import DIRECT, MINUTE, PRINT, want
from scipy.optimize import linprog

from thundersheet.base.time import Span, Time
from thundersheet.plan.schedule import Schedule, Want, lay_out
from thundersheet.plan.schedule.direct import arrange, channel_of

PITCH = (DIRECT.tone + DIRECT.gap).ns


def laid(*wants: Want, length: Time = MINUTE) -> Schedule:
    return lay_out(wants, DIRECT, length, PRINT)


crowds = st.lists(
    st.tuples(
        st.integers(0, 24),
        st.sampled_from(["a", "b", "c", "d", "ab"]),
        st.integers(0, 15),
        st.integers(0, 15),
    ),
    min_size=1,
    max_size=4,
)


def wants_of(crowd: list[tuple[int, str, int, int]], start_ms: int) -> list[Want]:
    return [
        want(f"c{i}", start_ms + 17 * at, outputs, 10 * early, 10 * late)
        for i, (at, outputs, early, late) in enumerate(crowd)
    ]


def worst_of(wants: list[Want], found) -> int:
    at = {index: e.x for e in found.emissions for index in e.members}
    assert sorted(at) == list(range(len(wants)))
    return max(abs(at[i] - w.at.ns) for i, w in enumerate(wants))


@pytest.mark.parametrize("symbols", [14, 4, 3, 2])
@settings(max_examples=150, deadline=None, derandomize=True)
@given(crowd=crowds, start_ms=st.sampled_from([0, 60, 1000]))
@example(crowd=[(0, "a", 8, 4), (0, "b", 8, 4), (0, "c", 8, 4), (1, "d", 8, 4)], start_ms=1000)
def test_worst_error_is_that_of_the_best_of_all_schedules(symbols, crowd, start_ms):
    wants = wants_of(crowd, start_ms)
    length = Time.seconds(start_ms / 1000 + 0.4)
    channel = channel_of(DIRECT, length)
    best = least_worst(wants, PITCH, channel.first, channel.last, symbols)
    found = arrange(wants, DIRECT, length, "0123456789ABCD"[:symbols])
    if best is None:
        assert found.conflicts
        assert not found.emissions
    else:
        assert not found.conflicts
        assert found.bound == best == worst_of(wants, found)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(crowd=crowds, symbols=st.sampled_from([14, 3]))
def test_a_conflict_is_one_and_none_of_its_cues_could_be_left_in(crowd, symbols):
    wants = wants_of(crowd, 1000)
    length = Time.seconds(1.4)
    channel = channel_of(DIRECT, length)

    def fits(some: list[Want], by: int = 0) -> bool:
        wide = [replace(w, early=w.early + Span(by), late=w.late + Span(by)) for w in some]
        return least_worst(wide, PITCH, channel.first, channel.last, symbols) is not None

    by_id = {w.cue_id: w for w in wants}
    for conflict in arrange(wants, DIRECT, length, "0123456789ABCD"[:symbols]).conflicts:
        members = [by_id[cue] for cue in conflict.cues]
        assert not fits(members)
        assert all(fits([w for w in members if w is not out]) for out in members)
        if conflict.missing is not None:
            assert fits(members, conflict.missing.ns)
            assert not fits(members, conflict.missing.ns - 1)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(crowd=crowds)
def test_of_all_schedules_with_that_worst_error_and_allotment_the_sum_is_least(crowd):
    # Each order's least sum by linear programming (scipy, HiGHS simplex), over x and |x - at|.
    wants = wants_of(crowd, 1000)
    found = arrange(wants, DIRECT, Time.seconds(60))
    if found.conflicts:
        return
    at = {index: e.x for e in found.emissions for index in e.members}
    total = sum(abs(at[i] - w.at.ns) for i, w in enumerate(wants))
    allowed = {group for group, _ in found.words}
    keys = {e.members: e.commands for e in found.emissions}
    best = min(
        least_sum([[wants[i] for i in group] for group in row], found.bound)
        for row in ordered_partitions(tuple(range(len(wants))))
        if all(_known(group, keys, wants, allowed) for group in row)
    )
    assert total == pytest.approx(best, abs=2)


def _known(group, keys, wants, allowed) -> bool:
    """Whether the allotment has a word for this group, and its outputs do not clash."""
    commands = [c for i in group for c in wants[i].commands]
    sets = [
        {c for i in members for c in wants[i].commands}
        for members, key in keys.items()
        if key in allowed
    ]
    return len({c.output for c in commands}) == len(commands) and set(commands) in sets


def least_sum(groups: list[list[Want]], worst: int) -> float:
    rows, limits = [], []
    people = [(g, w) for g, group in enumerate(groups) for w in group]
    n, m = len(groups), len(people)
    for g in range(n - 1):
        row = np.zeros(n + m)
        row[g], row[g + 1] = 1, -1
        rows.append(row)
        limits.append(-PITCH / 1e6)
    bounds = [[-np.inf, np.inf] for _ in range(n)] + [[0, None]] * m
    for k, (g, w) in enumerate(people):
        for sign in (1, -1):
            row = np.zeros(n + m)
            row[g], row[n + k] = sign, -1
            rows.append(row)
            limits.append(sign * w.at.ns / 1e6)
        early, late = min(w.early.ns, worst), min(w.late.ns, worst)
        bounds[g][0] = max(bounds[g][0], (w.at.ns - early) / 1e6)
        bounds[g][1] = min(bounds[g][1], (w.at.ns + late) / 1e6)
    if any(low > high for low, high in bounds[:n]):
        return np.inf
    cost = [0.0] * n + [1.0] * m
    done = linprog(cost, A_ub=rows, b_ub=limits, bounds=bounds, method="highs")
    return done.fun * 1e6 if done.success else np.inf


def test_cues_far_apart_leave_exactly_when_they_should_whatever_their_number():
    schedule = laid(*(want(f"c{i}", 1000 + 250 * i, "abcdefgh"[i % 8]) for i in range(200)))
    assert schedule.worst_error == schedule.bound == Span(0)
    assert schedule.proven
    assert len(schedule.allotments) == 8


def test_cues_at_one_instant_leave_in_one_tone():
    schedule = laid(want("x", 1000, "a"), want("y", 1000, "b"), want("z", 3000, "a"))
    assert [w.cues for w in schedule.words if w.kind == "cue"] == [("x", "y"), ("z",)]
    assert schedule.worst_error == Span(0)


def test_the_output_switches_a_listening_after_the_last_tone_starts():
    # Receiver practice: cues fire at onset + 48 ms, so that detection jitter is taken out.
    (word,) = (w for w in laid(want("x", 1000)).words if w.kind == "cue")
    assert word.tone_onsets[-1] + Span.ms(48) == Time.seconds(1) == word.switches_at


def test_a_later_cue_may_leave_first_where_its_window_says_so():
    # x may leave late only, y early only: y goes first, and both give way by half of 100 + 20 ms.
    schedule = laid(want("x", 1000, "a", 0, 300), want("y", 1020, "a", 300, 0))
    assert [d.error for d in schedule.departures] == [Span.ms(60), Span.ms(-60)]


def test_departures_keep_the_order_of_the_wants():
    wants = [want("late", 5000), want("early", 1000), want("middle", 3000)]
    assert [d.cue_id for d in laid(*wants).departures] == ["late", "early", "middle"]


@pytest.mark.parametrize("groups", [15, 25, 49, 60, 120])
def test_more_groups_than_symbols_get_words_where_there_is_room(groups):
    wants = [want(f"c{i}", 1000 + 400 * i) for i in range(groups)]
    schedule = laid(*wants, length=Time.seconds(60))
    assert schedule.proven
    assert schedule.worst_error == Span(0)
    words = {a.symbols for a in schedule.allotments}
    assert len(words) == groups
    assert not any(a != b and b.startswith(a) for a, b in permutations(words, 2))


def test_no_cue_uses_the_symbols_of_the_fingerprint():
    wants = [want(f"c{i}", 1000 + 400 * i) for i in range(60)]
    assert not set("*#") & {s for a in laid(*wants).allotments for s in a.symbols}


def test_one_lost_tone_of_a_word_leaves_no_other_word():
    wants = [want(f"c{i}", 1000 + 400 * i) for i in range(100)]
    words = {a.symbols for a in laid(*wants).allotments}
    for word in words:
        for lost in range(len(word)):
            rest = word[:lost] + word[lost + 1 :]
            assert not any(rest[i:j] in words for i in range(3) for j in range(i + 1, 4))


def test_words_of_a_schedule_never_touch():
    rng = np.random.default_rng(7)
    wants = [
        want(f"c{i}", 1000 + 57_000 * rng.random(), "abcdefghijklmnopqrst"[i % 20])
        for i in range(120)
    ]
    schedule = laid(*wants)
    onsets = [t.ns for w in schedule.words for t in w.tone_onsets]
    assert min(np.diff(onsets)) >= PITCH
    assert onsets == sorted(onsets)
    for departure, wanted in zip(schedule.departures, wants, strict=True):
        assert -wanted.early <= departure.error <= wanted.late


def test_a_cue_too_near_the_start_is_named_with_what_it_lacks():
    schedule = laid(want("x", 20, early_ms=10, late_ms=10))
    (conflict,) = schedule.conflicts
    assert (conflict.cues, conflict.missing) == (("x",), Span.ms(18))
    (finding,) = schedule.findings
    assert (finding.code, finding.grade) == ("TRACK-16", "refuse")


def test_a_conflict_says_what_is_missing_and_cures_that_do():
    wants = [want("x", 1000, "a"), want("y", 1000, "a"), want("z", 1020, "a")]
    schedule = laid(*wants)
    (conflict,) = schedule.conflicts
    assert conflict.cues == ("x", "y", "z")
    assert conflict.missing == Span.ms(30)
    assert not schedule.departures
    assert "30 ms" in str(schedule.findings[0])


def test_what_is_missing_is_said_rounded_up_so_that_it_would_do():
    wants = [want("x", 1000, "a"), want("y", 1000, "a"), want("z", 1020.01, "a")]
    schedule = laid(*wants)
    assert schedule.conflicts[0].missing == Span.ms(29.995)
    assert "30 ms are missing" in str(schedule.findings[0])


def test_fourteen_cues_in_a_row_that_one_tone_can_take_leave_in_one():
    # A first-come order would need fourteen tones, 1.3 s apart at the ends; one tone misses each
    # end by half of 65 ms.
    schedule = laid(*(want(f"c{i:02}", 1000 + 5 * i) for i in range(14)))
    assert [len(w.cues) for w in schedule.words if w.kind == "cue"] == [14]
    assert schedule.worst_error == schedule.bound == Span.ms(32.5)


def test_forty_groups_in_a_row_without_room_for_words_share_tones():
    # A tone each 100 ms leaves no room for a second one, so neighbours have to share a word: two
    # cues 100 ms apart that leave as one miss by 50 ms at best.
    schedule = laid(*(want(f"c{i:02}", 1000 + 100 * i) for i in range(40)))
    assert schedule.proven
    assert Span.ms(50) <= schedule.worst_error <= Span.ms(60)


def test_the_fingerprint_is_carried_twice_between_the_cues():
    schedule = laid(*(want(f"c{i}", 2000 + 3000 * i) for i in range(10)))
    assert schedule.copies == 2
    assert schedule.fingerprint == 0xC0FFEE42
    assert not schedule.findings


def test_no_room_for_the_fingerprint_is_said():
    wants = [want(f"c{i}", 500 + 500 * i, "ab"[i % 2]) for i in range(100)]
    schedule = laid(*wants, length=Time.seconds(51))
    assert schedule.copies == 0
    assert [f.code for f in schedule.findings] == ["TRACK-12"]


def test_a_book_without_conflict_loads_no_solver():
    import subprocess
    import sys

    code = (
        "import sys; sys.path.insert(0, 'tests/plan')\n"
        "from schedule_wants import *\n"
        "from thundersheet.plan.schedule import lay_out\n"
        "wants = [want(f'c{i}', 1000 + 200 * i) for i in range(14)]\n"
        "assert lay_out(wants, DIRECT, MINUTE, PRINT).proven\n"
        "print(sorted({'numpy', 'highspy'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
