"""What holds for any plan."""

from __future__ import annotations

import json
from dataclasses import replace

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_parts import Blinker, Hammer, Simple, Slide, beat, book, do

from thundersheet.base.finding import Refusal
from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book
from thundersheet.model.show import CueTrack, Show
from thundersheet.model.wiring import Board
from thundersheet.plan.frozen import plan_schema
from thundersheet.plan.plan import from_json, make_plan, to_json

DEVICES = (
    Simple(name="lamp", needs=Span.ms(10), on="main 1"),
    Blinker(name="panel", lit_share=0.3),
    Slide(name="shutter", words=(("open", "out"),), lags=Span.ms(40)),
    Hammer(name="bell"),
)
MOVES = st.sampled_from(
    [
        do("lamp", "on"),
        do("lamp", "off"),
        do("panel", "flash", hold=Span.ms(70)),
        do("shutter", "out"),
        do("shutter", "back"),
        do("bell", "strike"),
    ]
)
BEATS = st.builds(
    lambda at, moves, times, every, name: beat(
        at / 1000, *moves, times=times, every=Span.ms(every), name=name
    ),
    st.integers(1000, 40_000),
    st.lists(MOVES, min_size=1, max_size=3),
    st.integers(1, 3),
    st.integers(1, 5000),
    st.sampled_from(["", "", "a beat", "another"]),
)
BOOKS = st.builds(
    lambda beats, layout: book(
        DEVICES,
        tuple(beats),
        boards=(Board(name="main", takes=Span.ms(8)),),
        show=Show(name="Any", length=Time.seconds(60), cue_track=CueTrack(layout=layout)),
    ),
    st.lists(BEATS, max_size=8),
    st.sampled_from(["marks", "marks", "direct"]),
)
some = settings(max_examples=60, deadline=None)


@some
@given(BOOKS)
def test_the_same_book_gives_the_same_plan_with_ids_of_its_own(made: Book) -> None:
    plan = make_plan(made)
    assert plan == make_plan(made)
    assert len({cue.id for cue in plan.cues}) == len(plan.cues)


@some
@given(BOOKS)
def test_a_plan_comes_back_whole_from_json_that_fits_its_schema(made: Book) -> None:
    plan = make_plan(made)
    document = json.loads(json.dumps(to_json(plan), allow_nan=False))
    assert from_json(document) == plan
    jsonschema.validate(document, plan_schema())


@some
@given(BOOKS)
def test_the_parts_of_a_lead_add_up_to_the_time_before_the_landing(made: Book) -> None:
    for cue in make_plan(made).cues:
        parts = sum((part.span.ns for part in cue.lead.parts), start=0)
        assert cue.target.land_at.since(cue.at).ns == parts
        assert all(part.span.ns >= 0 for part in cue.lead.parts)


@some
@given(BOOKS, st.integers(0, 5_000_000_000))
def test_moving_every_beat_moves_every_cue_as_far(made: Book, by: int) -> None:
    later = replace(made, beats=tuple(replace(each, at=each.at + Span(by)) for each in made.beats))
    before = {cue.id: cue.at for cue in make_plan(made).cues}
    after = {cue.id: cue.at for cue in make_plan(later).cues}
    assert after == {cue_id: at + Span(by) for cue_id, at in before.items()}


def test_what_only_people_read_does_not_change_the_fingerprint() -> None:
    made = book(DEVICES, (beat(5, do("lamp", "on"), what="a light"),))
    other = book(DEVICES, (beat(5, do("lamp", "on"), what="light!"),))
    moved = book(DEVICES, (beat(5.001, do("lamp", "on")),))
    prints = [make_plan(each).fingerprint for each in (made, other, moved)]
    assert prints[0] == prints[1] != prints[2]
    assert make_plan(made).schedule.fingerprint == int(prints[0], 16)


def test_a_strange_or_damaged_document_is_refused_as_a_plan() -> None:
    document = to_json(make_plan(book(DEVICES, ())))
    for wrong in ([], {"plan": 99}, {**document, "cues": [{"id": "x"}]}):
        with pytest.raises(Refusal, match=r"PLAN-01"):
            from_json(wrong)
