"""A schedule made sound: every tone at its sample, silence elsewhere.

In: a schedule and a sample rate. Out: one channel of float32 samples, the same bytes each time. It
opens no file (`media` does) and decides nothing: where and what is the schedule's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thundersheet.model.show import CueTrack
from thundersheet.plan.schedule import Schedule
from thundersheet.track.symbols import Voice, write_tone

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def voice_of(style: CueTrack) -> Voice:
    """How the tones of a style sound."""
    return Voice(level_dbfs=style.level_db, ramp=style.ramp)


def encode(schedule: Schedule, rate: int) -> NDArray[np.float32]:
    """The cue track from 0:00 to the programme's end.

    The first sample of each attack is `onset.sample(rate)`. ValueError when a tone would clip,
    overlap another or leave the programme: a schedule of `lay_out` has none of these.
    """
    import numpy as np

    voice = voice_of(schedule.style)
    track = np.zeros(schedule.length.sample(rate), dtype=np.float32)
    known = {symbol for word in schedule.words for symbol in word.symbols}
    sounds = {s: write_tone(s, schedule.style.tone, rate, voice) for s in sorted(known)}
    if any(float(np.abs(sound).max()) > 1.0 for sound in sounds.values()):
        raise ValueError("a tone at this level clips")
    free = 0
    for word in schedule.words:
        for symbol, onset in zip(word.symbols, word.tone_onsets, strict=True):
            start, sound = onset.sample(rate), sounds[symbol]
            # The last tone may round to one sample beyond the end.
            end = min(start + len(sound), len(track) + 1)
            if start < free or end < start + len(sound):
                raise ValueError("a tone overlaps another or leaves the programme")
            track[start:end] = sound[: len(track) - start]
            free = end
    return track
