"""Layout `marks`: the grid, the fingerprint in it, and the cues that leave too early."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from schedule_wants import MARKS, MINUTE, PRINT, want

from thundersheet.base.time import Span, Time
from thundersheet.plan.schedule import Schedule, check_style, lay_out
from thundersheet.plan.schedule.code import mark_of


def laid(*wants, style=MARKS, length: Time = MINUTE) -> Schedule:
    return lay_out(wants, style, length, PRINT)


def codes(schedule: Schedule) -> list[tuple[str, str]]:
    return [(finding.code, finding.grade) for finding in schedule.findings]


def test_marks_are_numbered_on_a_grid_of_one_second():
    words = laid().words
    assert len(words) == 60
    assert [word.onset for word in words] == [Time.seconds(0.05 + n) for n in range(60)]
    assert [mark_of(word.symbols)[0] for word in words] == list(range(60))


def test_cues_leave_just_when_they_should():
    schedule = laid(want("x", 12_345.678), want("y", 12_345.679))
    assert [d.at for d in schedule.departures] == [Time.seconds(12.345678), Time.seconds(12.345679)]
    assert schedule.worst_error == schedule.bound == Span(0)
    assert schedule.proven


@settings(max_examples=200, deadline=None, derandomize=True)
@given(
    length_ms=st.integers(2000, 3_600_000),
    tone=st.integers(15, 200),
    gap=st.integers(10, 200),
)
def test_marks_of_any_style_stay_apart_and_inside_the_programme(length_ms, tone, gap):
    style = replace(MARKS, tone=Span.ms(tone), gap=Span.ms(gap), ramp=Span.ms(2))
    schedule = laid(style=style, length=Time.seconds(length_ms / 1000))
    for before, after in zip(schedule.words, schedule.words[1:], strict=False):
        assert after.onset.since(before.end) >= style.gap * 2
    if schedule.words:
        assert schedule.words[-1].end <= schedule.length
        assert schedule.length.since(schedule.words[-1].end) < schedule.spacing * 2


@pytest.mark.parametrize(("seconds", "copies"), [(8.1, 2), (10, 2), (30, 6), (600, 120)])
def test_shows_of_eight_seconds_and_more_carry_the_fingerprint_twice(seconds, copies):
    schedule = laid(length=Time.seconds(seconds))
    assert schedule.copies >= copies
    assert not schedule.findings


def test_a_show_too_short_for_two_fingerprints_says_so():
    assert codes(laid(length=Time.seconds(5))) == [("TRACK-12", "warn")]
    assert laid(length=Time.seconds(5)).copies == 1


def test_shorter_tones_carry_it_twice_in_a_three_second_show():
    style = replace(MARKS, tone=Span.ms(20), gap=Span.ms(15))
    assert laid(style=style, length=Time.seconds(3)).copies == 2


def test_a_cue_before_the_first_mark_is_whole_is_refused_before_the_second_warned():
    # Mark 0 sounds from 0.05 s and its seventh tone ends 650 ms later; mark 1 a second after.
    schedule = laid(want("x", 690), want("y", 710), want("z", 1690), want("w", 1710))
    assert codes(schedule) == [("TRACK-13", "refuse"), ("TRACK-13", "warn")]
    assert [f.about for f in schedule.findings] == [("x",), ("y", "z")]


def test_numbers_that_run_out_are_refused():
    style = replace(MARKS, every=Span.seconds(1))
    schedule = laid(style=style, length=Time.seconds(4000))
    assert codes(schedule) == [("TRACK-14", "refuse")]
    assert not laid(length=Time.seconds(4000)).findings


def test_each_mark_names_the_cues_due_until_the_next():
    schedule = laid(want("x", 5049.9), want("y", 5050), want("z", 6049))
    assert schedule.word("mark 4").cues == ("x",)
    assert schedule.word("mark 5").cues == ("y", "z")


def test_usual_style_has_no_findings():
    assert not list(check_style(MARKS))
    assert not list(check_style(replace(MARKS, layout="direct")))


@pytest.mark.parametrize(
    ("change", "code", "grade"),
    [
        ({"tone": Span.ms(39)}, "TRACK-01", "warn"),
        ({"gap": Span.ms(39)}, "TRACK-02", "warn"),
        ({"ramp": Span.ms(17)}, "TRACK-03", "refuse"),
        ({"level_db": -3.0}, "TRACK-04", "refuse"),
        ({"level_db": -5.0}, "TRACK-04", "warn"),
        ({"every": Span.ms(790)}, "TRACK-05", "refuse"),
        ({"layout": "direct", "listening": Span.ms(30)}, "TRACK-06", "warn"),
    ],
)
def test_a_style_that_does_not_go_together_is_named(change, code, grade):
    (finding,) = check_style(replace(MARKS, **change))
    assert (finding.code, finding.grade) == (code, grade)


def test_forty_milliseconds_are_taken_without_a_word():
    # ITU-T Q.24 (secondary source): tones of 40 ms are to be accepted.
    assert not list(check_style(replace(MARKS, tone=Span.ms(40), gap=Span.ms(40))))
