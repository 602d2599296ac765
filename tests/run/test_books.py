"""Whole books of our own: what their plans say, the controller sends, at the very instant."""

from __future__ import annotations

import pytest
from tests.conftest import EXAMPLES

from thundersheet.base.time import Span, Time
from thundersheet.book.read import read_book
from thundersheet.plan.plan import make_plan
from thundersheet.run.controller import Controller
from thundersheet.run.events import Asked, Begin, Event, PowerUp, Send
from thundersheet.run.setup import setup_of


def until(controller, at):
    """All that a controller says while time passes and nothing else happens."""
    out = []
    while (due := controller.wakes()) is not None and due <= at:
        out += controller.tell(Event(due))
    return [*out, *controller.tell(Event(at))]


@pytest.mark.parametrize("name", ["lamp-room", "number-three-cage"])
def test_a_plan_that_nothing_refuses_passes_the_gate_whole(name):
    book = read_book(EXAMPLES / name / "book.yaml")
    plan = make_plan(book)
    assert not [each for each in plan.findings if each.grade == "refuse"]
    controller = Controller(setup_of(book, [plan]))
    controller.tell(PowerUp(Time(0)))
    controller.tell(Asked(Time(0), "open"))
    until(controller, Time.seconds(120))
    out = controller.tell(Asked(Time.seconds(120), "start"))
    began = next(each for each in out if isinstance(each, Begin)).at
    out = [*out, *until(controller, began + Span.seconds(plan.length.s + 1))]
    left = {each.cue: each.at.since(began) for each in out if isinstance(each, Send) and each.cue}
    assert left == {cue.id: cue.leaves_at.since(Time(0)) for cue in plan.cues if cue.commands}
    assert controller.now.state == "resting"
