"""What an air cylinder's leads are, held against figures from outside and against each other.

`scenario` figures are those of the project's four written scenarios: start values from another,
smaller model (1 m of 4 mm tube lumped, friction 5 % of thrust), so 30 % is asked, as they say.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from kinds_at_work import ATMOSPHERE, by_part, device_of, lead, setting
from scipy.optimize import brentq

from thundersheet.base.time import Span
from thundersheet.model.device import Device, Lead, Move

SHUTTER = (
    "kind: air cylinder, bore: 25 mm, stroke: 160 mm, rod: 10 mm, linkage: lever, ratio: 2.0, "
    "moves: 1.8 kg, exhaust restriction: 0.08 Cv, on: main 1"
)
LENS = (
    "kind: air cylinder, bore: 20 mm, stroke: 60 mm, rod: 8 mm, moves: 2.5 kg, incline: down, "
    "exhaust restriction: 0.028 Cv, back exhaust restriction: 0.03 Cv, on: main 1"
)
LATCH = (
    "kind: air cylinder, bore: 20 mm, stroke: 50 mm, rod: 8 mm, moves: 0.6 kg, "
    "exhaust restriction: 0.035 Cv, on: main 1"
)
GATE = (
    "kind: air cylinder, bore: 25 mm, stroke: 250 mm, rod: 10 mm, moves: 5 kg, "
    "exhaust restriction: 0.0175 Cv, on: main 1"
)
RISER = (
    "kind: air cylinder, bore: 40 mm, stroke: 160 mm, rod: 16 mm, linkage: lever, ratio: 2.5, "
    "moves: 2.5 kg, incline: up, exhaust restriction: 0.023 Cv, on: main 1"
)
BIRD = (
    "kind: air cylinder, bore: 16 mm, stroke: 50 mm, rod: 6 mm, moves: 0.15 kg, "
    "exhaust restriction: 0.01 Cv, on: main 1"
)

HOSES = ", hose: {bore: 4 mm, length: 1 m}"
IN_SCENARIO = SHUTTER.replace("0.08 Cv", "0.053 Cv")

# device, pressure, out ms, back ms, thrust at the working end N, ANR litres out and back.
# The flow control, which the scenarios leave open, is chosen so that `out` fits; the way back,
# force and air are then what the model says by itself.
SCENARIO = [
    pytest.param(IN_SCENARIO, "2.0 bar", 323, 444, 49, 0.51, id="storm shutter"),
    pytest.param(LENS, "2.5 bar", 117, 315, 79, 0.21, id="great lens"),
    pytest.param(LATCH, "2.5 bar", 97, 145, 79, 0.19, id="latch"),
    pytest.param(GATE, "2.5 bar", 1385, 2063, 123, 0.88, id="gate"),
    pytest.param(RISER, "3.5 bar", 1958, 2369, 176, 1.78, id="shy plant"),
    pytest.param(BIRD, "2.0 bar", 200, 295, 40, 0.13, id="bird"),
]


def both_ways(device: Device, pressure: str) -> tuple[Lead, Lead]:
    around = setting(pressure)
    out = lead(device, "out", around=around)
    return out, lead(device, "back", before=out.state, around=around)


@pytest.mark.parametrize(("text", "pressure", "out_ms", "back_ms", "force", "litres"), SCENARIO)
def test_leads_forces_and_air_of_the_scenarios(
    text: str, pressure: str, out_ms: float, back_ms: float, force: float, litres: float
) -> None:
    out, back = both_ways(device_of(text + HOSES), pressure)
    assert out.total.in_ms == pytest.approx(out_ms, rel=0.3)
    assert back.total.in_ms == pytest.approx(back_ms, rel=0.3)
    assert out.impact is not None
    assert out.impact.force_n == pytest.approx(force, rel=0.02)
    assert out.air_l + back.air_l == pytest.approx(litres, rel=0.15)


def test_shutter_s_tip_is_as_fast_and_hard_as_the_scenario_says() -> None:
    out, _ = both_ways(device_of(IN_SCENARIO + HOSES), "2.0 bar")
    assert out.impact is not None
    assert out.impact.speed_m_s == pytest.approx(1.5, rel=0.3)
    assert out.impact.energy_j == pytest.approx(2.1, rel=0.3)
    assert out.impact.reach_m == pytest.approx(0.32)


def test_the_upgrade_of_the_shutter_is_as_hard_as_the_scenario_fears() -> None:
    """Planted: 32 x 200 mm, 1.6:1, 2.2 kg, 3 bar, no restriction: 3.8 m/s and about 17 J."""
    device = device_of(
        "kind: air cylinder, bore: 32 mm, stroke: 200 mm, rod: 12 mm, linkage: lever, ratio: 1.6, "
        "moves: 2.2 kg, hose: {bore: 6 mm, length: 1 m}, on: main 1"
    )
    out, _ = both_ways(device, "3 bar")
    assert out.impact is not None
    assert out.impact.speed_m_s == pytest.approx(3.8, rel=0.15)
    assert out.impact.energy_j == pytest.approx(17.0, rel=0.15)


# Reference model, section 8: 1.5 x 6 in, 80 psi, Cv 0.75, 3 m of 4.3 mm tube, 5 kg, meter-out,
# valve 20 ms, hits at 299 ms: what moves the hit, in ms.
PUBLISHED = {
    "pressure": 2.5,
    "friction": 1.8,
    "mass": 6.8,
    "incline": 18.0,
    "flow": 9.9,
    "hose": 32.0,
    "valve": 5.0,
    "cold": 9.4,
}
CASE = {
    "friction": 5.0,
    "mass": 5.0,
    "valve": 20.0,
    "hose": 3.0,
    "flow": 0.2,
    "incline": "level",
}
CHANGED = {
    "friction": {"friction": 6.0},
    "mass": {"mass": 10.0},
    "valve": {"valve": 25.0},
    "hose": {"hose": 4.0},
    "incline": {"incline": "up"},
}


def published_case(pressure: str = "80 psi", ambient: str = "20 C", **values: object) -> float:
    case = {**CASE, **values}
    device = device_of(
        f"kind: air cylinder, bore: 1.5 in, stroke: 6 in, rod: 7/16 in, on: main 1, "
        f"moves: {case['mass']} kg, breakaway: {case['friction']} psi, incline: {case['incline']}, "
        f"valve: {{delay: {case['valve']} ms, flow: 0.75 Cv}}, "
        f"hose: {{bore: 4.3 mm, length: {case['hose']} m}}, exhaust restriction: {case['flow']} Cv"
    )
    return lead(device, "out", around=setting(pressure, ambient)).total.in_ms


@pytest.fixture(scope="module")
def metered() -> float:
    """The flow control that makes the published case hit at 299 ms."""
    return float(brentq(lambda flow: published_case(flow=round(flow, 6)) - 299.0, 0.1, 0.5))


@pytest.mark.parametrize("what", PUBLISHED)
def test_what_moves_the_hit_moves_it_as_published(what: str, metered: float) -> None:
    flow = round(metered, 6)
    base = published_case(flow=flow)
    if what == "pressure":
        moved = published_case("72 psi", flow=flow)
    elif what == "cold":
        moved = published_case(ambient="0 C", flow=flow)
    elif what == "flow":
        moved = published_case(flow=round(0.9 * flow, 6))
    else:
        moved = published_case(flow=flow, **CHANGED[what])
    # The prototype lumps the tube, friction and dead volume are not stated: a third either way.
    assert moved - base == pytest.approx(PUBLISHED[what], rel=0.35, abs=0.7)


def test_band_of_the_published_case_is_of_the_size_that_its_unknowns_make(metered: float) -> None:
    """Section 8: about 5 ms standard deviation with unknown parameters; a band is 1.96 of it."""
    device = device_of(
        "kind: air cylinder, bore: 1.5 in, stroke: 6 in, rod: 7/16 in, on: main 1, moves: 5 kg, "
        "breakaway: 5 psi, valve: {delay: 20 ms, flow: 0.75 Cv}, "
        f"hose: {{bore: 4.3 mm, length: 3 m}}, exhaust restriction: {metered:.6f} Cv"
    )
    band = lead(device, "out", around=setting("80 psi")).late.in_ms
    assert 5.0 < band < 30.0


def test_parts_come_in_the_order_of_events_and_sum_exactly() -> None:
    out, _ = both_ways(device_of(SHUTTER), "2.0 bar")
    assert [part.name for part in out.parts] == ["valve", "hose", "filling", "moving"]
    assert by_part(out)["valve"] == 15.0
    sound = math.sqrt(1.4 * 288.0 * 293.15)
    assert by_part(out)["hose"] == pytest.approx(1000.0 / sound, abs=1e-3)
    assert sum(part.span.ns for part in out.parts) == out.total.ns


def test_starting_values_widen_the_band_until_they_are_written() -> None:
    guessed = device_of(SHUTTER)
    known = device_of(
        f"{SHUTTER}, breakaway: 20 kPa, valve: {{delay: 15 ms, flow: 0.4 Cv}}, "
        "hose: {bore: 2.7 mm, length: 1 m}"
    )
    one, two = lead(guessed, "out"), lead(known, "out")
    assert one.total == two.total
    assert two.late < one.late
    assert two.bands["hose"] < one.bands["hose"]
    assert two.bands["friction"] < one.bands["friction"]


@pytest.mark.parametrize(
    ("more", "slower"),
    [
        ("hose: {length: 2 m}", True),
        ("incline: up", True),
        ("incline: down", False),
        ("against: 10 N", True),
        ("quick exhaust: 1 Cv", False),
        ("supply restriction: 0.02 Cv", True),
        ("cushion: {length: 20 mm}", True),
        ("valve: {delay: 25 ms}", True),
        ("valve: {flow: 0.1 Cv}", True),
        ("breakaway: 60 kPa", True),
        ("dead volume: 20 ml", True),
    ],
)
def test_each_thing_moves_the_lead_the_way_it_must(more: str, slower: bool) -> None:
    plain = lead(device_of(SHUTTER), "out").total
    changed = lead(device_of(f"{SHUTTER}, {more}"), "out").total
    assert (changed > plain) is slower


def test_a_door_on_an_upright_hinge_does_not_feel_its_weight() -> None:
    lid = "hinge to foot: 300 mm, hinge to pin: 200 mm, angle: 40 deg, length: 600 mm"
    base = "kind: air cylinder, bore: 32 mm, stroke: 100 mm, linkage: lid, moves: 6 kg, on: main 1"
    heavy = lead(device_of(f"{base}, lid: {{{lid}}}"), "out", around=setting("4 bar"))
    door = lead(device_of(f"{base}, lid: {{{lid}, sideways: yes}}"), "out", around=setting("4 bar"))
    assert door.total < heavy.total
    assert heavy.impact is not None
    # Law of cosines by hand: 197.2 mm pin to pin at 40 degrees; 100 mm more is 70.1 degrees wide.
    first = math.sqrt(0.3**2 + 0.2**2 - 2 * 0.3 * 0.2 * math.cos(math.radians(40)))
    last = math.acos((0.3**2 + 0.2**2 - (first + 0.1) ** 2) / (2 * 0.3 * 0.2))
    assert heavy.impact.reach_m == pytest.approx(0.6 * (last - math.radians(40)), rel=1e-6)


def test_lid_s_force_at_its_edge_is_the_power_s() -> None:
    """Virtual work: thrust times the rod's way is the edge's force times the edge's way."""
    device = device_of(
        "kind: air cylinder, bore: 32 mm, stroke: 100 mm, linkage: lid, moves: 1 kg, on: main 1, "
        "lid: {hinge to foot: 300 mm, hinge to pin: 200 mm, angle: 40 deg, length: 600 mm}"
    )
    impact = lead(device, "out", around=setting("4 bar")).impact
    assert impact is not None

    def angle(length: float) -> float:
        return math.acos((0.3**2 + 0.2**2 - length**2) / (2 * 0.3 * 0.2))

    first = math.sqrt(0.3**2 + 0.2**2 - 2 * 0.3 * 0.2 * math.cos(math.radians(40)))
    thrust = 4e5 * math.pi / 4 * 0.032**2
    small = 1e-6
    forces = [
        thrust / (0.6 * (angle(first + y + small) - angle(first + y - small)) / (2 * small))
        for y in (0.0, 0.05, 0.1)
    ]
    assert impact.force_n == pytest.approx(max(forces), rel=1e-3)


