"""Sounds whose places are known, and the outside tools that make and check media files."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

RATE = 48_000
SECONDS = 2


def bursts(rate: int = RATE, seconds: float = SECONDS) -> NDArray[np.float32]:
    """Left a quiet hum, right noise bursts at 0.5 and 1.25 s: sharp to correlate, coder-proof."""
    rng = np.random.default_rng(7)
    count = int(rate * seconds)
    out = np.zeros((count, 2), np.float32)
    out[:, 0] = 0.1 * np.sin(2 * np.pi * 300 * np.arange(count) / rate)
    smooth = np.convolve(rng.standard_normal(count), np.hanning(16), "same")
    smooth *= 0.25 / np.std(smooth)
    for begin in (0.5, 1.25):
        a, n = int(begin * rate), int(0.2 * rate)
        out[a : a + n, 1] = np.clip(smooth[a : a + n], -0.9, 0.9)
    return out


def lag(heard: NDArray[np.float32], meant: NDArray[np.float32]) -> int:
    """By how many samples what is heard stands later than what was meant: cross-correlation."""
    size = 1 << (len(heard) + len(meant)).bit_length()
    product = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(meant, size))
    at = int(np.argmax(np.fft.irfft(product, size)))
    return at if at < size // 2 else at - size


def run(*words: str | Path) -> bytes:
    """Run an outside tool; what it prints."""
    done = subprocess.run([str(word) for word in words], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()[-2000:]
    return done.stdout


def ffmpeg(*words: str | Path) -> None:
    """Run ffmpeg (5.1.9, Debian 12)."""
    run("ffmpeg", "-v", "error", "-y", *words)
