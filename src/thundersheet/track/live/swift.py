"""The receiver in numpy, some hundreds of times as fast as the sound: the same events to the bit.

In: samples of 12 bits at 8 kHz in pieces of any length. Out: events. The sums are made in floats
where these are exact: all partial sums are whole numbers under 2^24.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from thundersheet.track.live import tables as t
from thundersheet.track.live.ladder import Event, Ladder
from thundersheet.track.live.thin import Samples, Whole

Mask = NDArray[np.bool_]
BEFORE = 3
"""Hops that a look reaches back."""
AT_ONCE = 16_384
"""Hops worked on together, a minute: bounds the memory."""
WAVE = np.array([t.COSINE, t.SINE], np.float32)
STEPS = np.array(t.STEPS, np.int64)


class SwiftReceiver:
    """The plain receiver's twin."""

    def __init__(self) -> None:
        self._ladder = Ladder()
        self._hop = 0
        self._rest = np.zeros(0, np.int64)
        self._b = np.zeros((BEFORE, 2, t.TONES), np.int64)
        self._e = np.zeros(BEFORE, np.int64)
        self._z = np.zeros((2, 2, t.TONES), np.int64)
        self._q = np.zeros((t.KEPT, t.TONES), np.int64)

    def push(self, samples: Samples) -> list[Event]:
        """The events that these samples bring, in order."""
        joined = np.concatenate([self._rest, np.asarray(samples, np.int64)])
        whole = len(joined) // t.HOP * t.HOP
        self._rest = joined[whole:]
        hops = joined[:whole].reshape(-1, t.HOP)
        out: list[Event] = []
        for first in range(0, len(hops), AT_ONCE):
            out += self._hops(hops[first : first + AT_ONCE])
        return out

    def _hops(self, x: Whole) -> list[Event]:
        b = np.concatenate([self._b, self._sums(x)])
        e = np.concatenate([self._e, (x * x).sum(1)])
        z = np.concatenate([self._z, _smooth(b) >> 2])
        q = np.concatenate([self._q, (z[2:] ** 2).sum(1) >> 5])
        out = self._climb(*_looks(z, q[t.KEPT :], _smooth(e) >> 5), q, e)
        self._b, self._e, self._z, self._q = b[-BEFORE:], e[-BEFORE:], z[-2:], q[-t.KEPT :]
        self._hop += len(x)
        return out

    def _sums(self, x: Whole) -> Whole:
        """Hops by cosine and sine by tones, each sum shifted down by eight."""
        sound = x.astype(np.float32)
        places = self._hop * t.HOP + np.arange(x.size, dtype=np.int64).reshape(x.shape)
        out = np.empty((len(x), 2, t.TONES), np.int64)
        for tone, step in enumerate(t.STEPS):
            k = (places * step & 0xFFFF) >> 8
            for part in (0, 1):
                sums = np.einsum("hs,hs->h", sound, WAVE[part].take(k))
                out[:, part, tone] = sums.astype(np.int64) >> 8
        return out

    def _climb(self, raw: Whole, best: Whole, holds: Mask, q: Whole, e: Whole) -> list[Event]:
        """Through the ladder; hops in which nothing can happen are jumped over."""
        out: list[Event] = []
        lively = np.flatnonzero(raw != t.NONE)
        raws, bests, held = raw.tolist(), best.tolist(), holds.tolist()
        hop = 0
        while hop < len(raws):
            if self._ladder.idle and raws[hop] == t.NONE:
                after = int(np.searchsorted(lively, hop))
                if after == len(lively):
                    break
                hop = int(lively[after])
            past = partial(_past, q, e, hop)
            out += self._ladder.step(self._hop + hop, raws[hop], bests[hop], held[hop], past)
            hop += 1
        return out


def _past(q: Whole, e: Whole, hop: int) -> tuple[list[list[int]], list[int]]:
    """What the ladder may ask for, as plain numbers."""
    last = e[hop : hop + BEFORE + 1].tolist()
    return q[hop + 1 : hop + 1 + t.KEPT].tolist(), last


def _smooth(hops: Whole) -> Whole:
    """Each four hops in a row with weights 1 2 2 1."""
    middle = hops[1:-2] + hops[2:-1]
    return np.asarray(hops[:-3] + 2 * middle + hops[3:])


def _looks(z: Whole, q: Whole, energy: Whole) -> tuple[Whole, Whole, Mask]:
    """Raw digit, best digit and whether it holds, for every hop."""
    groups = q.reshape(-1, 2, 4)
    first = groups.argmax(2)
    top = groups.max(2)
    rest = groups.copy()
    np.put_along_axis(rest, first[:, :, None], 0, axis=2)
    low, high = top[:, 0], top[:, 1]
    in_tune = np.take_along_axis(_in_tune(z).reshape(-1, 2, 4), first[:, :, None], axis=2)
    total = 16 * (low + high)
    strict = (
        (top >= t.LEVEL).all(1)
        & (total >= t.DOMINANCE * energy)
        & (high <= t.HIGH_OVER_LOW * low)
        & (low <= t.LOW_OVER_HIGH * high)
        & (t.IN_GROUP * rest.max(2) <= top).all(1)
        & in_tune.all((1, 2))
    )
    best = 4 * first[:, 0] + first[:, 1]
    holds = (top >= t.HOLD_LEVEL).all(1) & (total >= t.HOLD_DOMINANCE * energy)
    return np.where(strict, best, t.NONE), best, holds


def _in_tune(z: Whole) -> Mask:
    """For every hop and tone, by phase advance; ``z`` begins two hops earlier."""
    lag = np.array(t.LAGS)
    hops = np.arange(2, len(z))[:, None]
    now, then = z[2:], z[hops - lag, :, np.arange(t.TONES)]
    zr, zi = now[:, 0], now[:, 1]
    yr, yi = then[:, :, 0], then[:, :, 1]
    along = (zr * yr + zi * yi) >> 8
    across = np.abs(zi * yr - zr * yi) >> 8
    return np.asarray(64 * across <= along * np.array(t.TURNS))
