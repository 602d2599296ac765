"""Instants, spans and windows as people write them."""

import contextlib
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thundersheet.base.read_time import Ruler, read_span, read_time, read_window
from thundersheet.base.time import Span, Time, clock
from thundersheet.base.units import UnitError
from thundersheet.model.show import Tempo

TWO_TEMPOS = (
    Tempo(at=Time.seconds(2), per_minute=120.0, counts=4),
    Tempo(at=Time.seconds(10), per_minute=60.0, counts=3),
)
RULER = Ruler.of(25, TWO_TEMPOS)
WRITE = (
    "Write `0:12.480` (minutes:seconds), `12.48 s`, `frame 312` or `bar 5 count 2` (`count 2.5` is "
    "half-way to the next)."
)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("0:12.480", "12.48"),
        ("1:02:03.5", "3723.5"),
        ("12:30", "750"),
        ("0:00", "0"),
        ("-0:00.4", "-0.4"),
        ("90:00", "5400"),
        ("12.48 s", "12.48"),
        ("340 ms", "0.34"),
        ("1 min 20 s", "80"),
        ("frame 312", "12.48"),
        ("Frame 0", "0"),
        ("00:00:12:12", "12.48"),
        # 120 a minute: half a second a count; bar 1 begins at 2 s.
        ("bar 1", "2"),
        ("bar 1 count 1", "2"),
        ("bar 2 count 3", "5"),
        ("bar 2 count 3.5", "5.25"),
        ("bar 2, count 3 1/2", "5.25"),
        # After 8 s, four bars, it goes on with bar 5 at one count a second.
        ("bar 5 count 2", "11"),
        ("bar 6", "13"),
    ],
)
def test_instants_as_people_write_them(text: str, seconds: str) -> None:
    assert read_time(text, RULER) == Time(int(Fraction(seconds) * 10**9))


@pytest.mark.parametrize(
    ("rate", "exact"),
    [(29.97, Fraction(30_000, 1001)), (23.976, Fraction(24_000, 1001)), (30.0, Fraction(30))],
)
def test_rates_of_television_run_a_thousandth_slower(rate: float, exact: Fraction) -> None:
    # SMPTE ST 12-1: 29.97 is 30/1.001 frames a second.
    assert read_time("frame 107892", Ruler.of(rate)) == Time(round(107_892 / exact * 10**9))


def test_an_hour_of_counted_frames_at_29_97_lasts_3_6_seconds_more() -> None:
    assert read_time("01:00:00:00", Ruler.of(29.97)) == Time.seconds(Fraction("3603.6"))


def test_a_bar_cut_short_by_a_new_tempo_ends_there() -> None:
    tempo = (TWO_TEMPOS[0], Tempo(at=Time.seconds(9), per_minute=60.0, counts=3))
    ruler = Ruler.of(None, tempo)  # 3.5 bars after the start
    assert read_time("bar 5", ruler) == Time.seconds(9)
    assert read_time("bar 4 count 2", ruler) == Time.seconds(8.5)


def test_a_tempo_written_to_the_millisecond_still_begins_on_its_bar() -> None:
    # 97 a minute: a bar of four lasts 2.474226... s, written as 0:02.474.
    tempo = (
        Tempo(at=Time(0), per_minute=97.0),
        Tempo(at=Time.seconds(Fraction("2.474")), per_minute=97.0),
        Tempo(at=Time.seconds(Fraction("4.949")), per_minute=97.0),
    )
    assert [each.bar for each in Ruler.of(None, tempo).measures] == [1, 2, 3]


