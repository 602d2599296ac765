"""How fast and how exact the file receiver is, in one run, beside named peers.

Peers: multimon-ng and libspandsp's receiver, each behind the resampling by sox that it needs.
All read the same 10-minute, 48 kHz, 16-bit WAV, process start included, in turn, and all may use
two cores: a peer is two processes (sox and the decoder), ours is two threads. libspandsp is asked
for the instants at which digits begin, multimon-ng cannot say them; neither says where a tone
starts to better than its block. Run: .venv/bin/python benchmarks/listen.py
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from time import perf_counter

import numpy as np
import soundfile

from thundersheet.base.time import Span
from thundersheet.track.bound import onset_bound
from thundersheet.track.receive import Heard, listen
from thundersheet.track.symbols import SYMBOLS, Voice, write_tone

RATE, SECONDS = 48_000, 600
VOICE = Voice()
PEER = Path(__file__).parent / "peers" / "spandsp_digits.c"
RUNS = 15
CORES = 2


def tones(per_second: float, seconds: int, seed: int = 1) -> tuple[np.ndarray, str, np.ndarray]:
    """Random symbols on a grid, between samples, in 16-bit dither; what and where they are."""
    rng = np.random.default_rng(seed)
    sound = rng.uniform(-1.0, 1.0, seconds * RATE).astype(np.float32) / 32768
    count = int((seconds - 0.2) * per_second)
    places = 0.05 * RATE + np.arange(count) * RATE / per_second + rng.random(count)
    symbols = "".join(SYMBOLS[i] for i in rng.integers(0, 16, count))
    for symbol, place in zip(symbols, places, strict=True):
        tone = write_tone(symbol, Span.ms(50), RATE, VOICE, late=place % 1)
        sound[int(place) : int(place) + len(tone)] += tone
    return sound, symbols, places / RATE


@dataclass(frozen=True)
class Time:
    """One run of one receiver."""

    wall_s: float
    cpu_s: float
    said: str


def timed(command: str, folder: Path) -> Time:
    """Run a shell command once on at most ``CORES`` processors.

    Byte code is cached as on any ordinary machine, whatever this one's environment says.
    """
    cores = ",".join(map(str, sorted(os.sched_getaffinity(0))[:CORES]))
    environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
    environment |= {"PYTHONPYCACHEPREFIX": str(folder / "byte-code")}
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), perf_counter()
    said = subprocess.run(
        ["taskset", "-c", cores, "sh", "-c", command],
        env=environment, check=True, capture_output=True, text=True,
    ).stdout  # fmt: skip
    wall, after = perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Time(wall, cpu, said)


def in_turn(lines: dict[str, str], folder: Path) -> dict[str, list[Time]]:
    """Every receiver, one after the other, again and again: the machine's moods hit all alike."""
    runs: dict[str, list[Time]] = {name: [] for name in lines}
    for number in range(RUNS + 1):
        for name, command in lines.items():
            time = timed(command, folder)
            if number:  # the first only warms caches
                runs[name].append(time)
    return runs


def commands(folder: Path) -> dict[str, str]:
    """The three receivers as shell commands; {} is the file."""
    ours = f"{Path(sys.executable).parent / 'thundersheet'} listen {{}} --json"
    raw = "sox {} -t raw -e signed -b 16 -c 1 -r"
    subprocess.run(["cc", "-O2", "-o", folder / "spandsp", PEER, "-lspandsp"], check=True)
    return {
        "thundersheet listen": ours,
        "sox + multimon-ng": f"{raw} 22050 - | multimon-ng -q -t raw -a DTMF -",
        "sox + libspandsp": f"{raw} 8000 - | {folder / 'spandsp'}",
    }


def digits(name: str, said: str) -> str:
    """The symbols in what a receiver said."""
    if name.startswith("thundersheet"):
        return "".join(tone["symbol"] for tone in json.loads(said)["tones"])
    if "multimon" in name:
        return "".join(row.split()[1] for row in said.splitlines() if row.startswith("DTMF:"))
    return "".join(row[0] for row in said.splitlines())


def right(heard: str, written: str) -> str:
    """How many digits were said of how many, and whether they are those."""
    return f"{len(heard)}/{len(written)}" + ("" if heard == written else " (not all right)")


