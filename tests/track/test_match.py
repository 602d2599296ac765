"""Laying heard tones on written ones, against lines whose truth the test chose itself."""

import random

import pytest

from thundersheet.track.proof.match import lay, pair


def row(seed: int, count: int = 60, pitch: float = 1.3) -> list[tuple[float, str]]:
    rng = random.Random(seed)
    times = sorted(rng.uniform(0, count * pitch) for _ in range(count))
    spread = [time + 0.1 * i for i, time in enumerate(times)]
    return [(time, rng.choice("123A456B789C*0#D")) for time in spread]


@pytest.mark.parametrize("slope", [1.0, 1.001, 0.999, 1.0427, 0.9591, 1.03])
@pytest.mark.parametrize("offset", [0.0, 0.0213, -4.0, 7.5])
def test_offset_and_speed_are_found_among_lost_wrong_and_strange_tones(slope, offset):
    rng = random.Random(5)
    written = row(1)
    heard = []
    for time, symbol in written:
        fate = rng.random()
        if fate < 0.1:
            continue
        heard.append((offset + slope * time, "5" if fate < 0.15 else symbol))
    heard += [(rng.uniform(0, 80), rng.choice("123456")) for _ in range(6)]
    line = lay(written, sorted(heard))
    assert line is not None
    assert line.offset_s == pytest.approx(offset, abs=1e-4)
    assert line.slope == pytest.approx(slope, abs=1e-6)


def test_a_regular_row_of_one_symbol_is_laid_without_a_shift():
    written = [(0.5 * i, "5") for i in range(20)]
    line = lay(written, written)
    assert line is not None
    assert (line.offset_s, line.slope) == (pytest.approx(0.0), pytest.approx(1.0))


def test_strangers_are_not_laid():
    assert lay(row(1)[:2], row(2)[:2]) is None


def test_each_heard_tone_is_given_once_and_to_the_nearest():
    written = [(1.0, "1"), (1.1, "2"), (2.0, "3")]
    heard = [(1.09, "2"), (2.01, "4")]
    line = lay([(0.0, "1"), (1.0, "2"), (5.0, "3")], [(0.0, "1"), (1.0, "2"), (5.0, "3")])
    assert line is not None
    assert pair(written, heard, line, 0.05) == [None, 0, 1]
