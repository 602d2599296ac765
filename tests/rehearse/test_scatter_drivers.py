"""What drives a landing: Sobol's indices against analytic ones and a stroke with a known driver."""

import sys

import numpy as np
import pytest
from tests.physics.cases import plain
from tests.rehearse.scatter_parts import doubt, study

from thundersheet.base.finding import Refusal
from thundersheet.rehearse.scatter.drivers import drivers_of, indices, salib


def ishigami(z, a=7.0, b=0.1):
    """Ishigami & Homma (1990) on [-pi, pi]^3, fed with standard normal columns."""
    from scipy.special import ndtr

    x = np.pi * (2.0 * ndtr(z) - 1.0)
    return np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_the_indices_of_ishigamis_function_are_the_analytic_ones():
    # Variances in closed form (Ishigami & Homma 1990; Saltelli et al., Global Sensitivity
    # Analysis: The Primer, 2008, 4.9): V1 = (1 + b pi^4/5)^2/2, V2 = a^2/8, V13 = b^2 pi^8 8/225.
    a, b, pi = 7.0, 0.1, np.pi
    v1, v2, v13 = 0.5 * (1 + b * pi**4 / 5) ** 2, a**2 / 8, 8 * b**2 * pi**8 / 225
    total = v1 + v2 + v13
    first = {"x1": v1 / total, "x2": v2 / total, "x3": 0.0}
    whole = {"x1": (v1 + v13) / total, "x2": v2 / total, "x3": v13 / total}
    found = indices(salib(), ("x1", "x2", "x3"), ishigami, seed=1, base=4096)
    assert [row[0] for row in found] == ["x1", "x2", "x3"]
    for name, s1, st, half in found:
        assert s1 == pytest.approx(first[name], abs=0.02)
        assert st == pytest.approx(whole[name], abs=max(half, 0.01))


def test_a_stroke_with_only_its_valve_in_doubt_is_driven_by_that_alone():
    # The delay adds to the landing as it is: index 1 by definition; the rest is nothing.
    one = study(
        doubt("valve delay", 0.003),
        doubt("friction", 1e-9, unit="share"),
        on=("delay", "friction"),
        stroke=plain(),
    )
    ((first, s1, st, _), (last, _, least, _)) = drivers_of(one, seed=3, base=256)["bang"]
    assert (first, last) == ("valve delay", "friction")
    assert s1 == pytest.approx(1.0, abs=0.05)
    assert st == pytest.approx(1.0, abs=0.05)
    assert least < 1e-4


def test_a_stroke_s_two_drivers_stand_as_their_variances():
    # Delay: sd 3 ms as it is. Flow control: -10 % moves the hit by 9.9 ms (reference model,
    # section 8), so 2 % by about 2 ms, and 3^2/(3^2 + 2^2) = 0.69.
    one = study(
        doubt("valve delay", 0.003),
        doubt("flow control", 0.0202, unit="share"),
        on=("delay", "flow control"),
        stroke=plain(),
    )
    found = {name: st for name, _, st, _ in drivers_of(one, seed=3, base=512)["bang"]}
    assert found["valve delay"] == pytest.approx(0.69, abs=0.08)
    assert sum(found.values()) == pytest.approx(1.0, abs=0.08)


def test_a_sum_has_its_indices_in_closed_form():
    # Shares of variance: 9 : 16 : (5 ms)^2 of a uniform one with half width 5 sqrt(3) ms.
    one = study(doubt("a", 0.003), doubt("b", 0.004), doubt("c", 0.005 * 3**0.5, law="uniform"))
    found = drivers_of(one, seed=1, base=8)["bang"]
    assert [(name, round(s1, 12), round(st, 12), half) for name, s1, st, half in found] == [
        ("c", 0.5, 0.5, 0.0),
        ("b", 0.32, 0.32, 0.0),
        ("a", 0.18, 0.18, 0.0),
    ]


def test_a_seed_gives_the_same_indices_again():
    one = study(doubt("delay", 0.003), on=("delay",), stroke=plain())
    assert drivers_of(one, 5, 64) == drivers_of(one, 5, 64)


def test_a_missing_library_is_said_in_one_sentence_with_how_to_install_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "SALib.sample.sobol", None)
    with pytest.raises(Refusal) as refused:
        salib()
    (finding,) = refused.value.findings
    assert finding.code == "SCAT-01"
    assert "pip install 'thundersheet[scatter]'" in finding.allowed