def test_single_acting_goes_back_by_its_spring_and_takes_air_one_way_only() -> None:
    device = device_of(
        "kind: air cylinder, acting: single, bore: 16 mm, stroke: 25 mm, valve: {kind: 3/2}, "
        "moves: 0.1 kg, on: main 1"
    )
    out, back = both_ways(device, "3.5 bar")
    assert out.never == ""
    assert back.never == ""
    assert out.air_l > 0.0
    assert back.air_l == 0.0


@pytest.mark.parametrize("length", [1.49, 1.51])
def test_long_hoses_are_volumes_of_their_own_and_nothing_jumps_there(length: float) -> None:
    device = device_of(f"{SHUTTER}, hose: {{bore: 2.7 mm, length: {length} m}}")
    assert lead(device, "out").total.in_ms == pytest.approx(342.0, abs=4.0)


def test_exact_flow_is_later_by_the_few_milliseconds_that_the_quick_rule_is_early() -> None:
    """Reference model, trap 3: up to 8 ms early where a flow control and the tube are alike."""
    quick = lead(device_of(SHUTTER), "out").total
    exact = lead(device_of(f"{SHUTTER}, exact flow: yes"), "out").total
    assert 0.0 < (exact - quick).in_ms < 8.0


def test_no_air_no_lead_but_a_word() -> None:
    device = device_of(SHUTTER)
    nothing = replace(setting(), supply_pa=None)
    never = lead(device, "out", around=nothing)
    assert "no air" in never.never
    assert [finding.code for finding in device.checks(nothing)] == ["AIR-01"]


