"""Tank, compressor and leak: against published sums, closed forms, scipy, and what must be so."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from thundersheet.physics.forces import orifice_flow
from thundersheet.physics.gas import CUBIC_FOOT, GALLON, P_ATM, PSI, RHO0, T0, R, flow_of_fad
from thundersheet.physics.plant.closed import (
    blow_down_s,
    fill_s,
    gain_held,
    leak_of_free_air,
    leak_of_leak_down,
)
from thundersheet.physics.plant.lasting import (
    cycle,
    falls_to_s,
    leak_over,
    recovery_s,
    shows_without_compressor,
    tank_for_rush,
)
from thundersheet.physics.plant.records import Body, Compressor, Gas, Path, Plant, State
from thundersheet.physics.plant.reservoir import Reservoir
from thundersheet.physics.plant.running import worst_duty

BAR = 1e5
FREE_KG = P_ATM / (R * T0)
"""kg in a cubic metre of free air at the plant's ambient."""


def plant(volume: float = 0.024, leak: float = 0.0, **compressor: object) -> Plant:
    settled = {"delivers": ((7 * BAR, 1e-3),), "cut_in_pa": 7 * BAR, "cut_out_pa": 9 * BAR}
    return Plant(
        bodies=(Body(name="tank", volume_m3=volume, leak_m3_s_pa=leak),),
        compressor=Compressor(**(settled | compressor)),  # type: ignore[arg-type]
    )


def at(pa: float, **more: object) -> State:
    return State(bodies={"tank": Gas(pa=pa, kelvin=T0)}, **more)  # type: ignore[arg-type]


def gauge(psi: float) -> float:
    return psi * PSI + P_ATM


# Oak Ridge National Laboratory, open compressed-air library, its own tests of tank storage.
@pytest.mark.parametrize(
    ("gallons", "high", "low", "scf"),
    [
        (660, 110, 100, 60.0240096038),
        (760, 110, 100, 69.1185565135),
        (760, 150, 100, 345.5927825676),
    ],
)
def test_a_tank_gives_the_published_usable_air(
    gallons: float, high: float, low: float, scf: float
) -> None:
    tank = Reservoir(plant(gallons * GALLON), at(gauge(high))).alone()
    tank.draw(scf * CUBIC_FOOT * FREE_KG)
    # The source works with 14.7 psi for the atmosphere and 7.48 gal to a cubic foot.
    assert tank.pressure_pa == pytest.approx(gauge(low), abs=0.0004 * (high - low) * PSI + 30)


def test_the_published_receiver_bridges_five_minutes() -> None:
    # 350 - 250 cfm for 5 min between 100 and 60 psig need 183.75 ft3 (with 14.7 psi).
    volume, cfm = 183.75 * CUBIC_FOOT, CUBIC_FOOT / 60.0
    delivers = ((gauge(60), 250 * cfm),)
    tank = Reservoir(
        plant(volume, delivers=delivers, cut_in_pa=gauge(100), cut_out_pa=gauge(101)),
        at(gauge(100)),
    )
    tank.draw(350 * cfm * FREE_KG * 300.0, 300.0)
    tank.advance(300.0)
    assert tank.pressure_pa == pytest.approx(gauge(60), abs=0.0005 * 40 * PSI)


def test_the_published_receiver_holds_one_hundred_and_fifty_cubic_feet_for_three_psi() -> None:
    # 5497.8 gal for 150 scf at 3 psi drop (with 14.7 psi and 7.48 gal).
    tank = Reservoir(plant(5497.8 * GALLON), at(gauge(100))).alone()
    tank.draw(150 * CUBIC_FOOT * FREE_KG)
    assert (gauge(100) - tank.pressure_pa) / PSI == pytest.approx(3.0, rel=4e-4)


