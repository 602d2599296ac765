"""The air through a rest between strokes, against scipy and the ends it must come to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cases import plain
from reference import Model
from scipy.integrate import solve_ivp

from thundersheet.physics.settle import dumped, settle
from thundersheet.physics.solve import solve


@pytest.mark.parametrize("model", ["lumped", "node"])
@pytest.mark.parametrize("rest_s", [0.03, 0.1, 1.5])
def test_air_after_a_rest_is_that_of_scipy(model, rest_s):
    stroke = plain(tube_model=model)
    air = solve(stroke).air
    at_end = Model(replace(stroke, air=air, y0_m=stroke.stroke_m))
    run = solve_ivp(
        lambda t, x: at_end.rates(t + 1.0, x, 0), (0, rest_s), at_end.start(), "DOP853",
        rtol=1e-10, atol=1e-14,
    )  # fmt: skip
    _, _, pd, td, pe, te = at_end.chambers(run.y[:, -1])
    found = settle(stroke, air, rest_s)
    # Once pressures have settled, warm air that cools is reckoned without what it draws in.
    near = 1e-3 if rest_s < 1.0 else 2e-3
    assert (found.drive_pa, found.drive_k) == pytest.approx((pd, td), rel=near)
    assert (found.exhaust_pa, found.exhaust_k) == pytest.approx((pe, te), rel=5e-3)


def test_after_a_long_rest_both_sides_are_at_their_ends():
    stroke = plain(tube_model="node")
    found = settle(stroke, solve(stroke).air, 60.0)
    assert found.drive_pa == stroke.supply_pa
    assert found.exhaust_pa == stroke.atmosphere_pa
    assert (found.drive_k, found.exhaust_k) == pytest.approx((293.15, 293.15), abs=1e-3)


def test_the_way_back_after_a_long_rest_is_that_of_section_3_8():
    out, back = plain(), plain(extend=False)
    rested = settle(out, solve(out).air, 60.0).swapped()
    assert solve(replace(back, air=rested)).t_full_s == pytest.approx(
        solve(back).t_full_s, abs=1e-5
    )


def test_a_way_back_at_once_meets_less_pressure_and_starts_earlier():
    out, back = plain(), plain(extend=False)
    hasty = replace(back, air=solve(out).air.swapped())
    assert solve(hasty).t_start_s != pytest.approx(solve(back).t_start_s, abs=5e-4)


def test_no_rest_changes_nothing_and_a_dump_empties_both_sides():
    stroke = plain()
    air = solve(stroke).air
    assert settle(stroke, air, 0.0) == air
    empty = dumped(stroke)
    assert (empty.drive_pa, empty.exhaust_pa) == (stroke.atmosphere_pa, stroke.atmosphere_pa)
    assert solve(replace(stroke, air=empty)).t_full_s == solve(plain(vented=True)).t_full_s


def test_pressures_approach_their_ends_steadily():
    stroke = plain(tube_model="node")
    air = solve(stroke).air
    rests = np.linspace(0.01, 0.5, 12)
    drives = [settle(stroke, air, rest).drive_pa for rest in rests]
    assert all(np.diff(drives) >= 0.0)
