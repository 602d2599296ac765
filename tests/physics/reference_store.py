"""What the reference found for whole tables of strokes, and how sure it is of it.

Run as a script it writes `reference_strokes.json` and `reference_wide.json`, which
`test_stroke_reference` and `test_stroke_wide` hold us to.
"""

from __future__ import annotations

import json
import math
import signal
from dataclasses import replace
from pathlib import Path

from reference import RTOL, solve_reference

from thundersheet.physics.stroke import Stroke

STORED = Path(__file__).with_name("reference_strokes.json")
STORED_WIDE = Path(__file__).with_name("reference_wide.json")
UNTIL_S = 10.0
PATIENCE_S = 60
"""Of processor time for one solution."""
LIMITS = {"start": 1e-4, "mid": 1e-4, "full": 1e-4, "speed": 2e-3, "air": 5e-4}
"""What section 10 of the reference model allows: seconds for times, shares for speed and air."""

Known = dict[str, float | None]


def solved(stroke: Stroke, method: str, rtol: float) -> Known | None:
    """The solution, or None where the method is not through within the patience."""
    signal.setitimer(signal.ITIMER_PROF, PATIENCE_S)
    try:
        return solve_reference(stroke, UNTIL_S, method, rtol)
    except (TimeoutError, AssertionError):
        return None
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


def apart(one: Known, other: Known) -> float:
    """How far two solutions are from each other, as a share of what is allowed."""
    worst = 0.0
    for key, limit in LIMITS.items():
        a, b = one[key], other[key]
        if key == "air" and one["full"] is None:
            continue
        if (a is None) != (b is None):
            return math.inf
        if a is not None and b is not None:
            size = max(abs(a), 1e-9) if key in ("speed", "air") else 1.0
            worst = max(worst, abs(a - b) / limit / size)
    return worst


def checked(stroke: Stroke) -> Known | None:
    """The solution with its ``doubt``: as a share of what is allowed, how far it is at most from
    a second one and from that of a stroke whose supply is off by 1e-12 of itself.

    DOP853 at 1e-12 and 1e-11; where it does not get through, Radau at 1e-11 and 1e-10, or at 1e-10
    and 1e-9. (Of those stored, some have one solution that is both tighter and moved.)
    """
    moved = replace(stroke, supply_pa=stroke.supply_pa * (1 + 1e-12))
    pairs = (("DOP853", 1e-12, 1e-11), ("Radau", 1e-11, 1e-10), ("Radau", 1e-10, 1e-9))
    for method, best, second in pairs:
        found = solved(stroke, method, best)
        again, beside = solved(stroke, method, second), solved(moved, method, best)
        if found and again and beside:
            doubt = max(apart(found, again), apart(found, beside))
            explicit = float(method == "DOP853")
            return found | {"explicit": explicit, "doubt": min(float(f"{doubt:.2g}"), 1e9)}
    return None


def give_up(*_: object) -> None:
    raise TimeoutError


def store(found: dict[str, Known | None], path: Path) -> None:
    lines = (f"  {json.dumps(name)}: {json.dumps(known)}" for name, known in found.items() if known)
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def main() -> None:
    """Solve both tables anew and store them: some hours."""
    from cases import table
    from wide import wide_table

    signal.signal(signal.SIGPROF, give_up)
    store({n: solved(stroke, "DOP853", RTOL) for n, stroke in table().items()}, STORED)
    store({n: checked(stroke) for n, stroke in wide_table().items()}, STORED_WIDE)


if __name__ == "__main__":
    main()