def test_a_tempo_may_name_its_own_bar() -> None:
    tempo = (Tempo(at=Time.seconds(4), per_minute=60.0, bar=17),)
    assert read_time("bar 18 count 2", Ruler.of(None, tempo)) == Time.seconds(9)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("0:61", f"`0:61` has more than 59 seconds. {WRITE}"),
        ("1:75:00", f"`1:75:00` has more than 59 minutes. {WRITE}"),
        ("0:12,480", "`0:12,480` has a decimal comma. Write a point: `0:12.480`."),
        ("12", f"`12` has no unit. {WRITE}"),
        ("noon", f"`noon` is no time of the programme. {WRITE}"),
        ("12 kg", "`12 kg` is a mass, where a time is wanted. Known here: s, ms, us, ns, min, h."),
        ("bar 0", "`bar 0` is before the first bar. The first one is bar 1."),
        ("bar 1 count 5", "`bar 1 count 5`: bar 1 has 4 counts. The first one is 1."),
        ("bar 1 count 0", "`bar 1 count 0`: bar 1 has 4 counts. The first one is 1."),
    ],
)
def test_messages_say_how_times_are_written(text: str, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        read_time(text, RULER)
    assert str(caught.value) == message


def test_frames_and_bars_need_their_rate_and_tempo() -> None:
    with pytest.raises(UnitError, match=r"^`frame 3` counts frames, but the show does not say"):
        read_time("frame 3")
    with pytest.raises(UnitError, match=r"^`bar 3` counts bars, but the show has no tempo\. "):
        read_time("bar 3")


def test_a_bar_beyond_the_next_tempo_is_refused() -> None:
    tempo = (TWO_TEMPOS[0], Tempo(at=Time.seconds(10), per_minute=60.0, bar=20))
    with pytest.raises(UnitError, match=r"the next tempo has begun with bar 20\. Count from"):
        read_time("bar 6", Ruler.of(None, tempo))


@given(st.integers(-(10**7), 10**7))
def test_what_the_clock_shows_reads_as_the_same_instant(ms: int) -> None:
    time = Time(ms * 1_000_000)
    assert read_time(clock(time)) == time


@given(st.integers(1, 60), st.integers(1, 3), st.integers(30, 400))
def test_bars_lie_at_their_count_of_minutes(bar: int, count: int, per_minute: int) -> None:
    tempo = (Tempo(at=Time(0), per_minute=float(per_minute), counts=3),)
    counts = (bar - 1) * 3 + count - 1
    wanted = Time(round(Fraction(counts * 60 * 10**9, per_minute)))
    assert read_time(f"bar {bar} count {count}", Ruler.of(None, tempo)) == wanted


@pytest.mark.parametrize(
    ("text", "ms"),
    [
        ("70 ms", 70),
        ("0.07 s", 70),
        ("1 min 30 s", 90_000),
        ("1:30", 90_000),
        ("0", 0),
        ("-5 ms", -5),
    ],
)
def test_spans_as_people_write_them(text: str, ms: int) -> None:
    assert read_span(text) == Span.ms(ms)


@pytest.mark.parametrize(
    ("text", "early", "late"),
    [
        ("-20..+40 ms", -20, 40),
        ("-20 .. 40 ms", -20, 40),
        ("-20 ms to 40 ms", -20, 40),
        ("-0.02 s..40 ms", -20, 40),
        ("−20…+40 ms", -20, 40),
        ("+-15 ms", -15, 15),
        ("+/-15 ms", -15, 15),
        ("±15 ms", -15, 15),
        ("0..40 ms", 0, 40),
    ],
)
def test_windows_as_people_write_them(text: str, early: int, late: int) -> None:
    assert read_window(text) == (Span.ms(early), Span.ms(late))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("40..-20 ms", r"^`40\.\.-20 ms` ends before it begins\. Write early and late"),
        ("wide", r"^`wide` is no window\. Write early and late as in `-20\.\.\+40 ms`"),
        ("-20..+40", r"^`-20 ` has no unit|^`-20` has no unit"),
    ],
)
def test_windows_that_are_none_are_refused(text: str, message: str) -> None:
    with pytest.raises(UnitError, match=message):
        read_window(text)


@given(st.text(max_size=24))
def test_any_text_is_read_or_is_a_unit_error(text: str) -> None:
    for read in (lambda each: read_time(each, RULER), read_span, read_window):
        with contextlib.suppress(UnitError):
            read(text)
