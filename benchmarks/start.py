"""How long the command line takes to start, as whole processes, beside what else must start.

Prints ratios from one run. The commands take turns, so that a busy moment hits all alike; of each
the median wall time and the least processor time are kept. All run with byte code in place, as an
installed package has it. Run: .venv/bin/python benchmarks/start.py
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
from time import perf_counter

ROUNDS = 15
HELP_LIMIT, CHECK_LIMIT_S = 4.0, 0.6
EXAMPLES = Path(__file__).parent.parent / "examples"
BARE = "python -c pass"
HELP = "thundersheet --help"
PEERS = ("argparse", "yaml", "rich.console", "numpy")


@dataclass
class Times:
    """Of one command, a number for each round."""

    wall_s: list[float] = field(default_factory=list)
    cpu_s: list[float] = field(default_factory=list)


def commands() -> dict[str, list[str]]:
    """What is started, by the name under which it is printed."""
    ours = str(Path(sys.executable).parent / "thundersheet")
    peers = {f"import {name}": f"import {name}" for name in PEERS}
    return {
        BARE: [sys.executable, "-c", "pass"],
        HELP: [ours, "--help"],
        **{name: [sys.executable, "-c", code] for name, code in peers.items()},
        "thundersheet check --help": [ours, "check", "--help"],
        **{
            f"thundersheet check {folder.name}": [ours, "check", str(folder)]
            for folder in sorted(EXAMPLES.iterdir())
            if (folder / "book.yaml").exists()
        },
    }


def run_once(command: list[str], environment: Mapping[str, str]) -> tuple[float, float]:
    """Wall and processor seconds of one process."""
    begin = perf_counter()
    process = subprocess.Popen(
        command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    complaint = process.stderr.read() if process.stderr else b""
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in (0, 1):
        raise RuntimeError(f"{command} failed: {complaint.decode()}")
    return perf_counter() - begin, used.ru_utime + used.ru_stime


def measure() -> dict[str, Times]:
    """All commands in turns, after one round that leaves the byte code."""
    wanted = commands()
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "PYTHONPYCACHEPREFIX": cache, "PYTHONDONTWRITEBYTECODE": ""}
        for command in wanted.values():
            run_once(command, environment)
        times = {name: Times() for name in wanted}
        for _ in range(ROUNDS):
            for name, command in wanted.items():
                wall, cpu = run_once(command, environment)
                times[name].wall_s.append(wall)
                times[name].cpu_s.append(cpu)
    return times


def main() -> None:
    """Print the comparison."""
    times = measure()
    bare = median(times[BARE].wall_s)
    print(f"{ROUNDS} rounds, load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"{'':42}{'wall, median':>14}{'processor':>12}{'x ' + BARE:>20}")
    for name, each in times.items():
        wall = median(each.wall_s)
        print(f"{name:42}{wall * 1000:11.0f} ms{min(each.cpu_s) * 1000:9.0f} ms{wall / bare:20.1f}")
    ratio = median(times[HELP].wall_s) / bare
    slowest = max(median(each.wall_s) for name, each in times.items() if "check " in name)
    print(f"{HELP}: {ratio:.1f} x {BARE} (limit {HELP_LIMIT:g})")
    print(f"slowest check: {slowest:.2f} s (limit {CHECK_LIMIT_S:g} s on an idle machine)")


if __name__ == "__main__":
    main()
