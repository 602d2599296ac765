"""One step of high order, for strokes in which small errors grow. Plain floats.

Extrapolation needs no table of coefficients: the same step is made with more and more, shorter
parts and the results extrapolated to none (Hairer, Norsett & Wanner, Solving ODE I, II.9). Where
air evens out slowly the parts are those of the explicit midpoint rule after Gragg; where it is
stiff, those of the linearly implicit Euler method (Deuflhard; Hairer & Wanner, Solving ODE II,
IV.9) with the whole Jacobian.
"""

from __future__ import annotations

from thundersheet.physics.implicit import C_OWN, N_OWN, SIDE, link
from thundersheet.physics.kernel import S_END, SIZE, Fill, Row, Rows, V, Work, Y, opening, rates
from thundersheet.physics.step import SLOWEST, share

# Rows of `work` behind those of `step`; the first nine as there.
MATRIX, PIVOTED, COLUMNS = 10, 20, 30
FINE_ROWS = 40

SMOOTH = 5
"""Extrapolated midpoint: 2, 4, 6, 8 and 10 parts, of order ten."""
STIFF = 7
"""Extrapolated implicit Euler: 2 to 8 parts, of order seven."""
STABLE = 8.0
"""Time constants of the fastest air that an explicit step may be long."""
SMOOTH_POWER, STIFF_POWER = 1.0 / 9.0, 1.0 / 7.0
NUDGE_STATE = 1e-9


def attempt_fine(par: Row, tables: Rows, t: float, h: float, going: int,
                 work: Work) -> tuple[float, float]:  # fmt: skip
    """One step; the error as a share of the state, and the power of it that the step grows by."""
    link(par, tables, opening(par, t), going, work[0], work[8])
    j = work[8]
    fastest = -min(j[C_OWN], j[SIDE + C_OWN], j[N_OWN], j[SIDE + N_OWN])
    if fastest * h > STABLE:
        jacobian(par, tables, t, going, work)
        for i in range(STIFF):
            implicit_parts(par, tables, t, h, i + 2, going, work)
            extrapolate(work, i, 1, int(par[SIZE]))
        power = STIFF_POWER
    else:
        for i in range(SMOOTH):
            midpoint_parts(par, tables, t, h, 2 * i + 2, going, work)
            extrapolate(work, i, 2, int(par[SIZE]))
        power = SMOOTH_POWER
    new, end, best, next_best = work[1], work[3], work[COLUMNS], work[COLUMNS + 1]
    for i in range(int(par[SIZE])):
        new[i] = best[i]
        end[i] = best[i] - next_best[i]
    error = share(par, new, end)
    # What is not a number compares as nothing: refuse it too.
    if not error < 1e9:
        return 1e9, power
    rates(par, tables, opening(par, t + h), going, new, end)
    return error, power


def midpoint_parts(par: Row, tables: Rows, t: float, h: float, parts: int, going: int,
                   work: Work) -> None:  # fmt: skip
    """The step in so many parts by Gragg's rule, into `work[4]`."""
    z, k1, before, now, k = work[0], work[2], work[5], work[4], work[6]
    size, part = int(par[SIZE]), h / parts
    for i in range(size):
        before[i] = z[i]
        now[i] = z[i] + part * k1[i]
    for n in range(1, parts + 1):
        rates(par, tables, opening(par, t + (n * part if n < parts else h)), going, now, k)
        for i in range(size):
            after = before[i] + 2.0 * part * k[i]
            if n == parts:
                # Gragg's smoothing: the last value with its neighbours.
                now[i] = 0.25 * (before[i] + 2.0 * now[i] + after)
            else:
                before[i] = now[i]
                now[i] = after


def implicit_parts(par: Row, tables: Rows, t: float, h: float, parts: int, going: int,
                   work: Work) -> None:  # fmt: skip
    """The step in so many parts by the linearly implicit Euler method, into `work[4]`."""
    z, now, k = work[0], work[4], work[6]
    size, part = int(par[SIZE]), h / parts
    for row in range(size):
        for i in range(size):
            work[PIVOTED + row][i] = -part * work[MATRIX + row][i]
        work[PIVOTED + row][row] += 1.0
        now[row] = z[row]
    eliminate(work, size)
    for n in range(1, parts + 1):
        rates(par, tables, opening(par, t + (n * part if n < parts else h)), going, now, k)
        for i in range(size):
            k[i] *= part
        substitute(work, k, size)
        for i in range(size):
            now[i] += k[i]


def jacobian(par: Row, tables: Rows, t: float, going: int, work: Work) -> None:
    """Fill the rows of the matrix with how the rates answer to the state, by differences."""
    z, moved, k = work[0], work[4], work[6]
    size, s = int(par[SIZE]), opening(par, t)
    # The rates at hand may be those of the last instant of another opening: differ from fresh ones.
    base = work[7]
    rates(par, tables, s, going, z, base)
    for i in range(size):
        moved[i] = z[i]
    for i in range(size):
        if i == Y:
            step = NUDGE_STATE * par[S_END]
        elif i == V:
            step = NUDGE_STATE * (abs(z[V]) + SLOWEST)
        else:
            step = NUDGE_STATE * z[i]
        moved[i] = z[i] + step
        rates(par, tables, s, going, moved, k)
        for row in range(size):
            work[MATRIX + row][i] = (k[row] - base[row]) / step if step > 0.0 else 0.0
        moved[i] = z[i]


def eliminate(work: Work, size: int) -> None:
    """Factor the pivoted matrix in place; its diagonal dominates, so rows keep their places."""
    for i in range(size):
        pivot = work[PIVOTED + i]
        for row in range(i + 1, size):
            line = work[PIVOTED + row]
            if line[i] != 0.0:
                line[i] /= pivot[i]
                for column in range(i + 1, size):
                    line[column] -= line[i] * pivot[column]


def substitute(work: Work, u: Fill, size: int) -> None:
    """Replace the right-hand side ``u`` by the solution."""
    for i in range(1, size):
        line = work[PIVOTED + i]
        for column in range(i):
            u[i] -= line[column] * u[column]
    for i in range(size - 1, -1, -1):
        line = work[PIVOTED + i]
        for column in range(i + 1, size):
            u[i] -= line[column] * u[column]
        u[i] /= line[i]


def extrapolate(work: Work, last: int, power: int, size: int) -> None:
    """Take `work[4]` up as the next column and extrapolate all of them (Aitken, Neville).

    The best value then stands in the first of the columns, the next best in the second.
    """
    now = work[4]
    fresh = work[COLUMNS + last]
    for i in range(size):
        fresh[i] = now[i]
    for k in range(1, last + 1):
        coarse, finer = work[COLUMNS + last - k], work[COLUMNS + last - k + 1]
        # Parts are 2, 4, 6, ... or 2, 3, 4, ...
        if power == 2:
            ratio = ((last + 1.0) / (last + 1.0 - k)) ** 2
        else:
            ratio = (last + 2.0) / (last + 2.0 - k)
        for i in range(size):
            coarse[i] = finer[i] + (finer[i] - coarse[i]) / (ratio - 1.0)
