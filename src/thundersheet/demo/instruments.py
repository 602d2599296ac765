"""Single sounds, made from nothing: knocks, slams, bells, thunder, wind.

In: a seeded generator and lengths. Out: mono float samples at RATE. Every struck sound starts at
its loudest with its very first sample, so that laying it at a beat's sample puts the hit on the
beat. All modes, decays and levels are by ear (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
Generator = np.random.Generator

RATE = 48_000
LOOP = 1 << 20


def time_axis(seconds: float) -> Samples:
    """The instants of so many seconds of samples."""
    samples = np.arange(round(seconds * RATE), dtype=np.float32)
    return np.asarray(samples / np.float32(RATE))


def endless(rng: Generator, seconds: float, low_hz: float, high_hz: float) -> Samples:
    """Noise for a bed that lasts all the show: 22 s of it, which join at their ends, repeated."""
    loop = coloured(rng, LOOP / RATE, low_hz, high_hz)
    return np.asarray(np.resize(loop, round(seconds * RATE)), dtype=np.float32)


def coloured(rng: Generator, seconds: float, low_hz: float, high_hz: float) -> Samples:
    """Noise between two frequencies with soft edges, root mean square 1."""
    count = round(seconds * RATE)
    size = 1 << max(count - 1, 1).bit_length()  # a power of two transforms fast
    spectrum = np.fft.rfft(rng.standard_normal(size).astype(np.float32))
    hz = np.fft.rfftfreq(size, 1 / RATE)
    shape = 1 / (1 + (hz / high_hz) ** 4) / (1 + (low_hz / np.maximum(hz, 1e-3)) ** 4)
    noise = np.fft.irfft(spectrum * shape, size)[:count]
    return np.asarray(noise / np.sqrt(np.mean(noise**2)), dtype=np.float32)


def struck(modes: Sequence[tuple[float, float, float]], seconds: float) -> Samples:
    """A body struck at sample 0: cosines of (hertz, level, seconds to 1/e), all at their peak."""
    t = time_axis(seconds)
    sound = np.zeros_like(t)
    for hz, level, decay in modes:
        sound += np.float32(level) * np.cos(2 * np.pi * hz * t) * np.exp(-t / decay)
    return _ended(sound)


def knock(rng: Generator) -> Samples:
    """Knuckles on a hatch of planks."""
    body = struck([(92, 0.8, 0.07), (187, 0.6, 0.05), (318, 0.35, 0.035), (530, 0.2, 0.02)], 0.4)
    return body + 0.25 * _burst(rng, 0.4, 300, 3500, 0.008)


def ratchet(rng: Generator) -> Samples:
    """One tooth of a hand winch."""
    body = struck([(410, 0.3, 0.02), (1180, 0.3, 0.018), (2630, 0.2, 0.01)], 0.2)
    return body + 0.2 * _burst(rng, 0.2, 1200, 8000, 0.005)


def slam(rng: Generator) -> Samples:
    """A storm shutter thrown open: boards, hinges, and the step that shakes under one's feet."""
    boards = struck([(58, 1.0, 0.22), (86, 0.7, 0.16), (143, 0.6, 0.1), (236, 0.4, 0.06)], 1.6)
    hinges = struck([(1240, 0.12, 0.12), (1895, 0.1, 0.09), (2710, 0.06, 0.07)], 1.6)
    return boards + hinges + 0.7 * _burst(rng, 1.6, 150, 6000, 0.05)


def clap(rng: Generator) -> Samples:
    """A shutter or a small door pulled to."""
    body = struck([(104, 0.6, 0.09), (211, 0.4, 0.06), (395, 0.25, 0.04)], 0.5)
    return body + 0.3 * _burst(rng, 0.5, 250, 4000, 0.02)


def clank(rng: Generator) -> Samples:
    """A heavy lens falling on its bearing."""
    modes = [(63, 0.9, 0.3), (218, 0.6, 0.9), (349, 0.45, 0.7), (563, 0.3, 0.5), (911, 0.2, 0.35),
             (1477, 0.12, 0.2)]  # fmt: skip
    return struck(modes, 2.6) + 0.5 * _burst(rng, 2.6, 200, 5000, 0.03)


def groan(seconds: float) -> Samples:
    """Iron giving way, to be laid before the clank: it sinks in pitch and swells to its end."""
    t = time_axis(seconds)
    hz = 140 - 62 * (t / seconds) ** 2 + 3 * np.sin(2 * np.pi * 5.3 * t)
    phase = 2 * np.pi * np.cumsum(hz) / RATE
    saw = sum(np.sin(k * phase) / k for k in range(1, 9))
    sound = 0.3 * saw * (t / seconds) ** 1.5
    return np.asarray(sound * _fade_out(len(t), 0.03), dtype=np.float32)


