"""Strokes a second: our kernel interpreted and compiled, and scipy's solve_ivp on the same cases.

Prints ratios from one run; all on one core, in processor time. scipy solves the same equations
with its own events at a tolerance that gives the same accuracy (0.1 ms), and once at 1e-10.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from time import process_time

import numpy as np
import scipy

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "physics"))

import reference
from cases import plain, table
from wide import wide_table

from thundersheet.physics import bulk, march
from thundersheet.physics.gas import Tube
from thundersheet.physics.solve import asked, interpret, solve
from thundersheet.physics.stroke import Stroke

CASES = {
    "lumped tubes": plain(),
    "tubes as nodes": plain(tube_model="node"),
    "after a dump": plain(vented=True),
    "stiff: 0.1 m of hose as a node": plain(
        tube_model="node", drive_tube=Tube(4.3e-3, 0.1), exhaust_tube=Tube(4.3e-3, 0.1)
    ),
}


def rate(run: Callable[[], int], seconds: float = 1.0) -> float:
    """Strokes a second of processor time."""
    begin, done = process_time(), 0
    while process_time() - begin < seconds:
        done += run()
    return done / (process_time() - begin)


def interpreted(stroke: Stroke) -> int:
    """One stroke by the interpreter."""
    solve(stroke)
    return 1


def compiled(stroke: Stroke, loads: np.ndarray) -> int:
    """A scatter over the load by compiled code."""
    return len(bulk.scatter(stroke, {"load": loads}))


def by_scipy(stroke: Stroke, rtol: float) -> int:
    """One stroke by scipy at a tolerance."""
    reference.RTOL = rtol
    reference.solve_reference(stroke)
    return 1


def error_ms(stroke: Stroke, full_s: float) -> float:
    """How far a hit is from scipy's at 1e-10."""
    reference.RTOL = 1e-10
    return 1000 * abs(full_s - reference.solve_reference(stroke)["full"])


def whole_range() -> None:
    """Print what the strokes of the test tables take, the stiff among them."""
    for name, cases in (("table", table()), ("whole range", wide_table())):
        spent, steps = [], []
        for stroke in cases.values():
            row, tables = asked(stroke, until_s=10.0)
            begin = process_time()
            steps.append(interpret(row, tables, 0)[0][march.STEPS])
            spent.append(1000 * (process_time() - begin))
        begin = process_time()
        bulk.land_many(list(cases.values()))
        rate = len(cases) / (process_time() - begin)
        middle, most = np.percentile(spent, (50, 95))
        print(
            f"{name}, {len(cases)} strokes: interpreted, median {middle:.1f} ms, 95 % below"
            f" {most:.0f}, longest {max(spent):.0f} ms ({max(steps):,.0f} steps);"
            f" compiled, {rate:,.0f}/s with their preparation"
        )


def main() -> None:
    """Print the comparison."""
    begin = process_time()
    bulk.compiled_kernel(print)
    print(f"kernel ready after {process_time() - begin:.1f} s of processor time")
    loads = np.linspace(4.5, 5.5, 2000)
    for name, stroke in CASES.items():
        fast = rate(lambda stroke=stroke: compiled(stroke, loads))
        plain_rate = rate(lambda stroke=stroke: interpreted(stroke))
        peer = rate(lambda stroke=stroke: by_scipy(stroke, 1e-6))
        tight = rate(lambda stroke=stroke: by_scipy(stroke, 1e-10))
        error = error_ms(stroke, float(bulk.scatter(stroke, {"load": np.array([5.0])}).full_s[0]))
        print(
            f"{name}: compiled {fast:,.0f}/s (hit within {error:.3f} ms of 1e-10),"
            f" {fast / peer:,.0f} x scipy {scipy.__version__} DOP853 at 1e-6 ({peer:.0f}/s),"
            f" {fast / tight:,.0f} x at 1e-10 ({tight:.0f}/s);"
            f" interpreted {plain_rate:,.0f}/s, {plain_rate / peer:.1f} x scipy at 1e-6"
        )
    whole_range()
    random = np.random.default_rng(1)
    begin = process_time()
    found = bulk.scatter(
        plain(),
        {
            "supply": plain().supply_pa * random.normal(1.0, 0.01, 10_000),
            "delay": random.normal(0.020, 0.001, 10_000),
            "breakaway": random.normal(40.0, 4.0, 10_000),
            "load": random.normal(5.0, 0.1, 10_000),
        },
    )
    spread = 1000 * float(np.nanstd(found.full_s))
    print(f"10,000-run scatter: {process_time() - begin:.2f} s, spread of the hit {spread:.1f} ms")


if __name__ == "__main__":
    main()
