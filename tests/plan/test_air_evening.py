"""The tank over an evening as the plan follows it, and what it says of it."""

from __future__ import annotations

import json
from dataclasses import replace
from math import inf
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from air_parts import BAR, LITRE, aired, cylinder, jet, part
from plan_parts import beat, do

from thundersheet.base.finding import Finding
from thundersheet.base.time import Span
from thundersheet.devices._air_parts import Hose, Valve
from thundersheet.devices.air_cylinder import AirCylinder
from thundersheet.model.air import Compressor, Evening
from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.model.show import Beat, Variant
from thundersheet.physics.gas import CUBIC_FOOT, GALLON, PSI
from thundersheet.plan.air.evening import Followed
from thundersheet.plan.air.states import played_between
from thundersheet.plan.lead import Leads, leads
from thundersheet.plan.plan import from_json, make_plan, plan_cues, to_json
from thundersheet.plan.timeline import timeline

ROOT = Path(__file__).parents[2]
OUTSIDE = 101_325.0
INCH = 0.0254
WEAK = Compressor(delivers_m3_s=1e-7, at_pa=6 * BAR, cut_in_pa=0.5 * BAR, cut_out_pa=6 * BAR)


def led(made: Book) -> Leads:
    return leads(made, timeline(made).targets)


def evening(shows: int, every_s: float = 60.0, **more: Any) -> Evening:
    return Evening(shows=shows, every=Span.seconds(every_s), **more)


def from_tank(litres: float, *devices: Device, set_bar: float = 3.0, **more: object) -> Book:
    parts = (
        part("tank", "tank", volume_m3=litres * LITRE),
        part("regulator", "regulator", "tank", set_pa=set_bar * BAR, flow_m3_s_pa=1e-7),
        part("block", "manifold", "regulator"),
    )
    more.setdefault("compressor", WEAK)
    made: Book = aired(parts, *devices, **more)
    return made


def air_findings(made: Book, *, cures: bool = False) -> dict[str, Finding]:
    found = make_plan(made, cures=cures).findings if cures else plan_cues(made)[1]
    return {each.code: each for each in found if "AIR-30" <= each.code <= "AIR-39"}


def out_and_back(device: AirCylinder, window: str = "hit") -> tuple[Beat, ...]:
    return (
        beat(10.0, do(device.name, "out"), window=window),
        beat(14.0, do(device.name, "back"), window="soft"),
    )


def test_the_first_weak_show_is_where_mass_balance_by_hand_has_it() -> None:
    """p V = m R T: the tank holds (6 - 3 - drop) bar above what the regulator needs, and each show
    takes what the strokes fill (reference model 3.9, 4); nothing leaks, nothing comes.
    """
    device = cylinder()
    made = replace(from_tank(12.0, device, evening=evening(100)), beats=out_and_back(device))
    found = led(made)
    assert found.airs is not None
    (followed,) = found.airs.followed.values()
    drop = made.air.parts[1].drop_pa
    usable = (6 * BAR - 3 * BAR - drop) * 12 * LITRE / (288.0 * 293.15)
    first, second = (cue.lead.air_l * 1.185e-3 for cue in found.alone)
    # What each stroke finds is what all before it have left.
    takes = (first, second) * 100
    before = [sum(takes[:i]) for i in range(len(takes))]
    weak = next(i for i, taken in enumerate(before) if taken > usable) // 2 + 1
    assert abs((followed.weak_show or 0) - weak) <= 1  # a weak valve is one that has 1 kPa less


def test_the_rush_of_the_reference_model_is_as_late_as_it_says() -> None:
    """Its section 8: 20 gal, 5 cfm, 8 cylinders, 60 s: the last show's worst hit 13 ms late; with
    8 gal and 2.5 cfm 93 ms. It does not say how often they move: at ten times a show the first
    comes to 13 ms, and the second then to 84 (the prototype's other open values remain).
    """
    assert late_in_rush(20, 5.0) == pytest.approx(13.0, abs=1.0)
    assert late_in_rush(8, 2.5) == pytest.approx(93.0, abs=9.0)


