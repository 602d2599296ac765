"""Exact time: nanoseconds in whole numbers, one rounding to samples."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thundersheet.base.time import Span, Time, clock

RATES = st.sampled_from([8_000, 11_025, 22_050, 44_100, 48_000, 96_000, 192_000])


@given(st.integers(0, 192_000 * 7_200), RATES)
def test_a_sample_is_found_again_from_its_time(index: int, rate: int) -> None:
    assert Time.of_sample(index, rate).sample(rate) == index


@given(st.integers(-(10**13), 10**13), RATES)
def test_the_nearest_sample_is_at_most_half_a_sample_away(ns: int, rate: int) -> None:
    exact = Fraction(ns * rate, 10**9)
    assert abs(Time(ns).sample(rate) - exact) <= Fraction(1, 2)


def test_half_a_sample_goes_to_the_later_one() -> None:
    assert Time(500_000).sample(1_000) == 1
    assert Time(-500_000).sample(1_000) == 0


@given(st.integers(-(10**15), 10**15), st.integers(-(10**15), 10**15))
def test_spans_between_times_add_up_exactly(a: int, b: int) -> None:
    assert Time(a) + Time(b).since(Time(a)) == Time(b)
    assert Time(a) - Span(b) + Span(b) == Time(a)
    assert Span(a) + -Span(a) == Span(0)


@pytest.mark.parametrize(
    ("ns", "shown"),
    [
        (0, "0:00.000"),
        (41_500_000_000, "0:41.500"),
        (-400_000_000, "-0:00.400"),
        (59_999_600_000, "1:00.000"),
        (-300_000, "0:00.000"),
        (3_723_500_000_000, "62:03.500"),
    ],
)
def test_the_clock_reads_as_a_cue_sheet_does(ns: int, shown: str) -> None:
    assert clock(Time(ns)) == shown


@given(st.integers(-(10**13), 10**13))
def test_the_clock_is_never_off_by_more_than_its_last_figure(ns: int) -> None:
    sign = -1 if clock(Time(ns)).startswith("-") else 1
    minutes, seconds = clock(Time(ns)).lstrip("-").split(":")
    back = sign * (int(minutes) * 60 + Fraction(seconds)) * 10**9
    assert abs(back - ns) <= 500_000
    assert Fraction(seconds) < 60


@pytest.mark.parametrize(
    ("span", "shown"), [(Span.ms(70), "70 ms"), (Span.seconds(1.5), "1.5 s"), (Span(0), "0 ms")]
)
def test_spans_are_shown_in_milliseconds_below_a_second(span: Span, shown: str) -> None:
    assert str(span) == shown
