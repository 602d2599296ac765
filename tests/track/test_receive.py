"""The receiver against tones whose every figure is known, whole and damaged.

The limits are the targets of the project's reference on control tones or better; the tones are
laid between samples with random phases, so no agreement is owed to a common grid.
"""

from __future__ import annotations

import numpy as np
import pytest
from sounds import RATE, Pattern, noise, score, series

from thundersheet.base.time import Span, Time
from thundersheet.track.bound import onset_bound
from thundersheet.track.receive import listen
from thundersheet.track.symbols import Voice, write_tone

ONE_SAMPLE_MS = 1000 / RATE


def heard(written, **how):
    return listen(written.sound, written.rate, **how)


@pytest.mark.parametrize("ramp_ms", [1, 2, 3, 5, 8])
def test_every_onset_is_right_within_a_sample_though_nobody_says_the_ramp(ramp_ms):
    written = series(voice=Voice(ramp=Span.ms(ramp_ms)), seconds=20)
    result = heard(written)
    got = score(result, written)
    assert got.clean
    assert got.worst_ms < ONE_SAMPLE_MS
    assert result.ramp_s == pytest.approx(ramp_ms / 1000, abs=5e-5)
    assert [tone.length_s for tone in result.tones] == pytest.approx(
        [0.05] * len(result.tones), abs=4e-5
    )


def test_tone_without_a_ramp_is_placed_too():
    written = series(voice=Voice(ramp=Span(0)), seconds=20)
    got = score(heard(written), written)
    assert got.clean
    assert got.rms_ms < 0.025
    assert got.worst_ms < 0.5


@pytest.mark.parametrize("snr_db", [40, 30, 20, 10, 0])
def test_onsets_are_within_half_again_of_the_bound_in_white_noise(snr_db):
    # Cramér-Rao, level and phase of both tones unknown: derived in track/bound.py after Kay, 1993.
    voice = Voice(ramp=Span.ms(3))
    written = series(voice=voice, seconds=40, snr_db=snr_db)
    got = score(heard(written, ramp=voice.ramp), written)
    bound = [onset_bound(symbol, Span.ms(50), voice, snr_db, RATE) for symbol in "159D"]
    assert got.clean
    assert got.rms_ms < 1.5 * 1000 * np.sqrt(np.mean(np.square(bound)))


@pytest.mark.parametrize("snr_db", [20, 0])
def test_said_spread_of_an_onset_is_the_real_one(snr_db):
    written = series(seconds=40, snr_db=snr_db)
    result = heard(written, ramp=Span.ms(3))
    said = 1000 * np.sqrt(np.mean([tone.onset_sd_s**2 for tone in result.tones]))
    assert score(result, written).rms_ms == pytest.approx(said, rel=0.35)


def test_tones_of_one_length_are_known_better_than_their_attacks_alone_allow():
    # Both ends weigh alike: the root of a half of what the bound for the attack permits.
    voice = Voice(ramp=Span.ms(3))
    written = series(voice=voice, seconds=60, snr_db=20)
    bound = [onset_bound(symbol, Span.ms(50), voice, 20, RATE) for symbol in "159D"]
    alone = 1000 * np.sqrt(np.mean(np.square(bound)))
    assert score(heard(written), written).rms_ms < 0.8 * alone


def test_length_of_each_tone_stays_its_own_where_lengths_differ():
    rng = np.random.default_rng(3)
    lengths = rng.uniform(0.045, 0.055, 100)
    parts = [np.zeros(2400, np.float32)]
    for length in lengths:
        parts += [write_tone("8", Span.seconds(length), RATE, Voice()), parts[0]]
    result = listen(np.concatenate(parts) + noise(sum(map(len, parts)), -50), RATE)
    assert [tone.length_s for tone in result.tones] == pytest.approx(lengths, abs=5e-5)


@pytest.mark.parametrize("ratio", [10, 0, -5])
def test_no_tone_is_lost_in_white_noise(ratio):
    assert score(*listened(series(seconds=30, snr_db=ratio))).clean


def listened(written, **how):
    return heard(written, **how), written


@pytest.mark.parametrize("rate", [8000, 11_025, 16_000, 22_050, 44_100, 96_000, 192_000])
def test_any_rate_is_heard_alike(rate):
    written = series(rate=rate, seconds=5, snr_db=40)
    got = score(*listened(written))
    assert got.clean
    assert got.rms_ms < 0.03


@pytest.mark.parametrize(("tone_ms", "gap_ms"), [(12, 8), (12, 20), (15, 10), (20, 8), (25, 25)])
def test_short_tones_and_short_gaps_are_told_apart(tone_ms, gap_ms):
    voice = Voice(ramp=Span.ms(2))
    got = score(*listened(series(tone_ms=tone_ms, gap_ms=gap_ms, voice=voice, snr_db=50)))
    assert got.clean
    assert got.rms_ms < 0.02


@pytest.mark.parametrize("speed", [-0.03, -0.01, 0.001, 0.03])
def test_speed_of_the_file_is_found_to_a_millionth_in_a_minute(speed):
    result, written = listened(series(speed=speed, seconds=60, snr_db=40))
    assert score(result, written).clean
    assert result.speed_ppm == pytest.approx(speed * 1e6, abs=1.0)
    assert result.speed_sd_ppm < 0.5


