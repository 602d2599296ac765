"""A stroke from the valve's switching to its end: steps strung together, events acted on.

In comes a row as `kernel.ASKED` names it, out goes a row as `FOUND` names it, the final state and,
when asked, samples of the motion. Plain floats; interpreted or compiled (`bulk`).
"""

from __future__ import annotations

from thundersheet.physics.events import (
    ARRIVES,
    MEETS_CUSHION,
    NOTHING,
    TURNS,
    ending,
    leaving,
    reaching,
    standing,
)
from thundersheet.physics.kernel import (
    AREA_D,
    AREA_E,
    BACK,
    CUSHION_AT,
    DEAD_EXHAUST,
    F_S,
    HAS_D,
    HAS_DN,
    HAS_E,
    HAS_EN,
    HELD_AT,
    LAMINAR,
    LID_J,
    LID_WAY,
    MASS,
    OPEN_AT,
    P_A,
    P_S,
    PD,
    PDN,
    PE,
    PEN,
    RD,
    RDN,
    S_END,
    SWITCH,
    T_FROM,
    TOLERANCE,
    UNTIL,
    VOLUME_D,
    VOLUME_DN,
    VOLUME_E,
    WAY_C,
    WAY_E,
    Fill,
    Row,
    Rows,
    V,
    Work,
    Y,
    lid_lever,
    net_force,
    opening,
    rates,
)
from thundersheet.physics.pace import PACE, attempt_either, growth
from thundersheet.physics.prepare import begin, prepare
from thundersheet.physics.step import move_to, shortened, take

# What is found: columns of a row. A time below zero never came.
NAMES_FOUND = (
    "status start middle full impact_speed end peak_push peak_drive peak_exhaust mass "
    "impact_energy turns steps samples"
)
FOUND = tuple(NAMES_FOUND.split())
STATUS, T_START, T_MID, T_FULL, IMPACT, T_END, PUSH, PEAK_D, PEAK_E, MASS_IN = range(10)
ENERGY, TURNED, STEPS, SAMPLES = 10, 11, 12, 13
NEVER = -1.0
ARRIVED, CUT, STALLED, TOO_MANY, SETTLED = 0.0, 1.0, 2.0, 3.0, 4.0
MAX_STEPS = 400_000


def mass_inside(par: Row, z: Row) -> float:
    """The air in kg on the drive side, its tube's node included; none where no path leads to it."""
    if par[HAS_D] == 0.0:
        return 0.0
    mass = z[RD] * (par[VOLUME_D] + par[AREA_D] * z[Y])
    return mass + (z[RDN] * par[VOLUME_DN] if par[HAS_DN] != 0.0 else 0.0)


def cushion(par: Fill) -> None:
    """Change over to the cushion: its own way out, the tube cut off, p and T kept."""
    par[VOLUME_E] = par[DEAD_EXHAUST]
    for i in range(6):
        par[WAY_E + i] = par[WAY_C + i]


def at_peace(par: Row, z: Row) -> bool:
    """Whether a piston at rest will stay so: pressures near their ends, the final force too small.

    Near their ends the flows are so stiff that no step shows the pressures still: their rates say
    nothing.
    """
    if not settled(par, z):
        return False
    drive = par[P_S] if par[HAS_D] != 0.0 else z[PD]
    exhaust = par[P_A] if par[HAS_E] != 0.0 else z[PE]
    net = net_force(par, z[Y], drive, exhaust)
    return net <= par[F_S] and (z[Y] <= 0.0 or net >= -par[F_S])


def settled(par: Row, z: Row) -> bool:
    """Whether every body of air is where the line of the flow law begins: 0.5 % from its end."""
    near = 1.0 - LAMINAR
    if par[HAS_D] != 0.0:
        if abs(z[PD] - par[P_S]) > near * par[P_S]:
            return False
        if par[HAS_DN] != 0.0 and abs(z[PDN] - par[P_S]) > near * par[P_S]:
            return False
    if par[HAS_E] != 0.0:
        if abs(z[PE] - par[P_A]) > near * par[P_A]:
            return False
        if par[HAS_EN] != 0.0 and abs(z[PEN] - par[P_A]) > near * par[P_A]:
            return False
    return True


def sample(trace: Work, kept: int, t: float, z: Row) -> None:
    """Write one sample of the motion: time, position, speed, both pressures."""
    line = trace[kept]
    line[0], line[1], line[2], line[3], line[4] = t, z[Y], z[V], z[PD], z[PE]


def thin(trace: Work) -> int:
    """Keep every second sample of a full trace; how many are left."""
    kept = len(trace) // 2
    for i in range(kept):
        for j in range(5):
            trace[i][j] = trace[2 * i][j]
    return kept


def peaks(par: Row, z: Row, found: Fill) -> None:
    """Raise the peaks found so far to the present state's."""
    push = z[PD] * par[AREA_D] - z[PE] * par[AREA_E] - par[BACK]
    found[PUSH] = max(found[PUSH], push)
    found[PEAK_D] = max(found[PEAK_D], z[PD])
    found[PEAK_E] = max(found[PEAK_E], z[PE])


