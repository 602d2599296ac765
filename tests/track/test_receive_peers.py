"""Tones of ours by two independent receivers, and tones of others by ours.

multimon-ng 1.2 and libspandsp 0.0.6 (Debian 12) decode; sox 14.4 and ffmpeg 5.1 make.
"""

from __future__ import annotations

import numpy as np
import pytest
from sounds import (
    RATE,
    build_spandsp,
    digits_by_multimon,
    digits_by_spandsp,
    read,
    series,
    tool,
    write,
)

from thundersheet.base.time import Span
from thundersheet.track.receive import listen
from thundersheet.track.symbols import SYMBOLS, Voice, frequencies, write_tone


@pytest.fixture(scope="module")
def spandsp(tmp_path_factory):
    return build_spandsp(tmp_path_factory.mktemp("spandsp"))


@pytest.fixture(scope="module")
def ours(tmp_path_factory):
    """All symbols in random order, with the tones and gaps that cheap receivers take."""
    written = series(seconds=20, tone_ms=60, gap_ms=60, voice=Voice(-9.0))
    assert set(written.symbols) == set(SYMBOLS)
    return written, write(tmp_path_factory.mktemp("ours") / "ours.wav", written.sound)


def test_multimon_decodes_our_tones(tmp_path, ours):
    written, wav = ours
    assert digits_by_multimon(tmp_path, wav) == written.symbols


def test_spandsp_decodes_our_tones(spandsp, ours):
    written, wav = ours
    assert digits_by_spandsp(spandsp, wav) == written.symbols


def test_we_decode_the_tones_of_sox(tmp_path):
    parts = []
    for number, symbol in enumerate(SYMBOLS):
        low, high = frequencies(symbol)
        part = tmp_path / f"{number:02}.wav"
        made = ("synth", 0.05, "sine", low, "synth", 0.05, "sine", "mix", high)
        shape = ("gain", -6, "fade", "h", 0.003, 0.05, 0.003, "pad", 0.05, 0.05)
        tool("sox", "-n", "-r", RATE, "-b", 16, "-c", 1, part, *made, *shape)
        parts.append(part)
    tool("sox", *parts, tmp_path / "all.wav")
    result = listen(read(tmp_path / "all.wav"), RATE)
    assert "".join(tone.symbol for tone in result.tones) == SYMBOLS
    # Each part is 150 ms long and sounds from 50 ms on; sox's half-cosine fade is ours.
    expected = [0.05 + 0.15 * number for number in range(16)]
    assert [tone.onset_s for tone in result.tones] == pytest.approx(expected, abs=5e-5)
    assert result.ramp_s == pytest.approx(0.003, abs=1e-4)


def test_we_decode_the_tones_of_ffmpeg(tmp_path):
    symbols = "D1#5*9A"
    graph, names = [], []
    for number, symbol in enumerate(symbols):
        pair = [f"sin(2*PI*{hertz}*t)" for hertz in frequencies(symbol)]
        graph.append(f"aevalsrc=0.25*({pair[0]}+{pair[1]}):d=0.05:s={RATE}[t{number}]")
        graph.append(f"aevalsrc=0:d=0.07:s={RATE}[g{number}]")
        names += [f"[g{number}]", f"[t{number}]"]
    graph.append(f"aevalsrc=0:d=0.1:s={RATE}[end]")
    joined = "".join([*names, "[end]"]) + f"concat=n={len(names) + 1}:v=0:a=1"
    out = tmp_path / "tones.wav"
    tool("ffmpeg", "-y", "-filter_complex", ";".join([*graph, joined]), out)
    result = listen(read(out), RATE)
    assert "".join(tone.symbol for tone in result.tones) == symbols
    # No ramp: the first sample of a tone is its onset, and both sines start there at zero.
    expected = [0.07 + 0.12 * number for number in range(len(symbols))]
    assert [tone.onset_s for tone in result.tones] == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize("kind", ["t", "h", "q", "p"])
def test_ramp_of_another_shape_costs_less_than_half_a_millisecond(tmp_path, kind):
    # sox's fades: straight, half cosine, quarter sine, inverted parabola; 4 ms long.
    tone = write_tone("8", Span.ms(60), RATE, Voice(ramp=Span(0)))
    gap = np.zeros(RATE // 20, np.float32)
    write(tmp_path / "one.wav", tone)
    shaped = ("fade", kind, 0.004, 0.06, 0.004)
    tool("sox", tmp_path / "one.wav", tmp_path / "shaped.wav", *shaped)
    sound = np.concatenate([gap, *([read(tmp_path / "shaped.wav"), gap] * 8)])
    onsets = [t.onset_s for t in listen(sound, RATE).tones]
    assert onsets == pytest.approx([0.05 + 0.11 * n for n in range(8)], abs=5e-4)
