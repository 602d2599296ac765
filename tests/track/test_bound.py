"""The bound on onsets against an independent derivation: the likelihood's own curvature."""

from __future__ import annotations

import numpy as np
import pytest

from thundersheet.base.time import Span
from thundersheet.track.bound import onset_bound
from thundersheet.track.symbols import Voice

VOICE = Voice(ramp=Span.ms(3))


def bound(snr_db=20.0, voice=VOICE, rate=48_000, **how):
    return onset_bound("5", Span.ms(50), voice, snr_db, rate, **how)


def test_bound_grows_tenfold_for_20_decibels_of_noise():
    assert bound(0) == pytest.approx(10 * bound(20))


def test_bound_depends_on_the_density_of_the_noise_alone():
    # Twice the rate, 3 dB less: the same noise in each hertz.
    assert bound(20 - 10 * np.log10(2), rate=96_000) == pytest.approx(bound(20), rel=0.01)


def test_what_is_unknown_costs():
    assert bound(speed_known=False) > bound()


def test_steeper_ramp_is_known_better():
    steep, slow = (bound(voice=Voice(ramp=Span.ms(ms))) for ms in (1, 6))
    assert steep < bound() < slow


def test_long_tone_comes_near_the_closed_form_for_known_levels():
    # With levels and phases known: var(u) = sigma^2 / integral of (r' s)^2 fs, both tones alike;
    # the mean of r'^2 over a raised cosine of T is pi^2 / (8 T^2), so the integral is
    # pi^2 P / (8 T) with P the power of the tone (Kay, 1993, 3.11).
    ramp_s, snr, rate = 0.003, 100.0, 48_000
    known = np.sqrt(1 / (snr * rate * np.pi**2 / (8 * ramp_s)))
    found = onset_bound("5", Span.seconds(1), VOICE, 20.0, rate)
    assert known < found < 1.5 * known
