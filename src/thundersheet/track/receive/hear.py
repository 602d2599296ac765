"""The steps of the receiver in their order, once for each channel; then the choice of channel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Samples
from thundersheet.track.receive.band import Narrow, narrow
from thundersheet.track.receive.columns import Column, columns
from thundersheet.track.receive.detect import Candidates, candidates
from thundersheet.track.receive.ends import Ends, ends
from thundersheet.track.receive.fit import WIDE, Fits, fit, refit
from thundersheet.track.receive.groups import median
from thundersheet.track.receive.judge import OWN, SHARED, Limits, alone, bounded, clear, in_tune
from thundersheet.track.receive.looks import SPAN, Looks, centre, look
from thundersheet.track.receive.records import Evidence, Heard, Tone
from thundersheet.track.receive.speed import Speed, file_speed, rough_speed
from thundersheet.track.receive.trust import measured, trusted
from thundersheet.track.symbols import SYMBOLS

RATES = (8_000, 192_000)
NOTHING_DBFS = -120.0


@dataclass(frozen=True, slots=True)
class Channel:
    """What one channel gave."""

    tones: tuple[Tone, ...]
    speed: Speed
    ramp_s: float
    evidence: Evidence


def hear(
    samples: Samples,
    rate: int,
    channel: int | None,
    shared: bool,
    start_s: float,
    ramp_s: float | None,
) -> Heard:
    """Listen on the channels asked for and take the one that carries the tones."""
    columns = _columns(samples, rate, channel)
    limits = SHARED if shared else OWN
    heard = {n: _hear_channel(column, rate, n, limits, start_s, ramp_s) for n, column in columns}
    best = heard[_carrier([h.evidence for h in heard.values()])]
    sure = bool(best.tones)
    return Heard(
        rate=rate,
        channel=best.evidence.channel,
        tones=best.tones,
        speed_ppm=best.speed.share * 1e6 if sure else 0.0,
        speed_sd_ppm=best.speed.sd * 1e6 if sure else float("inf"),
        ramp_s=best.ramp_s,
        noise_dbfs=best.evidence.noise_dbfs,
        channels=tuple(h.evidence for h in heard.values()),
    )


def _columns(samples: Samples, rate: int, channel: int | None) -> list[tuple[int, Column]]:
    """The channels to listen on, with their numbers."""
    if not RATES[0] <= rate <= RATES[1]:
        raise ValueError(f"a sound of {rate} samples a second; 8000 to 192000 can be listened to")
    if samples.ndim not in (1, 2):
        raise ValueError(f"samples have {samples.ndim} dimensions; they must have 1 or 2")
    table = samples[:, None] if samples.ndim == 1 else samples
    count = table.shape[1]
    if channel is not None and not 0 <= channel < count:
        raise ValueError(f"channel {channel} of a sound that has {count} (counted from 0)")
    numbers = range(count) if channel is None else (channel,)
    every = columns(table)
    return [(n, every[n]) for n in numbers]


def _carrier(evidence: list[Evidence]) -> int:
    """The channel with the most tones; of those with nearly as many, the clearest."""
    most = max(e.tones for e in evidence)
    likely = [e for e in evidence if e.tones >= 0.8 * most]
    return max(likely, key=lambda e: (e.snr_db, e.level_dbfs)).channel


def _hear_channel(
    sound: Column,
    rate: int,
    number: int,
    limits: Limits,
    start_s: float,
    ramp_s: float | None,
) -> Channel:
    """All steps for one channel."""
    stream = narrow(sound, rate)
    looks = look(stream)
    found, fits, speed = _in_pitch(stream, looks, candidates(stream, looks), limits)
    found, fits, speed, placed = _believed(stream, found, fits, speed, limits, ramp_s)
    tones = _tones(stream, found, fits, placed, start_s)
    noise = _noise_dbfs(looks, stream, found)
    return Channel(tones, speed, placed.ramp_s, _evidence(number, tones, noise))


def _believed(
    stream: Narrow,
    found: Candidates,
    fits: Fits,
    speed: Speed,
    limits: Limits,
    ramp_s: float | None,
) -> tuple[Candidates, Fits, Speed, Ends]:
    """Those that are tones beyond doubt, with both ends; the rest has no say in the ramp."""
    placed = ends(stream, found, fits, speed, ramp_s)
    onset, stop = stream.seconds(placed.start), stream.seconds(placed.stop)
    facts = measured(found.symbol, onset, stop - onset, placed.clear, fits, speed)
    keep = (stop - onset > limits.shortest_s) & alone(onset, stop, fits.signal)
    keep &= trusted(facts, limits.weakest_db)
    if keep.all():
        return found, fits, speed, placed
    found, fits = found.only(keep), fits.only(keep)
    speed = file_speed(fits, found.symbol)
    return found, fits, speed, ends(stream, found, fits, speed, ramp_s)


def _in_pitch(
    stream: Narrow, looks: Looks, found: Candidates, limits: Limits
) -> tuple[Candidates, Fits, Speed]:
    """The candidates that are clear, bounded and in tune, with their fits."""
    found = found.only(found.stop - found.start > 0.005 * stream.rate)
    speed = _near(found.speed, rough_speed(found.speed, found.power), WIDE)
    fits = fit(stream, found, speed)
    keep = clear(fits, found, limits) & bounded(looks, stream, found, fits, limits)
    agreed = file_speed(fits.only(keep), found.symbol[keep])
    keep &= in_tune(fits, found, agreed, limits)
    if not keep.all():
        found, fits, speed = found.only(keep), fits.only(keep), speed[keep]
        agreed = file_speed(fits, found.symbol)
    own = fits.speeds(found.symbol).mean(axis=1)
    better = refit(stream, found, fits, speed, _near(own, agreed.share, WIDE / 4))
    if better is None:
        return found, fits, agreed
    return found, better, file_speed(better, found.symbol)


def _near(speed: Doubles, common: float, room: float) -> Doubles:
    """Each speed, or the common one where the two are within ``room``."""
    return np.where(np.abs(speed - common) < room, common, speed)


def _tones(
    stream: Narrow, found: Candidates, fits: Fits, placed: Ends, start_s: float
) -> tuple[Tone, ...]:
    """The records."""
    onset, stop = stream.seconds(placed.start) + start_s, stream.seconds(placed.stop) + start_s
    level = 10 * np.log10(2 * fits.signal)
    twist = 20 * np.log10(fits.amplitude[:, 1] / fits.amplitude[:, 0])
    noise = np.maximum(fits.noise * 3000 / (stream.rate / 2), 1e-15)
    snr = 10 * np.log10(fits.signal / noise)
    table = np.stack([onset, stop - onset, level, twist, snr, placed.start_sd / stream.rate])
    return Tone.many([SYMBOLS[symbol] for symbol in found.symbol.tolist()], *table.tolist())


def _noise_dbfs(looks: Looks, stream: Narrow, found: Candidates) -> float:
    """The middle level of the looks that no tone touches, silence around the file left out."""
    first, half = centre(stream, np.zeros(1, np.int64))[0], 0.5 * SPAN * stream.hop
    heard = np.array([stream.pad + half, len(stream.samples) - stream.pad - half])
    from_, to = np.clip(np.ceil((heard - first) / stream.hop), 0, len(looks.whole)).astype(int)
    # Where tones begin counts up, where they end counts down: none is there where the sum is 0.
    edges = np.stack([found.start - 2 * half, found.stop + 2 * half]) - first
    rows = np.clip(np.ceil(edges / stream.hop), 0, len(looks.whole)).astype(np.int64)
    count = len(looks.whole) + 1
    steps = np.bincount(rows[0], minlength=count) - np.bincount(rows[1], minlength=count)
    quiet = looks.whole[from_:to][np.cumsum(steps)[from_:to] == 0]
    if not len(quiet):
        return NOTHING_DBFS
    return max(NOTHING_DBFS, 10 * float(np.log10(2 * median(quiet) + 1e-30)))


def _evidence(number: int, tones: tuple[Tone, ...], noise_dbfs: float) -> Evidence:
    if not tones:
        return Evidence(number, 0, NOTHING_DBFS, NOTHING_DBFS, noise_dbfs)
    level = median(np.array([tone.level_dbfs for tone in tones]))
    snr = median(np.array([tone.snr_db for tone in tones]))
    return Evidence(number, len(tones), level, snr, noise_dbfs)
