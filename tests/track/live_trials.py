"""Many short trials for the night's receiver: pairs of tones with everything drawn by lot.

Levels: 0 dBm a tone is an amplitude of 1000 of 2047 (receiver.md's reference, our own choice).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thundersheet.track.live.ladder import Event
from thundersheet.track.live.swift import SwiftReceiver
from thundersheet.track.symbols import HIGH_HZ, LOW_HZ

RATE = 8000
SLOT = 1800
"""Samples of a trial, whole hops: 225 ms."""
DBM_0 = 1000.0
CORNERS = ((0, 0), (0, 4), (0, -8), (-25, 0), (-21, 4), (-17, -8))
"""Level of the stronger tone in dBm and twist (high minus low): to the edges of Q.24's twist, and
the weaker tone down to the -25 dBm that its receivers take."""


@dataclass(frozen=True)
class Trial:
    """What is played in each slot."""

    bursts_ms: tuple[tuple[float, float], ...]
    """From and to, after an onset that is drawn by lot."""
    level_db: float = 0.0
    twist_db: float = 0.0
    offset: tuple[float, float] = (0.0, 0.0)
    """Relative, of the low and of the high tone; the sign is drawn by lot."""
    snr_db: float | None = None
    """Both tones against white noise up to 4 kHz."""
    ramp_ms: float = 0.0


@dataclass(frozen=True)
class Played:
    sound: np.ndarray
    digits: np.ndarray
    onsets: np.ndarray
    """In samples from the beginning of the sound."""


def play(trial: Trial, count: int, seed: int = 1) -> Played:
    rng = np.random.default_rng(seed)
    digits = rng.integers(0, 16, count)
    late = 300 + 60 * rng.random(count)
    seconds = (np.arange(SLOT) - late[:, None]) / RATE
    envelope = sum(_envelope(seconds, *burst, trial.ramp_ms) for burst in trial.bursts_ms)
    strong = DBM_0 * 10 ** (trial.level_db / 20)
    low = strong * 10 ** (-max(trial.twist_db, 0) / 20)
    high = strong * 10 ** (min(trial.twist_db, 0) / 20)
    sound = np.zeros((count, SLOT))
    for size, table, offset, index in (
        (low, LOW_HZ, trial.offset[0], digits // 4),
        (high, HIGH_HZ, trial.offset[1], digits % 4),
    ):
        hertz = np.array(table)[index] * (1 + offset * rng.choice([-1, 1], count))
        phase = rng.uniform(0, 2 * np.pi, count)
        sound += size * np.sin(2 * np.pi * hertz[:, None] * seconds + phase[:, None])
    sound *= envelope
    if trial.snr_db is not None:
        rms = np.sqrt((low**2 + high**2) / 2 * 10 ** (-trial.snr_db / 10))
        sound += rng.standard_normal(sound.shape) * rms
    whole = np.clip(np.round(sound), -2048, 2047).astype(np.int64)
    return Played(whole.ravel(), digits, late + SLOT * np.arange(count))


def _envelope(seconds: np.ndarray, start_ms: float, end_ms: float, ramp_ms: float) -> np.ndarray:
    edge = np.minimum(seconds - start_ms / 1000, end_ms / 1000 - seconds)
    if not ramp_ms:
        return np.asarray((edge >= 0).astype(float))
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(edge / (ramp_ms / 1000), 0, 1)))


def downs(played: Played) -> list[list[Event]]:
    """The DOWN events of each slot."""
    out: list[list[Event]] = [[] for _ in played.digits]
    for event in SwiftReceiver().push(played.sound):
        if event.kind == "down":
            out[event.hop * 30 // SLOT].append(event)
    return out


def failures(trial: Trial, wanted: int, count: int, seed: int = 1) -> int:
    """Slots in which not exactly so many digits went down, or another than was played."""
    played = play(trial, count, seed)
    return sum(
        len(events) != wanted or any(event.digit != digit for event in events)
        for events, digit in zip(downs(played), played.digits, strict=True)
    )


def corners(trial: Trial, snrs_db: tuple[float | None, ...] = (None, 24, 15)) -> list[Trial]:
    """A trial at each level, twist and noise."""
    return [
        replace(trial, level_db=level, twist_db=twist, snr_db=snr)
        for level, twist in CORNERS
        for snr in snrs_db
    ]
