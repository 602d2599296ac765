"""The gate's promises over the whole of its states, made finite: two devices, three instants.

The promises are stated here in words of their own, from decision to fact; nothing of the gate's
order of questions is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import pytest

from thundersheet.base.time import Span, Time
from thundersheet.model.device import Move
from thundersheet.run.gate import (
    PRACTICES,
    STATES,
    Answer,
    Ask,
    Place,
    Practice,
    Stand,
    State,
    Wire,
    gate,
)
from thundersheet.run.setup import Holds, Kept, Line, Setup

NOW = Time.seconds(100)
SHORT, LONG = Span.ms(100), Span.seconds(50)
FLAP_OUT, FLAP_BACK = (Move(device="flap", action=word) for word in ("out", "back"))
HATCH_OUT, HATCH_BACK = (Move(device="hatch", action=word) for word in ("out", "back"))
SETUP = Setup(
    lines={
        line.name: line
        for line in (
            Line(name="f", device="flap", most_on=Span.seconds(5), least_off=Span.seconds(1)),
            Line(name="h", device="hatch"),
            Line(name="l", device="lamp", moves=False),
            Line(name="air", device=""),
        )
    },
    plans={},
    rules=(
        Kept(never=(Holds(FLAP_OUT, False), Holds(HATCH_OUT, False))),
        Kept(first=Holds(HATCH_BACK, True), then=FLAP_OUT, apart=Span.ms(200)),
    ),
    inputs={},
    half_pa=3e5,
    again=Time.seconds(1),
)

WIRES = {
    "never on": None,
    "just off": Wire(0.0, None, NOW - SHORT),
    "long off": Wire(0.0, None, NOW - LONG),
    "just on": Wire(1.0, NOW - SHORT),
    "too long on": Wire(1.0, NOW - LONG),
}
HATCHES = {
    "home": None,
    "out": Place(HATCH_OUT, None, NOW - LONG),
    "on its way out": Place(HATCH_OUT, None, NOW + SHORT),
    "on its way back": Place(HATCH_BACK, HATCH_OUT, NOW + SHORT),
    "just back": Place(HATCH_BACK, HATCH_OUT, NOW - SHORT),
    "long back": Place(HATCH_BACK, HATCH_OUT, NOW - LONG),
    "passed": Place(HATCH_OUT, None, NOW - LONG, passes=True),
}


@dataclass(frozen=True)
class Case:
    state: State
    practice: Practice
    tank: float | None
    barred: bool
    wire: str
    hatch: str
    unknown: bool
    value: float
    output: str

    def answer(self) -> Answer:
        device = SETUP.lines[self.output].device
        wire, place = WIRES[self.wire], HATCHES[self.hatch]
        stand = Stand(
            state=self.state,
            practice=self.practice,
            tank_pa=self.tank,
            barred={device: "a person is near"} if self.barred else {},
            wires={self.output: wire} if wire else {},
            places={"hatch": place} if place else {},
            unknown=frozenset({"hatch"}) if self.unknown else frozenset(),
        )
        move = {"f": FLAP_OUT if self.value else FLAP_BACK}.get(self.output)
        return gate(SETUP, stand, Ask(output=self.output, value=self.value, move=move), NOW)

    def objections(self) -> set[str]:
        """What the promises say against it: `refuse`, or `hold` until something has passed."""
        moves = self.output == "f"
        found = set()
        if self.state != "playing":
            found.add("refuse")
        if self.value == 0.0:
            return found
        if self.barred:
            found.add("refuse")
        if moves and self.practice == "dry run":
            found.add("refuse")
        if moves and self.practice == "half pressure" and (self.tank is None or self.tank > 3e5):
            found.add("refuse")
        if moves and (self.unknown or self.hatch in ("out", "passed", "on its way out")):
            found.add("refuse")
        if moves and self.hatch in ("on its way back", "just back"):
            found.add("hold")
        if moves and self.wire == "just off":
            found.add("hold")
        if moves and self.wire == "too long on":
            found.add("refuse")
        return found


def cases():
    return (
        Case(*each)
        for each in product(
            STATES, PRACTICES, (None, 1e5, 6e5), (False, True), WIRES, HATCHES,
            (False, True), (0.0, 1.0), ("f", "l"),
        )
    )  # fmt: skip


def test_a_cue_passes_exactly_when_no_promise_is_against_it():
    count = 0
    for case in cases():
        count += 1
        answer, against = case.answer(), case.objections()
        right = "refuse" if "refuse" in against else "hold" if against else "allow"
        assert answer.verdict == right, (case, answer)
        assert bool(answer.why) == (right != "allow"), (case, answer)
        if right == "hold":
            assert answer.until is not None
            assert answer.until > NOW, (case, answer)
    assert count == 5 * 3 * 3 * 2 * 5 * 7 * 2 * 2 * 2  # 25,200: the whole space


def test_what_is_on_is_never_let_go_later_than_its_limit():
    for wire, hold in product(WIRES, (None, SHORT, LONG)):
        stand = Stand(state="playing", wires={"f": WIRES[wire]} if WIRES[wire] else {})
        answer = gate(SETUP, stand, Ask(output="f", value=1.0, hold=hold), NOW)
        if answer.verdict == "allow":
            began = NOW - SHORT if wire == "just on" else NOW
            assert answer.lets_go is not None
            assert answer.lets_go <= began + Span.seconds(5)
            assert hold is None or answer.lets_go <= NOW + hold


def test_making_safe_is_always_allowed_and_nothing_else_is_called_so():
    for state, practice, output, value in product(
        STATES, PRACTICES, ("f", "h", "l", "air"), (0.0, 1.0, 0.5)
    ):
        stand = Stand(state=state, practice=practice, jogging="h", barred={"flap": "x"})
        answer = gate(SETUP, stand, Ask(output=output, value=value, by="safe"), NOW)
        assert answer.verdict == ("allow" if value == 0.0 else "refuse")


def test_jog_is_in_the_dark_held_one_at_a_time_and_without_air_first():
    count = 0
    for state, air, jogging, jogged, held, value, barred, output in product(
        STATES, (False, True), ("", "f", "h"), (frozenset(), frozenset("f"), frozenset("h")),
        (False, True), (0.0, 1.0), (False, True), ("f", "l", "air"),
    ):  # fmt: skip
        count += 1
        stand = Stand(
            state=state, air=air, jogging=jogging, jogged=jogged,
            barred={"flap": "x"} if barred else {},
        )  # fmt: skip
        answer = gate(SETUP, stand, Ask(output=output, value=value, by="jog", held=held), NOW)
        well = (
            state == "dark"
            and held
            and jogging in ("", output)
            and (not air or output in jogged)
            and not (barred and output == "f")
        )
        right = output != "air" and (value == 0.0 or well)
        assert (answer.verdict == "allow") == right, (stand, answer)
    assert count == 2160


def test_air_is_never_let_in_in_the_dark_or_when_stopped_but_for_jogging():
    for state, jogged, jogging, value, output in product(
        STATES, (frozenset(), frozenset("f")), ("", "f"), (0.0, 1.0), ("air", "f")
    ):
        stand = Stand(state=state, jogged=jogged, jogging=jogging)
        answer = gate(SETUP, stand, Ask(output=output, value=value, by="air"), NOW)
        open_ = state in ("ready", "playing", "resting")
        jog = state == "dark" and bool(jogged) and not jogging
        assert (answer.verdict == "allow") == (output == "air" and (value == 0 or open_ or jog))


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_is_no_number_never_passes(value):
    for by in ("plan", "jog", "air", "safe"):
        ask = Ask(output="l", value=value, by=by, held=True)
        assert gate(SETUP, Stand(state="playing"), ask, NOW).verdict == "refuse"


def test_an_output_that_is_not_there_is_refused_by_name():
    answer = gate(SETUP, Stand(state="playing"), Ask(output="main 99", value=0.0), NOW)
    assert answer.verdict == "refuse"
    assert "main 99" in answer.why


def test_a_rule_counts_from_the_first_movement_not_from_the_command():
    """The hatch rests in 100 ms and 200 ms more are asked; a flap that needs 350 ms may go now."""
    stand = Stand(state="playing", places={"hatch": HATCHES["on its way back"]})
    slow = Ask(output="f", value=1.0, move=FLAP_OUT, starts=Span.ms(350))
    assert gate(SETUP, stand, slow, NOW).verdict == "allow"
    quick = Ask(output="f", value=1.0, move=FLAP_OUT, starts=Span.ms(50))
    answer = gate(SETUP, stand, quick, NOW)
    assert (answer.verdict, answer.until) == ("hold", NOW + Span.ms(250))


def test_the_reason_is_the_books_own():
    rules = (Kept(never=SETUP.rules[0].never, because="they meet in the middle."),)
    setup = Setup(lines=SETUP.lines, plans={}, rules=rules, inputs={}, again=Time.seconds(1))
    stand = Stand(state="playing", places={"hatch": HATCHES["out"]})
    answer = gate(setup, stand, Ask(output="f", value=1.0, move=FLAP_OUT), NOW)
    assert answer.why == "never together with hatch out, which holds (they meet in the middle)"
