"""Drawn shows by the plant as a whole: the event-driven runs of a chunk, by hand, and coupled."""

import numpy as np
import pytest
from tests.conftest import EXAMPLES

from thundersheet.book.read import read_book
from thundersheet.plan.plan import make_plan
from thundersheet.rehearse.scatter import shows as scatter_module
from thundersheet.rehearse.scatter.chunk import run_chunk
from thundersheet.rehearse.scatter.draw import drawn, errors_ms
from thundersheet.rehearse.scatter.events import anchored, event_errors
from thundersheet.rehearse.scatter.plant import errors_by
from thundersheet.rehearse.scatter.shows import scatter
from thundersheet.rehearse.scatter.study import study_of

SHOWS = 8


@pytest.fixture(scope="module")
def lamp_room():
    book = read_book(EXAMPLES / "lamp-room")
    return book, make_plan(book)


@pytest.fixture(scope="module")
def study(lamp_room):
    return study_of(*lamp_room)


@pytest.fixture(scope="module")
def z(study):
    return drawn(study, 21, 0)[:SHOWS]


@pytest.fixture(scope="module")
def by_events(study, z):
    return event_errors(study, z)


def test_runs_of_a_chunk_are_what_plants_changed_by_hand_give(study, z, by_events):
    """Every record of the plant replaced number by number, every switch moved, one run each."""
    by_hand = errors_by("event-driven", study.setup, study, z)
    assert by_events == pytest.approx(by_hand, abs=0.1)
    assert np.ptp(by_events, axis=0).min() > 3.0


def test_the_coupled_plant_says_the_same_of_drawn_shows(study, z, by_events):
    # The independent solver: bodies, hoses, chambers and pistons as one state. The scatter itself,
    # 3 to 23 ms, is what these differences are to be held against.
    coupled = errors_by("coupled", study.setup, study, z[:4])
    apart = by_events[:4] - coupled
    assert np.sqrt((apart**2).mean()) < 0.3
    assert np.abs(apart).max() < 0.6


def test_strokes_by_themselves_scatter_as_the_whole_plant_does(study, z, by_events):
    quick = anchored(study)
    own = np.array([errors_ms(quick.beats[i], z, quick) for i in quick.strokes]).T
    assert np.abs(own - by_events).max() < 1.0


def test_with_nothing_off_each_stroke_lands_where_the_whole_plant_has_it(study):
    nothing = np.zeros((1, len(study.doubts)))
    quick = anchored(study)
    own = [errors_ms(quick.beats[i], nothing, quick)[0] for i in quick.strokes]
    assert own == pytest.approx(event_errors(study, nothing)[0], abs=1e-6)


def test_the_figures_say_which_solver_gave_them(lamp_room):
    whole = scatter(*lamp_room, 6, 1, by="event-driven")
    quick = scatter(*lamp_room, 6, 1)
    for found, by in ((whole, "event-driven"), (quick, "stroke by stroke")):
        named = {each.cue: each.by for each in found.spreads}
        assert named["slam-1"] == by
        assert named["knocker-strike-1"] == "linear"
    assert whole.spreads[0].mean_ms == quick.spreads[0].mean_ms


def test_a_sample_of_whole_shows_says_whether_strokes_by_themselves_will_do(lamp_room):
    (check,) = scatter(*lamp_room, 6, 1).checks
    assert (check.solver, check.shows, check.landings) == ("event-driven", 6, 36)
    assert check.rms_ms <= abs(check.worst_ms) < 1.0
    assert check.of_scatter < 0.05


def test_where_strokes_by_themselves_will_not_do_shows_are_played_whole(lamp_room, monkeypatch):
    monkeypatch.setattr(scatter_module, "CLOSE", -1.0)
    found = scatter(*lamp_room, 4, 1)
    assert {each.by for each in found.spreads} == {"event-driven", "linear"}


def test_the_coupled_plant_plays_as_many_again_as_asked(lamp_room):
    *_, check = scatter(*lamp_room, 4, 1, coupled=2).checks
    assert (check.solver, check.shows, check.landings) == ("coupled", 2, 12)
    assert check.rms_ms < 0.3


def test_a_show_played_by_the_plant_is_the_same_in_any_chunk(study):
    from dataclasses import replace

    whole = replace(study, by_events=True)
    few, more = run_chunk(whole, 3, 0, 3), run_chunk(whole, 3, 0, 5)
    assert np.array_equal(few, more[:, :3], equal_nan=True)


@pytest.mark.soak
@pytest.mark.timeout(3600)
def test_ten_thousand_shows_of_the_lamp_room_are_the_same_on_both_processors(lamp_room):
    here = scatter(*lamp_room, 10_000, 1, workers="1", by="event-driven")
    there = scatter(*lamp_room, 10_000, 1, workers="2", by="event-driven")
    assert [s.quantiles for s in here.spreads] == [s.quantiles for s in there.spreads]
    assert here.all_inside == there.all_inside > 0.98