def puff(rng: Generator, seconds: float) -> Samples:
    """Air from a nozzle."""
    hiss = coloured(rng, seconds + 0.25, 500, 7000)
    t = time_axis(seconds + 0.25)
    return _ended(0.35 * hiss * np.exp(-np.maximum(t - seconds, 0) / 0.05) * np.exp(-t / 0.4))


def thunder(rng: Generator, seconds: float, near: bool) -> Samples:
    """Rolling thunder; a near one cracks first."""
    t = time_axis(seconds)
    swell = np.interp(t, np.linspace(0, seconds, 14), rng.uniform(0.25, 1.0, 14))
    roll = coloured(rng, seconds, 25, 140) * swell * np.exp(-t / (seconds / 3.2))
    sound = 0.4 * roll * np.minimum(t / (0.01 if near else 0.5), 1)
    if near:
        sound[: RATE // 2] += 0.5 * _burst(rng, 0.5, 250, 6000, 0.09)
    return _ended(np.asarray(sound, dtype=np.float32))


def horn(seconds: float) -> Samples:
    """A ship's horn, far out, answering."""
    t = time_axis(seconds)
    tone = sum(
        level * np.sin(2 * np.pi * hz * k * t + 0.3 * np.sin(2 * np.pi * 0.9 * t))
        for hz, level in ((116.5, 0.5), (146.8, 0.4))
        for k, level in ((1, level), (2, level / 2), (3, level / 3), (5, level / 8))
    )
    swell = np.minimum(t / 0.35, 1) * _fade_out(len(t), 0.8)
    return np.asarray(0.3 * tone * swell, dtype=np.float32)


def bell(hz: float, seconds: float = 2.4) -> Samples:
    """A small bell; its partials are those of a tuned bell: hum, prime, tierce, quint, nominal."""
    partials = ((0.5, 0.25, 1.1), (1.0, 0.6, 0.9), (1.2, 0.3, 0.6), (1.5, 0.2, 0.45),
                (2.0, 0.5, 0.5), (3.0, 0.22, 0.22), (4.17, 0.14, 0.12))  # fmt: skip
    modes = [(hz * ratio, level, decay) for ratio, level, decay in partials]
    return struck(modes, seconds)


def plucked(hz: float, seconds: float = 1.2) -> Samples:
    """A comb's tooth of a musical box, for the accompaniment."""
    return struck([(hz, 0.5, 0.4), (2 * hz, 0.2, 0.25), (5.4 * hz, 0.06, 0.05)], seconds)


def tick(high: bool) -> Samples:
    """One beat of a clock's pallet; tick and tock differ."""
    root = 2300.0 if high else 1750.0
    return struck([(root, 0.3, 0.006), (root * 1.83, 0.2, 0.004), (310, 0.2, 0.012)], 0.08)


def cuckoo() -> Samples:
    """Two falling pipe notes, a minor third apart; the first starts at sample 0."""
    sound = np.zeros(round(0.95 * RATE), dtype=np.float32)
    for hz, start in ((659.3, 0.0), (554.4, 0.42)):
        t = time_axis(0.36)
        # Starts at its peak: a cosine without a ramp, as a bellows' door snaps open.
        pipe = np.cos(2 * np.pi * hz * t) + 0.15 * np.cos(4 * np.pi * hz * t)
        first = round(start * RATE)
        sound[first : first + len(t)] += 0.5 * pipe * np.exp(-t / 0.5) * _fade_out(len(t), 0.08)
    return sound


def click() -> Samples:
    """A switch."""
    return struck([(1500, 0.3, 0.004), (3900, 0.25, 0.003), (240, 0.2, 0.01)], 0.06)


def whirr(rng: Generator, seconds: float) -> Samples:
    """A clockwork that runs up, runs and runs down."""
    t = time_axis(seconds)
    speed = np.minimum(np.minimum(t / 0.4, (seconds - t) / 0.8), 1).clip(0)
    phase = 2 * np.pi * np.cumsum(24 * speed) / RATE
    teeth = np.maximum(np.sin(phase), 0) ** 8
    return np.asarray(0.12 * teeth * coloured(rng, seconds, 700, 4200) * speed, dtype=np.float32)


def _burst(rng: Generator, seconds: float, low_hz: float, high_hz: float, decay: float) -> Samples:
    t = time_axis(seconds)
    return np.asarray(coloured(rng, seconds, low_hz, high_hz) * np.exp(-t / decay), np.float32)


def _ended(sound: Samples) -> Samples:
    """The same with its last 10 ms faded, so that a cut tail does not click."""
    return np.asarray(sound * _fade_out(len(sound), 0.01), dtype=np.float32)


def _fade_out(count: int, seconds: float) -> Samples:
    left = np.arange(count, 0, -1) / RATE
    return np.minimum(left / seconds, 1).astype(np.float32)
