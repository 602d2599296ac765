"""A stroke again with care, where it goes by jerks: sticks, creeps or bounces on its way.

`march` holds every step to the same small error, which is enough as long as errors fade. Below the
speed at which friction falls they grow, and each stop passes them on. So such strokes, and only
these, are run a second time in steps of high order (`fine`) with each event met by a step that
ends at it. In and out as `march.run`; plain floats, interpreted or compiled.
"""

from __future__ import annotations

from thundersheet.physics.events import (
    ARRIVES,
    MEETS_CUSHION,
    NOTHING,
    SETS_OFF,
    TURNS,
    crossing,
    ending,
    leaving,
    reaching,
)
from thundersheet.physics.fine import STIFF_POWER, attempt_fine
from thundersheet.physics.kernel import (
    AREA_D,
    AREA_E,
    BREAKAWAY,
    COULOMB,
    CUSHION_AT,
    D_TABLE,
    DE_TABLE,
    E_TABLE,
    EE_TABLE,
    F_S,
    HELD,
    PD,
    PE,
    S_END,
    STRIBECK,
    STROKE,
    UNTIL,
    V_0,
    Fill,
    Row,
    Rows,
    V,
    Work,
    Y,
    net_force,
    opening,
    rates,
)
from thundersheet.physics.march import (
    ARRIVED,
    CUT,
    IMPACT,
    MASS_IN,
    SAMPLES,
    STATUS,
    STEPS,
    T_END,
    T_FULL,
    T_MID,
    T_START,
    TOO_MANY,
    TURNED,
    act,
    mass_inside,
    noted,
    resting,
    set_out,
)
from thundersheet.physics.step import shortened, take

CREEPS_BELOW = 2.5
"""Times the Stribeck speed: slower than that on the whole, and friction falls with speed."""
FINE_TOLERANCE, STIFF_TIMES = 1e-11, 1000.0
"""Error of a step as a share of the state, and how much more an implicit one may have: a film of
air that follows its tube lags by less than the law can resolve, and forgets its errors at once."""
FEW_TURNS, CLOSER, ALIKE = 3.0, 0.1, 0.1
"""So few turns leave errors small: where a run at a tenth of the tolerance agrees with the first to
a tenth of what is allowed, it stands (of 115 such strokes none was off by more than a fiftieth)."""
MOST_STEPS = 25_000
"""A stroke that takes more sticks or bounces some hundred times: what `march` found stands."""
SHORTEST, CLEAR = 1e-9, 0.2
HALF_WAY, AT_HOME = 5, 6
"""More events than `events` has: mid-stroke, which ends nothing, and being back where it began."""


def jerks(ask: Row, found: Row) -> bool:
    """Whether a stroke that was run has stuck, turned or crept under way, so that errors grow."""
    if ask[HELD] != 0.0 or found[T_START] < 0.0:
        return False
    # One that is reversed on its way turns once as it should.
    if found[TURNED] > (1.0 if ask[V_0] < 0.0 else 0.0):
        return True
    return creeps(ask, found)


def creeps(ask: Row, found: Row) -> bool:
    """Whether a stroke that was run was so slow on the whole that friction fell with its speed."""
    if ask[BREAKAWAY] == ask[COULOMB]:
        return False
    # Before mid-stroke it is at most there.
    went = ask[STROKE] if found[STATUS] == ARRIVED else 0.5 * ask[STROKE]
    until = found[T_END] if found[T_MID] < 0.0 or found[STATUS] == ARRIVED else found[T_MID]
    return went < CREEPS_BELOW * ask[STRIBECK] * (until - found[T_START])


def bounces(ask: Row, found: Row) -> bool:
    """Whether it is only thrown back by its own air a few times, as one that lunges.

    Never where chains are exact: `march` runs with coarser tables of them.
    """
    if max(ask[D_TABLE], ask[DE_TABLE], ask[E_TABLE], ask[EE_TABLE]) >= 0.0:
        return False
    return 0.0 < found[TURNED] <= FEW_TURNS and not creeps(ask, found)


def alike(one: Row, other: Row) -> bool:
    """Whether two runs of different exactness land the same to a tenth of what is allowed.

    Limits of section 10 of the reference model: 0.1 ms, 0.2 % of speed and 0.05 % of air.
    """
    if one[STATUS] != other[STATUS] or one[TURNED] != other[TURNED]:
        return False
    times = all(abs(one[i] - other[i]) <= ALIKE * 1e-4 for i in (T_START, T_MID, T_FULL, T_END))
    return (
        times
        and abs(one[IMPACT] - other[IMPACT]) <= ALIKE * 2e-3 * other[IMPACT]
        and abs(one[MASS_IN] - other[MASS_IN]) <= ALIKE * 5e-4 * abs(other[MASS_IN])
    )


