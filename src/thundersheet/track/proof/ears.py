"""One ear a channel: what each channel of each sound track of a file carries.

In come the sound tracks of one file; out goes, for each channel, its tones, their level, what is
heard between them, and whether it was clipped or is a copy of its neighbour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from thundersheet.base.finding import Refusal
from thundersheet.base.time import Span
from thundersheet.track.media import Sound
from thundersheet.track.receive import Tone, listen
from thundersheet.track.receive.hear import RATES

if TYPE_CHECKING:
    from numpy.typing import NDArray

EXPLAINS = {
    "MEDIA-91": "Tones are heard in sound of 8000 to 192000 samples a second. Below, there is no "
    "room for their highest frequency; export the file again at 48000.",
}

QUIET_DBFS = -90.0
"""Level said of digital silence, so that no figure is minus infinity."""
WIDE_PACES = (1.045, 0.955)
"""Film against video is 4.2 %; with the receiver's own 3 % these reach from -7 to +7 %."""
FLAT_SHARE = 0.12
"""Of the samples of a tone, how many may lie within 1 % of its peak: two tones beating reach
0.02, and 0.14 when clipped by 3 dB (computed)."""


@dataclass(frozen=True)
class Ear:
    """What one channel carries."""

    sound: Sound
    channel: int
    """From 0."""
    tones: tuple[Tone, ...]
    speed_ppm: float | None
    """By the tones' pitch; positive is fast; None when nothing tells."""
    between_dbfs: float
    """RMS of what is heard where there is no tone."""
    flat: float
    """Share of the tones' samples that lie within 1 % of their peak."""

    @cached_property
    def level_dbfs(self) -> float:
        """Median level of the tones."""
        return float(np.median([tone.level_dbfs for tone in self.tones])) if self.tones else -90.0

    @property
    def clipped(self) -> bool:
        """Whether the tones' tops are flat."""
        return self.flat > FLAT_SHARE

    @property
    def side(self) -> str:
        """`left`, `right`, `only` or `channel 3`, as people call it."""
        if self.sound.channels == 1:
            return "only"
        return (
            ("left", "right")[self.channel] if self.channel < 2 else f"channel {self.channel + 1}"
        )


@dataclass(frozen=True)
class Ears:
    """All channels of all sound tracks of a file, and the one that carries the tones."""

    all: tuple[Ear, ...]
    chosen: Ear | None
    """The one with the most tones; the louder of two alike. None when there are no tones."""

    def twin(self) -> Ear | None:
        """Another channel of the same track that carries the same samples as the chosen one."""
        if self.chosen is None:
            return None
        mine = self.chosen
        others = (e for e in self.all if e.sound is mine.sound and e.channel != mine.channel)
        return next((other for other in others if _same(mine, other)), None)


def open_ears(
    sounds: Sequence[Sound], wanted: int = 1, ramp: Span | None = None
) -> tuple[Ears, ...]:
    """Listen on every channel of every sound track: one answer, as the file runs.

    `ramp` is the rise of the tones as written; None finds it from them.

    Where fewer than half of the `wanted` tones are heard, two more: beyond the receiver's own 3 %
    of speed, so that a file at film's or video's pace is named and not called empty. The rows of
    the keypad stand 10 % apart, so only the plan can tell which answer is right.
    """
    for sound in sounds:
        check_rate(sound)
    plain = _choose(_ears(sounds, 1.0, ramp))
    if plain.chosen and len(plain.chosen.tones) >= 0.5 * wanted:
        return (plain,)
    return (plain, *(_choose(_ears(sounds, pace, ramp)) for pace in WIDE_PACES))


def check_rate(sound: Sound) -> None:
    """Refuse a sound of a rate that the receiver does not take (MEDIA-91)."""
    if not RATES[0] <= sound.rate <= RATES[1]:
        raise Refusal.because(
            "MEDIA-91",
            f"The sound has {sound.rate} samples a second, and tones are heard from {RATES[0]} "
            f"to {RATES[1]}.",
            "Export it at 48000.",
        )