@pytest.mark.parametrize("level", [-70, -30, -3.02])
@pytest.mark.parametrize("twist", [-10, 0, 10])
def test_level_and_twist_are_told_to_a_tenth_of_a_decibel(level, twist):
    if twist and level > -6:
        level = -6
    written = series(voice=Voice(level, twist), seconds=5)
    sound = np.round(written.sound * 32767).astype(np.int16)
    result = listen(sound, RATE)
    assert score(result, written).clean
    # -70 dBFS is an amplitude of 7 steps of 16 bits, the weaker tone of a twist of 10 dB 3 steps.
    allow = 0.3 if level == -70 else 0.1
    assert [t.level_dbfs for t in result.tones] == pytest.approx(
        [level] * len(result.tones), abs=allow
    )
    assert [t.twist_db for t in result.tones] == pytest.approx(
        [twist] * len(result.tones), abs=allow
    )


def hum(count, hertz, amplitude=0.5):
    return np.asarray(amplitude * np.sin(2 * np.pi * hertz * np.arange(count) / RATE), np.float32)


DAMAGE = {
    "hum of 50 Hz at -6 dBFS": lambda x: x + hum(len(x), 50),
    "hum of 60 Hz at -6 dBFS": lambda x: x + hum(len(x), 60),
    "hum with its overtones": lambda x: x + sum(hum(len(x), 50 * k, 0.2 / k) for k in (1, 2, 3, 5)),
    "DC of 0.3": lambda x: x + np.float32(0.3),
    "echo of 20 ms at -10 dB": lambda x: x + np.roll(x, 960) * np.float32(10**-0.5),
    "clipped by 6 dB": lambda x: clipped(x, 6),
    "clipped by 12 dB": lambda x: clipped(x, 12),
    "clipped by 20 dB": lambda x: clipped(x, 20),
}


def clipped(sound, decibel):
    limit = np.abs(sound).max() * 10 ** (-decibel / 20)
    return np.clip(sound, -limit, limit)


@pytest.mark.parametrize("what", DAMAGE)
def test_damage_loses_and_invents_nothing(what):
    written = series(seconds=10, snr_db=60)
    damaged = DAMAGE[what](written.sound)
    got = score(listen(damaged, RATE), written)
    assert got.clean
    assert got.rms_ms < 0.15


def test_clipping_moves_no_onset_though_it_steepens_the_ramp_that_was_said():
    written = series(seconds=10, snr_db=60)
    got = score(listen(clipped(written.sound, 12), RATE, ramp=Span.ms(3)), written)
    assert abs(np.mean(got.errors_ms)) < 0.1


def test_channel_that_carries_the_tones_is_found_and_the_others_are_told_of():
    written = series(seconds=5)
    quiet = noise(len(written.sound), -40)
    result = listen(np.stack([quiet, written.sound, written.sound / 10], 1), RATE)
    assert result.channel in (1, 2)
    assert score(result, written).clean
    assert [e.tones for e in result.channels] == [0, len(written.symbols), len(written.symbols)]
    assert result.channels[1].level_dbfs - result.channels[2].level_dbfs == pytest.approx(
        20, abs=0.1
    )
    assert listen(np.stack([quiet, written.sound], 1), RATE, channel=0).tones == ()


def test_start_moves_the_timeline():
    written = series(seconds=1)
    plain = heard(written).tones
    moved = heard(written, start=Time.seconds(12.5)).tones
    assert [t.onset_s - 12.5 for t in moved] == pytest.approx([t.onset_s for t in plain])


def test_tone_at_the_very_first_and_very_last_sample_is_heard():
    written = series(seconds=2)
    first = round(written.onsets_s[0] * RATE)
    last = round((written.onsets_s[-1] + 0.05) * RATE) + 1
    result = listen(written.sound[first:last], RATE)
    assert "".join(t.symbol for t in result.tones) == written.symbols
    assert result.tones[0].onset_s == pytest.approx(written.onsets_s[0] - first / RATE, abs=1e-4)


@pytest.mark.parametrize("count", [0, 1, 100, 3000])
@pytest.mark.parametrize("rate", [8000, 48_000])
def test_sound_too_short_for_a_tone_gives_none(count, rate):
    result = listen(np.zeros(count, np.int16), rate)
    assert result.tones == ()
    assert result.speed_sd_ppm == float("inf")


@pytest.mark.parametrize("rate", [4000, 384_000])
def test_rate_beyond_the_range_is_refused_with_the_range(rate):
    with pytest.raises(ValueError, match="8000 to 192000"):
        listen(np.zeros(100, np.float32), rate)


def test_channel_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="channel 2 of a sound that has 2"):
        listen(np.zeros((100, 2), np.float32), 48_000, channel=2)


@pytest.mark.soak
@pytest.mark.parametrize("tone_ms", [12, 15, 20, 30, 50, 80, 200])
@pytest.mark.parametrize("gap_ms", [8, 12, 20, 50])
@pytest.mark.parametrize("seed", range(3))
def test_ladder_of_lengths_and_gaps(tone_ms, gap_ms, seed):
    voice = Voice(ramp=Span.ms(2))
    pattern = Pattern(60, tone_ms, gap_ms, voice=voice, snr_db=30, seed=seed)
    assert score(*listened(series(pattern))).clean