def test_a_load_too_heavy_never_moves_and_says_the_forces() -> None:
    """98 N of thrust (2 bar on 25 mm) against 8 kg at a lever of 2: 2 x 8 x 9.81 = 157 N."""
    device = device_of(SHUTTER.replace("1.8 kg", "8 kg") + ", incline: up")
    never = lead(device, "out").never
    assert "98 N" in never
    assert "158 N" in never or "157 N" in never


def test_force_is_pressure_times_area() -> None:
    """Reference model, section 7: bore 1.5 in at 80 psi pushes with 141 lbf."""
    device = device_of("kind: air cylinder, bore: 1.5 in, stroke: 6 in, moves: 5 kg, on: main 1")
    impact = lead(device, "out", around=setting("80 psi")).impact
    assert impact is not None
    assert impact.force_n / 4.4482216 == pytest.approx(141.0, abs=0.5)


def test_air_of_a_stroke_is_the_compression_ratio_s_with_hose_and_dead_volume_on_top() -> None:
    """Quick estimate: swept volume times absolute over atmospheric pressure."""
    device = device_of(f"{SHUTTER}, hose: {{length: 0 m}}, dead volume: 0.1 ml")
    out = lead(device, "out", around=setting("2 bar"))
    swept = math.pi / 4 * 0.025**2 * 0.16
    free_l = 1000 * swept * (2e5 + ATMOSPHERE) / ATMOSPHERE
    # ANR litres are of 1.185 kg/m3, free air at 20 C and one atmosphere is of 1.2 kg/m3.
    assert out.air_l == pytest.approx(free_l * 1.200 / 1.185, rel=0.005)


def test_a_move_part_way_on_a_plain_valve_is_refused_with_three_costed_cures() -> None:
    device = device_of(RISER)
    for move in (
        Move(device="x", action="out", to=0.15),
        Move(device="x", action="out", hold=Span.ms(300)),
    ):
        (finding,) = device.objections(move)
        assert finding.code == "AIR-06"
        assert finding.grade == "refuse"
        assert len(finding.cures) == 3
        assert all(cure.cost for cure in finding.cures)


@pytest.mark.parametrize("valve", ["5/2", "5/2 two-coil", "5/3 exhausted"])
def test_only_a_closed_centre_stops_part_way(valve: str) -> None:
    move = Move(device="x", action="out", to=0.15)
    more = "on back: main 2" if valve != "5/2" else "reachable: no"
    assert device_of(f"{RISER}, valve: {{kind: {valve}}}, {more}").objections(move)
    closed = device_of(f"{RISER}, valve: {{kind: 5/3 closed}}, on back: main 2")
    assert closed.objections(move) == ()
