"""How fast a long book is read and planned, and where the time goes, in one run.

The book is made here: 2,000 beats in ten minutes on 28 devices (twelve cylinders, four of them
busy, eight hammers, six lamps, two gauges), on the frames of a picture. Peers: PyYAML reading the
same text, scipy's solve_ivp (DOP853) on the same strokes. Each plan is made in a process of its
own, so that nothing is known beforehand; seconds are of processor time, on one core.
Run: .venv/bin/python benchmarks/plan.py
"""

from __future__ import annotations

import cProfile
import pstats
import random
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from time import process_time
from typing import TypeVar

import scipy
import yaml

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "physics"))

import reference

from thundersheet.book.read import read_text
from thundersheet.physics.solve import solve
from thundersheet.physics.stroke import Stroke
from thundersheet.plan.lead import leads
from thundersheet.plan.plan import make_plan
from thundersheet.plan.timeline import timeline

SIZES = (500, 1000, 2000, 5000)
BEATS = 2000
DIRECT_BEATS = 500
"""More of these beats do not go into single tones and words: 48 commands, three a second."""
SLOT_S = 0.3
"""2,000 beats in ten minutes."""
CYLINDERS, HAMMERS, LAMPS, GAUGES = 12, 8, 6, 2
BUSY = 4
"""Cylinders that move three times as often as the others."""
FRAMES = 25
"""Beats stand on frames of the picture."""
Found = TypeVar("Found")
STAGES = {
    "reading": ("read.py", "read_text"),
    "beats to targets": ("timeline.py", "timeline"),
    "leads": ("lead.py", "leads"),
    "(strokes in them)": ("march.py", "run"),
    "rules": ("gate.py", "gate"),
    "force and light": ("safety.py", "safety"),
    "power": ("power.py", "power"),
    "cue track": ("layout.py", "lay_out"),
    "cures": ("trial.py", "with_cures"),
}

HEAD = """\
book: 1
show:
  name: A long show
  length: {length} s
  rest: 20 s
  cue track: {{layout: {layout}, channel: right}}
air: {{set: 2.5 bar}}
devices:
"""


def long_book(beats: int, layout: str = "marks", slot_s: float = SLOT_S) -> str:
    """A book with so many beats, one in each slot; the same text every time."""
    text = [HEAD.format(length=f"{beats * slot_s + 20:g}", layout=layout), *_devices(), "beats:\n"]
    text += _beats(beats, slot_s)
    return "".join(text)


def _devices() -> Iterator[str]:
    for n in range(CYLINDERS):
        yield (
            f"  c{n}: {{kind: air cylinder, bore: {(16, 20, 25, 32)[n % 4]} mm, "
            f"stroke: {60 + 15 * n} mm, moves: {0.3 + 0.1 * n:.1f} kg, reachable: no, "
            f"hose: {{bore: 4 mm, length: {1 + n % 3} m}}, exhaust restriction: 0.04 Cv}}\n"
        )
    for n in range(HAMMERS):
        yield f"  h{n}: {{kind: solenoid hammer, volts: 24 V, current: 1 A}}\n"
    for n in range(LAMPS):
        yield f"  l{n}: {{kind: lamp, volts: 24 V, current: 0.3 A, lit share: 2 %}}\n"
    for n in range(GAUGES):
        yield f"  g{n}: {{kind: bar gauge, segments: 10, volts: 24 V, current: 12 mA}}\n"


def _beats(beats: int, slot_s: float) -> Iterator[str]:
    """Round after round each device once and the busy ones three times, in a changing order."""
    chance = random.Random(1)
    names = [f"c{n}" for n in range(CYLINDERS)] + [f"h{n}" for n in range(HAMMERS)]
    names += [f"l{n}" for n in range(LAMPS)] + [f"g{n}" for n in range(GAUGES)]
    chance.shuffle(names)
    third = len(names) // 3
    busy = [f"c{n}" for n in range(BUSY)]
    names = [*busy, *names[:third], *busy, *names[third : 2 * third], *names[2 * third :]]
    turns: Counter[str] = Counter()
    order: list[str] = []
    for slot in range(beats):
        if not order:
            places = sorted(range(len(names)), key=lambda i: i + 3 * chance.random())
            order = [names[i] for i in places]
        name = order.pop(0)
        turns[name] += 1
        does = {
            "c": ("back", "out")[turns[name] % 2],
            "h": "strike",
            "l": ("off", "on")[turns[name] % 2],
            "g": f"to {(20, 80)[turns[name] % 2]} % over 1 s",
        }[name[0]]
        at = 10 + round(FRAMES * slot_s * (slot + chance.random())) / FRAMES
        yield f"  - {{at: {at:.3f} s, do: {name} {does}, window: soft}}\n"


@dataclass(frozen=True)
class Made:
    """One book read and planned: seconds, and what came of it."""

    read_s: float
    plan_s: float
    cues: int
    refused: int


