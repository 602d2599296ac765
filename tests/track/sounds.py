"""Sounds for the receiver's tests: series of tones, damage by outside tools, and the score."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from thundersheet.base.time import Span
from thundersheet.track.receive import Heard
from thundersheet.track.symbols import SYMBOLS, Voice, amplitudes, frequencies, rise, write_tone

RATE = 48_000
NEAR_S = 0.012
Sound = NDArray[np.float32]


@dataclass(frozen=True)
class Series:
    """Tones in a row, each starting somewhere between two samples."""

    sound: Sound
    symbols: str
    onsets_s: tuple[float, ...]
    rate: int = RATE


@dataclass(frozen=True)
class Pattern:
    """What a series is like."""

    seconds: float = 10
    tone_ms: float = 50
    gap_ms: float = 50
    rate: int = RATE
    speed: float = 0.0
    voice: Voice = field(default_factory=Voice)
    snr_db: float | None = None
    """Against white noise up to half the rate."""
    seed: int = 1


def series(pattern: Pattern = Pattern(), **change: object) -> Series:
    """A series of random symbols and phases."""
    how = replace(pattern, **change)
    rng = np.random.default_rng(how.seed)
    sound = np.zeros(round(how.seconds * how.rate), np.float32)
    step = (how.tone_ms + how.gap_ms) / 1000 * how.rate
    count = int((len(sound) - 0.15 * how.rate) / step)
    symbols = "".join(SYMBOLS[i] for i in rng.integers(0, 16, count))
    at = 0.05 * how.rate + np.arange(count) * step + rng.random(count)
    for symbol, place in zip(symbols, at, strict=True):
        voice = replace(how.voice, phases=tuple(rng.uniform(0, 2 * np.pi, 2)))
        tone = _tone(symbol, how, voice, place % 1)
        sound[int(place) : int(place) + len(tone)] += tone
    if how.snr_db is not None:
        sound += noise(len(sound), how.voice.level_dbfs - how.snr_db, how.seed)
    return Series(sound, symbols, tuple(at / how.rate), how.rate)


def _tone(symbol: str, how: Pattern, voice: Voice, late: float) -> Sound:
    length = Span.ms(how.tone_ms)
    if not how.speed:
        return write_tone(symbol, length, how.rate, voice, late=late)
    seconds = (np.arange(round(length.s * how.rate) + 1) - late) / how.rate
    waves = zip(
        frequencies(symbol),
        amplitudes(voice.level_dbfs, voice.twist_db),
        voice.phases,
        strict=True,
    )
    wave = sum(
        a * np.cos(2 * np.pi * f * (1 + how.speed) * seconds + phase) for f, a, phase in waves
    )
    ramp = rise(np.minimum(seconds, length.s - seconds), voice.ramp.s)
    return np.asarray(wave * ramp, np.float32)


def noise(count: int, level_dbfs: float, seed: int = 1) -> Sound:
    """White noise of so much power against a full-scale sine."""
    rms = np.sqrt(0.5 * 10 ** (level_dbfs / 10))
    return np.asarray(np.random.default_rng(seed).standard_normal(count) * rms, np.float32)


@dataclass(frozen=True)
class Score:
    """What became of a series."""

    found: int
    missed: int
    wrong: int
    extra: int
    errors_ms: NDArray[np.float64]

    @property
    def clean(self) -> bool:
        """Whether every tone was found as what it is, and nothing else."""
        return not (self.missed or self.wrong or self.extra)

    @property
    def rms_ms(self) -> float:
        return float(np.sqrt(np.mean(self.errors_ms**2)))

    @property
    def worst_ms(self) -> float:
        return float(np.abs(self.errors_ms).max())


def score(heard: Heard, written: Series) -> Score:
    """Match tones heard with tones written, the nearest within 12 ms."""
    found, wrong, errors, left = 0, 0, [], list(heard.tones)
    for symbol, onset in zip(written.symbols, written.onsets_s, strict=True):
        near = [tone for tone in left[:8] if abs(tone.onset_s - onset) < NEAR_S]
        if not near:
            continue
        best = min(near, key=lambda tone: abs(tone.onset_s - onset))
        left.remove(best)
        if best.symbol == symbol:
            found += 1
            errors.append(1000 * (best.onset_s - onset))
        else:
            wrong += 1
    missed = len(written.symbols) - found - wrong
    return Score(found, missed, wrong, len(left), np.array(errors or [np.nan]))


def tool(*command: object) -> None:
    """Run an outside tool; what it says is shown when it fails."""
    done = subprocess.run([str(word) for word in command], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def write(path: Path, sound: Sound, rate: int = RATE) -> Path:
    soundfile.write(path, sound, rate, subtype="PCM_16")
    return path


def read(path: Path) -> Sound:
    sound, rate = soundfile.read(path, dtype="float32")
    assert rate == RATE
    return sound


def aac(folder: Path, sound: Sound, kbit: int) -> Sound:
    """Through ffmpeg's AAC in an MP4 file, priming skipped as its edit list says."""
    write(folder / "in.wav", sound)
    tool("ffmpeg", "-y", "-i", folder / "in.wav", "-b:a", f"{kbit}k", folder / "coded.m4a")
    tool("ffmpeg", "-y", "-i", folder / "coded.m4a", folder / "out.wav")
    return read(folder / "out.wav")


