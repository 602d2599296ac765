"""Where a step's cubic crosses zero, against the roots that numpy finds (companion matrix)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thundersheet.physics.events import NEAR, NOT_IN_STEP, crossing

numbers = st.integers(-10_000, 10_000).map(lambda whole: whole / 1000)


@pytest.mark.parametrize("share", [1e-9, 0.1, 0.477, 0.5, 0.9, 1 - 1e-9])
@pytest.mark.parametrize("start", [1.0, 0.0014617, 3e5])
def test_a_straight_line_crosses_where_it_must(start, share):
    end = start - start / share
    slope = end - start
    assert crossing(start, end, slope, slope) == pytest.approx(share, abs=2 * NEAR)


@given(numbers.map(abs), numbers, numbers, numbers)
def test_a_cubic_crosses_at_a_root_and_is_below_zero_just_behind(a, b, da, db):
    at = crossing(a, b, da, db)
    rise = b - a
    cubic = np.polynomial.Polynomial([a, da, 3 * rise - 2 * da - db, da + db - 2 * rise])
    if at == NOT_IN_STEP:
        assert b >= 0.0
        return
    assert 0.0 <= at <= 1.0
    assert abs(cubic(at)) <= 1e-6 * (1.0 + abs(b) + abs(da) + abs(db))
    if a > 0.0:
        roots = cubic.roots()
        real = roots[np.abs(roots.imag) < 1e-4].real
        assert np.min(np.abs(real - at)) < 1e-3
