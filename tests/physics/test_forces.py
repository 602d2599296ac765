"""The bench sums against the published cases (recomputed) of the reference model's section 7."""

from __future__ import annotations

from math import pi

import pytest

from thundersheet.physics import forces
from thundersheet.physics.gas import CUBIC_FOOT, GALLON, PSI, RHO_SCFM, T0

INCH = 0.0254
POUND = 4.4482216152605
US_ATM = 14.7 * PSI
"""The published library rounds the atmosphere to 14.7 psi and a circle's pi/4 to 0.785."""
ROUND_AREA = 0.785 / (pi / 4)


def cfm(m3_s: float) -> float:
    return m3_s * 60 / CUBIC_FOOT


def test_an_inch_and_a_half_at_80_psi_pushes_141_pounds():
    push = forces.static_force(1.5 * INCH, 0.0, 80 * PSI, extend=True)
    assert push / POUND == pytest.approx(141, abs=0.5)


def test_a_two_by_four_inch_cylinder_at_30_cycles_takes_2_81_scfm():
    flow = forces.free_air_flow(2 * INCH, 0.0, 4 * INCH, 80 * PSI, 0.5, double=True)
    assert cfm(flow) == pytest.approx(2.81, abs=0.005)


@pytest.mark.parametrize(
    ("stroke_in", "double", "scfm"),
    [
        (6, False, 2.8711575255),
        (6, True, 5.5628677057),
        (9, False, 4.30673628832),
        (9, True, 8.3443015585),
    ],
)
def test_air_of_a_cycling_cylinder_is_that_of_the_oak_ridge_library(stroke_in, double, scfm):
    # Oak Ridge National Laboratory, open compressed-air library, its own tests.
    flow = forces.free_air_flow(
        1.5 * INCH, 0.375 * INCH, stroke_in * INCH, 100 * PSI, 1.0, double=double,
        atmosphere_pa=US_ATM,
    )  # fmt: skip
    assert cfm(flow) * ROUND_AREA == pytest.approx(scfm, rel=1e-7)


def test_compression_ratio_at_100_psi_is_that_of_the_oak_ridge_library():
    assert forces.compression_ratio(100 * PSI, US_ATM) == pytest.approx(7.8027210884, rel=1e-10)
    swept = forces.piston_area(1.5 * INCH) * 6 * INCH
    assert cfm(swept) * ROUND_AREA == pytest.approx(0.36796875, rel=1e-7)


@pytest.mark.parametrize(
    ("gallons", "high", "scf"),
    [(660, 110, 60.0240096038), (760, 110, 69.1185565135), (760, 150, 345.5927825676)],
)
def test_usable_air_of_a_tank_is_that_of_the_oak_ridge_library(gallons, high, scf):
    # The library has 7.48 gallons to the cubic foot.
    tank = gallons / 7.48 * CUBIC_FOOT
    air = forces.usable_air(tank, high * PSI, 100 * PSI, US_ATM)
    assert air / CUBIC_FOOT == pytest.approx(scf, rel=2e-7 if gallons == 660 else 1e-4)


def test_receiver_sizes_are_the_published_ones():
    by_air = forces.receiver_for_air(150 * CUBIC_FOOT, 3 * PSI, US_ATM)
    assert by_air / CUBIC_FOOT * 7.48 == pytest.approx(5497.8, abs=0.05)
    assert by_air / GALLON == pytest.approx(5497.8, rel=2e-4)
    foot = CUBIC_FOOT / 60
    peak = forces.receiver_for_peak(300, 350 * foot, 250 * foot, 100 * PSI, 60 * PSI, US_ATM)
    assert peak / CUBIC_FOOT == pytest.approx(183.75, rel=1e-9)


def test_a_supply_above_the_demand_needs_no_receiver():
    assert forces.receiver_for_peak(300, 0.1, 0.2, 7e5, 4e5) == 0.0


@pytest.mark.parametrize(
    ("diameter_in", "psig", "table"), [(1 / 8, 100, 26.0), (1 / 4, 80, 85.7), (1 / 32, 90, 1.48),
                                       (1 / 8, 40, 12.4)]
)  # fmt: skip
def test_orifices_pass_what_the_table_after_moss_says(diameter_in, psig, table):
    flow = forces.orifice_flow(diameter_in * INCH, psig * PSI + 14.696 * PSI, T0)
    # The table rounds to three places, "within 0.3 % of exact choked flow".
    assert cfm(flow / RHO_SCFM) == pytest.approx(table, rel=4e-3)


def test_choking_constants_are_those_of_gas_dynamics():
    # Shapiro, The Dynamics and Thermodynamics of Compressible Fluid Flow, gamma 1.4.
    assert pytest.approx(0.528282, abs=1e-6) == forces.CHOKED_RATIO
    assert forces.choked_constant() == pytest.approx(0.040418, abs=1e-6)


def test_moss_constant_is_the_choked_constant_in_other_units():
    # Moss 1906: W = 0.5303 A C p/sqrt(T) lb/s, inches, psi, degrees Rankine; within 0.4 %.
    ours = forces.orifice_flow(INCH, 100 * PSI, 530 / 1.8)
    moss = 0.5303 * pi / 4 * 100 / 530**0.5 * 0.45359237
    assert ours == pytest.approx(moss, rel=5e-3)


def test_a_tank_blows_down_as_an_integration_of_its_mass_says():
    tank, c, p, dt, t = 0.02, 1e-8, 9e5, 0.01, 0.0
    wanted = forces.blow_down_time(tank, c, 9e5, 4e5)
    while p > 4e5:
        p -= dt * c * 1.185 * p * 288.0 * T0 / tank
        t += dt
    assert wanted == pytest.approx(t, rel=1e-3)


def test_energy_grows_with_the_square_of_the_speed():
    assert forces.kinetic_energy(2.0, 3.0) == 9.0
    assert forces.kinetic_energy(2.0, 6.0) == 4 * forces.kinetic_energy(2.0, 3.0)


def test_pulling_leaves_the_rod_out():
    pull = forces.static_force(0.02, 0.008, 6e5, extend=False)
    assert pull == pytest.approx(6e5 * pi / 4 * (0.02**2 - 0.008**2))
    held = forces.static_force(0.02, 0.008, 6e5, extend=True, back_gauge_pa=6e5)
    assert held == pytest.approx(6e5 * pi / 4 * 0.008**2)