@pytest.mark.parametrize(
    ("inch", "psig", "cfm"), [(1 / 8, 100, 26.0), (1 / 4, 80, 85.7), (1 / 32, 90, 1.48)]
)
def test_a_hole_after_moss_leaks_what_the_table_says(inch: float, psig: float, cfm: float) -> None:
    # Moss 1906, W = 0.5303 A C p/sqrt(T); free air dry at 14.696 psia and 68 F, so 287.05 J/(kg K).
    flow = orifice_flow(inch * 0.0254, gauge(psig))
    leak = leak_of_free_air(cfm * CUBIC_FOOT / 60.0 * R / 287.05, gauge(psig))
    tank = Reservoir(plant(100.0, leak), at(gauge(psig))).alone()
    tank.advance(1.0)
    assert tank.leaked_kg == pytest.approx(flow, rel=0.004)


def test_a_leak_blows_the_tank_down_in_the_closed_form_s_time() -> None:
    # V/(R T rho0 C) ln(p1/p2): isothermal, choked (any text of gas dynamics).
    leak = 3e-10
    closed = 0.024 / (R * T0 * RHO0 * leak) * math.log(9.0 / 4.0)
    assert falls_to_s(plant(leak=leak), 4 * BAR) == pytest.approx(closed, rel=1e-12)
    assert blow_down_s(0.024, leak, 9 * BAR, 4 * BAR) == pytest.approx(closed, rel=1e-12)


def test_a_measured_leak_down_gives_back_the_leak() -> None:
    leak = leak_of_leak_down(0.024, 9 * BAR, 8.5 * BAR, 600.0, 280.0)
    shed = Plant(bodies=plant(leak=leak).bodies, ambient_k=280.0)
    tank = Reservoir(shed, at(9 * BAR))
    tank.advance(600.0)
    assert tank.pressure_pa == pytest.approx(8.5 * BAR, rel=1e-12)


def test_a_constant_delivery_fills_in_v_dp_over_p_q() -> None:
    took = recovery_s(plant(), 9 * BAR, state=at(7 * BAR))
    assert took == pytest.approx(0.024 * 2 * BAR / (P_ATM * 1e-3), rel=1e-12)
    assert took == pytest.approx(fill_s(0.024, 2 * BAR, 1e-3, P_ATM), rel=1e-12)


def test_cycles_are_those_of_a_tight_integration() -> None:
    # scipy's eighth-order Runge-Kutta, switched at the same two pressures.
    leak, demand = 4e-10, 2.5e-4
    delivers = ((7 * BAR, 1.0e-3), (9 * BAR, 0.7e-3))
    tank = Reservoir(plant(leak=leak, delivers=delivers))
    tank.draw(demand * 1200.0, 1200.0)
    tank.advance(1200.0)
    times, pressure = scipy_cycles(leak, demand, delivers, 1200.0)
    runs = [edge for run in tank.running.own for edge in run]
    assert len(times) == 9
    assert runs[: len(times)] == pytest.approx(times, abs=1e-6)
    assert tank.pressure_pa == pytest.approx(pressure, rel=1e-9)


def scipy_cycles(
    leak: float, demand: float, delivers: tuple[tuple[float, float], ...], until: float
) -> tuple[list[float], float]:
    (p1, q1), (p2, q2) = delivers
    kg_pa = 0.024 / (R * T0)

    def rate(_: float, p: np.ndarray, on: bool) -> np.ndarray:
        free = q1 + (q2 - q1) * (p - p1) / (p2 - p1)
        return (flow_of_fad(1.0) * free * on - leak * RHO0 * p - demand) / kg_pa

    edges, t, p, on = [], 0.0, 9 * BAR, False
    while True:
        level = 9 * BAR if on else 7 * BAR

        def passes(_: float, p: np.ndarray, _on: bool, level: float = level) -> float:
            return float(p[0] - level)

        passes.terminal = True  # type: ignore[attr-defined]
        found = solve_ivp(
            rate, (t, until), [p], "DOP853", args=(on,), events=passes, rtol=1e-12, atol=1e-6
        )
        t, p = found.t[-1], found.y[0, -1]
        if found.status == 0:
            return edges, p
        edges.append(t)
        on = not on


