"""No digit where none was written: speech by espeak-ng, music by sox, noise, hum and clicks."""

from __future__ import annotations

import numpy as np
import pytest
from sounds import RATE, noise, programme, read, tool

from thundersheet.track.receive import listen


@pytest.fixture(scope="module")
def loud(tmp_path_factory):
    return programme(tmp_path_factory.mktemp("loud"), 30)


@pytest.fixture(scope="module")
def counting(tmp_path_factory):
    """A voice that says digits."""
    wav = tmp_path_factory.mktemp("counting") / "voice.wav"
    words = "one two three four five six seven eight nine zero star hash. " * 4
    tool("espeak-ng", "-w", wav, "-s", 140, words)
    tool("sox", wav, "-r", RATE, wav.with_name("48.wav"), "gain", "-n", -3)
    return read(wav.with_name("48.wav"))


def brown(count):
    walk = np.cumsum(noise(count, -20, 3), dtype=np.float64)
    return np.asarray(walk / np.abs(walk).max(), np.float32)


def mains(count):
    seconds = np.arange(count) / RATE
    buzz = sum(0.3 / k * np.sin(2 * np.pi * 50 * k * seconds) for k in range(1, 40))
    return np.asarray(buzz, np.float32)


def clicks(count):
    return np.asarray(np.random.default_rng(4).random(count) < 3 / RATE, np.float32)


SOUNDS = {
    "silence": lambda count: np.zeros(count, np.float32),
    "white noise": lambda count: noise(count, -20),
    "dither": lambda count: np.random.default_rng(5).integers(-1, 2, count).astype(np.int16),
    "brown noise": brown,
    "mains buzz": mains,
    "clicks": clicks,
}


@pytest.mark.parametrize("shared", [False, True])
@pytest.mark.parametrize("what", SOUNDS)
def test_what_is_no_tone_gives_no_digit(what, shared):
    assert listen(SOUNDS[what](30 * RATE), RATE, shared=shared).tones == ()


@pytest.mark.parametrize("shared", [False, True])
def test_speech_and_music_give_no_digit(loud, shared):
    assert listen(loud, RATE, shared=shared).tones == ()


@pytest.mark.parametrize("shared", [False, True])
def test_a_voice_that_says_digits_gives_none(counting, shared):
    assert listen(counting, RATE, shared=shared).tones == ()


def test_one_sine_alone_is_no_digit():
    seconds = np.arange(5 * RATE) / RATE
    bursts = np.sin(2 * np.pi * 770 * seconds) * (seconds % 0.1 < 0.05)
    assert listen(np.asarray(0.3 * bursts, np.float32), RATE).tones == ()


def test_steady_pair_of_tones_that_neither_begins_nor_ends_is_no_digit():
    seconds = np.arange(20 * RATE) / RATE
    pair = 0.2 * (np.sin(2 * np.pi * 770 * seconds) + np.sin(2 * np.pi * 1336 * seconds))
    heard = listen(np.asarray(pair, np.float32), RATE, shared=True).tones
    assert len(heard) <= 1


@pytest.mark.soak
@pytest.mark.parametrize("shared", [False, True])
def test_an_hour_of_white_noise_gives_no_digit(shared):
    for part in range(12):
        sound = noise(300 * RATE, -20, 100 + part)
        assert listen(sound, RATE, shared=shared).tones == ()
