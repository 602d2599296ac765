"""The implicit step: its method against the order conditions, its matrix against differences."""

from __future__ import annotations

import numpy as np
import pytest
from cases import plain

from thundersheet.physics import implicit, kernel
from thundersheet.physics.gas import Tube
from thundersheet.physics.prepare import prepare
from thundersheet.physics.solve import asked, interpret

# Rang & Angermann, BIT 45 (2005), ROS34PW2: their alpha and gamma.
ALPHA = np.array(
    [
        [0, 0, 0, 0],
        [8.7173304301691801e-01, 0, 0, 0],
        [8.4457060015369423e-01, -1.1299064236484185e-01, 0, 0],
        [0, 0, 1, 0],
    ]
)
GAMMA = np.array(
    [
        [4.3586652150845900e-01, 0, 0, 0],
        [-8.7173304301691801e-01, 4.3586652150845900e-01, 0, 0],
        [-9.0338057013044082e-01, 5.4180672388095326e-02, 4.3586652150845900e-01, 0],
        [2.4212380706095346e-01, -1.2232505839045147e00, 5.4526025533510214e-01, 0.435866521508459],
    ]
)
WEIGHTS = ALPHA[3] + GAMMA[3]
SECOND = np.array([0.37810903145819369, -0.096042292212423178, 0.5, 0.2179332607542295])


def test_coefficients_are_the_published_ones():
    inverse = np.linalg.inv(GAMMA)
    a, c = ALPHA @ inverse, np.eye(4) / GAMMA[0, 0] - inverse
    ours = implicit
    assert a[1, 0] == pytest.approx(ours.A21)
    assert a[2, :2] == pytest.approx([ours.A31, ours.A32])
    assert a[3, :3] == pytest.approx([ours.A41, ours.A42, ours.A43])
    assert c[1, 0] == pytest.approx(ours.C21)
    assert c[2, :2] == pytest.approx([ours.C31, ours.C32])
    assert c[3, :3] == pytest.approx([ours.C41, ours.C42, ours.C43])
    assert (WEIGHTS - SECOND) @ inverse == pytest.approx([ours.E1, ours.E2, ours.E3, ours.E4])
    assert ALPHA.sum(axis=1)[1:3] == pytest.approx([ours.AT2, ours.AT3])


def test_method_is_of_third_order_whatever_the_matrix():
    # Order conditions of a W-method (Hairer & Wanner, Solving ODE II, IV.7): those of Runge-Kutta,
    # and nought wherever a gamma takes the place of an alpha.
    one = np.ones(4)
    a, g, b = ALPHA, GAMMA, WEIGHTS
    found = [b @ one, b @ a @ one, b @ (a @ one) ** 2, b @ a @ a @ one]
    assert found == pytest.approx([1, 1 / 2, 1 / 3, 1 / 6])
    mixed = [b @ g @ one, b @ a @ g @ one, b @ g @ a @ one, b @ g @ g @ one]
    assert mixed == pytest.approx([0, 0, 0, 0], abs=1e-15)


@pytest.mark.parametrize("until_s", [0.04, 0.06, 0.2])
def test_matrix_is_that_of_differences_where_it_is_stiff(until_s):
    stroke = plain(tube_model="node", drive_tube=Tube(4.3e-3, 0.3), exhaust_tube=Tube(4.3e-3, 0.3))
    row, tables = asked(stroke, until_s=until_s, tolerance=1e-7)
    z = interpret(row, tables, 0)[1][:10]
    par = [0.0] * kernel.MADE
    prepare(row, par)
    going = 1 if z[kernel.V] > 0.0 else 0
    j = [0.0] * implicit.LINKS
    implicit.link(par, tables, 1.0, going, z, j)
    for e in (0, 1):
        c, n, at = kernel.PD + 2 * e, kernel.PDN + 2 * e, implicit.SIDE * e
        of_c, of_n = difference(par, tables, going, z, c), difference(par, tables, going, z, n)
        # Temperatures that follow the pressures are left out: near is enough for the method.
        assert j[at + implicit.C_OWN] == pytest.approx(of_c[c], rel=0.35, abs=50.0)
        assert j[at + implicit.C_NODE] == pytest.approx(of_n[c], rel=0.35, abs=50.0)
        assert j[at + implicit.N_OWN] == pytest.approx(of_n[n], rel=0.35, abs=50.0)
        assert j[at + implicit.N_C] == pytest.approx(of_c[n], rel=0.35, abs=50.0)
        assert j[at + implicit.R_C] == pytest.approx(of_c[c + 1], rel=0.35, abs=1e-3)


def difference(par, tables, going, z, i) -> np.ndarray:
    """How the rates answer to the i-th entry of the state."""
    step = 1e-6 * z[i]
    found = []
    for sign in (1, -1):
        moved, k = list(z), [0.0] * 10
        moved[i] += sign * step
        kernel.rates(par, tables, 1.0, going, moved, k)
        found.append(np.array(k))
    return (found[0] - found[1]) / (2 * step)
