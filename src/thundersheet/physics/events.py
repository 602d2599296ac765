"""Where in a step something happens: breakaway, standstill, mid-stroke, cushion, end. Plain floats.

A step's dense output is the cubic Hermite polynomial of both its ends and their rates; events are
located on it, a dip between two harmless ends too. Runs interpreted and compiled (`bulk`).
"""

from __future__ import annotations

from math import sqrt

from thundersheet.physics.kernel import (
    AREA_D,
    AREA_E,
    CUSHION_AT,
    F_S,
    HELD_AT,
    PD,
    PE,
    S_END,
    Row,
    V,
    Y,
    net_force,
)

NOTHING, TURNS, ARRIVES, MEETS_CUSHION, SETS_OFF = 0, 1, 2, 3, 4
NOT_IN_STEP = 2.0
NEAR = 1e-10


def hermite(a: float, b: float, da: float, db: float, x: float) -> float:
    """The cubic through ``a`` and ``b`` with the slopes ``da`` and ``db``, at ``x`` in 0..1."""
    rise = b - a
    return a + x * (da + x * (3.0 * rise - 2.0 * da - db + x * (da + db - 2.0 * rise)))


def crossing(a: float, b: float, da: float, db: float) -> float:
    """Where in 0..1 the cubic from ``a`` >= 0 first goes below zero; 2 when it does not.

    A dip between two ends above zero is found too: events are located, not stepped over.
    """
    end = 1.0
    if b >= 0.0:
        if da >= 0.0 or db <= 0.0:
            return NOT_IN_STEP
        rise = b - a
        p, q = 3.0 * (da + db - 2.0 * rise), 2.0 * (3.0 * rise - 2.0 * da - db)
        under = q * q - 4.0 * p * da
        if under < 0.0:
            return NOT_IN_STEP
        # The minimum is the root at which the slope goes from below to above zero.
        end = 2.0 * da / (-q - sqrt(under)) if q > 0.0 else (-q + sqrt(under)) / (2.0 * p)
        if hermite(a, b, da, db, end) >= 0.0:
            return NOT_IN_STEP
    return root(a, b, da, db, end)


def root(a: float, b: float, da: float, db: float, end: float) -> float:
    """Just behind the zero of the cubic between 0 (value >= 0) and ``end`` (value < 0)."""
    low, high = 0.0, end
    at_high = hermite(a, b, da, db, end)
    at_low = max(a, -1e-12 * at_high)
    side = 0
    for _ in range(80):
        # Illinois: a chord, with the value of an end halved that has stayed twice.
        x = low + (high - low) * at_low / (at_low - at_high)
        # On a straight line the chord hits at once: look beside it, or the far end never moves.
        x = min(max(x, low + 0.4 * NEAR), high - 0.4 * NEAR)
        value = hermite(a, b, da, db, x)
        if value >= 0.0:
            low, at_low = x, max(value, 1e-300)
            if side == 1:
                at_high *= 0.5
            side = 1
        else:
            high, at_high = x, value
            if side == -1:
                at_low *= 0.5
            side = -1
        if high - low < NEAR:
            break
    return high


def standing(par: Row, z: Row) -> int:
    """Which way a piston at rest sets off: +1, -1, or 0 when it stays."""
    if par[HELD_AT] != 0.0:
        return 0
    net = net_force(par, z[Y], z[PD], z[PE])
    if net > par[F_S]:
        return 1
    if net < -par[F_S] and z[Y] > 0.0:
        return -1
    return 0


def leaving(par: Row, h: float, z: Row, new: Row, k1: Row, k4: Row) -> tuple[float, int]:
    """Where in the step a piston at rest breaks away, and that."""
    if par[HELD_AT] != 0.0:
        return NOT_IN_STEP, NOTHING
    net = net_force(par, z[Y], z[PD], z[PE])
    later = net_force(par, z[Y], new[PD], new[PE])
    slope = h * (k1[PD] * par[AREA_D] - k1[PE] * par[AREA_E])
    slope_later = h * (k4[PD] * par[AREA_D] - k4[PE] * par[AREA_E])
    # A hair above breakaway, so that rounding can't hold back again a piston that was let go.
    hold = par[F_S] * (1.0 + 1e-9) + 1e-9
    at = crossing(max(hold - net, 0.0), hold - later, -slope, -slope_later)
    if z[Y] > 0.0:
        at = min(at, crossing(max(hold + net, 0.0), hold + later, slope, slope_later))
    return at, SETS_OFF


def reaching(mark: float, h: float, z: Row, new: Row, k1: Row, k4: Row) -> float:
    """Where in the step the piston passes ``mark`` going out."""
    return crossing(max(mark - z[Y], 0.0), mark - new[Y], -h * k1[Y], -h * k4[Y])


def ending(
    par: Row, going: int, h: float, cushioned: int, z: Row, new: Row, k1: Row, k4: Row
) -> tuple[float, int]:
    """Where in the step a moving piston turns, arrives or meets its cushion, and which."""
    speed, later = max(z[V] * going, 0.0), new[V] * going
    at, event = crossing(speed, later, h * k1[V] * going, h * k4[V] * going), TURNS
    if going < 0:
        return min(at, crossing(z[Y], new[Y], h * k1[Y], h * k4[Y])), TURNS
    end = reaching(par[S_END], h, z, new, k1, k4)
    if end <= at:
        at, event = end, ARRIVES
    if cushioned == 0:
        gap = reaching(par[CUSHION_AT], h, z, new, k1, k4)
        if gap < at:
            at, event = gap, MEETS_CUSHION
    return at, event
