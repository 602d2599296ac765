"""Ten thousand shows of The Lamp Room drawn by lot, and scipy on a sample of the same strokes.

Prints figures and ratios from one run, in processor time of one core. scipy solves the same
equations with its own events at a tolerance that gives the same accuracy (0.1 ms); it gets a small
sample of the drawn strokes, and its time is scaled to all of them.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from time import process_time

import scipy

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "physics"))

import numpy as np
import reference
from numpy.typing import NDArray

from thundersheet.book.read import read_book
from thundersheet.physics.stroke import Stroke
from thundersheet.plan.plan import make_plan
from thundersheet.plan.records import Plan
from thundersheet.rehearse.scatter.draw import drawn
from thundersheet.rehearse.scatter.events import event_errors
from thundersheet.rehearse.scatter.plant import (
    errors_by,
    rows_of,
    stroke_as,
)
from thundersheet.rehearse.scatter.setup import setup_of
from thundersheet.rehearse.scatter.shows import scatter
from thundersheet.rehearse.scatter.study import Study, study_of

Table = NDArray[np.float64]
ROOT = Path(__file__).parent.parent
RTOL = 1e-6
"""As the strokes' own benchmark has it: scipy's landings are within 0.1 ms too."""
SAMPLE = 12


def whole(play: Callable[[Table], Table], study: Study, shows: int) -> float:
    """Seconds a show for drawn shows played by a plant as a whole."""
    z = drawn(study, 1, 0)
    play(z[:1])
    begin = process_time()
    play(z[:shows])
    return (process_time() - begin) / shows


def by_scipy(study: Study, plan: Plan) -> float:
    """Seconds a stroke, over the drawn strokes of a few shows."""
    devices = {cue.id: cue.target.move.device for cue in plan.cues}
    reference.RTOL = RTOL
    strokes = [
        stroke_as(beat.stroke, devices[beat.cue], way_of(beat.stroke), row)
        for row in rows_of(study, drawn(study, 1, 0)[:SAMPLE])
        for beat in (study.beats[i] for i in study.strokes)
        if beat.stroke is not None
    ]
    begin = process_time()
    for stroke in strokes:
        reference.solve_reference(stroke)
    return (process_time() - begin) / len(strokes)


def way_of(stroke: Stroke) -> str:
    """Which way it goes."""
    return "out" if stroke.extend else "back"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shows", type=int, default=10_000)
    shows = parser.parse_args().shows
    book = read_book(ROOT / "examples/lamp-room")
    plan = make_plan(book)
    study = study_of(book, plan)
    scatter(book, plan, 2, 1, coupled=1)  # compiled before the clock starts
    begin = process_time()
    found = scatter(book, plan, shows, 1, workers="1")
    ours = process_time() - begin
    strokes = 2 * shows * sum(beat.stroke is not None for beat in study.beats)
    print(f"{shows:,} shows, {strokes:,} strokes: {ours:.1f} s, {strokes / ours:,.0f} strokes/s")
    print(f"all inside {found.all_inside:.4f}; tuned {found.tuned_all_inside:.4f}")
    for check in found.checks:
        print(f"{check.shows} of them by the {check.solver} plant: rms {check.rms_ms:.2f} ms apart")
    setup = setup_of(book, plan)
    played = whole(lambda z: event_errors(study, z), study, 10 * SAMPLE)
    print(f"event-driven, whole shows: {played * 1000:.1f} ms a show")
    coupled = whole(lambda z: errors_by("coupled", setup, study, z), study, SAMPLE)
    print(f"coupled, whole shows: {coupled * 1000:.1f} ms a show")
    each = by_scipy(study, plan)
    print(
        f"scipy {scipy.__version__}: {each * 1000:.1f} ms a stroke in a sample; scaled to all "
        f"{each * strokes:,.0f} s, {each * strokes / ours:,.0f} x ours"
    )


if __name__ == "__main__":
    main()
