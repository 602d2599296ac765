"""Bodies of air in the coupled solver against closed forms, CoolProp and published sums."""

from __future__ import annotations

from math import exp, inf, log, sqrt

import pytest
from CoolProp.CoolProp import PropsSI
from plant_cases import AT_ONCE, BAR, bare_tank, rush, shared, shared_state, tank_at

from thundersheet.physics.gas import P_ATM, RHO0, T0, R, Restriction, standard_litres
from thundersheet.physics.plant.coupled.run import run
from thundersheet.physics.plant.records import Body, Compressor, Gas, Path, Plant, State, Switch
from thundersheet.physics.plant.running import worst_duty

C = 2e-8
OPEN = [Switch(at_s=0.0, device="jet", way="on")]
CHOKED = 0.4
"""A critical ratio below which 8 bar and 3 bar both blow choked into the open."""


def test_isothermal_tank_blows_down_in_the_closed_time():
    """Reference model 4: t = V/(R T rho0 C) ln(p1/p2), choked."""
    plant = bare_tank(10, jet_c=C, jet_b=CHOKED)
    seconds = 10e-3 / (R * T0 * RHO0 * C) * log(8.0 / 3.0)
    found = run(plant, OPEN, seconds, state=tank_at(8.0))
    assert found.state.bodies["tank"].pa == pytest.approx(3.0 * BAR, rel=1e-5)
    lost = 10e-3 * 5.0 * BAR / (R * T0)
    assert found.landings[0].air_l == pytest.approx(standard_litres(lost), rel=1e-5)


def adiabatic(seconds: float) -> tuple[float, float]:
    """p/p1 and T of an adiabatic tank that blows choked through C: gas dynamics, gamma 1.4.

    dp/dt = -gamma R T m'/V with T/T1 = (p/p1)^(2k), k = (gamma-1)/(2 gamma):
    (p/p1)^-k = 1 + k a t, a = gamma R C rho0 sqrt(T0 T1)/V.
    """
    k, a = 0.4 / 2.8, 1.4 * R * C * RHO0 * sqrt(T0 * T0) / 10e-3
    share = (1.0 + k * a * seconds) ** (-1.0 / k)
    return share, T0 * share ** (2.0 * k)


@pytest.mark.parametrize("seconds", [1.0, 3.0])
def test_adiabatic_tank_blows_down_as_gas_dynamics_has_it(seconds):
    found = run(
        bare_tank(10, heat_w_k=0.0, jet_c=C, jet_b=CHOKED), OPEN, seconds, state=tank_at(8.0)
    )
    share, kelvin = adiabatic(seconds)
    assert found.state.bodies["tank"].pa == pytest.approx(share * 8.0 * BAR, rel=1e-5)
    assert found.state.bodies["tank"].kelvin == pytest.approx(kelvin, rel=1e-5)


def test_a_tank_that_blows_down_cools_as_real_air():
    """CoolProp 8, dry air at constant entropy; ours is an ideal gas with moist R."""
    found = run(bare_tank(10, heat_w_k=0.0, jet_c=C, jet_b=CHOKED), OPEN, 3.0, state=tank_at(8.0))
    gas = found.state.bodies["tank"]
    entropy = PropsSI("S", "P", 8.0 * BAR, "T", T0, "Air")
    assert gas.kelvin == pytest.approx(PropsSI("T", "P", gas.pa, "S", entropy, "Air"), abs=1.0)


def test_what_a_tank_loses_is_the_density_of_real_air():
    """CoolProp 8, dry air (R 287.05 to our 288.0 of moist air, and 0.3 % of real gas)."""
    plant = bare_tank(10, jet_c=C)
    found = run(plant, OPEN, 60.0, state=tank_at(8.0))
    assert found.state.bodies["tank"].pa == pytest.approx(P_ATM, rel=1e-3)
    density = PropsSI("D", "P", 8.0 * BAR, "T", T0, "Air") - PropsSI(
        "D", "P", P_ATM, "T", T0, "Air"
    )
    assert found.accounts.mass_out == pytest.approx(10e-3 * density, rel=1e-2)


def test_an_adiabatic_tank_filled_from_an_endless_supply_warms_as_the_first_law_says():
    """T2 = gamma Ts/(1 + (p1/p2)(gamma Ts/T1 - 1)), the textbook charging of a rigid tank."""
    plant = Plant(
        bodies=(
            Body(name="supply", volume_m3=1.0),
            Body(name="tank", volume_m3=5e-3, fed_by="supply", path=Path(parts=(Restriction(C),))),
        ),
        endless=True,
    )
    state = State(bodies={"supply": Gas(pa=7 * BAR, kelvin=T0), "tank": Gas(pa=P_ATM, kelvin=T0)})
    gas = run(plant, [], 20.0, state=state).state.bodies["tank"]
    assert gas.pa == pytest.approx(7 * BAR, rel=1e-6)
    warm = 1.4 * T0 / (1.0 + P_ATM / (7 * BAR) * 0.4)
    assert gas.kelvin == pytest.approx(warm, rel=1e-5)


def compressor(**changes: object) -> Compressor:
    numbers = {"delivers": ((7 * BAR, 1e-3),), "cut_in_pa": 6 * BAR, "cut_out_pa": 9 * BAR}
    return Compressor(**(numbers | changes))