def test_the_cycle_in_one_line_is_the_one_that_is_followed() -> None:
    once = cycle(plant(), 2.5e-4)
    net_on = 1e-3 * FREE_KG - 2.5e-4
    kg = 2 * BAR * 0.024 / (R * T0)
    assert once.on_s == pytest.approx(kg / net_on, rel=1e-9)
    assert once.off_s == pytest.approx(kg / 2.5e-4, rel=1e-9)
    assert once.duty == pytest.approx(2.5e-4 / (1e-3 * FREE_KG), rel=1e-9)


def test_a_compressor_without_a_rest_runs_its_duty_and_no_more_in_any_ten_minutes() -> None:
    tank = Reservoir(plant(10.0, duty=0.6), at(5 * BAR))
    tank.advance(6000.0)
    # 0.6 of 600 s, then as long a rest as the window needs: 360 on, 240 off, for ever.
    expected = tuple((600.0 * i, 600.0 * i + 360.0) for i in range(10))
    assert np.array(tank.running.own) == pytest.approx(np.array(expected), abs=1e-5)
    assert tank.worst_duty == pytest.approx(0.6, abs=1e-6)
    assert tank.duty == pytest.approx(0.6, abs=1e-6)


def test_the_duty_remembers_what_ran_before_the_state() -> None:
    tank = Reservoir(plant(10.0, duty=0.5), at(5 * BAR, ran_s=((-300.0, 0.0),)))
    tank.advance(700.0)
    assert np.array(tank.running.own) == pytest.approx(np.array([(300.0, 600.0)]), abs=1e-5)


def test_a_run_in_two_pieces_is_the_same_run() -> None:
    whole = Reservoir(plant(leak=1e-9, duty=0.4, quiet_s=((200.0, 500.0),)), at(8 * BAR))
    first = Reservoir(whole.plant, at(8 * BAR))
    whole.advance(5000.0)
    first.advance(1234.0)
    second = Reservoir(whole.plant, first.state)
    second.advance(5000.0)
    assert second.pressure_pa == pytest.approx(whole.pressure_pa, rel=1e-12)
    runs = np.array(whole.state.ran_s)
    assert np.array(second.state.ran_s) == pytest.approx(runs)


def test_it_never_runs_in_a_quiet_stretch_and_goes_on_afterwards() -> None:
    tank = Reservoir(plant(10.0, quiet_s=((100.0, 400.0),)), at(5 * BAR))
    tank.advance(1000.0)
    assert tank.running.own == ((0.0, 100.0), (400.0, 1000.0))


def test_a_line_through_two_rated_points_never_delivers_less_than_nothing() -> None:
    delivers = ((7 * BAR, 1e-3), (8 * BAR, 0.5e-3))
    tank = Reservoir(plant(delivers=delivers, cut_in_pa=8 * BAR, cut_out_pa=10 * BAR), at(8 * BAR))
    tank.advance(36_000.0)
    assert tank.pressure_pa == pytest.approx(9 * BAR, rel=1e-6)
    assert tank.pressure_pa <= 9 * BAR


def test_behind_a_regulator_a_tank_gives_only_what_the_first_one_lacks() -> None:
    small = Body(name="near", volume_m3=0.006, fed_by="tank", path=Path(set_pa=4 * BAR))
    both = Plant(bodies=(*plant().bodies, small))
    tank = Reservoir(both, State(bodies={"tank": Gas(pa=9 * BAR, kelvin=T0)}))
    tank.draw(0.024 * 5 * BAR / (R * T0))
    assert tank.pressure_pa == pytest.approx(4 * BAR, rel=1e-12)
    tank.draw(0.030 * 1 * BAR / (R * T0))
    assert tank.pressure_pa == pytest.approx(3 * BAR, rel=1e-12)
    assert tank.pressure_of("near") == tank.pressure_pa


def test_an_empty_tank_says_what_it_could_not_give() -> None:
    tank = Reservoir(plant(), at(2 * BAR)).alone()
    held = 0.024 * (2 * BAR - P_ATM) / (R * T0)
    tank.draw(held + 0.01)
    assert tank.short_kg == pytest.approx(0.01)
    assert tank.pressure_pa == pytest.approx(P_ATM, rel=1e-12)
    tank.draw(0.01, 10.0)
    tank.advance(10.0)
    assert tank.short_kg == pytest.approx(0.02)
    assert tank.pressure_pa == pytest.approx(P_ATM, rel=1e-12)


