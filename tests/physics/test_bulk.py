"""Compiled strokes are the interpreted ones; scatter changes what it says and nothing else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cases import plain, table
from test_stroke_wide import STEADY
from wide import wide_table

from thundersheet.physics import bulk
from thundersheet.physics.gas import Restriction
from thundersheet.physics.solve import solve


def test_compiled_and_interpreted_strokes_are_equal_to_rounding():
    strokes = [*list(table(48).values())[::3], plain(combination="chain"), plain(tube_model="node")]
    strokes += [stroke for name, stroke in wide_table(40).items() if name in STEADY]
    found = bulk.land_many(strokes)
    for i, stroke in enumerate(strokes):
        landed = solve(stroke)
        for ours, theirs in (
            (landed.t_start_s, found.start_s[i]),
            (landed.t_mid_s, found.mid_s[i]),
            (landed.t_full_s, found.full_s[i]),
            (landed.v_impact_m_s, found.impact_m_s[i]),
            (landed.e_impact_j, found.impact_j[i]),
        ):
            wanted = np.nan if ours is None else ours
            np.testing.assert_allclose(theirs, wanted, rtol=1e-7)


def test_scatter_lands_each_run_as_a_stroke_of_its_own():
    loads = np.array([4.0, 5.0, 7.0])
    supplies = np.array([5e5, 6e5, 6.5e5])
    factors = np.array([0.9, 1.0, 1.2])
    found = bulk.scatter(plain(), {"load": loads, "supply": supplies, "exhaust_end_flow": factors})
    for i in range(3):
        alone = plain(
            load_kg=loads[i], supply_pa=supplies[i],
            exhaust_end=(Restriction(1e-8 * factors[i]),),
        )  # fmt: skip
        assert found.full_s[i] == pytest.approx(solve(alone).t_full_s, abs=1e-4)
    assert len(found) == 3


def test_scatter_of_ambient_starts_at_ambient():
    found = bulk.scatter(plain(), {"ambient": np.array([273.15])})
    alone = solve(replace(plain(), ambient_k=273.15))
    assert found.full_s[0] == pytest.approx(alone.t_full_s, abs=1e-4)


def test_a_stall_in_a_batch_is_not_a_number():
    found = bulk.scatter(plain(incline_rad=np.pi / 2), {"load": np.array([5.0, 80.0])})
    assert list(np.isnan(found.full_s)) == [False, True]


def test_parts_of_an_exact_chain_are_not_scattered():
    with pytest.raises(ValueError, match="exact chain"):
        bulk.scatter(plain(combination="chain"), {"drive_length": np.array([1.0])})


def test_the_kernel_is_compiled_once_and_says_so_at_most_once():
    said: list[str] = []
    first = bulk.compiled_kernel(said.append)
    second = bulk.compiled_kernel(said.append)
    assert callable(first)
    assert callable(second)
    assert len(said) <= 1
