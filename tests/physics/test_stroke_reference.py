"""Our strokes against scipy's DOP853 at rtol 1e-10 (`reference`), on two hundred of every sort.

The allowance is that of the reference model's section 10: start and hit within 0.1 ms, speed
0.2 %, air 0.05 %. A part of the table is solved by scipy anew each time; the rest is stored.
"""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from cases import plain, table
from reference import solve_reference
from reference_store import STORED, UNTIL_S

from thundersheet.physics.bulk import land_many
from thundersheet.physics.gas import Restriction, Tube
from thundersheet.physics.solve import solve
from thundersheet.physics.stroke import Landed, Stroke

CASES = table()
KNOWN = json.loads(STORED.read_text(encoding="utf-8"))
CHOSEN = ("000", "001", "003", "005", "007", "010", "013", "020")


def hold(landed: Landed, known: dict[str, float | None]) -> None:
    close(landed.t_start_s, known["start"], 1e-4)
    close(landed.t_mid_s, known["mid"], 1e-4)
    close(landed.t_full_s, known["full"], 1e-4)
    if known["full"] is not None:
        close(landed.v_impact_m_s, known["speed"], 2e-3 * known["speed"])
        close(landed.e_impact_j, known["energy"], 4e-3 * known["energy"])
        close(landed.air_to_full_stroke_l, known["air"], 5e-4 * abs(known["air"]))


def close(found: float | None, known: float | None, allowed: float) -> None:
    if known is None:
        assert found is None
    else:
        assert found == pytest.approx(known, abs=allowed)


@pytest.mark.parametrize("name", list(CASES)[::8])
def test_interpreted_stroke_lands_as_stored(name):
    hold(solve(CASES[name], until_s=UNTIL_S), KNOWN[name])


@pytest.mark.parametrize("name", [name for name in CASES if name[:3] in CHOSEN])
def test_scipy_solves_the_stored_case_again(name):
    found = solve_reference(CASES[name], UNTIL_S)
    for key, value in KNOWN[name].items():
        assert found[key] == (None if value is None else pytest.approx(value, rel=1e-6, abs=1e-9))


def test_compiled_strokes_of_the_whole_table_land_as_stored():
    found = land_many(list(CASES.values()))
    columns = {"start": found.start_s, "mid": found.mid_s, "full": found.full_s}
    for key, column in columns.items():
        known = np.array([KNOWN[name][key] or np.nan for name in CASES])
        np.testing.assert_allclose(column, known, atol=1e-4, rtol=0, err_msg=key)
    speed = np.array([KNOWN[name]["speed"] or np.nan for name in CASES])
    air = np.array([KNOWN[name]["air"] for name in CASES])
    np.testing.assert_allclose(found.impact_m_s, speed, rtol=2e-3)
    arrived = np.isfinite(found.full_s)
    np.testing.assert_allclose(found.air_l[arrived], air[arrived], rtol=5e-4, atol=1e-9)


def vertical(kg: float) -> Stroke:
    return plain(load_kg=kg, incline_rad=np.pi / 2)


LIVE = {
    "base": plain(),
    "node": plain(tube_model="node"),
    "vented": plain(vented=True),
    "retract": plain(extend=False),
    "isothermal": plain(isothermal=True),
    "adiabatic": plain(heat_w_m2_k=0.0),
    "upward": vertical(15.0),
    "nearly stalled": vertical(41.0),
    "quick exhaust": plain(quick_exhaust=Restriction(8e-8, 0.3), tube_model="node"),
    "no tube": plain(drive_tube=None, exhaust_tube=None, tube_model="node"),
    "chain": plain(combination="chain"),
    "chain in a node": plain(
        combination="chain", tube_model="node", drive_valve=(Restriction(6e-8), Restriction(3e-8))
    ),
    "subsonic index": plain(drive_valve=(Restriction(3e-8, 0.3, 0.6),)),
    "slow": plain(exhaust_end=(Restriction(0.05e-8),)),
    "long thin tube": plain(drive_tube=Tube(2.5e-3, 6.0), exhaust_tube=Tube(2.5e-3, 6.0)),
}


@pytest.mark.parametrize("name", LIVE)
def test_stroke_lands_as_scipy_says(name):
    hold(solve(LIVE[name]), solve_reference(LIVE[name]))


def test_a_stroke_reversed_on_its_way_goes_on_as_scipy_says():
    out = plain()
    back = replace(out, extend=False)
    part = solve(out, until_s=0.2 + back.switch_s)
    turned = replace(back, y0_m=out.stroke_m - part.y_m, v0_m_s=-part.v_m_s, air=part.air.swapped())
    landed = solve(turned)
    hold(landed, solve_reference(turned))
    assert turned.v0_m_s < -0.3
    assert landed.t_start_s > turned.switch_s
