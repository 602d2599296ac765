"""What a stroke does: the reference model's own figures, directions of change, balances, limits.

"Section" is a section of the reference model of timing and air use (version 1).
"""

from __future__ import annotations

from dataclasses import replace
from math import pi, radians

import pytest
from cases import plain
from hypothesis import given, settings
from hypothesis import strategies as st

from thundersheet.physics.gas import GRAVITY, P_ATM, PSI, R, Restriction, Tube, standard_litres
from thundersheet.physics.solve import solve
from thundersheet.physics.stroke import Air, Lid, Linkage

BASE = solve(plain())


def later_ms(**changes: object) -> float:
    return 1000 * (solve(plain(**changes)).t_full_s - BASE.t_full_s)


def tubes(metres: float, bore_m: float = 4.3e-3) -> dict[str, Tube]:
    return {"drive_tube": Tube(bore_m, metres), "exhaust_tube": Tube(bore_m, metres)}


def test_base_case_starts_hits_and_speeds_as_section_8_says():
    assert 1000 * BASE.t_start_s == pytest.approx(63, abs=0.5)
    assert 1000 * BASE.t_full_s == pytest.approx(299, abs=0.7)
    assert pytest.approx(0.67, abs=0.005) == BASE.v_impact_m_s


@pytest.mark.parametrize(
    ("later", "changes"),
    [
        (2.5, {"supply_pa": 0.9 * 80 * PSI + P_ATM}),
        (1.8, {"breakaway_n": 48.0, "coulomb_n": 28.8}),
        (6.8, {"load_kg": 10.0}),
        (18.0, {"incline_rad": pi / 2}),
        (9.9, {"exhaust_end": (Restriction(0.9e-8),)}),
        (32.0, tubes(4.0)),
        (5.0, {"valve_delay_s": 0.025}),
        (9.4, {"ambient_k": 273.15}),
    ],
)
def test_hit_moves_by_what_section_8_says(later, changes):
    assert later_ms(**changes) == pytest.approx(later, abs=0.35)


def test_first_stroke_after_a_dump_lunges_as_trap_1_says():
    lunge = solve(plain(vented=True))
    assert 1000 * lunge.t_full_s == pytest.approx(128, abs=0.6)
    assert lunge.v_impact_m_s == pytest.approx(2.0, abs=0.06)
    assert lunge.e_impact_j / BASE.e_impact_j == pytest.approx(9, abs=0.5)


@pytest.mark.parametrize(("metres", "early_ms"), [(1.0, 1), (3.0, 7), (6.0, 28)])
def test_lumping_the_tube_is_late_by_what_trap_2_says(metres, early_ms):
    lumped = solve(plain(**tubes(metres)))
    node = solve(plain(**tubes(metres), tube_model="node"))
    late = 1000 * (lumped.t_full_s - node.t_full_s)
    assert late == pytest.approx(early_ms, abs=0.6)


def test_series_rule_is_8_ms_early_where_tube_and_flow_control_are_alike():
    assert later_ms(combination="chain") == pytest.approx(8, abs=0.3)


@pytest.mark.parametrize(("together", "later"), [(2, 2), (4, 9)])
def test_cylinders_on_one_regulator_slow_each_other_as_trap_4_says(together, later):
    valve = plain().drive_valve
    alone = later_ms(drive_valve=(Restriction(6e-8), *valve))
    shared = later_ms(drive_valve=(Restriction(6e-8 / together), *valve))
    assert shared - alone == pytest.approx(later, abs=0.6)


@pytest.mark.parametrize(("psi", "later"), [(80, 8.5), (40, 72)])
def test_five_psi_less_cost_a_heavy_upward_stroke_what_section_8_says(psi, later):
    heavy = plain(load_kg=15.0, incline_rad=pi / 2)
    full, less = (solve(replace(heavy, supply_pa=p * PSI + P_ATM)) for p in (psi, psi - 5))
    assert 1000 * (less.t_full_s - full.t_full_s) == pytest.approx(later, rel=0.04)


def test_nothing_happens_before_valve_and_sound_have_passed():
    # Section 3.1: valve delay and L/c, c = sqrt(1.4 * 288 * 293.15) = 343.8 m/s.
    stroke = plain()
    assert stroke.switch_s == pytest.approx(0.020 + 3.0 / 343.8, abs=1e-6)
    early = solve(stroke, until_s=0.01)
    assert early.t_start_s is None
    assert early.air.drive_pa == stroke.first_air.drive_pa
    assert early.air.exhaust_k == pytest.approx(stroke.first_air.exhaust_k)
    assert early.y_m == 0.0


RATED = settings(max_examples=12, deadline=None, derandomize=True)


@RATED
@given(st.floats(0.5, 30.0), st.floats(1.05, 2.0))
def test_lead_grows_with_the_mass(kg, times):
    light, heavy = (solve(plain(load_kg=m)) for m in (kg, kg * times))
    assert heavy.t_full_s > light.t_full_s


@RATED
@given(st.floats(0.3, 5.0), st.floats(1.05, 2.0), st.sampled_from(["lumped", "node"]))
def test_lead_grows_with_the_tube(metres, times, model):
    short, long = (solve(plain(**tubes(x), tube_model=model)) for x in (metres, metres * times))
    assert long.t_full_s > short.t_full_s