evenings = st.fixed_dictionaries(
    {
        "volume": st.floats(1e-3, 0.2),
        "leak": st.sampled_from([0.0, 1e-11, 1e-10, 2e-9]),
        "duty": st.sampled_from([1.0, 0.7, 0.3]),
        "kg": st.floats(1e-4, 2e-2),
        "every": st.floats(5.0, 300.0),
        "over": st.sampled_from([0.0, 0.5, 40.0]),
    }
)


@settings(max_examples=60, deadline=None)
@given(evenings)
def test_every_gram_of_an_evening_is_accounted_for(case: dict[str, float]) -> None:
    delivers = ((7 * BAR, 1e-3), (9 * BAR, 0.8e-3))
    tank = Reservoir(plant(case["volume"], case["leak"], duty=case["duty"], delivers=delivers))
    for number in range(60):
        tank.draw(case["kg"], case["over"])
        tank.advance((number + 1) * case["every"])
    accounts = tank.accounts
    assert abs(accounts.mass_missing) <= 1e-11 * max(accounts.mass_in, accounts.mass_out, 1e-3)
    assert worst_duty(tank.running.own) <= case["duty"] + 1e-8


@settings(max_examples=40, deadline=None)
@given(evenings, st.floats(1.05, 5.0))
def test_more_leak_never_gives_more_shows(case: dict[str, float], more: float) -> None:
    few, many = (
        shows_without_compressor(
            plant(case["volume"], leak), case["kg"], 4 * BAR, every_s=case["every"]
        )
        for leak in (1e-10 * more, 1e-10)
    )
    assert few <= many


@settings(max_examples=40, deadline=None)
@given(evenings, st.floats(1.0, 5.0))
def test_a_bigger_tank_never_gives_fewer_shows_without_a_compressor(
    case: dict[str, float], more: float
) -> None:
    # Without leaks: a leak is a share of what is inside, so that it loses as much of a pressure.
    small, big = (
        shows_without_compressor(plant(volume), case["kg"], 4 * BAR, every_s=case["every"])
        for volume in (case["volume"], case["volume"] * more)
    )
    assert small <= big


@given(st.integers(-1000, 1000).map(lambda n: n * 1e-6), st.floats(1.0, 100.0))
def test_the_series_and_the_exponential_are_one_curve(slope: float, t: float) -> None:
    # mpmath-free check: the integral by Gauss-Legendre, exact to double precision for this curve.
    at_points, weights = np.polynomial.legendre.leggauss(12)
    s = 0.5 * t * (at_points + 1.0)
    curve = s if slope == 0.0 else np.expm1(slope * s) / slope
    assert gain_held(1.0, slope, t) == pytest.approx(0.5 * t * float(weights @ curve), rel=1e-9)


def test_the_least_tank_for_a_rush_is_enough_and_hardly_more() -> None:
    kg = 0.01
    volume = tank_for_rush(plant(), kg, 5 * BAR, shows=20, every_s=60.0)
    assert volume is not None

    def shows(m3: float) -> bool:
        tank = Reservoir(plant(m3))
        low = math.inf
        for number in range(20):
            tank.draw(kg)
            low = min(low, tank.pressure_pa)
            tank.advance((number + 1) * 60.0)
        return low >= 5 * BAR

    assert shows(volume)
    assert not shows(volume * 0.998)


def test_a_night_s_leak_costs_what_the_compressor_brings_back() -> None:
    night = leak_over(plant(leak=1e-10), 8 * 3600.0)
    grown = (night.left_pa - 9 * BAR) * 0.024 / (R * T0)
    assert night.starts > 1
    assert night.ran_s * 1e-3 * FREE_KG == pytest.approx(night.lost_kg + grown, rel=1e-9)


def test_time_never_goes_back() -> None:
    tank = Reservoir(plant())
    tank.advance(5.0)
    with pytest.raises(ValueError, match="only goes forward"):
        tank.advance(4.0)
