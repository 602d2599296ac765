"""The narrow stream against numpy's own convolution: the same filter, the same instants."""

from __future__ import annotations

import numpy as np
import pytest

from thundersheet.track.receive.band import narrow, taps
from thundersheet.track.receive.columns import columns
from thundersheet.track.receive.crew import share


@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000, 192_000])
@pytest.mark.parametrize("count", [1, 119, 121, 40_000])
def test_thinned_sound_is_the_convolution_with_every_so_many_samples_kept(rate, count):
    sound = np.random.default_rng(count).uniform(-1, 1, count)
    stream = narrow(sound, rate)
    shape = taps(stream.factor)
    expected = np.convolve(sound, shape)[len(shape) // 2 :][: count : stream.factor]
    kept = stream.samples[stream.pad : stream.pad + len(expected)]
    np.testing.assert_allclose(kept, expected, atol=1e-6)


def test_long_silence_is_left_out_and_the_instants_stay_those_of_the_file():
    rate = 48_000
    sound = np.zeros(60 * rate)
    marks = (5 * rate, 30 * rate + 7, 59 * rate)
    for mark in marks:
        sound[mark] = 1.0
    stream = narrow(sound, rate)
    assert len(stream.samples) < 0.02 * len(sound) / stream.factor
    peaks = np.flatnonzero(stream.samples > 0.8 * stream.samples.max())
    heard = stream.seconds(peaks.astype(np.float64))
    assert heard == pytest.approx(np.array(marks) / rate, abs=1 / stream.rate)


@pytest.mark.parametrize("kind", [np.int16, np.int32])
def test_whole_numbers_are_fractions_of_full_scale(kind):
    top = np.iinfo(kind).max
    sound = np.full(8000, top // 2, kind)
    assert narrow(sound, 8000).samples.max() == pytest.approx(0.5, abs=1e-4)


@pytest.mark.parametrize("offset", [0, 1])
def test_channels_of_16_bit_stereo_read_in_pairs_are_those_read_one_by_one(offset):
    top = np.iinfo(np.int16)
    flat = np.random.default_rng(6).integers(top.min, top.max + 1, 2 * 48_000 + offset, np.int16)
    table = flat[offset:].reshape(-1, 2)
    for number, channel in enumerate(columns(table)):
        alone = narrow(np.ascontiguousarray(table[:, number]), 48_000).samples
        np.testing.assert_allclose(narrow(channel, 48_000).samples, alone, atol=1e-6)


def test_every_piece_is_worked_on_once_whoever_does_it():
    done = np.zeros(1000, np.int64)

    def piece(number):
        done[number] += 1

    share(piece, len(done))
    assert (done == 1).all()


def test_what_one_hand_raises_is_raised_to_the_caller():
    def piece(number):
        if number == 7:
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        share(piece, 20)
