"""Pictures of a rehearsal: they are well-formed, to scale, and mark what went wrong."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import pytest

from thundersheet.model.show import WINDOWS
from thundersheet.rehearse.records import (
    Curve,
    Landed,
    Played,
    Rehearsal,
    Scatter,
    Spread,
    Tank,
)
from thundersheet.sheets.rehearsal.air_use import draw_air
from thundersheet.sheets.rehearsal.evening import draw_evening, thinned
from thundersheet.sheets.rehearsal.page import evening_svg, figures, rehearsal_html
from thundersheet.sheets.rehearsal.scale import Line, clock_step, round_step
from thundersheet.sheets.rehearsal.strips import draw_landings, draw_scatter
from thundersheet.sheets.rehearsal.strokes import draw_strokes, value_at

SVG = "{http://www.w3.org/2000/svg}"


def landed(error_ms: float | None, cue: str = "slam.shutter.open") -> Landed:
    return Landed(
        cue=cue,
        device="shutter",
        land="arrives",
        beat_s=41.5,
        window=WINDOWS["hit"],
        planned_ms=0.0,
        error_ms=error_ms,
        lead_ms=None if error_ms is None else 323.0,
    )


def a_rush(errors: list[float | None]) -> Rehearsal:
    shows = tuple(
        Played(
            number=index + 1,
            start_s=104.0 * index,
            variant="",
            air_of=(("shutter", 1.02), ("lens", 0.21)),
            landed=(landed(error),),
        )
        for index, error in enumerate(errors)
    )
    tank = Tank(
        at_s=(0.0, 104.0 * len(errors)),
        pa=(901_325.0, 601_325.0),
        compressor_on=((52.0, 104.0),),
        cut_in_pa=701_325.0,
        cut_out_pa=901_325.0,
    )
    return Rehearsal(
        show="A <show>",
        mode="rush",
        solver="event-driven",
        seed=None,
        length_s=84.0,
        shows=shows,
        tank=tank,
    )


def parts(svg: str, name: str, kind: str) -> list[ElementTree.Element]:
    return [e for e in ElementTree.fromstring(svg).iter(SVG + name) if e.get("class") == kind]


def test_each_show_is_a_bar_in_proportion_to_its_time_and_the_first_weak_one_is_named() -> None:
    svg = draw_evening(a_rush([0.0, 5.0, 55.0, 60.0]))
    well, weak = parts(svg, "rect", "show well"), parts(svg, "rect", "show weak")
    assert (len(well), len(weak)) == (2, 2)
    first, second = (float(bar.get("y", "")) for bar in well)
    third = float(weak[0].get("y", ""))
    assert third - second == pytest.approx(second - first, abs=0.02)
    (named,) = parts(svg, "text", "first")
    assert named.text == "3 ← first weak"


def test_the_compressor_bar_covers_the_stretch_in_which_it_ran() -> None:
    svg = draw_evening(a_rush([0.0, 0.0]))
    (pump,) = parts(svg, "rect", "pump")
    lane = parts(svg, "rect", "lane")[0]
    top, tall = float(lane.get("y", "")), float(lane.get("height", ""))
    assert float(pump.get("y", "")) == pytest.approx(top + tall / 4, abs=0.02)
    assert float(pump.get("height", "")) == pytest.approx(tall / 4, abs=0.02)


def test_a_landing_at_the_end_of_its_window_stands_at_the_brackets_end() -> None:
    (svg,), _ = draw_landings(a_rush([40.0, 0.0, 41.0]))
    fine = sorted(float(line.get("x1", "")) for line in parts(svg, "line", "fine"))
    (bracket,) = parts(svg, "path", "bracket")
    end = float(bracket.get("d", "").rsplit("M", 1)[1].split()[0])
    assert fine[-1] == pytest.approx(end, abs=0.02)
    assert len(parts(svg, "path", "bad")) == 1


def test_a_landing_that_never_came_is_a_cross_and_counted() -> None:
    found = a_rush([0.0, None])
    (svg,), _ = draw_landings(found)
    assert "1 never" in svg
    assert figures(found)["landings outside"] == "1 of 2"
    assert figures(found)["first weak show"] == "number 2"


def test_punctual_beats_are_counted_and_only_the_others_drawn() -> None:
    found = a_rush([12.0])
    many = tuple(landed(0.1, f"lamp-on-{index}") for index in range(30))
    show = replace(found.shows[0], landed=(*found.shows[0].landed, *many))
    (svg,), rest = draw_landings(replace(found, shows=(show,)))
    assert "lamp-on" not in svg
    assert rest == "All other 30 landings of a show are within 0.1 ms of their beats."


def test_a_scatter_is_drawn_from_its_quantiles() -> None:
    shares = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99)
    spread = Spread(
        cue="slam.shutter.open",
        window=WINDOWS["hit"],
        shows=1000,
        missing=0,
        inside=0.987,
        mean_ms=0.0,
        sd_ms=4.0,
        quantiles=tuple((share, 100.0 * (share - 0.5)) for share in shares),
    )
    scatter = Scatter(
        show="A show", shows=1000, seed=1, solver="event-driven", all_inside=0.98, spreads=(spread,)
    )
    (svg,) = draw_scatter(scatter)
    (box,) = parts(svg, "rect", "box")
    (reach,) = parts(svg, "line", "reach")
    wide = float(reach.get("x2", "")) - float(reach.get("x1", ""))
    assert float(box.get("width", "")) == pytest.approx(wide * 50 / 98, rel=1e-3)
    assert "98.7 %" in svg
    page = rehearsal_html(a_rush([0.0]), scatter)
    assert "1000 shows drawn by lot (seed 1, event-driven solver" in page


def test_a_stroke_is_drawn_from_its_command_and_reaches_one_at_its_landing() -> None:
    times = (41.0, 41.2, 41.5, 42.0)
    pressures = (301_325.0, 250_000.0, 101_325.0, 101_325.0)
    curves = (
        Curve(of="shutter", quantity="motion", at_s=times, values=(0.0, 0.0, 1.0, 1.0)),
        Curve(of="shutter", quantity="out pressure", at_s=times, values=pressures[::-1]),
        Curve(of="shutter", quantity="back pressure", at_s=times, values=pressures),
    )
    (svg,) = draw_strokes(replace(a_rush([0.0]), curves=curves))
    (line,) = parts(svg, "polyline", "moves")
    points = [tuple(map(float, p.split(","))) for p in line.get("points", "").split()]
    beat = parts(svg, "line", "beat")[0]
    assert min(y for x, y in points if x > points[-1][0] - 0.01) == pytest.approx(
        float(beat.get("y1", "")), abs=0.05
    )
    assert value_at(curves[0], 41.35) == pytest.approx(0.5)


def test_air_is_a_bar_for_each_device_and_none_without_air() -> None:
    found = a_rush([0.0, 0.0])
    svg = draw_air(found)
    assert svg is not None
    widths = [float(bar.get("width", "")) for bar in parts(svg, "rect", "box")]
    assert widths[1] / widths[0] == pytest.approx(0.21 / 1.02, abs=1e-3)
    bare = replace(found, shows=tuple(replace(show, air_of=()) for show in found.shows))
    assert draw_air(bare) is None


def test_thinning_keeps_the_lowest_and_the_highest_point() -> None:
    times = [float(i) for i in range(100_000)]
    values = [5.0] * 100_000
    values[33_333], values[77_777] = 1.0, 9.0
    kept = list(thinned(times, values, Line(0.0, 1e5, 0.0, 300.0)))
    assert len(kept) < 2000
    assert (33_333.0, 1.0) in kept
    assert (77_777.0, 9.0) in kept


def test_the_page_asks_nobody_for_anything_and_escapes_the_users_words() -> None:
    page = rehearsal_html(a_rush([0.0, 50.0]))
    assert "A &lt;show&gt;" in page
    assert "<script" not in page
    assert "src=" not in page
    ElementTree.fromstring(evening_svg(a_rush([0.0])).split("\n", 1)[1])


def test_an_evening_of_five_hundred_shows_stays_a_small_file() -> None:
    errors: list[float | None] = [float(index % 30) for index in range(500)]
    assert len(draw_evening(a_rush(errors))) < 400_000


def test_round_numbers_are_one_two_or_five_times_a_power_of_ten() -> None:
    assert round_step(10.0, 6) == 2.0
    assert round_step(0.9, 5) == pytest.approx(0.2)
    assert clock_step(4200.0, 12) == 600
    assert Line(-33.0, 33.0, 0, 1).round_numbers(7) == (-30, -20, -10, 0, 10, 20, 30)
