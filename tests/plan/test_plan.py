"""The whole of a plan, from book to frozen document."""

from __future__ import annotations

import json

from plan_parts import Simple, Slide, beat, book, do

from thundersheet.base.time import Span, Time
from thundersheet.plan.plan import from_json, make_plan, to_json

BOOK = book(
    (
        Slide(name="shutter", words=(("open", "out"), ("shut", "back"))),
        Simple(name="lamp", needs=Span.ms(10)),
    ),
    (
        beat(5.0, do("lamp", "on")),
        beat(10.0, do("shutter", "out"), what="shutter opens"),
        beat(12.0, do("shutter", "back"), window="soft"),
        beat(20.0, do("shutter", "out"), do("lamp", "off")),
        beat(25.0, do("shutter", "back")),
    ),
)


def test_command_leaves_early_by_the_whole_travel() -> None:
    plan = make_plan(BOOK)
    (cue,) = (cue for cue in plan.cues if cue.id == "shutter-open-1")
    assert cue.at == Time.seconds(9.7)
    assert cue.lead.total == Span.ms(300)


def test_a_frozen_plan_comes_back_whole_from_its_json() -> None:
    plan = make_plan(BOOK)
    text = json.dumps(to_json(plan))
    assert from_json(json.loads(text)) == plan