@RATED
@given(st.floats(0.3e-8, 5e-8), st.floats(1.05, 2.0))
def test_lead_falls_as_the_flow_control_opens(c, times):
    close, wide = (solve(plain(exhaust_end=(Restriction(x),))) for x in (c, c * times))
    assert wide.t_full_s < close.t_full_s


@RATED
@given(st.floats(45.0, 100.0), st.floats(1.05, 1.5))
def test_lead_of_an_upward_stroke_falls_with_the_pressure(psi, times):
    up = plain(load_kg=12.0, incline_rad=pi / 2)
    low, high = (solve(replace(up, supply_pa=p * PSI + P_ATM)) for p in (psi, psi * times))
    assert high.t_full_s < low.t_full_s


@RATED
@given(st.floats(5.0, 100.0), st.floats(1.05, 1.5))
def test_lead_grows_with_friction(fs, times):
    easy, hard = (solve(plain(breakaway_n=f, coulomb_n=0.6 * f)) for f in (fs, fs * times))
    assert hard.t_full_s > easy.t_full_s
    assert hard.t_start_s > easy.t_start_s


@pytest.mark.parametrize("model", ["lumped", "node"])
def test_air_on_the_drive_side_is_what_came_from_the_supply(model):
    stroke = plain(tube_model=model)
    landed, pipe = solve(stroke), stroke.drive_tube.volume_m3
    room = stroke.dead_drive_m3 + stroke.drive_area_m2 * stroke.stroke_m
    room += pipe if model == "lumped" else 0.0
    mass = landed.air.drive_pa * room / (R * landed.air.drive_k)
    before = stroke.dead_drive_m3 + pipe
    if model == "node":
        mass += landed.air.drive_tube_pa * pipe / (R * landed.air.drive_tube_k)
    mass -= P_ATM * before / (R * stroke.ambient_k)
    assert standard_litres(mass) == pytest.approx(landed.air_to_full_stroke_l, rel=1e-4)


def test_energy_of_an_adiabatic_blow_balances():
    # Without heat and friction: enthalpy in = rise of internal energy + work on load and outside.
    stroke = plain(
        acting="air",
        heat_w_m2_k=0.0,
        breakaway_n=0.0,
        coulomb_n=0.0,
        viscous_n_s_m=0.0,
        drive_tube=None,
        vented=True,
    )
    landed, cv, cp = solve(stroke), 720.0, 1008.0
    end_v = stroke.dead_drive_m3 + stroke.drive_area_m2 * stroke.stroke_m
    inside = cv / R * (landed.air.drive_pa * end_v - P_ATM * stroke.dead_drive_m3)
    enthalpy = landed.air_to_full_stroke_l * 1.185e-3 * cp * stroke.ambient_k
    outside = P_ATM * stroke.drive_area_m2 * stroke.stroke_m
    assert enthalpy == pytest.approx(inside + landed.e_impact_j + outside, rel=2e-4)


def test_air_fill_is_section_3_9_by_hand():
    stroke = plain(supply_pa=7e5, atmosphere_pa=1e5)
    still = 8e-6 + pi / 4 * 4.3e-3**2 * 3.0
    swept = pi / 4 * 0.0381**2 * 0.1524
    by_hand = 1000 / 1.185 * ((still + swept) * 7e5 - still * 1e5) / (288.0 * 293.15)
    assert stroke.air_fill_l == pytest.approx(by_hand)


def test_a_load_that_is_too_heavy_is_said_not_to_start():
    # Thrust 80 psi x 1140 mm2 = 629 N; 65 kg straight up weigh 637 N.
    stalled = solve(plain(load_kg=65.0, incline_rad=pi / 2))
    assert stalled.t_start_s is None
    assert stalled.t_full_s is None
    assert "does not start" in stalled.stalled


def test_a_spring_that_grows_too_strong_holds_the_piston_part_way():
    # 629 N of air against 10 N/mm: 63 mm, and friction of 40 N holds it up to 4 mm off.
    landed = solve(plain(acting="air", spring_n_m=10_000.0))
    assert "sticks at" in landed.stalled
    assert 0.059 < landed.y_m < 0.067
    assert landed.t_full_s is None


def test_a_stroke_in_two_pieces_lands_where_the_whole_one_does():
    stroke = plain(valve_ramp_s=0.0)
    part = solve(stroke, until_s=0.2)
    rest = solve(replace(stroke, y0_m=part.y_m, v0_m_s=part.v_m_s, air=part.air))
    assert part.t_full_s is None
    assert not part.stalled
    whole = solve(stroke).t_full_s
    assert rest.t_full_s - stroke.switch_s + 0.2 == pytest.approx(whole, abs=5e-5)
    assert rest.v_impact_m_s == pytest.approx(solve(stroke).v_impact_m_s, rel=1e-3)


def test_extend_and_retract_of_a_rodless_cylinder_are_the_same():
    out, back = (solve(plain(rod_m=0.0, extend=way)) for way in (True, False))
    assert out.t_full_s == back.t_full_s