def late_in_rush(gallons: float, cfm: float) -> float:
    """One of the eight cylinders, with an eighth of the tank and of what comes: all is linear."""
    device = replace(
        cylinder("c"),
        bore_m=1.5 * INCH,
        rod_m=0.4375 * INCH,
        stroke_m=6 * INCH,
        moves_kg=5.0,
        breakaway_pa=3 * PSI,
        exhaust_restriction_m3_s_pa=1e-8,
        valve=Valve(delay=Span.ms(20), flow_m3_s_pa=3e-8),
        hose=Hose(bore_m=4.3e-3, length_m=3.0),
    )
    parts = (
        part("tank", "tank", volume_m3=gallons * GALLON / 8),
        part("regulator", "regulator", "tank", set_pa=80 * PSI, flow_m3_s_pa=4e-7, drop_pa=0.0),
        part("block", "manifold", "regulator"),
    )
    compressor = Compressor(
        delivers_m3_s=cfm * CUBIC_FOOT / 60.0 / 8,
        cut_in_pa=90 * PSI,
        cut_out_pa=120 * PSI,
        duty=1.0,
    )
    made = aired(parts, device, compressor=compressor, evening=evening(20))
    beats = (
        beat(3.0, do("c", "out"), times=10, every=Span.seconds(4.8)),
        beat(5.4, do("c", "back"), times=10, every=Span.seconds(4.8)),
    )
    hits = [cue for cue in led(replace(made, beats=beats)).cues if cue.target.move.action == "out"]
    return max((cue.evening.late - cue.evening.early).in_ms for cue in hits if cue.evening)


def test_a_last_show_out_of_its_window_is_refused_with_cures_that_were_tried() -> None:
    device = cylinder()
    made = from_tank(6.0, device, evening=evening(50))
    made = replace(made, beats=out_and_back(device, "tight"))
    found = air_findings(made, cures=True)
    missed = found["AIR-30"]
    assert missed.grade == "refuse"
    assert "latest with low tank" in missed.says
    assert 1 <= len(missed.cures) <= 3
    assert all(cure.cost for cure in missed.cures)


def test_a_tank_of_the_size_that_the_cure_says_is_enough_and_half_of_it_is_not() -> None:
    device = cylinder()
    small = replace(
        from_tank(4.0, device, evening=evening(60)), beats=out_and_back(device, "tight")
    )
    assert {"AIR-30", "AIR-32"} <= set(air_findings(small))
    large = replace(
        from_tank(60.0, device, evening=evening(60)), beats=out_and_back(device, "tight")
    )
    assert not air_findings(large)


def test_a_move_that_a_low_tank_does_not_make_at_all_is_refused() -> None:
    heavy = replace(cylinder(), incline="up", moves_kg=9.0)
    made = replace(from_tank(4.0, heavy, evening=evening(60)), beats=out_and_back(heavy))
    found = air_findings(made)
    assert found["AIR-31"].grade == "refuse"
    assert "does not happen with low tank" in found["AIR-31"].says
    assert "its air pushes with" in found["AIR-31"].says


def test_the_first_weak_show_is_named_and_how_low_the_tank_falls() -> None:
    device = cylinder()
    made = replace(from_tank(4.0, device, evening=evening(60)), beats=out_and_back(device))
    weak = air_findings(made)["AIR-32"]
    (followed,) = led(made).airs.followed.values()  # type: ignore[union-attr]
    assert f"From show {followed.weak_show} of 60 on" in weak.says
    assert weak.grade == "warn"


def test_a_compressor_that_falls_behind_is_noted_while_the_tank_bears_it() -> None:
    device = cylinder()
    small = Compressor(
        delivers_m3_s=5e-6, at_pa=6 * BAR, cut_in_pa=5.5 * BAR, cut_out_pa=6 * BAR, duty=0.5
    )
    made = from_tank(24.0, device, evening=evening(60), compressor=small)
    found = air_findings(replace(made, beats=out_and_back(device)))
    assert set(found) == {"AIR-35"}
    assert found["AIR-35"].grade == "note"
    assert "at its limit of 50% of ten minutes" in found["AIR-35"].says


def test_a_shared_feed_that_takes_half_a_window_is_warned_of() -> None:
    parts = (
        part("tank", "tank"),
        part("regulator", "regulator", "tank", set_pa=3 * BAR, flow_m3_s_pa=4e-8),
        part("feed", "manifold", "regulator", hose=(2.7, 4.0)),
    )
    quick = replace(
        cylinder("lid"), exhaust_restriction_m3_s_pa=None, hose=Hose(bore_m=6e-3, length_m=1.0)
    )
    made = aired(parts, quick, jet("gust"))
    both = (beat(10.0, do("lid", "out"), do("gust", "puff"), window="tight"),)
    made = replace(made, beats=both)
    found = air_findings(made)["AIR-33"]
    assert found.grade == "warn"
    assert "take their air through one feed, the 2.7 mm hose of `feed`" in found.says
    assert "than alone" in found.says
    apart = (beat(10.0, do("lid", "out")), beat(20.0, do("gust", "puff")))
    assert "AIR-33" not in air_findings(replace(made, beats=apart))
    wide = (*parts[:2], part("feed", "manifold", "regulator", hose=(9.0, 2.0)))
    assert "AIR-33" not in air_findings(replace(made, air=replace(made.air, parts=wide)))