def speed_table(folder: Path) -> None:
    """Real-time factors end to end, and how many times as long each peer takes as ours."""
    print(
        f"Speed: {SECONDS} s of 48 kHz 16-bit WAV, process start included, {CORES} cores for all;"
    )
    print(
        f"shortest of {RUNS} runs, and the middle of the ratios of neighbouring runs: more than 1"
    )
    print("is slower than ours.")
    print(
        f"{'file':22} {'receiver':20} {'x, wall':>8} {'x, cpu':>8} "
        f"{'ratio, wall':>12} {'ratio, cpu':>11}  digits"
    )
    for per_second in (1, 10):
        sound, symbols, _ = tones(per_second, SECONDS)
        stereo = np.stack([sound * 0.0, sound], axis=1)
        for kind, data in (("mono", sound), ("right of stereo", stereo)):
            wav = folder / "file.wav"
            soundfile.write(wav, data, RATE, subtype="PCM_16")
            lines = commands(folder)
            if kind != "mono":
                lines = {name: line.replace(" - |", " - remix 2 |") for name, line in lines.items()}
            runs = in_turn({name: line.format(wav) for name, line in lines.items()}, folder)
            ours = runs["thundersheet listen"]
            for name, mine in runs.items():
                print(
                    f"{per_second:2}/s, {kind:15} {name:20} "
                    f"{SECONDS / min(t.wall_s for t in mine):8.0f} "
                    f"{SECONDS / min(t.cpu_s for t in mine):8.0f} "
                    f"{median(t.wall_s / o.wall_s for t, o in zip(mine, ours, strict=True)):12.2f} "
                    f"{median(t.cpu_s / o.cpu_s for t, o in zip(mine, ours, strict=True)):11.2f}  "
                    f"{right(digits(name, mine[0].said), symbols)}"
                )


def errors_ms(heard: Heard, onsets: np.ndarray) -> np.ndarray:
    """Onset errors of the tones that lie within 10 ms of a written one."""
    found = np.array([tone.onset_s for tone in heard.tones])
    near = np.abs(found[:, None] - onsets).argmin(axis=1)
    error = 1000 * (found - onsets[near])
    return error[np.abs(error) < 10]


def accuracy_table() -> None:
    """Onset errors in white noise against the Cramér-Rao bound."""
    sound, symbols, onsets = tones(10, 60)
    print("\nOnsets: 50 ms tones, 10 a second, 60 s; white noise up to 24 kHz; bound: level and")
    print("phase of both tones unknown, end of the tone not used (track/bound.py). The receiver")
    print("uses it where all tones are equally long, and so may be better than that bound.")
    print("S/N dB    found  bound us  ramp said  ramp found  max us")
    power = 0.5 * 10 ** (VOICE.level_dbfs / 10)
    for snr in (40, 30, 20, 10, 0, -5):
        rng = np.random.default_rng(snr + 100)
        noisy = sound + rng.standard_normal(len(sound)).astype(np.float32) * np.float32(
            np.sqrt(power * 10 ** (-snr / 10))
        )
        bound = [onset_bound(s, Span.ms(50), VOICE, snr, RATE) ** 2 for s in SYMBOLS]
        said, alone = listen(noisy, RATE, ramp=VOICE.ramp), listen(noisy, RATE)
        one, two = errors_ms(said, onsets), errors_ms(alone, onsets)
        print(
            f"{snr:6} {right(''.join(t.symbol for t in alone.tones), symbols):>8} "
            f"{1e6 * np.sqrt(np.mean(bound)):9.1f} {1e3 * np.sqrt(np.mean(one**2)):10.1f} "
            f"{1e3 * np.sqrt(np.mean(two**2)):11.1f} {1e3 * np.abs(two).max():7.0f}"
        )


def versions() -> str:
    """The peers' versions, as Debian names them."""
    packages = ("multimon-ng", "libspandsp2", "sox")
    rows = [
        subprocess.run(
            ["dpkg-query", "-W", "-f=${Package} ${Version}", name],
            capture_output=True, text=True, check=False,
        ).stdout
        for name in packages
    ]  # fmt: skip
    return ", ".join([*filter(None, rows), f"numpy {np.__version__}"])


def main() -> None:
    """Print both tables."""
    print(versions())
    with tempfile.TemporaryDirectory() as folder:
        speed_table(Path(folder))
    accuracy_table()


if __name__ == "__main__":
    main()