def run_again(ask: Row, par: Fill, tables: Rows, work: Work, trace: Work, found: Fill) -> None:
    """`march.run` in fine steps. ``work`` has `fine.FINE_ROWS` rows of 27."""
    t, going, cushioned = set_out(ask, par, tables, work, found)
    z, new, k1, end = work[0], work[1], work[2], work[3]
    inside, until = mass_inside(par, z), max(ask[UNTIL], t)
    h, kept, every, steps = 1e-5, 0, 1, 0
    while True:
        kept, every = noted(par, t, going, z, trace, found, steps, kept, every)
        if t >= until or found[STATUS] != CUT:
            break
        found[STATUS] = resting(par, going, t, z)
        if steps >= MOST_STEPS:
            found[STATUS] = TOO_MANY
        if found[STATUS] != CUT:
            continue
        h = shortened(par, t, going, z, until, h)
        error, power = attempt_fine(par, tables, t, h, going, work)
        steps += 1
        share = error / (FINE_TOLERANCE * (STIFF_TIMES if power == STIFF_POWER else 1.0))
        grown = 4.0 if share < 1e-6 else min(4.0, max(0.1, 0.85 * share**-power))
        if share > 1.0 and h > SHORTEST:
            h *= grown
            continue
        at, event = meeting(par, going, h, cushioned, found[T_MID] < 0.0, z, new, k1, end)
        if at > 1.0:
            if h > 1e-6 and grazes(par, going, h, z, new, k1, end):
                h *= 0.5
                continue
            t += h
            if until - t < 1e-12:
                t = until
            take(par, work)
            h *= grown
            continue
        t += sharpen(par, tables, t, at * h, h, event, going, work)
        steps += 1
        take(par, work)
        if event == HALF_WAY:
            found[T_MID] = t
        else:
            going = act(par, TURNS if event == AT_HOME else event, going, t, z, found)
            cushioned = 1 if event == MEETS_CUSHION else cushioned
            h = min(h, 1e-4)
            rates(par, tables, opening(par, t), going, z, k1)
    found[T_END], found[STEPS], found[SAMPLES] = t, steps, kept
    found[MASS_IN] = mass_inside(par, z) - inside


def meeting(par: Row, going: int, h: float, cushioned: int, before_middle: bool,
            z: Row, new: Row, k1: Row, end: Row) -> tuple[float, int]:  # fmt: skip
    """About where in the step something happens, and what."""
    if going == 0:
        return leaving(par, h, z, new, k1, end)
    at, event = ending(par, going, h, cushioned, z, new, k1, end)
    if going < 0:
        turning = crossing(max(-z[V], 0.0), -new[V], -h * k1[V], -h * end[V])
        return at, (TURNS if turning <= at else AT_HOME)
    if before_middle and z[Y] <= 0.5 * par[S_END]:
        middle = reaching(0.5 * par[S_END], h, z, new, k1, end)
        if middle < at:
            return middle, HALF_WAY
    return at, event


def grazes(par: Row, going: int, h: float, z: Row, new: Row, k1: Row, end: Row) -> bool:
    """Whether the speed, or what holds a piston, nearly vanishes within the step.

    The cubic between the ends is less exact than they are: look closer, in shorter steps.
    """
    if going != 0:
        a, b = max(z[V] * going, 0.0), new[V] * going
        least = CLEAR * min(a, b)
        return crossing(a - least, b - least, h * k1[V] * going, h * end[V] * going) <= 1.0
    for way in (1.0, -1.0):
        if way < 0.0 and z[Y] <= 0.0:
            return False
        a = max(par[F_S] - way * net_force(par, z[Y], z[PD], z[PE]), 0.0)
        b = par[F_S] - way * net_force(par, z[Y], new[PD], new[PE])
        slope = -way * h * (k1[PD] * par[AREA_D] - k1[PE] * par[AREA_E])
        later = -way * h * (end[PD] * par[AREA_D] - end[PE] * par[AREA_E])
        least = CLEAR * min(a, b)
        if crossing(a - least, b - least, slope, later) <= 1.0:
            return True
    return False


def gauge(par: Row, event: int, y: float, new: Row, end: Row) -> tuple[float, float]:
    """What is nought at the event, and its rate, at the end of a step."""
    if event == SETS_OFF:
        net = net_force(par, y, new[PD], new[PE])
        hold = par[F_S] * (1.0 + 1e-9) + 1e-9
        pull = end[PD] * par[AREA_D] - end[PE] * par[AREA_E]
        return (net - hold if net > 0.0 else net + hold), pull
    if event == TURNS:
        return new[V], end[V]
    mark = 0.0
    if event == ARRIVES:
        mark = par[S_END]
    elif event == MEETS_CUSHION:
        mark = par[CUSHION_AT]
    elif event == HALF_WAY:
        mark = 0.5 * par[S_END]
    return new[Y] - mark, end[Y]


def sharpen(par: Row, tables: Rows, t: float, near: float, longest: float, event: int, going: int,
            work: Work) -> float:  # fmt: skip
    """Make the step end at an event that lies ``near`` within it (Newton); its length."""
    h = min(max(near, 1e-14), longest)
    for _ in range(12):
        attempt_fine(par, tables, t, h, going, work)
        off, rate = gauge(par, event, work[0][Y], work[1], work[3])
        if event == NOTHING or rate == 0.0:
            break
        change = min(max(-off / rate, -0.5 * h), 0.5 * h)
        if abs(change) < 1e-13 or h + change > 1.1 * longest:
            break
        h += change
    return h


def run_many_again(
    asks: Rows, par: Fill, tables: Rows, work: Work, trace: Work, founds: Work
) -> None:
    """`run_again` for every row of ``asks`` into the same row of ``founds``."""
    for i in range(len(asks)):
        run_again(asks[i], par, tables, work, trace, founds[i])
