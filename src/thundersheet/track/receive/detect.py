"""Which stretches of the looks may be a tone, and which symbol: candidates, not yet tones.

In: ``Looks``. Out: ``Candidates``, arrays with one entry a candidate. It is generous on purpose:
``fit`` measures each and ``judge`` throws out what is no tone.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from thundersheet.track.receive.arrays import Doubles, Floats, Mask, Small, Waves, Whole
from thundersheet.track.receive.band import Narrow
from thundersheet.track.receive.looks import TONES_HZ, Looks, centre

SURE, HELD = 0.5, 0.3
"""Share of the band's power in the two strongest frequencies: a stretch holds while it is over
``HELD`` and must be over ``SURE`` somewhere. White noise alone gives 0.1 to 0.3; a tone at an
S/N of -5 dB over 24 kHz gives 0.7."""
WEAKER = 0.02
"""Least share of the weaker frequency: a twist of 10 dB leaves 0.09, 3 % of speed halves that."""
FLOOR = 0.5 * 10 ** (-7.5)
"""Least power, -75 dBFS: 16-bit sound has its own noise near -98."""
PAIRS = 3
"""Of the pairs of looks one in so many tells the speed: they overlap, and the next say the same."""
DIP, NEAR = 0.15, 4
"""A look under this share of the strongest within so many looks is an edge or a gap."""


@dataclass(frozen=True, slots=True)
class Candidates:
    """Stretches that may be tones, in order of time; positions count samples of the stream."""

    symbol: Whole
    start: Doubles
    """Middle of the attack, within some 3 ms."""
    stop: Doubles
    """Middle of the release, likewise."""
    power: Doubles
    """The strongest look: mean square of both frequencies."""
    speed: Doubles
    """How much too fast, as a share (0.01 is 1 %), from the phase advance between looks."""

    def __len__(self) -> int:
        return len(self.symbol)

    def only(self, which: Mask) -> Candidates:
        """Those that a mask or an index picks."""
        return Candidates(**{f.name: getattr(self, f.name)[which] for f in fields(self)})


def candidates(stream: Narrow, looks: Looks) -> Candidates:
    """All stretches of looks that show one symbol."""
    symbol, power, even = _strongest(looks)
    held, sure = _gate(looks, power, even)
    first, last = _stretches(symbol, held, sure)
    if not len(first):
        return Candidates(first, *(np.zeros(0) for _ in range(4)))
    peak = np.maximum.reduceat(power, _between(first, last))[::2]
    start, stop = _crossings(power, first, last, peak)
    kind = symbol[first].astype(np.int64)
    speed = _speeds(looks, kind, first, last, stream.hop / stream.rate)
    at = centre(stream, np.zeros(1, np.int64))[0]
    hop = stream.hop
    return Candidates(kind, at + hop * start, at + hop * stop, peak, speed)


def _strongest(looks: Looks) -> tuple[Small, Floats, Mask]:
    """The likeliest symbol of each look, the power of its frequencies, and if both are there."""
    row, low = _highest(looks.powers[:4])
    column, high = _highest(looks.powers[4:])
    power = low + high
    even = np.minimum(low, high) > WEAKER * power
    return looks.in_time(4 * row + column), looks.in_time(power), looks.in_time(even)


def _highest(powers: Floats) -> tuple[Small, Floats]:
    """Number and power of the strongest of some frequencies, by comparing whole rows."""
    number, most = np.zeros(powers.shape[1], np.int8), powers[0].copy()
    for row in range(1, len(powers)):
        # A later row has a higher number than any before: the maximum is the row above them.
        np.maximum(number, (powers[row] > most) * np.int8(row), out=number)
        np.maximum(most, powers[row], out=most)
    return number, most


def _gate(looks: Looks, power: Floats, even: Mask) -> tuple[Mask, Mask]:
    """Which looks may belong to a tone, and which of them surely do."""
    held = (power > HELD * looks.whole) & (power > FLOOR) & (power > DIP * _nearby(power)) & even
    return held, held & (power > SURE * looks.whole)


def _nearby(power: Floats) -> Floats:
    """The strongest within ``NEAR`` looks to both sides: windows of 1, 2, 4, 8 and 9 looks."""
    most = np.pad(power, NEAR)
    for width in (1, 2, 4):
        most = np.maximum(most[:-width], most[width:])
    return np.maximum(most[:-1], np.pad(power, NEAR)[2 * NEAR :])


def _stretches(symbol: Small, held: Mask, sure: Mask) -> tuple[Whole, Whole]:
    """First and last look of each run of held looks with one symbol and a sure look in it."""
    code = np.full(len(symbol) + 2, -1, np.int8)
    np.copyto(code[1:-1], symbol, where=held)
    edges = np.flatnonzero(code[1:] != code[:-1])
    first, after = edges[:-1], edges[1:]
    some = code[first + 1] >= 0
    first, last = first[some], after[some] - 1
    total = np.zeros(len(sure) + 1, np.int32)
    np.cumsum(sure, out=total[1:])
    good = total[last + 1] > total[first]
    return first[good], last[good]


def _between(first: Whole, last: Whole) -> Whole:
    """Index pairs for ``reduceat``: entries 0, 2, 4 ... of its result are the stretches."""
    return np.stack([first, last + 1], axis=1).ravel()


def _crossings(power: Floats, first: Whole, last: Whole, peak: Doubles) -> tuple[Doubles, Doubles]:
    """Where the amplitude passes half of its peak, in looks.

    On an edge of a tone the look centred on it sees half.
    """
    amplitude = np.sqrt(power)
    half = 0.5 * np.sqrt(peak)
    return _crossing(amplitude, first, half, -1), _crossing(amplitude, last, half, 1)


def _crossing(amplitude: Floats, at: Whole, half: Doubles, step: int) -> Doubles:
    """Go inwards to the first look over half, then back a fraction of a look."""
    for _ in range(3):
        at = np.where(amplitude[at] < half, at - step, at)
    inner, outer = amplitude[at], amplitude[np.clip(at + step, 0, len(amplitude) - 1)]
    fraction = np.clip((inner - half) / np.maximum(inner - outer, 1e-12), 0.0, 1.0)
    return np.asarray(at + step * fraction)


def _speeds(looks: Looks, symbol: Whole, first: Whole, last: Whole, hop_s: float) -> Doubles:
    """The common speed error of both frequencies over each stretch."""
    columns = np.stack([symbol // 4, 4 + symbol % 4])
    # Some looks of all stretches one after the other, at least one pair of looks in each.
    count = np.maximum((last - first + PAIRS - 1) // PAIRS, 1)
    begin = np.cumsum(count) - count
    rows = np.repeat(first - PAIRS * begin, count) + PAIRS * np.arange(count.sum())
    rows = np.minimum(rows, len(looks.whole) - 2)
    line = np.repeat(columns * looks.waves.shape[1], count, axis=1)
    here, there = (_amplitudes(looks, line + looks.column[r]) for r in (rows, rows + 1))
    own = np.add.reduceat(there * here.conj(), begin, axis=1).astype(np.complex128)
    hertz = TONES_HZ[columns]
    own *= np.exp(-2j * np.pi * hertz * hop_s)
    off = np.angle(own) / (2 * np.pi * hop_s)
    weight = np.abs(own)
    return np.asarray(np.sum(weight * hertz * off, 0) / np.sum(weight * hertz**2, 0))


def _amplitudes(looks: Looks, at: Whole) -> Waves:
    """Complex amplitudes by their places among the real parts."""
    parts, half = looks.waves.reshape(-1), looks.waves.size // 2
    out = np.empty(at.shape, np.complex64)
    out.real, out.imag = parts[at], parts[at + half]
    return out