def arrive(par: Row, t: float, z: Fill, found: Fill) -> None:
    """Write down the hit."""
    z[Y] = par[S_END]
    mass = par[MASS]
    if par[LID_WAY] != 0.0:
        mass += par[LID_J] * lid_lever(par, z[Y])[0] ** 2
    found[STATUS], found[T_FULL] = ARRIVED, t
    found[IMPACT], found[ENERGY] = z[V], 0.5 * mass * z[V] ** 2


def act(par: Fill, event: int, going: int, t: float, z: Fill, found: Fill) -> int:
    """Do what the event at the present state brings; the direction afterwards."""
    if event == ARRIVES:
        arrive(par, t, z, found)
        return going
    if event == MEETS_CUSHION:
        z[Y] = par[CUSHION_AT]
        cushion(par)
        return going
    if event == TURNS:
        found[TURNED] += 1.0
        z[V] = 0.0
        if z[Y] < 1e-12:
            z[Y] = 0.0
    return standing(par, z)


def set_out(ask: Row, par: Fill, tables: Rows, work: Work, found: Fill) -> tuple[float, int, int]:
    """Prepare everything for the first step: its time, its direction, whether in the cushion."""
    for i in range(len(found)):
        found[i] = NEVER if T_START <= i <= T_FULL else 0.0
    for line in work:
        for i in range(len(line)):
            line[i] = 0.0
    prepare(ask, par)
    z, t = work[0], max(par[SWITCH], ask[T_FROM])
    begin(ask, z)
    going = standing(par, z)
    if z[V] != 0.0:
        going = 1 if z[V] > 0.0 else -1
    cushioned = 0
    if z[Y] >= par[CUSHION_AT]:
        cushioned = 1
        cushion(par)
    found[STATUS] = CUT
    rates(par, tables, opening(par, t), going, z, work[2])
    return t, going, cushioned


def resting(par: Row, going: int, t: float, z: Row) -> float:
    """The status of a stroke under way: `CUT`, or why a piston at rest is the end of it."""
    if going != 0 or t < par[OPEN_AT]:
        return CUT
    if par[HELD_AT] == 0.0:
        return STALLED if at_peace(par, z) else CUT
    return SETTLED if settled(par, z) else CUT


def noted(par: Row, t: float, going: int, z: Row, trace: Work, found: Fill,
          steps: int, kept: int, every: int) -> tuple[int, int]:  # fmt: skip
    """What a step has shown: peaks, first motion, a sample; how many are kept, and of how many one.

    Where the sheet of samples is full, every other one is dropped.
    """
    peaks(par, z, found)
    if going > 0 and found[T_START] < 0.0:
        found[T_START] = t
    if len(trace) > 0 and (steps % every == 0 or found[STATUS] != CUT):
        if kept == len(trace):
            kept, every = thin(trace), every * 2
        sample(trace, kept, t, z)
        kept += 1
    return kept, every


def run(ask: Row, par: Fill, tables: Rows, work: Work, trace: Work, found: Fill) -> None:
    """Integrate one stroke from the valve's switching to its end, a stall or ``until``.

    ``par`` (MADE columns), ``work`` (10 x 27) and ``trace`` (n x 5, n = 0 for none) are scratch;
    the final state is left in work[0], all else in ``found``.
    """
    t, going, cushioned = set_out(ask, par, tables, work, found)
    z, new, k1, end, pace = work[0], work[1], work[2], work[3], work[PACE]
    inside = mass_inside(par, z)
    until, tolerance = max(ask[UNTIL], t), ask[TOLERANCE]
    h, kept, every, steps = 1e-4, 0, 1, 0
    while True:
        kept, every = noted(par, t, going, z, trace, found, steps, kept, every)
        if t >= until or found[STATUS] != CUT:
            break
        found[STATUS] = resting(par, going, t, z)
        if steps >= MAX_STEPS:
            found[STATUS] = TOO_MANY
        if found[STATUS] != CUT:
            continue
        h = shortened(par, t, going, z, until, h)
        error = attempt_either(par, tables, t, h, going, work, tolerance)
        steps += 1
        grown = growth(pace, error)
        if error > 1.0 and h > 1e-8:
            h *= grown
            continue
        at, event = 2.0, NOTHING
        if going == 0:
            at, event = leaving(par, h, z, new, k1, end)
        else:
            at, event = ending(par, going, h, cushioned, z, new, k1, end)
        if going > 0 and found[T_MID] < 0.0 and z[Y] <= 0.5 * par[S_END]:
            middle = reaching(0.5 * par[S_END], h, z, new, k1, end)
            if middle <= min(at, 1.0):
                found[T_MID] = t + middle * h
        if at > 1.0:
            t += h
            if until - t < 1e-12:
                t = until
            take(par, work)
            h *= grown
            continue
        move_to(par, at, h, work)
        t += at * h
        going = act(par, event, going, t, z, found)
        cushioned = 1 if event == MEETS_CUSHION else cushioned
        h = min(h, 5e-4)
        rates(par, tables, opening(par, t), going, z, k1)
    found[T_END], found[STEPS], found[SAMPLES] = t, steps, kept
    found[MASS_IN] = mass_inside(par, z) - inside


def run_many(asks: Rows, par: Fill, tables: Rows, work: Work, trace: Work, founds: Work) -> None:
    """`run` for every row of ``asks`` into the same row of ``founds``."""
    for i in range(len(asks)):
        run(asks[i], par, tables, work, trace, founds[i])
