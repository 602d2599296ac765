"""The Cramér-Rao bound: how well any receiver could know a tone's onset in white noise.

In: the tone as written and its S/N. Out: the least standard deviation of an unbiased estimate.
Unknown besides the onset: level and phase of each of the two tones (four numbers) and, if asked,
the common speed. Known: frequencies (else), shape and length of the ramp. Only the attack is
used: the sound up to the beginning of the release; where the tone ends is taken to say nothing.

var(u) >= [J^-1]_uu, J = D^T D / sigma^2, D the derivative of the samples by the unknowns (Kay,
Fundamentals of Statistical Signal Processing: Estimation Theory, 1993, section 3.9).
"""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np

from thundersheet.base.time import Span
from thundersheet.track.symbols import Voice, amplitudes, frequencies, rise

if TYPE_CHECKING:
    from numpy.typing import NDArray

PHASES = 8
"""The bound depends on the phases; it is averaged (in variance) over so many of each tone."""
SLIGHT_S = 1e-7


def onset_bound(
    symbol: str,
    length: Span,
    voice: Voice,
    snr_db: float,
    rate: int,
    *,
    speed_known: bool = True,
) -> float:
    """The least standard deviation of the onset in seconds.

    ``snr_db`` is the power of both tones against that of white noise up to half of ``rate``.
    The phases of ``voice`` are not used: all are averaged over.
    """
    noise = 0.5 * 10 ** (voice.level_dbfs / 10) * 10 ** (-snr_db / 10)
    angles = 2 * pi * np.arange(PHASES) / PHASES
    variances = [
        _variance(_slopes(symbol, length, voice, (low, high), rate, speed_known), noise)
        for low in angles
        for high in angles
    ]
    return float(np.sqrt(np.mean(variances)))


def _variance(slopes: NDArray[np.float64], noise: float) -> float:
    """The first unknown's share of the inverse of Fisher's information."""
    scale = np.sqrt(np.sum(slopes**2, axis=1))
    unit = slopes / scale[:, None]
    return float(np.linalg.inv(unit @ unit.T)[0, 0] / scale[0] ** 2 * noise)


def _slopes(
    symbol: str,
    length: Span,
    voice: Voice,
    phases: tuple[float, float],
    rate: int,
    speed_known: bool,
) -> NDArray[np.float64]:
    """The derivatives of the samples by onset, both cosine and sine levels, and speed."""
    ramp_s = voice.ramp.s
    seconds = np.arange(round((length.s - ramp_s) * rate)) / rate
    ramp = rise(seconds, ramp_s)
    earlier, later = (rise(seconds + d, ramp_s) for d in (SLIGHT_S, -SLIGHT_S))
    by_onset = (later - earlier) / (2 * SLIGHT_S)
    wave, by_speed, rows = np.zeros_like(seconds), np.zeros_like(seconds), []
    pairs = zip(
        frequencies(symbol), amplitudes(voice.level_dbfs, voice.twist_db), phases, strict=True
    )
    for hertz, amplitude, phase in pairs:
        turn = 2 * pi * hertz * seconds
        wave += amplitude * np.cos(turn + phase)
        by_speed -= amplitude * turn * np.sin(turn + phase)
        rows += [ramp * np.cos(turn), ramp * np.sin(turn)]
    speed = [] if speed_known else [ramp * by_speed]
    return np.stack([by_onset * wave, *rows, *speed])