def timed(run: Callable[[], Found]) -> tuple[float, Found]:
    """Processor seconds, and what came of it."""
    begin = process_time()
    found = run()
    return process_time() - begin, found


def make(beats: int, layout: str) -> Made:
    """Read and plan a long book as `check` does."""
    text = long_book(beats, layout)
    read_s, book = timed(lambda: read_text(text))
    plan_s, plan = timed(lambda: make_plan(book, cures=True))
    refused = sum(finding.grade == "refuse" for finding in plan.findings)
    return Made(read_s, plan_s, len(plan.cues), refused)


def afresh(run: Callable[..., Found], *words: object) -> Found:
    """What a function gives in a new process."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(run, *words).result()


def shares(beats: int, layout: str) -> tuple[dict[str, float], int]:
    """Shares of the time by stage, from a profile, and how many strokes were run."""
    text = long_book(beats, layout)
    profile = cProfile.Profile()
    profile.runcall(lambda: make_plan(read_text(text), cures=True))
    rows = {
        (Path(file).name, name): (calls, spent)
        for (file, _, name), (calls, _, _, spent, _) in pstats.Stats(profile).stats.items()  # type: ignore[attr-defined]
        if "thundersheet" in file
    }
    whole = rows["read.py", "read_text"][1] + rows["plan.py", "make_plan"][1]
    found = {stage: rows.get(where, (0, 0.0))[1] / whole for stage, where in STAGES.items()}
    return found, rows["march.py", "run"][0]


def strokes_of(beats: int) -> list[Stroke]:
    """The strokes that the leads of a long book stand on, one a cylinder's move."""
    book = read_text(long_book(beats))
    cues = leads(book, timeline(book, "").targets).cues
    return [cue.lead.state.stroke for cue in cues if cue.target.move.device.startswith("c")]


def by_scipy(strokes: list[Stroke]) -> float:
    """Seconds a stroke by scipy, at a tolerance of the same accuracy."""
    reference.RTOL = 1e-6
    return timed(lambda: [reference.solve_reference(stroke) for stroke in strokes])[0] / len(
        strokes
    )


def by_us(strokes: list[Stroke]) -> float:
    """Seconds a stroke by the interpreted kernel."""
    return timed(lambda: [solve(stroke) for stroke in strokes])[0] / len(strokes)


def compare_reading(beats: int, read_s: float) -> None:
    """Our reader, which keeps the place of every value and checks it, beside PyYAML's loaders."""
    text = long_book(beats)
    print(f"reading {beats} beats, {len(text) / 1000:.0f} kB: {read_s:.2f} s", end="")
    for name, loader in (("C", yaml.CSafeLoader), ("Python", yaml.SafeLoader)):
        theirs, _ = timed(lambda loader=loader: yaml.load(text, loader))
        print(f"; {read_s / theirs:.2f} x PyYAML {yaml.__version__}'s {name} loader", end="")
    print()


def compare_strokes(beats: int, plan_s: float, run: int) -> None:
    """What the plan's strokes would take by scipy."""
    strokes = strokes_of(beats)
    some = strokes[:: len(strokes) // 40]
    ours, theirs = by_us(some), by_scipy(some)
    print(
        f"{len(strokes)} moves of cylinders, {run} strokes and rests run for them, bands included;"
        f" one stroke {1000 * ours:.1f} ms interpreted ({1 / ours:.0f}/s),"
        f" {theirs / ours:.1f} x as fast as scipy {scipy.__version__} at 1e-6"
        f" ({1000 * theirs:.0f} ms); one stroke a move by scipy alone would take"
        f" {len(strokes) * theirs:.1f} s, {len(strokes) * theirs / plan_s:.1f} x the whole plan"
    )


def say(beats: int, layout: str, made: Made) -> None:
    """One line a book."""
    each = 1000 * (made.read_s + made.plan_s) / beats
    end = "planned" if not made.refused else f"{made.refused} refused"
    print(f"{beats:6}  {layout:7}{made.read_s:8.2f}{made.plan_s:8.2f}{each:10.2f}  {end}")


def main() -> None:
    """Print the comparison."""
    print(f"{'beats':>6}  {'layout':7}{'read s':>8}{'plan s':>8}{'ms a beat':>10}")
    made = {beats: afresh(make, beats, "marks") for beats in SIZES}
    for beats, each in made.items():
        say(beats, "marks", each)
    say(DIRECT_BEATS, "direct", afresh(make, DIRECT_BEATS, "direct"))
    compare_reading(BEATS, made[BEATS].read_s)
    spent, run = afresh(shares, BEATS, "marks")
    print("of the time:", ", ".join(f"{stage} {share:.0%}" for stage, share in spent.items()))
    compare_strokes(BEATS, made[BEATS].plan_s, run)


if __name__ == "__main__":
    main()
