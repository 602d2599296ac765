"""The front end: to the bit what its formula says, flat where tones are, deaf above 4 kHz."""

from __future__ import annotations

from hashlib import sha256
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sounds import RATE, read, series, tool, write

from thundersheet.track.live.hear import Ear
from thundersheet.track.live.thin import Thin, coefficients, sixteen_bits


def plainly(x: list[int], rate: int) -> list[int]:
    """y[m] as receiver.md and the docstring have it, sum by sum."""
    up, down = {48_000: (1, 6), 44_100: (80, 441), 16_000: (1, 2)}[rate]
    table = coefficients(rate).tolist()
    out = []
    for m in range(-(-len(x) * up // down)):
        newest, phase = divmod(m * down, up)
        total = sum(c * x[newest - k] for k, c in enumerate(table[phase]) if newest >= k)
        out.append(max(-2048, min(2047, (total + (1 << 18)) >> 19)))
    return out


@pytest.mark.parametrize("rate", [48_000, 44_100, 16_000])
@settings(max_examples=8, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6), pieces=st.lists(st.integers(0, 900), min_size=1, max_size=5))
def test_whatever_the_pieces_each_sample_is_that_of_the_formula(rate, seed, pieces):
    x = np.random.default_rng(seed).integers(-32768, 32768, sum(pieces))
    thin, cuts = Thin(rate), np.cumsum([0, *pieces]).tolist()
    parts = [thin.push(x[a:b]).tolist() for a, b in pairwise(cuts)]
    assert [x for part in parts for x in part] == plainly(x.tolist(), rate)


def test_at_8_khz_sixteen_bits_are_rounded_to_twelve():
    assert Thin(8000).push([-32768, -9, -8, 7, 8, 32767]).tolist() == [-2048, -1, 0, 0, 1, 2047]


@pytest.mark.parametrize(
    ("rate", "digest"),
    [
        (48_000, "ce1ce6d1efecd7ae"),
        (44_100, "be2799a38ccaf334"),
    ],
)
def test_the_coefficients_are_the_same_on_every_machine(rate, digest):
    table = coefficients(rate)
    assert sha256(table.astype("<i4").tobytes()).hexdigest()[:16] == digest
    # Sums of products of 16-bit samples stay within 32 bits, signed, the rounding included.
    assert np.abs(table).sum(1).max() * 32768 + (1 << 18) < 2**31


@pytest.mark.parametrize("rate", [48_000, 44_100, 96_000])
def test_tones_pass_within_a_tenth_of_a_decibel_and_nothing_comes_from_above_4_khz(rate):
    table = coefficients(rate)
    fine = table.T.ravel() / 32768 / len(table)
    hertz = np.concatenate([np.linspace(650, 1690, 60), np.linspace(4000, rate / 2, 300)])
    seconds = np.arange(len(fine)) / (rate * len(table))
    gain_db = 20 * np.log10(np.abs(np.exp(-2j * np.pi * hertz[:, None] * seconds) @ fine))
    assert np.abs(gain_db[:60]).max() < 0.1
    assert gain_db[60:].max() < -60


def test_the_same_sound_at_both_rates_gives_the_same_tones(tmp_path):
    # sox 14.4 makes 44.1 kHz of 48.
    written = series(seconds=6)
    write(tmp_path / "48.wav", written.sound)
    tool("sox", tmp_path / "48.wav", "-r", 44_100, tmp_path / "44.wav")
    import soundfile

    other, rate = soundfile.read(tmp_path / "44.wav", dtype="float32")
    one = Ear(RATE).push(sixteen_bits(read(tmp_path / "48.wav"))).begun
    two = Ear(rate).push(sixteen_bits(other)).begun
    assert "".join(tone.symbol for tone in one) == written.symbols
    assert [tone.symbol for tone in two] == [tone.symbol for tone in one]
    # The grids of hops lie differently by 8 µs: nearly the same looks, nearly the same ages.
    apart = [abs(a.onset_s - b.onset_s) for a, b in zip(one, two, strict=True)]
    assert max(apart) < 0.0002
