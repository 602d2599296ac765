"""The plant of a book in SI: what melts, what is a body, what leaks, when the compressor is quiet.

Outside: scipy's integrators and root finders, fluids' 1976 standard atmosphere, datetime, pint.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from math import inf, pi, sqrt

import pint
import pytest
from air_parts import BAR, COMPRESSOR, LITRE, aired, cylinder, jet, part, usual
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from thundersheet.base.time import Span
from thundersheet.book.read import read_text
from thundersheet.model.air import Air, AirPart, Evening, LeakDown
from thundersheet.physics.gas import RHO0, T0, R, Restriction, Tube, in_series, mass_flow
from thundersheet.plan.plumbing import atmosphere, first_state, full_pa, nominal_pa, plant_of
from thundersheet.plan.plumbing.machine import leak_of_fall, quiet_s
from thundersheet.plan.setting import bare_setting

UNITS = pint.UnitRegistry()
SEA = 101_325.0


def test_a_set_pressure_alone_is_a_supply_without_end_with_todays_pressures() -> None:
    made = read_text(
        """\
book: 1
show: {name: x, length: 1:00}
air: {set: 30 psi, altitude: 800 m, ambient: 4 C}
devices:
  lid: {kind: air cylinder, bore: 25 mm, stroke: 100 mm}
  jaw: {kind: air cylinder, bore: 20 mm, stroke: 60 mm, pressure: 45 psi}
  gust: {kind: air jet, nozzle: 4 mm}
