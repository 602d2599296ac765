"""Cylinders and jets as the air plant knows them, and what pulls at a rod with no air in it.

Outside: weights by hand (pint 0.25 for the units), the flow law of ISO 6358-1 by `physics.gas`.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf, radians, sin
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thundersheet.devices._air_parts import Hose, LidShape, Valve
from thundersheet.devices._cylinder.stroke import rod_weight_kg, stroke_of
from thundersheet.devices.air_cylinder import AirCylinder
from thundersheet.devices.air_jet import AirJet
from thundersheet.model.device import Setting
from thundersheet.physics.gas import in_series, mass_flow
from thundersheet.physics.plant.records import Cylinder, Jet

UNITS = pint.UnitRegistry()
AIR = Setting(supply_pa=401_325.0, ambient_k=285.15)
PLAIN = AirCylinder(name="lid", bore_m=0.025, stroke_m=0.16, moves_kg=1.8, breakaway_pa=0.0)


def test_a_cylinder_hands_over_both_whole_strokes_as_its_leads_run_them() -> None:
    found = PLAIN.on_the_air(AIR)
    assert isinstance(found, Cylinder)
    assert (found.name, found.body, found.path.set_pa) == ("lid", "", inf)
    assert found.out == stroke_of(PLAIN, AIR, out=True)
    assert found.back == stroke_of(PLAIN, AIR, out=False)
    assert (found.out.extend, found.back.extend) == (True, False)
    assert found.out.supply_pa == AIR.supply_pa


def test_a_regulator_of_its_own_is_all_of_its_path() -> None:
    found = replace(PLAIN, pressure_pa=2e5).on_the_air(replace(AIR, atmosphere_pa=95_000.0))
    assert found is not None
    assert found.path.set_pa == 295_000.0
    assert (found.path.parts, found.path.tubes, found.path.drop_pa) == ((), (), 0.0)


@pytest.mark.parametrize(
    ("valve", "middle"),
    [("5/2", ""), ("5/2 two-coil", ""), ("5/3 closed", "closed"), ("5/3 exhausted", "exhausted")],
)
def test_only_a_5_3_valve_has_a_middle(valve: str, middle: str) -> None:
    found = replace(PLAIN, valve=Valve(kind=valve)).on_the_air(AIR)
    assert found is not None
    assert found.middle == middle


@pytest.mark.parametrize(
    "wrong", [{"incline": "sideways"}, {"linkage": "lid"}, {"rod_m": 0.03}], ids=str
)
def test_a_cylinder_that_cannot_be_reckoned_is_not_on_the_air(wrong: dict[str, Any]) -> None:
    assert replace(PLAIN, **wrong).on_the_air(AIR) is None
    assert PLAIN.on_the_air(replace(AIR, supply_pa=None)) is None


def test_a_jet_is_its_valve_hose_and_nozzle_in_a_row() -> None:
    jet = AirJet(name="gust", nozzle_m=0.004, valve=Valve(kind="3/2"), hose=Hose(bore_m=0.004))
    found = jet.on_the_air(AIR)
    assert isinstance(found, Jet)
    assert found.delay_s == jet.valve.delay.s
    hose = jet.hose.tube
    assert hose is not None
    whole = mass_flow(found.flow, 301_325.0, 101_325.0)
    assert whole < mass_flow(in_series([jet.valve.feeds, hose.flow]), 301_325.0, 101_325.0)
    assert jet.on_the_air(replace(AIR, supply_pa=None)) is None
    assert replace(jet, pressure_pa=1e5).on_the_air(AIR).path.set_pa == 201_325.0  # type: ignore[union-attr]


@given(st.floats(-80, 80), st.floats(0.0, 20.0), st.floats(0.3, 4.0))
def test_what_pulls_at_the_rod_is_the_weight_through_the_lever(
    degrees: float, kilograms: float, ratio: float
) -> None:
    device = replace(
        PLAIN, incline=f"{degrees} deg", moves_kg=kilograms, linkage="lever", ratio=ratio
    )
    # At a lever the load moves `ratio` times as far as the rod, so it pulls that much harder.
    weight = (UNITS.Quantity(ratio * kilograms + rod_weight_kg(device), "kg") * UNITS.g_0).to("N")
    expected = abs(weight.magnitude * sin(radians(degrees)))
    assert device.pull_when_vented_n() == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_friction_a_counterweight_and_a_spring_hold_a_load() -> None:
    hung = replace(PLAIN, incline="down")
    pulls = hung.pull_when_vented_n()
    assert pulls > 17.0
    # Breakaway of 20 kPa on 25 mm: pi/4 x 25^2 mm2 x 0.02 N/mm2.
    assert replace(hung, breakaway_pa=20_000.0).pull_when_vented_n() == pytest.approx(
        pulls - 9.8175, abs=1e-3
    )
    assert replace(hung, against_n=pulls).pull_when_vented_n() == pytest.approx(0.0, abs=1e-9)
    sprung = replace(hung, acting="single", valve=Valve(kind="3/2"), spring_n=5.0)
    assert sprung.pull_when_vented_n() == pytest.approx(pulls - 5.0)
    assert replace(PLAIN, incline="level").pull_when_vented_n() == 0.0


def test_a_lid_pulls_with_its_weight_unless_its_hinge_stands_upright() -> None:
    shape = LidShape(hinge_to_foot_m=0.3, hinge_to_pin_m=0.2, angle_rad=1.0, length_m=0.6)
    lid = replace(PLAIN, linkage="lid", lid=shape, stroke_m=0.1, moves_kg=3.0)
    assert lid.pull_when_vented_n() > 3.0 * 9.80665
    door = replace(lid, lid=replace(shape, sideways=True))
    assert door.pull_when_vented_n() == 0.0