def _choose(ears: tuple[Ear, ...]) -> Ears:
    """The ear with the tones; of several, as after a leak or a sum, the clearest."""
    most = max((len(ear.tones) for ear in ears), default=0)
    if not most:
        return Ears(ears, None)
    likely = [ear for ear in ears if len(ear.tones) >= 0.8 * most]
    return Ears(ears, max(likely, key=lambda ear: ear.level_dbfs - ear.between_dbfs))


def _ears(sounds: Sequence[Sound], pace: float, ramp: Span | None) -> tuple[Ear, ...]:
    return tuple(_ear(sound, n, pace, ramp) for sound in sounds for n in range(sound.channels))


def _ear(sound: Sound, channel: int, pace: float, ramp: Span | None) -> Ear:
    """One channel, heard as if the file ran so many times too fast."""
    samples = sound.channel(channel)
    slowed = round(sound.rate / pace)
    heard = listen(*_within_earshot(samples, slowed), ramp=ramp)
    back = slowed / sound.rate
    tones = tuple(
        replace(tone, onset_s=sound.start_s + tone.onset_s * back, length_s=tone.length_s * back)
        for tone in heard.tones
    )
    inside = _inside(tones, sound, len(samples))
    return Ear(
        sound=sound,
        channel=channel,
        tones=tones,
        speed_ppm=((1 + heard.speed_ppm / 1e6) / back - 1) * 1e6 if tones else None,
        between_dbfs=_rms_dbfs(samples[~inside]),
        flat=_flat(samples, tones, sound),
    )


def _within_earshot(samples: NDArray[np.float32], rate: int) -> tuple[NDArray[np.float32], int]:
    """The sound at half or twice its rate where the receiver does not take that rate.

    A slowed sound of 8 or 192 kHz is heard only to name its speed: means of neighbours will do.
    """
    if rate > RATES[1]:
        pairs = samples[: len(samples) // 2 * 2].reshape(-1, 2)
        return pairs.mean(axis=1, dtype=np.float32), round(rate / 2)
    if rate < RATES[0]:
        steps = np.arange(max(0, 2 * len(samples) - 1)) / 2
        return np.interp(steps, np.arange(len(samples)), samples).astype(np.float32), 2 * rate
    return samples, rate


def _inside(tones: Sequence[Tone], sound: Sound, count: int) -> NDArray[np.bool_]:
    """Which samples belong to a tone, a few milliseconds around it included."""
    inside = np.zeros(count, dtype=bool)
    for tone in tones:
        start = tone.onset_s - sound.start_s
        first = max(0, int((start - 0.01) * sound.rate))
        inside[first : int((start + tone.length_s + 0.02) * sound.rate)] = True
    return inside


def _flat(samples: NDArray[np.float32], tones: Sequence[Tone], sound: Sound) -> float:
    """Median over the tones of the share of samples near the peak."""
    shares = []
    for tone in tones[:200]:
        start = tone.onset_s - sound.start_s
        middle = samples[
            max(0, int((start + 0.005) * sound.rate)) : max(
                0, int((start + tone.length_s - 0.005) * sound.rate)
            )
        ]
        if len(middle) > 50:
            size = np.abs(middle)
            shares.append(float(np.mean(size > 0.99 * size.max())))
    return float(np.median(shares)) if shares else 0.0


def _rms_dbfs(samples: NDArray[np.float32]) -> float:
    """Against a full-scale sine, as levels of tones are given."""
    if not len(samples):
        return QUIET_DBFS
    power = 2 * float(np.mean(np.square(samples, dtype=np.float64)))
    return max(QUIET_DBFS, 10 * float(np.log10(power + 1e-12)))


def _same(one: Ear, other: Ear) -> bool:
    """Whether two channels carry the same sound: their difference is 40 dB below them."""
    a, b = one.sound.channel(one.channel), other.sound.channel(other.channel)
    apart = float(np.mean(np.square(a - b, dtype=np.float64)))
    return apart < 1e-4 * float(np.mean(np.square(a, dtype=np.float64)))
