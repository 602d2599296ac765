"""Cylinders that stick or creep say so, once, and their leads say what it costs.

Catalogues of common cylinders give 50 mm/s as the least speed at which they run smoothly; the
strokes here lie clearly on one side of it or the other.
"""

from __future__ import annotations

import pytest
from kinds_at_work import device_of, lead, setting
from test_cylinder_facts import BIRD, GATE, LATCH, LENS, RISER, SHUTTER

from thundersheet.base.finding import Finding
from thundersheet.devices._cylinder.way import run
from thundersheet.model.device import Device

LEAST_SMOOTH_MM_S = 50.0
METERED_IN = (
    "kind: air cylinder, bore: 32 mm, stroke: 100 mm, rod: 12 mm, moves: 5 kg, "
    "supply restriction: 0.002 Cv, breakaway: 10 psi, on: main 1"
)
TIGHT = BIRD.replace("0.01 Cv", "0.001 Cv")
CALM = [SHUTTER, LENS, LATCH, GATE, RISER, BIRD]


def said(device: Device, pressure: str = "2.5 bar") -> list[Finding]:
    return [each for each in device.checks(setting(pressure)) if each.code == "AIR-09"]


@pytest.mark.parametrize("text", CALM)
def test_cylinders_faster_than_catalogues_ask_are_said_nothing_of(text: str) -> None:
    device, around = device_of(text), setting("2.5 bar")
    out = lead(device, "out", around=around)
    moving = next(part.span.s for part in out.parts if part.name == "moving")
    assert 1000 * out.state.stroke.stroke_m / moving > LEAST_SMOOTH_MM_S
    assert said(device) == []
    assert "jerks" not in out.bands


@pytest.mark.parametrize("text", [METERED_IN, TIGHT])
def test_one_that_sticks_is_noted_once_for_both_ways_with_cures(text: str) -> None:
    device, around = device_of(text), setting("2.5 bar")
    out = lead(device, "out", around=around)
    landed = run(out.state.stroke)
    assert landed.t_full_s is not None
    assert landed.t_start_s is not None
    seconds = landed.t_full_s - landed.t_start_s
    assert 1000 * out.state.stroke.stroke_m / seconds < LEAST_SMOOTH_MM_S
    (note,) = said(device)
    assert note.grade == "note"
    assert f"on the way out it stops {landed.turns} times" in note.says
    assert "on the way back it stops" in note.says
    assert len(note.cures) == 3


def test_each_cure_makes_it_run() -> None:
    assert said(device_of(METERED_IN))
    assert said(device_of(METERED_IN.replace("0.002", "0.012"))) == []
    nearly = METERED_IN.replace("0.002", "0.006")
    assert said(device_of(nearly.replace("10 psi", "2 psi")), "2 bar") == []
    assert said(device_of(nearly), "2 bar")
    assert said(device_of(nearly), "4 bar") == []


@pytest.mark.parametrize("text", [METERED_IN, TIGHT])
def test_band_of_one_that_sticks_is_at_least_one_stop_wide(text: str) -> None:
    device, around = device_of(text), setting("2.5 bar")
    out = lead(device, "out", around=around)
    landed = run(out.state.stroke)
    moving = next(part.span.s for part in out.parts if part.name == "moving")
    assert out.bands["jerks"].s > 0.8 * moving / (landed.turns + 1)
    assert out.late >= out.bands["jerks"]


def test_where_friction_does_not_fall_nothing_creeps() -> None:
    assert said(device_of(GATE.replace("0.0175", "0.002"))) != []
    assert said(device_of(GATE.replace("0.0175", "0.002") + ", breakaway: 0 Pa")) == []