def mp3(folder: Path, sound: Sound, kbit: int) -> Sound:
    """Through lame, delay and padding taken off by ffmpeg as the header says."""
    write(folder / "in.wav", sound)
    tool("lame", "--resample", "48", "-b", kbit, folder / "in.wav", folder / "coded.mp3")
    tool("ffmpeg", "-y", "-i", folder / "coded.mp3", folder / "out.wav")
    return read(folder / "out.wav")


def opus(folder: Path, sound: Sound, kbit: int) -> Sound:
    """Through opusenc and opusdec, which skip their priming themselves."""
    write(folder / "in.wav", sound)
    tool("opusenc", "--bitrate", kbit, folder / "in.wav", folder / "coded.opus")
    tool("opusdec", "--rate", RATE, folder / "coded.opus", folder / "out.wav")
    return read(folder / "out.wav")


def programme(folder: Path, seconds: float) -> Sound:
    """Speech by espeak-ng over plucked strings by sox: loud, without a single digit."""
    text = "In the lamp room the keeper climbs the stairs and counts to seven hundred and forty. "
    tool("espeak-ng", "-w", folder / "speech.wav", "-s", 150, text * 4)
    strings = ("C4", "E4", "G4", "B4", "C5", "A4", "F4", "D4")
    voices = [word for note in strings for word in ("synth", "0.5", "pluck", note, ":", "newfile")]
    tool(*("sox", "-n", "-r", RATE, "-c", 1, folder / "pluck.wav"), *voices[:-2])
    plucks = sorted(folder.glob("pluck*.wav"))
    tool("sox", *plucks, folder / "strings.wav", "gain", "-n", -6)
    tool("sox", folder / "speech.wav", "-r", RATE, folder / "voice.wav", "gain", "-n", -6)
    voice, music = read(folder / "voice.wav"), read(folder / "strings.wav")
    count = round(seconds * RATE)
    return np.asarray(np.resize(voice, count) + np.resize(music, count), np.float32)


def digits_by_multimon(folder: Path, wav: Path) -> str:
    """What multimon-ng 1.2 makes of a file, resampled for it by sox."""
    raw = folder / "multimon.raw"
    tool("sox", wav, "-t", "raw", "-e", "signed", "-b", 16, "-r", 22_050, "-c", 1, raw)
    command = ["multimon-ng", "-q", "-t", "raw", "-a", "DTMF", str(raw)]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return "".join(line.split()[1] for line in said.splitlines() if line.startswith("DTMF:"))


def build_spandsp(folder: Path) -> Path:
    """Compile the little program around libspandsp's receiver that the benchmark uses too."""
    source = Path(__file__).parents[2] / "benchmarks" / "peers" / "spandsp_digits.c"
    compiler = shutil.which("cc") or "gcc"
    tool(compiler, "-O2", "-o", folder / "spandsp_digits", source, "-lspandsp")
    return folder / "spandsp_digits"


def digits_by_spandsp(program: Path, wav: Path) -> str:
    """What libspandsp 0.0.6 makes of a file, resampled for it by sox."""
    raw = wav.with_suffix(".8k.raw")
    tool("sox", wav, "-t", "raw", "-e", "signed", "-b", 16, "-r", 8000, "-c", 1, raw)
    with raw.open("rb") as sound:
        said = subprocess.run([str(program)], stdin=sound, capture_output=True, text=True)
    return "".join(line[0] for line in said.stdout.splitlines())
