"""The symbols and their waveform, against the published table and a Fourier transform."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from thundersheet.base.time import Span
from thundersheet.track.symbols import (
    SYMBOLS,
    Voice,
    amplitudes,
    frequencies,
    level_and_twist,
    rise,
    write_tone,
)

# ITU-T Q.23 (11/1988), table as printed in secondary sources.
Q23 = {
    "1": (697, 1209), "2": (697, 1336), "3": (697, 1477), "A": (697, 1633),
    "4": (770, 1209), "5": (770, 1336), "6": (770, 1477), "B": (770, 1633),
    "7": (852, 1209), "8": (852, 1336), "9": (852, 1477), "C": (852, 1633),
    "*": (941, 1209), "0": (941, 1336), "#": (941, 1477), "D": (941, 1633),
}  # fmt: skip


def test_there_are_sixteen_symbols_and_each_once():
    assert sorted(SYMBOLS) == sorted(Q23)


@pytest.mark.parametrize("symbol", Q23)
def test_frequencies_are_those_of_q23(symbol):
    assert frequencies(symbol) == Q23[symbol]


@pytest.mark.parametrize("symbol", Q23)
def test_spectrum_of_a_written_tone_peaks_at_its_two_frequencies(symbol):
    tone = write_tone(symbol, Span.seconds(1), 8000, Voice(ramp=Span(0)))
    spectrum = np.abs(np.fft.rfft(tone))
    peaks = np.argsort(spectrum)[-2:]
    assert sorted(peaks) == list(Q23[symbol])


@pytest.mark.parametrize("level", [-40.0, -12.0, -3.02])
@pytest.mark.parametrize("twist", [-10.0, 0.0, 6.0])
def test_level_is_the_power_of_both_tones_against_a_full_scale_sine(level, twist):
    # Whole periods of both tones: 1 s. A sine that fills the scale has a mean square of 1/2.
    tone = write_tone("5", Span.seconds(1), 48_000, Voice(level, twist, Span(0)))
    assert 10 * np.log10(np.mean(tone.astype(float) ** 2) / 0.5) == pytest.approx(level, abs=1e-4)
    assert level_and_twist(*amplitudes(level, twist)) == pytest.approx((level, twist))


def test_loudest_tone_without_clipping_is_three_decibels_down():
    tone = write_tone("D", Span.seconds(2), 48_000, Voice(-3.0103, 0.0, Span(0)))
    assert 0.99 < np.abs(tone).max() <= 1.0


def test_tone_starts_and_ends_at_nothing_and_is_half_way_up_at_half_ramp():
    ramp = Span.ms(4)
    assert list(rise(np.array([-1.0, 0.0, 0.002, 0.004, 1.0]), ramp.s)) == pytest.approx(
        [0, 0, 0.5, 1, 1]
    )
    tone = write_tone("1", Span.ms(50), 48_000, Voice(ramp=ramp))
    assert len(tone) == 2400
    assert abs(tone[0]) < 1e-6
    assert abs(tone[-1]) < 1e-3


def test_late_tone_is_the_same_sound_between_the_samples():
    # Ten times the rate, every tenth sample: a delay of 0.3 samples is three of the fine ones.
    voice = Voice(ramp=Span.ms(3))
    fine = write_tone("8", Span.ms(50), 480_000, voice)
    late = write_tone("8", Span.ms(50), 48_000, voice, late=0.3)
    np.testing.assert_allclose(late[1:2400], fine[7::10][:2399], atol=1e-6)


def test_naming_a_symbol_loads_no_numpy():
    code = "import sys, thundersheet.track.symbols; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
