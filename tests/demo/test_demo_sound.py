from dataclasses import replace

import numpy as np
import pytest
from demo_samples import read_short

from thundersheet.base.finding import Refusal
from thundersheet.base.time import Span, Time
from thundersheet.book.read import read_book
from thundersheet.demo.books import EXAMPLES, example_folder
from thundersheet.demo.clockmaker import BELLS_HZ, bell_names
from thundersheet.demo.instruments import RATE, bell, clank, clap, knock, ratchet, slam, tick
from thundersheet.demo.programme import make_sound
from thundersheet.demo.score import Sheet, events, times

MS = RATE // 1000
WITHIN_MS = 2.0
"""The measure's own window; below, what lies exactly on its sample is held to the sample."""


def onset_error_ms(sound: np.ndarray, beat_s: float) -> float:
    """Where the sharpest rise of the sound's upper half lies, against the beat.

    It knows nothing of how the sound was made: the ratio of the energy of the first difference in
    the 2 ms after an instant to that in the 5 ms before; the last instant at which it is high.
    """
    middle = round(beat_s * RATE)
    near = sound[middle - 40 * MS : middle + 40 * MS].sum(axis=1).astype(np.float64)
    energy = np.concatenate([[0.0], np.cumsum(np.diff(near) ** 2)])
    at = np.arange(10 * MS, len(near) - 10 * MS)
    after = energy[at + 2 * MS] - energy[at]
    before = (energy[at] - energy[at - 5 * MS]) / 2.5
    rise = after / (before + 1e-3 * after.max())
    last = np.flatnonzero(rise >= 0.85 * rise.max())[-1]
    return float(at[last] - 40 * MS) / MS


@pytest.fixture(scope="module")
def shows():
    books = [read_book(str(example_folder(name) / "book.yaml")) for name in EXAMPLES]
    return [(book, make_sound(book)) for book in books]


def test_the_sound_is_as_long_as_the_show_and_below_full_scale(shows):
    for book, sound in shows:
        assert sound.shape == (book.show.length.sample(RATE), 2)
        assert np.abs(sound).max() == pytest.approx(10 ** (-1 / 20), abs=1e-3)


LAMP_ROOM_HITS = [("shutter", "out"), ("shutter", "back"), ("lens", "out"), ("knocker", "strike")]


@pytest.mark.parametrize(("device", "action"), LAMP_ROOM_HITS)
def test_hits_of_the_lamp_room_start_on_their_beats(shows, device, action):
    book, sound = shows[0]
    beats = times(events(book), device, action)
    assert beats
    for beat in beats:
        assert abs(onset_error_ms(sound, beat)) <= WITHIN_MS, (device, beat)


STRUCK = [knock, slam, clap, clank, ratchet, lambda _rng: bell(440.0), lambda _rng: tick(True)]


@pytest.mark.parametrize("make", STRUCK)
def test_struck_sounds_are_loudest_at_their_very_first_sample(make):
    sound = np.abs(make(np.random.default_rng(3)))
    assert sound[0] >= 0.7 * sound.max()


def test_a_sound_is_laid_with_its_first_sample_on_the_beats_sample():
    sheet = Sheet(Time.seconds(1))
    sheet.lay(np.ones(100, np.float32), Time(123_456_789))
    # 0.123456789 s at 48 kHz is sample 5925.93, nearest 5926.
    assert np.flatnonzero(sheet.samples.any(axis=1))[[0, -1]].tolist() == [5926, 6025]


def test_all_strikes_of_the_tune_start_on_the_grid_of_the_music(shows):
    # 96 counts a minute from 0:24 on: a count lasts 0.625 s, and the tune moves in half counts.
    book, sound = shows[1]
    strikes = sorted({e.at.s for e in events(book) if e.device in bell_names(book)})
    assert len(strikes) >= 50
    for strike in strikes:
        assert ((strike - 24.0) / 0.3125) % 1 == pytest.approx(0, abs=1e-6)
        assert abs(onset_error_ms(sound, strike)) <= WITHIN_MS, strike


def test_the_bells_are_g4_to_g5_in_equal_temperament():
    # ISO 16: A4 is 440 Hz; equal temperament: 2^(1/12) a semitone. G4 is two semitones below A4.
    semitones = (-2, 0, 2, 3, 5, 7, 8, 10)
    assert pytest.approx([440 * 2 ** (n / 12) for n in semitones], abs=0.01) == BELLS_HZ
    for hz in BELLS_HZ:
        spectrum = np.abs(np.fft.rfft(bell(hz)))
        assert np.argmax(spectrum) / 2.4 == pytest.approx(hz, abs=0.5)


def test_the_same_book_sounds_the_same_every_time(shows):
    book, sound = shows[0]
    assert np.array_equal(make_sound(book), sound)


def test_a_beat_that_is_moved_takes_its_sound_with_it(tmp_path):
    book = read_short(tmp_path)
    later = [replace(beat, at=beat.at + Span.ms(123)) for beat in book.beats]
    moved = make_sound(replace(book, beats=tuple(later)))
    assert abs(onset_error_ms(moved, 3.337 + 0.123)) <= 0.5


def test_a_show_without_a_demo_programme_is_refused_in_words(tmp_path):
    book = read_short(tmp_path)
    with pytest.raises(Refusal, match=r"no demo programme for the show 'Else'.*DEMO-01"):
        make_sound(replace(book, show=replace(book.show, name="Else")))