def test_compressor_fills_a_tank_in_the_closed_time():
    """Reference model 4: t = V dP/(p_atm Q); 20 l by 3 bar at 60 l/min free air: 59.2 s."""
    found = run(bare_tank(20, compressor=compressor()), [], 100.0, state=tank_at(6.0))
    ((begin, end),) = found.compressor_on
    assert begin == 0.0
    assert end == pytest.approx(20e-3 * 3 * BAR / (P_ATM * 1e-3), rel=1e-6)
    assert found.state.bodies["tank"].pa == pytest.approx(9 * BAR, rel=1e-9)
    assert not found.state.running


def test_compressor_rated_at_two_pressures_fills_along_the_line_between():
    """dp/dt = (p_atm/V)(q0 + q1 p): t = V/(p_atm q1) ln(Q2/Q1)."""
    rated = compressor(delivers=((6 * BAR, 1.2e-3), (9 * BAR, 0.9e-3)))
    found = run(bare_tank(20, compressor=rated), [], 100.0, state=tank_at(6.0))
    slope = -0.3e-3 / (3 * BAR)
    seconds = 20e-3 / (P_ATM * slope) * log(0.9 / 1.2)
    assert found.compressor_on[0][1] == pytest.approx(seconds, rel=1e-6)


def test_compressor_cycles_between_its_two_pressures_as_the_linear_equation_has_it():
    """dp/dt = a Q - b p with a choked jet: b = R T rho0 C/V, a Q = p_atm Q/V."""
    leak = 0.05e-8
    plant = bare_tank(20, compressor=compressor(), jet_c=leak, jet_b=CHOKED)
    found = run(plant, OPEN, 1000.0, state=tank_at(9.0))
    b, gain = R * T0 * RHO0 * leak / 20e-3, P_ATM * 1e-3 / 20e-3
    falls = log(9.0 / 6.0) / b
    rises = log((gain - b * 6 * BAR) / (gain - b * 9 * BAR)) / b
    assert len(found.compressor_on) >= 2
    begins = [begin for begin, _ in found.compressor_on]
    assert begins[0] == pytest.approx(falls, rel=1e-5)
    first_end = found.compressor_on[0][1]
    assert first_end - begins[0] == pytest.approx(rises, rel=1e-5)
    assert begins[1] - begins[0] == pytest.approx(falls + rises, rel=1e-5)


def test_compressor_keeps_its_duty_over_any_ten_minutes():
    """40 % of 600 s: on for 240, off for 360, as a sliding window has it."""
    plant = bare_tank(2000, compressor=compressor(duty=0.4))
    found = run(plant, [], 1500.0, state=tank_at(5.0))
    expected = ((0.0, 240.0), (600.0, 840.0), (1200.0, 1440.0))
    for stretch, known in zip(found.compressor_on, expected, strict=True):
        assert stretch == pytest.approx(known, abs=1e-6)
    assert worst_duty(found.compressor_on) <= 0.4 + 1e-9
    assert found.state.calls
    assert not found.state.running


def test_compressor_is_silent_in_quiet_stretches():
    quiet = compressor(quiet_s=((20.0, 50.0),))
    found = run(bare_tank(20, compressor=quiet), [], 120.0, state=tank_at(6.0))
    assert found.compressor_on[0] == pytest.approx((0.0, 20.0))
    assert found.compressor_on[1][0] == pytest.approx(50.0)
    on = sum(b - a for a, b in found.compressor_on)
    assert on == pytest.approx(20e-3 * 3 * BAR / (P_ATM * 1e-3), rel=1e-6)


def test_a_leak_empties_exponentially_and_ends_at_the_open_air():
    """p = p1 exp(-t R T rho0 C/V) while choked; below 1.9 bar it is no longer."""
    rate = R * T0 * RHO0 * 1e-10 / 10e-3
    found = run(bare_tank(10, leak=1e-10), [], 0.5 / rate, state=tank_at(6.0))
    assert found.state.bodies["tank"].pa == pytest.approx(6 * BAR * exp(-0.5), rel=1e-5)
    late = run(bare_tank(10, leak=1e-10), [], 20 / rate, state=tank_at(6.0))
    assert late.state.bodies["tank"].pa == pytest.approx(P_ATM, rel=1e-3)


def test_a_wall_warms_a_cold_tank_by_its_own_time():
    """No flow: m cv dT/dt = G (T_amb - T)."""
    mass = 6 * BAR * 10e-3 / (R * 253.15)
    seconds = mass * 720.0 / 2.0
    found = run(bare_tank(10, heat_w_k=2.0), [], seconds, state=tank_at(6.0, 253.15))
    known = T0 + (253.15 - T0) * exp(-1.0)
    assert found.state.bodies["tank"].kelvin == pytest.approx(known, abs=1e-3)
    assert found.accounts.energy_in == pytest.approx(mass * 720.0 * (known - 253.15), rel=1e-4)


@pytest.mark.parametrize("heat_w_k", [0.0, 2.0, inf])
def test_mass_and_energy_are_accounted_for(heat_w_k):
    found = run(shared(heat_w_k=heat_w_k), AT_ONCE, 5.0, state=shared_state(8 * BAR)).accounts
    assert abs(found.mass_missing) < 1e-12 * found.mass_out
    assert abs(found.energy_missing) < 1e-9 * found.energy_out


def test_an_evening_is_accounted_for_to_a_millionth():
    plant, switches = rush(20, 5, shows=12, every_s=90.0, rounds=1)
    found = run(plant, switches, 1100.0).accounts
    assert found.mass_in > 0.1
    assert abs(found.mass_missing) < 1e-6 * found.mass_out
    assert abs(found.energy_missing) < 1e-6 * found.energy_out