def test_a_ratio_is_the_mass_and_force_that_virtual_work_makes_of_it():
    geared = plain(
        linkage=Linkage(ratio=2.0), load_kg=2.0, external_n=10.0, incline_rad=radians(30)
    )
    direct = plain(load_kg=8.0, external_n=20.0 + 2 * 2.0 * GRAVITY * 0.5)
    assert solve(geared).t_full_s == pytest.approx(solve(direct).t_full_s, abs=2e-5)


def test_a_lid_with_a_right_angle_lever_starts_as_its_static_moment_says():
    # Pins at 3:4:5: the rod pulls at a lever of 0.3*0.4/0.5 = 0.24 m; a horizontal lid of 10 kg
    # at 0.6 m needs 98.07*0.6/0.24 = 245.2 N to stay up.
    lid = Lid(
        hinge_to_base_m=0.4,
        hinge_to_pin_m=0.3,
        angle_rad=pi / 2,
        offset_rad=-pi / 2,
        inertia_kg_m2=4.0,
        mass_kg=10.0,
        reach_m=0.6,
    )
    stroke = plain(
        load_kg=0.0, rod_mass_kg=0.3, linkage=Linkage(lid=lid), drive_tube=None, vented=True,
        breakaway_n=1.0, coulomb_n=1.0, valve_ramp_s=0.0, heat_w_m2_k=0.0,
    )  # fmt: skip
    for supply, starts in ((244.0, False), (248.0, True)):
        pressure = P_ATM + supply / stroke.drive_area_m2
        assert bool(solve(replace(stroke, supply_pa=pressure)).t_start_s) is starts


def test_a_cushion_slows_the_hit_and_delays_it():
    cushioned = solve(plain(cushion_m=0.02, cushion=Restriction(0.1e-8)))
    assert cushioned.v_impact_m_s < 0.5 * BASE.v_impact_m_s
    assert cushioned.t_full_s > BASE.t_full_s
    assert cushioned.t_mid_s == pytest.approx(BASE.t_mid_s, abs=1e-5)


def test_a_quick_exhaust_is_faster_than_the_way_through_the_tube():
    assert later_ms(quick_exhaust=Restriction(10e-8)) < -50


def test_single_acting_out_and_spring_back_meet_their_final_balance():
    out = plain(acting="air", spring_n=30.0, spring_n_m=500.0, load_kg=1.0)
    back = replace(
        out, acting="spring", extend=False, spring_n=-(30.0 + 500.0 * out.stroke_m), vented=False,
        breakaway_n=5.0, coulomb_n=3.0,
    )  # fmt: skip
    assert solve(out).t_full_s is not None
    returned = solve(back)
    assert returned.t_full_s is not None
    assert returned.air_to_full_stroke_l == 0.0
    assert returned.air_fill_l == 0.0
    # Too weak a spring (push 30 N at its end against 40 N breakaway) never brings it home.
    weak = replace(back, breakaway_n=40.0, spring_n=-60.0, spring_n_m=400.0)
    assert "sticks" in solve(weak).stalled


def test_samples_run_from_the_switching_to_the_hit_and_only_forward():
    landed = solve(plain(), samples=True)
    times = [sample.t_s for sample in landed.samples]
    assert times == sorted(times)
    assert times[0] == plain().switch_s
    assert (landed.samples[-1].t_s, landed.samples[-1].y_m) == (landed.t_full_s, 6 * 0.0254)
    assert max(s.drive_pa for s in landed.samples) == pytest.approx(landed.peak_drive_pa, rel=1e-3)


def test_air_seen_from_the_other_side_twice_is_the_same():
    air = Air.at(2e5, 6e5)
    assert air.swapped().drive_pa == 6e5
    assert air.swapped().swapped() == air


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"bore_m": 0.0}, "bore_m is 0: it must be above zero"),
        ({"rod_m": 0.05}, "rod_m is 0.05: it must be smaller than the bore"),
        ({"supply_pa": 5e4}, "absolute, it can't be below the atmosphere's"),
        ({"supply_pa": float("nan")}, "it must be a finite number"),
        ({"load_kg": 0.0}, "nothing moves"),
        ({"drive_valve": ()}, "the drive side has no valve"),
        ({"exhaust_valve": ()}, "the exhaust side has no valve"),
        ({"cushion_m": 0.01}, "a cushion needs both a length and a restriction"),
        ({"y0_m": 1.0}, "it must lie within the stroke"),
        ({"coulomb_n": -1.0}, "it can't be below zero"),
    ],
)
def test_impossible_numbers_are_refused_in_words(changes, says):
    with pytest.raises(ValueError, match=says):
        plain(**changes)


def test_a_lid_whose_triangle_breaks_is_refused_with_the_lengths():
    lid = Lid(
        hinge_to_base_m=0.2,
        hinge_to_pin_m=0.15,
        angle_rad=2.0,
        offset_rad=0.0,
        inertia_kg_m2=1.0,
        mass_kg=1.0,
        reach_m=0.2,
    )
    with pytest.raises(ValueError, match="the lid's triangle breaks"):
        plain(linkage=Linkage(lid=lid))
