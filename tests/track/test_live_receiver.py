"""The night's receiver at the edges that ITU-T Q.24 draws, and its two forms against each other.

Q.24's figures are from a secondary source: accept tones up to 1.5 % off and 40 ms long, reject
from 3.5 % off and under 23 ms, two digits for a pause of 40 ms, one across a break of 10 ms, the
high tone 4 dB above to 8 dB below the low one, each from 0 to -25 dBm.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from live_trials import Trial, corners, downs, failures, play

from thundersheet.track.live import tables as t
from thundersheet.track.live.bank import PlainReceiver
from thundersheet.track.live.swift import SwiftReceiver

OFF = (0.015, 0.015)
MUST = {
    "40 ms is a digit, each tone 1.5 % off": (Trial(((0, 40),), offset=OFF), 1),
    "40 ms is a digit, on its frequencies": (Trial(((0, 40),)), 1),
    "23 ms is none": (Trial(((0, 23),)), 0),
    "23 ms is none, each tone 1.5 % off": (Trial(((0, 23),), offset=OFF), 0),
    "a pause of 40 ms gives two": (Trial(((0, 40), (80, 120)), offset=OFF), 2),
    "a break of 10 ms gives one": (Trial(((0, 40), (50, 90)), offset=OFF), 1),
    "the low tone 3.5 % off is none": (Trial(((0, 100),), offset=(0.035, 0)), 0),
    "the high tone 3.5 % off is none": (Trial(((0, 100),), offset=(0, 0.035)), 0),
}
MARGIN = {
    "36 ms": (Trial(((0, 36),), offset=OFF), 1),
    "24 ms is none": (Trial(((0, 24),), offset=OFF), 0),
    "1.8 % off, what Q.23 lets a sender be": (Trial(((0, 40),), offset=(0.018, 0.018)), 1),
    "3 % off is none": (Trial(((0, 100),), offset=(0.03, 0.0)), 0),
    "a pause of 32 ms": (Trial(((0, 40), (72, 112)), offset=OFF), 2),
    "a break of 12 ms": (Trial(((0, 40), (52, 92)), offset=OFF), 1),
}


@pytest.mark.parametrize("name", MUST)
def test_q24_holds_at_every_corner_of_level_twist_and_noise(name):
    trial, wanted = MUST[name]
    for seed, corner in enumerate(corners(trial)):
        assert failures(corner, wanted, 30, seed) == 0, corner


@pytest.mark.parametrize("name", MARGIN)
def test_there_is_margin_beyond_what_is_asked(name):
    trial, wanted = MARGIN[name]
    for seed, corner in enumerate(corners(trial, (None, 24))):
        assert failures(corner, wanted, 30, seed) == 0, corner


@pytest.mark.soak
@pytest.mark.parametrize("name", MUST)
def test_q24_holds_a_hundred_thousand_times(name):
    trial, wanted = MUST[name]
    for number in range(14):
        for seed, corner in enumerate(corners(trial)):
            assert failures(corner, wanted, 400, 1000 + 100 * number + seed) == 0, corner


@pytest.mark.parametrize("twist", [-10, 5])
@pytest.mark.parametrize("level", [0, -15])
def test_level_and_twist_reach_beyond_the_recommendation(level, twist):
    assert failures(Trial(((0, 50),), level_db=level, twist_db=twist, offset=OFF), 1, 100) == 0


@pytest.mark.parametrize("twist", [-16, 8])
def test_one_loud_tone_with_a_weak_one_is_no_digit(twist):
    assert failures(Trial(((0, 100),), twist_db=twist), 0, 100) == 0


def test_at_ten_decibels_of_noise_no_digit_of_50_ms_is_lost():
    assert failures(Trial(((0, 50),), snr_db=10), 1, 300) == 0


@pytest.mark.parametrize(
    ("trial", "rms_ms", "worst_ms"),
    [
        (Trial(((0, 50),)), 0.40, 1.6),
        (Trial(((0, 50),), ramp_ms=3), 0.30, 1.2),
        (Trial(((0, 50),), snr_db=15), 0.55, 2.5),
        (Trial(((0, 50),), offset=OFF, ramp_ms=3), 0.45, 2.0),
    ],
)
def test_the_age_is_truer_than_the_sketch_whose_error_was_0_63_ms(trial, rms_ms, worst_ms):
    # The reference receiver's sketch: 0.63 ms standard deviation, clean and without ramps.
    played = play(trial, 600)
    events = [slot[0] for slot in downs(played)]
    middles = played.onsets + trial.ramp_ms * 4
    errors = np.array([(e.hop + 1) * t.HOP - e.age / 8 for e in events]) - middles
    errors_ms = errors / 8
    assert np.sqrt(np.mean(errors_ms**2)) < rms_ms
    assert np.abs(errors_ms).max() < worst_ms


@pytest.mark.parametrize("off", [0.0, 0.015])
def test_a_digit_is_known_within_36_ms_so_that_a_front_end_of_1_ms_keeps_37(off):
    for corner in corners(Trial(((0, 60),), offset=(off, off)), (None, 24)):
        played = play(corner, 100)
        known = [(slot[0].hop + 1) * t.HOP for slot in downs(played)]
        assert (np.array(known) - played.onsets).max() / 8 < 36.0


def test_a_pair_of_tones_without_an_attack_of_its_own_is_no_digit():
    # A chord whose other notes die away, as in music.
    seconds = np.arange(4 * t.RATE) / t.RATE
    pair = sum(400 * np.sin(2 * np.pi * hertz * seconds) for hertz in (770, 1336))
    other = 1000 * np.exp(-2 * seconds) * np.sin(2 * np.pi * 440 * seconds)
    assert SwiftReceiver().push(np.round(pair + other).astype(np.int64)) == []


def _sound(seed: int, kind: str) -> np.ndarray:
    """Half a second of something."""
    rng = np.random.default_rng(seed)
    count = 4000
    if kind == "square":
        wave = np.sin(2 * np.pi * rng.choice([697, 941, 1209, 1633]) * np.arange(count) / 8000)
        return np.where(wave >= 0, 2047, -2048)
    if kind == "noise":
        return rng.integers(-2048, 2048, count)
    snr = float(rng.uniform(3, 30))
    bursts = ((0, 40), (rng.uniform(45, 90), 130))
    return play(Trial(bursts, snr_db=snr, ramp_ms=rng.uniform(0, 5)), 2, seed).sound


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    seed=st.integers(0, 10**6),
    kinds=st.lists(st.sampled_from(["tones", "tones", "square", "noise"]), min_size=1, max_size=2),
    pieces=st.lists(st.integers(0, 3000), max_size=6),
)
def test_the_numpy_twin_gives_the_plain_loops_events_to_the_bit(seed, kinds, pieces):
    sound = np.concatenate([_sound(seed + n, kind) for n, kind in enumerate(kinds)])
    twin, events = SwiftReceiver(), []
    cuts = [0, *np.cumsum(pieces).tolist(), len(sound)]
    for start, end in pairwise(cuts):
        events += twin.push(sound[start:end])
    assert events == PlainReceiver().push(sound[: max(cuts)])


@pytest.mark.soak
def test_the_twin_gives_the_plain_loops_events_over_ten_minutes():
    parts = [
        play(replace(c, ramp_ms=ramp), 60, 9).sound
        for c in corners(Trial(((0, 41), (80, 120))), (None, 20, 8))
        for ramp in (0, 3, 6)
    ]
    sound = np.concatenate(parts)
    assert len(sound) > 600 * t.RATE
    assert SwiftReceiver().push(sound) == PlainReceiver().push(sound)


@pytest.mark.parametrize("step", t.STEPS)
def test_no_sound_at_all_overflows_the_words(step):
    # The worst sound for a tone is the full-scale square that follows its sine at any phase.
    weights = np.repeat([1, 2, 2, 1], t.HOP)
    cosine = np.array(t.COSINE)
    starts = np.arange(0, 65536, 64)[:, None]
    rows = np.abs(cosine[((starts + step * np.arange(4 * t.HOP)) & 0xFFFF) >> 8])
    hop = 2048 * rows[:, : t.HOP].sum(1).max()
    assert hop < 2**24
    b = hop / 256 + 1
    assert b < 2**15
    z = (2048 * (rows * weights).sum(1).max() / 256 + 6) / 4
    assert z < 2**15
    # By a rotation of the axes |z| is bounded as one part is; D, X and 2 |z|^2 / 32 follow.
    assert z * z < 2**30
    q = z * z / 32
    assert 20 * q < 2**31
    assert 16 * 2 * q < 2**31
    assert 64 * z * z / 256 < 2**31
    assert z * z / 256 * max(t.TURNS) < 2**31
    assert q * 64 < 2**32
    assert t.HOP * 2048 * 2048 < 2**27
    assert 6 * t.HOP * 2048 * 2048 / 32 < 2**25
    assert t.KEPT * 2 * 2**16 * 8 * t.HOP < 2**31


def test_the_numbers_are_those_of_the_frequencies():
    # ITU-T Q.23 (secondary source) by the formulas in docs/reference/live-receiver.md.
    hertz = (697, 770, 852, 941, 1209, 1336, 1477, 1633)
    assert tuple(round(f * 65536 / 8000) for f in hertz) == t.STEPS
    turns = [
        round(64 * np.tan(2 * np.pi * f * 0.0255 * lag * 30 / 8000))
        for f, lag in zip(hertz, t.LAGS, strict=True)
    ]
    assert tuple(turns) == t.TURNS
    assert all(-127 <= s <= 127 for s in t.SINE)