def test_a_stop_that_only_time_makes_drifts_over_the_evening() -> None:
    riser = replace(
        cylinder("riser"),
        incline="up",
        moves_kg=6.0,
        valve=Valve(kind="5/3 closed"),
        on_back="main 99",
    )
    made = from_tank(4.0, riser, evening=evening(60, coldest_k=275.15, warmest_k=293.15))
    beats = (
        beat(10.0, do("riser", "out", to=0.5), window="loose"),
        beat(14.0, do("riser", "back"), window="loose"),
    )
    found = air_findings(replace(made, beats=beats))
    assert "is stopped by time alone" in found["AIR-34"].says
    steady = from_tank(400.0, riser, evening=evening(60, coldest_k=288.15, warmest_k=293.15))
    assert "AIR-34" not in air_findings(replace(steady, beats=beats))


def test_the_plan_says_how_well_it_serves_and_its_document_keeps_it() -> None:
    device = cylinder()
    made = from_tank(24.0, device, evening=evening(30, 90.0, coldest_k=275.15, warmest_k=288.15))
    plan = make_plan(replace(made, beats=out_and_back(device)))
    assert plan.evening is not None
    assert (plan.evening.shows, plan.evening.every) == (30, Span.seconds(90))
    assert plan.evening.worst_cue in {cue.id for cue in plan.cues}
    assert plan.evening.tank_low_pa == pytest.approx(
        6 * BAR - 30 * plan.evening.air_l * 1.185e-3 * 288 * 288.15 / (24 * LITRE), abs=0.1 * BAR
    )
    document = json.loads(json.dumps(to_json(plan)))
    jsonschema.validate(document, json.loads((ROOT / "schema/plan.json").read_text()))
    worst = next(cue for cue in document["cues"] if cue["id"] == plan.evening.worst_cue)
    assert worst["evening_error_ms"][0] < 0.0 < worst["evening_error_ms"][1]
    assert from_json(document) == plan


def test_a_document_of_before_there_were_evenings_is_still_played() -> None:
    device = cylinder()
    plan = make_plan(replace(from_tank(24.0, device), beats=out_and_back(device)))
    document = to_json(plan)
    del document["evening"]
    for cue in document["cues"]:
        del cue["evening"], cue["evening_error_ms"]
    assert from_json(document) == plan


def test_what_the_evening_takes_of_a_window_the_cue_track_does_not_take_again() -> None:
    device = cylinder()
    made = from_tank(24.0, device, evening=evening(30, 90.0, coldest_k=265.15, warmest_k=303.15))
    plan = make_plan(replace(made, beats=out_and_back(device, "tight")))
    for cue in plan.cues:
        assert cue.evening is not None
        window = cue.target.window
        assert window.holds(cue.expected_error + cue.evening.early)
        assert window.holds(cue.expected_error + cue.evening.late)


def test_each_version_serves_the_tanks_that_it_is_played_with() -> None:
    """The show down to the highest `tank below`; the lesser version from there on down."""
    device = cylinder()
    made = replace(from_tank(6.0, device, evening=evening(50)), beats=out_and_back(device))
    low = Variant(name="air low", tank_below_pa=4.5 * BAR)
    quiet = Variant(name="quiet")
    laddered = replace(made, variants=(low, quiet))
    assert played_between(laddered, "") == (4.5 * BAR + OUTSIDE, inf)
    assert played_between(laddered, "air low") == (0.0, 4.5 * BAR + OUTSIDE)
    assert played_between(laddered, "quiet") == (0.0, inf)

    def found(of: Book, variant: str = "") -> Followed:
        return next(iter(leads(of, timeline(of).targets, variant=variant).airs.followed.values()))  # type: ignore[union-attr]

    alone, show, lesser = found(made), found(laddered), found(laddered, "air low")
    first = "lid-out-1"
    assert alone.weak_show is not None
    assert show.weak_show is None
    assert alone.lowest_pa[first] < 3 * BAR + OUTSIDE < 4.5 * BAR + OUTSIDE <= show.lowest_pa[first]
    assert lesser.highest_pa[first] == pytest.approx(4.5 * BAR + OUTSIDE, rel=1e-3)
    assert found(laddered, "quiet").weak_show == alone.weak_show
