import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sheet_samples import LAMP, make_cue, make_cues, make_lead, make_plan

from thundersheet.base.time import Span, Time
from thundersheet.sheets.picture import (
    Programme,
    Still,
    draw_hit,
    draw_overview,
    draw_strips,
    draw_whole,
    show_scale,
)
from thundersheet.sheets.picture.fold import Need, pleated, strips
from thundersheet.sheets.picture.hatch import hatches
from thundersheet.sheets.picture_page import picture_html, picture_svg

SVG = "{http://www.w3.org/2000/svg}"


def parsed(drawing: str) -> ElementTree.Element:
    return ElementTree.fromstring(drawing)


def of_class(root: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [e for e in root.iter() if name in e.get("class", "").split()]


def ends_of_bracket(cue: ElementTree.Element) -> tuple[float, float]:
    points = of_class(cue, "window")[0].get("points").split()
    heights = [float(point.split(",")[1]) for point in points]
    return min(heights), max(heights)


def test_all_drawings_are_well_formed(plan, programme):
    cue = plan.cues[-1]
    drawings = [*draw_strips(plan, programme), draw_overview(plan), draw_hit(plan, cue)]
    for drawing in [*drawings, picture_svg(plan, programme).split("\n", 1)[1]]:
        assert parsed(drawing).tag == f"{SVG}svg"


def test_every_cue_hangs_once_in_the_strips_and_once_in_the_overview(plan):
    expected = sorted(cue.id for cue in plan.cues)
    strips_drawn = [e for strip in draw_strips(plan) for e in of_class(parsed(strip), "cue")]
    assert sorted(e.get("data-cue") for e in strips_drawn) == expected
    overview = of_class(parsed(draw_overview(plan)), "cue")
    assert sorted(e.get("data-cue") for e in overview) == expected


LEADS = st.lists(st.integers(1, 900), min_size=1, max_size=4)


@settings(max_examples=60, deadline=None)
@given(LEADS, st.integers(2000, 80_000), st.sampled_from(["tight", "hit", "soft", "loose"]))
def test_the_wedge_is_as_long_against_its_window_as_the_lead_is(parts_ms, at_ms, window):
    # Both lie in one stretch of one scale, so lead : window in time is lead : window on paper.
    lead = make_lead({f"part {i}": ms for i, ms in enumerate(parts_ms)}, ((0, 0), (1, 1)))
    cue = make_cue(at_ms / 1000, "shutter", "out", "slam", window, lead)
    drawn = of_class(parsed(draw_whole(make_plan((cue,), ()))), "cue")[0]
    boxes = [e for e in of_class(drawn, "lead") if e.get("fill")]
    top = min(float(box.get("y")) for box in boxes)
    bottom = max(float(box.get("y")) + float(box.get("height")) for box in boxes)
    early, late = ends_of_bracket(drawn)
    wide = (cue.target.window.late - cue.target.window.early).in_ms
    scale = (late - early) / wide
    # A part is at least 1.6 high; coordinates are written to 0.01, so the scale is good to this:
    rounding = 0.02 / (late - early) * (bottom - top)
    assert bottom - top == pytest.approx(lead.total.in_ms * scale, abs=1.65 + rounding)
    assert float(drawn.get("data-leaves")) == pytest.approx(top, abs=0.02)
    lands = early - cue.target.window.early.in_ms * scale
    assert float(drawn.get("data-lands")) == pytest.approx(lands, abs=0.05)


TIMES = st.lists(st.tuples(st.integers(0, 600_000), st.integers(1, 4000)), max_size=30)


@settings(max_examples=100, deadline=None)
@given(TIMES, st.integers(1_000, 700_000))
def test_folding_keeps_all_time_in_order_and_leaves_none_out(times_ms, length_ms):
    needs = [
        Need(Time(at * 1_000_000), Time((at + lasts) * 1_000_000), Span.ms(lasts / 2), Span.ms(80))
        for at, lasts in times_ms
    ]
    scale = pleated(needs, Time(length_ms * 1_000_000))
    assert scale.start <= Time(0)
    assert scale.end >= Time(length_ms * 1_000_000)
    for one, after in zip(scale.stretches, scale.stretches[1:], strict=False):
        assert (one.end, one.bottom) == (after.start, after.top)
        assert one.folded != after.folded
        assert one.bottom > one.top
    for need in needs:
        assert not scale.at(need.start).folded
        assert scale.y(need.start) < scale.y(need.end)


@settings(max_examples=60, deadline=None)
@given(TIMES, st.integers(300, 1200))
def test_strips_are_the_whole_show_in_pieces_no_taller_than_asked(times_ms, most):
    needs = [Need(Time(at * 1_000_000), Time((at + 50) * 1_000_000)) for at, _ in times_ms]
    scale = pleated(needs, Time(600_000_000_000))
    pieces = strips(scale, most)
    assert [s.start for p in pieces for s in p.stretches] == [s.start for s in scale.stretches]
    assert all(piece.bottom <= most or len(piece.stretches) == 1 for piece in pieces)
    assert all(piece.stretches[0].top == 0 for piece in pieces)


def test_a_wedge_of_300_ms_in_a_show_of_84_s_is_a_tenth_of_a_page(plan):
    slam = next(cue for cue in plan.cues if cue.target.move.device == "shutter")
    scale = show_scale(plan)
    assert scale.y(slam.target.beat_at) - scale.y(slam.leaves_at) > 80


def test_a_pleat_says_how_much_time_it_hides(plan):
    folded = of_class(parsed(draw_whole(plan)), "folded")
    assert "folded, 0:06.1 to 0:11.9: 5.75 s" in [e.find(f"{SVG}title").text for e in folded]


def test_the_waveform_is_wide_where_the_sound_is_loud(plan):
    levels = [1.0 if 4000 <= i < 4400 else 0.1 for i in range(8400)]
    loud = Programme(levels=levels, step=Span.ms(10))
    wave = of_class(parsed(draw_overview(plan, loud)), "wave")[0].get("points").split()
    points = [tuple(map(float, point.split(","))) for point in wave]
    axis = sum(x for x, _ in points) / len(points)
    wide = [y for x, y in points if abs(x - axis) > 10]
    top, bottom = min(y for _, y in points), max(y for _, y in points)
    assert (min(wide) - top) / (bottom - top) == pytest.approx(40 / 84, abs=0.01)
    assert (max(wide) - top) / (bottom - top) == pytest.approx(44 / 84, abs=0.01)


def test_stills_stand_at_their_instants_inside_the_file(plan):
    png = b"\x89PNG\r\n\x1a\n"
    programme = Programme(stills=(Still(at=Time.seconds(6), image=png),))
    image = next(parsed(draw_whole(plan, programme)).iter(f"{SVG}image"))
    assert image.get("href").startswith("data:image/png;base64,")
    beat = of_class(parsed(draw_whole(plan, programme)), "beat")[1]
    assert float(image.get("y")) == pytest.approx(float(beat.get("y1")))


def test_findings_carry_shape_and_letter_at_their_beat(plan):
    root = parsed(draw_whole(plan))
    refused = next(e for e in of_class(root, "grade") if "refuse" in e.get("class"))
    assert refused.find(f"{SVG}polygon") is not None
    assert refused.find(f"{SVG}text").text == "R"


def test_parts_of_a_lead_differ_in_hatch_and_not_only_in_colour(plan):
    root = parsed(draw_whole(plan))
    patterns = {e.get("id"): ElementTree.tostring(e) for e in root.iter(f"{SVG}pattern")}
    shutter = next(e for e in of_class(root, "cue") if "shutter out" in e.get("data-cue"))
    fills = [e.get("fill") for e in of_class(shutter, "lead")]
    assert len(fills) == len(set(fills)) == 4
    used = {patterns[re.match(r"url\(#(.*)\)", fill)[1]].split(b">", 1)[1] for fill in fills}
    assert len(used) == 4


def test_a_dozen_parts_have_a_dozen_hatches():
    names = ["valve", "moving", *(f"part {index}" for index in range(10))]
    assert len(set(hatches(names, "x").values())) == 12


def test_a_landing_outside_its_window_has_another_shape():
    cue = make_cue(5.0, "lamp", "on", "light", "tight", LAMP)
    missed = make_plan((replace(cue, expected_error=Span.ms(30)),), ())
    drawn = of_class(parsed(draw_whole(missed)), "landing")
    assert [e.get("class") for e in drawn] == ["landing out"]
    assert drawn[0].tag == f"{SVG}path"


def test_a_plan_without_cues_and_one_with_forty_devices_can_be_drawn():
    assert parsed(draw_whole(make_plan((), ()))) is not None
    many = tuple(make_cue(i, f"device-{i}", "on", "light", "hit", LAMP) for i in range(1, 41))
    width = float(parsed(draw_whole(make_plan(many, ()))).get("viewBox").split()[2])
    assert width > 40 * 28


def test_the_page_of_the_picture_names_every_pattern_once(plan, programme):
    page = picture_html(plan, programme)
    names = re.findall(r'<pattern id="([^"]+)"', page)
    assert len(names) == len(set(names))


def test_sample_cues_leave_in_order():
    leaves = [cue.leaves_at for cue in make_cues()]
    assert leaves == sorted(leaves)
