"""Our tones at 50/50 through the codecs people use, to the night's receiver and to two others.

Coders: ffmpeg 5.1 (AAC), lame 3.100, opusenc 0.2. Receivers: multimon-ng 1.2, libspandsp 0.0.6.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from sounds import (
    RATE,
    aac,
    build_spandsp,
    digits_by_multimon,
    digits_by_spandsp,
    mp3,
    noise,
    opus,
    programme,
    read,
    score,
    series,
    tool,
    write,
)

from thundersheet.base.time import Span
from thundersheet.track.live.hear import Ear, LiveTone, News
from thundersheet.track.live.thin import sixteen_bits
from thundersheet.track.receive import listen


class _Heard:
    """As `score` wants it."""

    def __init__(self, tones: tuple[LiveTone, ...]) -> None:
        self.tones = tones


def live(sound: np.ndarray) -> News:
    ear = Ear(RATE, Span.ms(3))
    first, last = ear.push(sixteen_bits(np.asarray(sound, np.float32))), ear.flush()
    return News(first.begun + last.begun, first.ended + last.ended)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Tones and the programme of the other channel."""
    folder = tmp_path_factory.mktemp("made")
    return series(seconds=20), programme(folder, 20)


@pytest.fixture(scope="module")
def spandsp(tmp_path_factory):
    return build_spandsp(tmp_path_factory.mktemp("spandsp"))


@pytest.mark.parametrize(
    ("through", "kbit"), [(aac, 128), (aac, 96), (mp3, 128), (opus, 96), (opus, 64)]
)
def test_no_tone_is_lost_or_invented_in_a_codec_and_the_peers_agree(
    tmp_path, made, spandsp, through, kbit
):
    written, beside = made
    right = through(tmp_path, np.stack([beside, written.sound], axis=1), kbit)[:, 1]
    got = score(_Heard(live(right).begun), written)
    assert got.clean
    assert got.rms_ms < 0.45
    wav = write(tmp_path / "right.wav", right)
    # Cheap receivers ask for 40 ms of tone and of gap: these have 50.
    assert digits_by_multimon(tmp_path, wav) == written.symbols
    said = digits_by_spandsp(spandsp, wav)
    if (through, kbit) == (aac, 96):  # libspandsp loses one of 198 here; we lose none
        assert len(written.symbols) - 2 <= len(said) <= len(written.symbols)
    else:
        assert said == written.symbols


def test_lengths_levels_and_twist_are_about_right(made):
    written, _ = made
    tones = live(written.sound).ended
    assert np.abs(np.array([tone.length_s for tone in tones]) - 0.05).max() < 0.005
    assert [tone.level_dbfs for tone in tones] == pytest.approx([-12.0] * len(tones), abs=0.7)
    assert [tone.twist_db for tone in tones] == pytest.approx([0.0] * len(tones), abs=1.2)


def test_the_files_receiver_hears_the_same_to_a_millisecond_and_a_half(made):
    written, _ = made
    noisy = written.sound + noise(len(written.sound), -32)
    ours, theirs = live(noisy).begun, listen(noisy, RATE).tones
    assert [tone.symbol for tone in ours] == [tone.symbol for tone in theirs]
    apart = [a.onset_s - b.onset_s for a, b in zip(ours, theirs, strict=True)]
    assert np.abs(apart).max() < 0.0015


def test_no_digit_in_speech_and_music(tmp_path):
    assert live(programme(tmp_path, 60)).begun == ()


def test_no_digit_in_noise_or_hum():
    seconds = np.arange(20 * RATE) / RATE
    hum = sum(0.3 / k * np.sin(2 * np.pi * 50 * k * seconds) for k in range(1, 40))
    assert live(noise(20 * RATE, -12)).begun == ()
    assert live(np.asarray(hum, np.float32)).begun == ()


PROMPTS = Path("/usr/share/asterisk/sounds")


@pytest.mark.soak
@pytest.mark.skipif(not PROMPTS.is_dir(), reason="Debian's asterisk-core-sounds-*-wav is not here")
def test_telephone_prompts_give_at_most_two_digits_an_hour(tmp_path):
    ear, found, seconds = Ear(8000), 0, 0.0
    for number, path in enumerate(sorted(PROMPTS.rglob("*.wav"))):
        level = tmp_path / f"{number}.wav"
        tool("sox", path, "-r", 8000, "-b", 16, level, "gain", "-n", -3)
        sound, _ = soundfile.read(level, dtype="int16")
        found += len(ear.push(sound).begun)
        seconds += len(sound) / 8000
    assert seconds > 600
    assert found <= max(1, 2 * seconds / 3600)


@pytest.mark.soak
def test_an_hour_of_noise_in_the_band_gives_no_digit(tmp_path):
    # sox makes the noise and the band: as near to digits as noise can be.
    out = tmp_path / "noise.wav"
    made = ("synth", 3600, "whitenoise", "sinc", "600-1750", "gain", "-n", -3)
    tool("sox", "-R", "-n", "-r", RATE, "-b", 16, "-c", 1, out, *made)
    assert live(read(out)).begun == ()
