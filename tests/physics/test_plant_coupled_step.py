"""The coupled step: its linear equations against numpy, its order against a closed form."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest
from plant_cases import AT_ONCE, BAR, bare_tank, shared, shared_state, tank_at

from thundersheet.physics.bulk import quiet
from thundersheet.physics.gas import RHO0, T0, R
from thundersheet.physics.plant.coupled import columns as at
from thundersheet.physics.plant.coupled.course import Course
from thundersheet.physics.plant.coupled.linear import resolve, split
from thundersheet.physics.plant.coupled.stride import attempt_stride, rates_at
from thundersheet.physics.plant.coupled.valves import turns_of


def course_of(plant, switches, state) -> Course:
    course = Course(plant, switches, state, None, None, 1e-5, quiet, False)
    for turn in turns_of(plant, course.rows.ways, switches, 0.0):
        course.go_to(turn.at_s, lambda _: None)
        course.turn(turn)
    return course


def moving_states(net: at.Net) -> list[int]:
    """Bodies, what of each device moves, what each took, jets, counters."""
    found = list(range(2 * len(net[0])))
    for i, par in enumerate(net[1]):
        first = at.device_at(net, i)
        found += [first + int(par[at.D_INDEX + j]) for j in range(int(par[at.D_COUNT]))]
        found.append(first + at.X_TOOK)
    return [*found, *range(at.jets_at(net), at.counters_at(net) + at.COUNTERS)]


@pytest.mark.parametrize("heat_w_k", [2.0, inf])
@pytest.mark.parametrize("seconds", [0.03, 0.2, 0.6])
def test_bordered_equations_are_solved_as_numpy_solves_the_whole_matrix(heat_w_k, seconds):
    """numpy 2, dense LU, J by differences of all rates at once."""
    course = course_of(shared(heat_w_k=heat_w_k), AT_ONCE, shared_state(8 * BAR))
    course.go_to(seconds, lambda _: None)
    net, room = course._net, course._rooms
    x, n = room[0][at.W_X], len(room[0][at.W_X])
    own = 1e-3

    def rates(y) -> np.ndarray:
        f = [0.0] * n
        rates_at(net, room, seconds, list(y), f, True)
        return np.array(f)

    states = moving_states(net)
    whole = np.zeros((n, n))
    for c in states:
        step = 1e-6 * max(abs(x[c]), 1e-3)
        up, down = list(x), list(x)
        up[c], down[c] = x[c] + step, x[c] - step
        whole[:, c] = (rates(up) - rates(down)) / (2 * step)
    scale = np.array([max(abs(x[c]), 1e-3) for c in states])
    right = np.random.default_rng(1).normal(size=len(states)) * scale / own
    known = np.linalg.solve(np.eye(len(states)) / own - whole[np.ix_(states, states)], right)
    u = [0.0] * n
    for c, value in zip(states, right, strict=True):
        u[c] = value
    split(net, room, seconds, own)
    resolve(net, room, own, u)
    np.testing.assert_allclose(np.array(u)[states] / scale, known / scale, rtol=2e-3, atol=2e-4)


def test_step_is_of_fourth_order():
    """The adiabatic choked blow-down of gas dynamics; half the step, a sixteenth of the error."""
    c = 2e-8
    plant = bare_tank(10, heat_w_k=0.0, jet_c=c, jet_b=0.4)
    k, a = 0.4 / 2.8, 1.4 * R * c * RHO0 * sqrt(T0 * T0) / 10e-3
    known = 8.0 * BAR * (1.0 + k * a * 2.0) ** (-1.0 / k)

    def error(steps: int) -> float:
        course = course_of(plant, [], tank_at(8.0))
        net, room, h = course._net, course._rooms, 2.0 / steps
        net[2][0][at.J_OPEN] = 1.0
        work = room[0]
        rates_at(net, room, 0.0, work[at.W_X], work[at.W_F], False)
        for i in range(steps):
            attempt_stride(net, room, i * h, h)
            work[at.W_X][:], work[at.W_F][:] = work[at.W_NEW], work[at.W_END]
        return abs(0.4 * work[at.W_X][1] / 10e-3 - known) / known

    coarse, fine = error(4), error(8)
    assert 3.5 < np.log2(coarse / fine) < 4.6