"""
    )
    plant = plant_of(made)
    assert plant.endless
    assert plant.compressor is None
    (body,) = plant.bodies
    for each in (*plant.cylinders, *plant.jets):
        bare = bare_setting(made, made.device(each.name))
        assert (each.body, each.path.parts, each.path.tubes) == (body.name, (), ())
        assert each.path.set_pa == bare.supply_pa
        assert each.path.drop_pa == 0.0
    for each in plant.cylinders:
        assert each.out.supply_pa == bare_setting(made, made.device(each.name)).supply_pa
    # The most that any of them asks for: no regulator ever runs short.
    start = first_state(made, plant)
    assert start.bodies[body.name].pa == max(each.path.set_pa for each in plant.cylinders)
    assert full_pa(made) == start.bodies[body.name].pa


def test_parts_without_volume_melt_into_the_path_of_the_next_body() -> None:
    near = part("near", "tank", "soft", volume_m3=2 * LITRE, hose=(6, 3))
    block = part("block", "manifold", "near", hose=(6, 1))
    plant = plant_of(aired(usual(near, block), cylinder()))
    assert [body.name for body in plant.bodies] == ["tank", "near", "block"]
    tank, second, third = plant.bodies
    assert tank.path is None
    assert second.path is not None
    assert len(second.path.parts) == 5  # shut-off, filter, regulator, dump, soft start
    assert [tube.length_m for tube in second.path.tubes] == [3.0]
    assert second.path.set_pa == pytest.approx(3 * BAR + SEA)
    assert second.path.drop_pa == AirPart.drop_pa
    # A hose's air belongs to the body that it feeds: pi/4 d^2 L by pint.
    hose = (pi / 4 * UNITS("6 mm") ** 2 * UNITS("3 m")).to("l").magnitude
    assert second.volume_m3 / LITRE == pytest.approx(2.0 + hose)
    assert third.fed_by == "near"
    (lid,) = plant.cylinders
    assert (lid.body, lid.path.set_pa) == ("block", inf)


def test_where_a_feed_forks_there_is_a_body_so_that_what_is_shared_is_shared() -> None:
    plant = plant_of(aired(usual(), cylinder(), jet()))
    assert [body.name for body in plant.bodies] == ["tank", "soft"]
    assert {each.body for each in (*plant.cylinders, *plant.jets)} == {"soft"}
    alone = plant_of(aired(usual(), cylinder()))
    assert [body.name for body in alone.bodies] == ["tank"]
    (lid,) = alone.cylinders
    assert lid.body == "tank"
    assert len(lid.path.parts) == 5


def test_of_two_regulators_in_a_row_the_lower_one_counts_and_both_need_their_drop() -> None:
    fine = part("fine", "regulator", "soft", set_pa=2 * BAR, drop_pa=0.2 * BAR)
    (lid,) = plant_of(aired(usual(fine), cylinder())).cylinders
    assert lid.path.set_pa == pytest.approx(2 * BAR + SEA)
    assert lid.path.drop_pa == pytest.approx(0.5 * BAR)
    coarse = part("coarse", "regulator", "soft", set_pa=6 * BAR, drop_pa=0.2 * BAR)
    (lid,) = plant_of(aired(usual(coarse), cylinder())).cylinders
    # 3 bar come, and the second regulator takes 0.2 bar of them.
    assert lid.path.set_pa == pytest.approx(2.8 * BAR + SEA)


def test_a_devices_own_pressure_is_a_regulator_at_the_end_of_its_path() -> None:
    made = aired(usual(), cylinder(pressure_pa=2 * BAR), cylinder("jaw", pressure_pa=5 * BAR))
    lid, jaw = plant_of(made).cylinders
    assert lid.path.set_pa == pytest.approx(2 * BAR + SEA)
    assert jaw.path.set_pa == pytest.approx(5 * BAR + SEA)  # of which only 3 less 0.3 bar come
    assert nominal_pa(made, made.device("lid")) == 2 * BAR
    assert nominal_pa(made, made.device("jaw")) == 3 * BAR


@given(st.floats(1e-8, 8e-8), st.floats(1e-8, 4e-8), st.floats(0.0, 0.9))
@example(1.6e-8, 4e-8, 0.875)
@settings(max_examples=40)
def test_a_filter_before_a_regulator_slows_by_no_more_than_it_would_pass_at_tank_pressure(
    filter_c: float, droop_c: float, ratio: float
) -> None:
    first = part("filter", "filter", "shut", flow_m3_s_pa=filter_c)
    regulator = part("regulator", "regulator", "filter", set_pa=3 * BAR, flow_m3_s_pa=droop_c)
    (lid,) = plant_of(aired(usual(filter=first, regulator=regulator), cylinder())).cylinders
    low, set_abs = COMPRESSOR.cut_in_pa + SEA, 3 * BAR + SEA
    as_filter = lid.path.parts[1]
    assert mass_flow(as_filter, set_abs, SEA) == pytest.approx(
        mass_flow(Restriction(filter_c), low, SEA)
    )
    # While the filter leaves the regulator more than it needs, only its droop counts in truth.
    down = SEA + ratio * (set_abs - SEA)
    true = mass_flow(Restriction(droop_c), set_abs, down)
    if mass_flow(Restriction(filter_c), low, set_abs + AirPart.drop_pa) > true:
        reckoned = mass_flow(in_series([as_filter, Restriction(droop_c)]), set_abs, down)
        assert 0.8 * true < reckoned <= true * 1.001


def test_a_hose_before_a_regulator_counts_at_the_pressure_that_it_carries() -> None:
    regulator = part("regulator", "regulator", "filter", set_pa=3 * BAR, hose=(4, 6))
    block = part("block", "manifold", "soft", hose=(6, 1))
    plant = plant_of(aired(usual(block, regulator=regulator), cylinder()))
    tank, fed = plant.bodies
    assert fed.path is not None
    assert [tube.length_m for tube in fed.path.tubes] == [1.0]
    thin = Tube(0.004, 6.0)
    as_part = fed.path.parts[2]
    assert mass_flow(as_part, 3 * BAR + SEA, SEA) == pytest.approx(
        mass_flow(thin.flow, COMPRESSOR.cut_in_pa + SEA, SEA), rel=0.05
    )
    assert as_part.c_m3_s_pa == pytest.approx(thin.flow.c_m3_s_pa * 7.01325 / 4.01325)
    # Its air stands at the tank's pressure.
    assert tank.volume_m3 == pytest.approx(24 * LITRE + thin.volume_m3)


def test_a_leak_loses_what_the_book_says_at_the_full_tank() -> None:
    air = Air(leaks_m3_s_anr=UNITS("0.5 l/min").to("m^3/s").magnitude, ambient_k=278.15)
    plant = plant_of(aired(usual(), cylinder(), air=air))
    leak = Restriction(plant.bodies[0].leak_m3_s_pa)
    flow = mass_flow(leak, COMPRESSOR.cut_out_pa + SEA, SEA, 278.15)
    assert flow / RHO0 == pytest.approx(UNITS("0.5 l/min").to("m^3/s").magnitude, rel=1e-9)


def test_a_measured_fall_of_the_gauge_is_the_leak_that_makes_it() -> None:
    """scipy.integrate.solve_ivp empties the tank isothermally through the leak that was found."""
    air = Air(leak_down=LeakDown(loses_pa=0.5 * BAR, within=Span.seconds(600)), ambient_k=285.15)
    plant = plant_of(aired(usual(), cylinder(), air=air))
    leak = Restriction(plant.bodies[0].leak_m3_s_pa)
    volume = 24 * LITRE

    def falls(_t: float, p: list[float]) -> list[float]:
        return [-R * 285.15 / volume * mass_flow(leak, p[0], SEA, 285.15)]

    ended = solve_ivp(falls, (0, 600), [8 * BAR + SEA], rtol=1e-10, atol=1e-3).y[0, -1]
    assert ended == pytest.approx(7.5 * BAR + SEA, rel=1e-8)
    assert leak.c_m3_s_pa == pytest.approx(
        leak_of_fall(volume, 8 * BAR + SEA, 0.5 * BAR, 600.0, 285.15)
    )
    assert sqrt(T0 / 285.15) > 1.0  # colder air is denser: the same hole loses more


@given(st.integers(0, 1439), st.integers(0, 1439), st.integers(1, 1438), st.integers(0, 1439))
def test_quiet_hours_are_those_that_a_clock_shows(
    begins: int, first: int, lasts: int, asked: int
) -> None:
    quiet = (Span.seconds(60 * first), Span.seconds(60 * ((first + lasts) % 1440)))
    stretches = quiet_s(replace(COMPRESSOR, quiet=(quiet,)), 60.0 * begins)
    now = datetime(2026, 10, 31) + timedelta(minutes=begins + asked, seconds=30)
    start = datetime(2026, 10, 31) + timedelta(minutes=first)
    inside = any(
        start + timedelta(days=day) <= now < start + timedelta(days=day, minutes=lasts)
        for day in (-1, 0, 1, 2)
    )
    assert any(a <= 60.0 * asked + 30.0 < b for a, b in stretches) == inside


def test_the_compressor_stands_in_absolute_pressure_at_the_books_height() -> None:
    air = Air(altitude_m=1200.0)
    second = replace(COMPRESSOR, also_at_pa=8 * BAR, also_delivers_m3_s=0.75e-3)
    made = aired(usual(), cylinder(), air=air, compressor=second,
                 evening=Evening(shows=3, begins=Span.seconds(19 * 3600)))  # fmt: skip
    plant = plant_of(made)
    outside = ATMOSPHERE_1976(1200.0).P  # fluids: US Standard Atmosphere 1976, as ISO 2533
    assert plant.atmosphere_pa == pytest.approx(outside, rel=1e-4)
    assert atmosphere(made.air) == plant.atmosphere_pa
    compressor = plant.compressor
    assert compressor is not None
    assert compressor.cut_in_pa == pytest.approx(6 * BAR + outside, rel=1e-4)
    assert [flow for _, flow in compressor.delivers] == [1e-3, 0.75e-3]
    assert compressor.delivers[1][0] == pytest.approx(8 * BAR + outside, rel=1e-4)


def test_an_evening_begins_with_a_full_tank_and_every_rod_back() -> None:
    block = part("block", "manifold", "soft", hose=(6, 1))
    made = aired(usual(block), cylinder(), jet())
    plant = plant_of(made)
    state = first_state(made, plant)
    assert state.bodies["tank"].pa == pytest.approx(8 * BAR + SEA)
    assert state.bodies["block"].pa == pytest.approx(3 * BAR + SEA)
    lid = state.pistons["lid"]
    assert (lid.out_m, lid.v_m_s, lid.way) == (0.0, 0.0, "back")
    assert (lid.air.drive_pa, lid.air.exhaust_pa) == pytest.approx((SEA, 3 * BAR + SEA))
    vented = replace(made, air=replace(made.air, dumped=True))
    assert first_state(vented, plant_of(vented)).pistons["lid"].air.exhaust_pa == SEA


def test_a_tank_filled_beforehand_needs_no_compressor() -> None:
    tank = part("tank", "tank", filled_pa=7 * BAR)
    made = aired(usual(tank=tank), cylinder(), compressor=None)
    assert plant_of(made).compressor is None
    assert full_pa(made) == pytest.approx(7 * BAR + SEA)


def test_a_warmer_or_colder_night_changes_the_plant_but_not_a_tank_in_its_own_shed() -> None:
    tank = part("tank", "tank", ambient_k=288.15)
    block = part("block", "manifold", "soft")
    plant = plant_of(aired(usual(block, tank=tank), cylinder()), ambient_k=275.15)
    assert plant.ambient_k == 275.15
    assert [body.ambient_k for body in plant.bodies] == [288.15, None]
    assert plant.compressor is not None
    assert plant.compressor.inlet_k == 275.15


def test_a_device_that_cannot_be_reckoned_is_left_out() -> None:
    plant = plant_of(aired(usual(), cylinder(), cylinder("odd", incline="sideways")))
    assert [each.name for each in plant.cylinders] == ["lid"]


def test_a_plumbing_that_does_not_hang_together_is_as_good_as_none() -> None:
    ring = (part("a", "shut-off", "b"), part("b", "filter", "a"))
    plant = plant_of(aired(ring, cylinder(), air=Air(set_pa=2 * BAR)))
    assert plant.endless
    assert plant.cylinders[0].path.set_pa == pytest.approx(2 * BAR + SEA)
