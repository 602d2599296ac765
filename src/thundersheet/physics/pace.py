"""How long the next step is and of which kind, explicit or implicit. Plain floats.

Explicit steps are the cheaper ones while accuracy limits their length; where stability does, as
when a short tube evens out within a fraction of the step, implicit ones take over.
"""

from __future__ import annotations

from thundersheet.physics.implicit import attempt_implicit
from thundersheet.physics.kernel import Fill, Row, Rows, Work
from thundersheet.physics.step import attempt, haste

PACE = 9
"""The row of `work` that remembers, with these columns."""
IMPLICIT, DOUBT, REFUSED = 0, 1, 2

# An implicit step costs a bit more than two explicit ones, which are stable to 5 time constants.
# The counts keep a passing moment from changing the kind.
STIFF_ABOVE, STIFF_STEPS = 3.0, 6
SOFT_BELOW, SOFT_STEPS = 6.0, 6
STRICTER = 30.0
"""What is stiff forgets its errors, but near a stall the piston does not: implicit steps, long and
few, are held to this much less error than explicit ones."""


def attempt_either(par: Row, tables: Rows, t: float, h: float, going: int, work: Work,
                   tolerance: float) -> float:  # fmt: skip
    """One step of the kind in use; its error as a share of what is tolerated."""
    pace = work[PACE]
    if pace[IMPLICIT] != 0.0:
        error, fastest = attempt_implicit(par, tables, t, h, going, work)
        doubtful, most = h * fastest < SOFT_BELOW, SOFT_STEPS
    else:
        error = attempt(par, tables, t, h, going, work)
        fastest = haste(par, h, work) if error < 1e9 else 0.0
        doubtful, most = h * fastest > STIFF_ABOVE, STIFF_STEPS
    if pace[IMPLICIT] != 0.0:
        error *= STRICTER
    if error > tolerance:
        return error / tolerance
    pace[DOUBT] = pace[DOUBT] + 1.0 if doubtful else 0.0
    if pace[DOUBT] >= most:
        pace[IMPLICIT], pace[DOUBT] = 1.0 - pace[IMPLICIT], 0.0
    return error / tolerance


def growth(pace: Fill, error: float) -> float:
    """By how much the next step may be longer, after one of this error; refusals are noted.

    A step behind a refused one does not grow: at the limit of stability every other would fail.
    """
    grown = 5.0 if error < 5e-3 else max(0.1, 0.9 * error ** (-1.0 / 3.0))
    if error <= 1.0 and pace[REFUSED] != 0.0:
        grown = min(grown, 1.0)
    pace[REFUSED] = 1.0 if error > 1.0 else 0.0
    return grown
