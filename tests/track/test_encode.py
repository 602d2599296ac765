"""The schedule as sound: every tone at its sample, nothing else, the same bytes each time."""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np
import pytest
from cue_track import DIRECT, MARKS, show
from hypothesis import given, settings
from hypothesis import strategies as st

from thundersheet.base.time import Time
from thundersheet.track.encode import encode
from thundersheet.track.symbols import frequencies

SHOW = show(DIRECT, 12, [3, 4.1234567, 9])


@pytest.mark.parametrize("style", [MARKS, DIRECT])
@pytest.mark.parametrize("rate", [8000, 44_100, 48_000, 192_000])
def test_each_attack_starts_at_its_sample_and_all_else_is_silence(style, rate):
    schedule = show(style, 12, [3, 4.1234567, 9])
    track = encode(schedule, rate)
    assert track.dtype == np.float32
    assert len(track) == 12 * rate
    sounding = np.zeros(len(track), dtype=bool)
    for word in schedule.words:
        for onset in word.tone_onsets:
            start = onset.sample(rate)
            # A raised-cosine attack and sines that start at zero: its first samples are tiny but
            # there; the sample before the onset is exact silence.
            assert start == 0 or track[start - 1] == 0
            assert np.any(track[start : start + 1 + rate // 2000] != 0)
            sounding[start : start + round(0.05 * rate)] = True
    assert not np.any(track[~sounding])


def test_the_strongest_two_frequencies_of_a_tone_are_its_symbol_s():
    # ITU-T Q.23 frequencies by way of an FFT of 50 ms, bins of 20 Hz.
    track = encode(SHOW, 48_000)
    for word in SHOW.words:
        for symbol, onset in zip(word.symbols, word.tone_onsets, strict=True):
            start = onset.sample(48_000)
            spectrum = np.abs(np.fft.rfft(track[start : start + 2400], 48_000))
            low = 600 + np.argmax(spectrum[600:1050])
            high = 1100 + np.argmax(spectrum[1100:1750])
            assert (low, high) == pytest.approx(frequencies(symbol), rel=0.005)


def test_level_is_power_against_a_full_scale_sine():
    track = encode(SHOW, 48_000)
    start = SHOW.words[0].onset.sample(48_000)
    middle = track[start + 240 : start + 2160].astype(float)
    assert 10 * np.log10(2 * np.mean(middle**2)) == pytest.approx(-12, abs=0.2)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(level=st.floats(-40, -3.1), rate=st.sampled_from([8000, 48_000]))
def test_never_clipped_at_any_level_a_book_may_ask(level, rate):
    track = encode(show(replace(MARKS, level_db=level), 9), rate)
    assert float(np.abs(track).max()) <= 1.0


def test_the_same_bytes_each_time():
    digests = {hashlib.sha256(encode(SHOW, 48_000).tobytes()).digest() for _ in range(3)}
    assert len(digests) == 1


def test_a_tone_that_ends_with_the_programme_is_whole():
    schedule = show(DIRECT, 4.0, [3.998])
    (word,) = (w for w in schedule.words if w.kind == "cue")
    assert word.end == Time.seconds(4)
    track = encode(schedule, 44_100)
    assert len(track) == 4 * 44_100
    assert np.any(track[-20:] != 0)


def test_tones_that_overlap_are_a_mistake_of_ours():
    words = (SHOW.words[0], replace(SHOW.words[0], id="again"))
    with pytest.raises(ValueError, match="overlaps"):
        encode(replace(SHOW, words=words), 48_000)
