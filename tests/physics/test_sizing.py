"""Candidates for a wanted motion are verified by the stroke model and by hand."""

from __future__ import annotations

from dataclasses import replace
from math import radians

import pytest

from thundersheet.physics import sizing
from thundersheet.physics.gas import Tube
from thundersheet.physics.sizing import INCHES, METRIC, Wanted, choose, critical_load, least_bore
from thundersheet.physics.solve import solve

DOOR = Wanted(
    load_kg=4.0,
    travel_m=0.2,
    time_s=0.4,
    supply_pa=5e5,
    valves_c=(1e-8, 2e-8, 4e-8),
    tube=Tube(4e-3, 1.0),
    friction_share=0.08,
    valve_delay_s=0.015,
)


def test_the_first_candidate_makes_the_motion_in_the_time_wanted():
    best = choose(DOOR)[0]
    landed = solve(best.stroke)
    assert best.faults == ()
    assert landed.t_full_s - landed.t_start_s == pytest.approx(0.4, rel=0.02)
    assert best.stroke.linkage.ratio * best.stroke.stroke_m == pytest.approx(0.2)
    assert (best.stroke.bore_m, best.stroke.rod_m) in METRIC


def test_candidates_without_faults_come_first_and_then_those_of_least_air():
    found = choose(replace(DOOR, ratios=(1.0, 2.0)))
    ranks = [(len(one.faults), one.landed.air_fill_l) for one in found]
    assert ranks == sorted(ranks)


def test_a_load_straight_up_takes_a_bore_that_carries_it():
    # 20 kg weigh 196 N; with 8 % friction at 4 bar gauge that takes more than 25 mm (196 N).
    best = choose(replace(DOOR, load_kg=20.0, incline_rad=radians(90), time_s=1.0))[0]
    assert best.stroke.bore_m >= 0.032
    assert best.load_share < 0.7


def test_nothing_is_offered_when_no_bore_carries_the_load():
    assert choose(replace(DOOR, load_kg=5000.0, incline_rad=radians(90))) == ()


def test_a_wish_that_is_too_fast_is_named_with_the_time_it_takes():
    found = choose(replace(DOOR, time_s=0.01))
    assert all("with the largest valve" in one.faults[0] for one in found)


def test_hard_stops_and_side_loads_are_named():
    found = choose(replace(DOOR, stop_limit_j=0.01, guided=False, side_limit_n=10.0))[0]
    assert any("the stop takes 0.01 J" in fault for fault in found.faults)
    assert any("39 N sideways" in fault for fault in found.faults)


def test_eulers_rod_of_12_mm_and_half_a_metre_buckles_at_8_4_kilonewtons():
    # By hand: pi^2 * 2.1e11 * (pi 0.012^4/64) / 0.5^2 = 8439 N between pivots.
    assert critical_load(0.012, 0.5, "pivots") == pytest.approx(8439, rel=1e-3)
    assert critical_load(0.012, 0.5, "fixed, free load") == pytest.approx(8439 / 4, rel=1e-3)
    assert critical_load(0.012, 0.5, "fixed, guided") == pytest.approx(8439 * 4, rel=1e-3)


def test_a_long_thin_rod_is_said_to_buckle():
    # 1.5 m of 8 mm rod on a 20 mm bore at 9 bar: critical 46 N pin to pin over 3 m.
    long = replace(DOOR, travel_m=1.5, time_s=3.0, supply_pa=10e5, bores=((0.02, 0.008),))
    assert any("buckling" in fault for fault in choose(long)[0].faults)


def test_the_least_bore_for_a_force_is_the_next_standard_one():
    # 6 bar gauge: 25 mm gives 294.5 N, 32 mm 482.5 N.
    assert least_bore(294.0, 6e5, METRIC) == (0.025, 0.010)
    assert least_bore(295.0, 6e5, METRIC) == (0.032, 0.012)
    assert least_bore(1e6, 6e5, METRIC) is None


def test_inch_bores_are_inches():
    assert (1.5 * 0.0254, 7 / 16 * 0.0254) in INCHES
    best = choose(replace(DOOR, bores=INCHES))[0]
    assert (best.stroke.bore_m / 0.0254 * 16) == pytest.approx(
        round(best.stroke.bore_m / 0.0254 * 16)
    )


def test_rod_mass_is_that_of_steel_and_alloy_by_hand():
    # 12 mm rod of 0.1 + 0.064 m: 0.1456 kg; 32 mm piston 12.8 mm thick of alloy: 0.0278 kg.
    assert sizing.rod_mass(0.032, 0.012, 0.1) == pytest.approx(0.1456 + 0.0278, rel=1e-3)
