"""What a beat's `do` says: device, action or the builder's word, `to`, `over`, `for`."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thundersheet.base.time import Span
from thundersheet.book.beats import MoveError, move_of
from thundersheet.book.reading import Known
from thundersheet.model.device import Action, Device, Move


class Gate(Device):
    KIND = "gate"
    ACTIONS = (
        Action(name="out", doc="Out.", lands=("arrives",)),
        Action(name="back", doc="Back.", lands=("arrives",)),
    )


class Dial(Device):
    KIND = "dial"
    ACTIONS = (
        Action(name="off", doc="Off.", lands=("full",)),
        Action(
            name="go", doc="Go.", lands=("arrives",), takes=frozenset({"to", "over"}), to="number"
        ),
    )


class Lamp(Device):
    KIND = "lamp"
    ACTIONS = (
        Action(name="on", doc="On.", lands=("full",), takes=frozenset({"for"})),
        Action(
            name="dim", doc="Dim.", lands=("full",), takes=frozenset({"to", "over"}), to="share"
        ),
        Action(name="turn", doc="Turn.", lands=("full",), takes=frozenset({"to"}), to="angle"),
    )


class Puff(Device):
    KIND = "puff"
    ACTIONS = (Action(name="puff", doc="Puff.", lands=("starts",), takes=frozenset({"for"})),)


DEVICES = {
    "gate": Known(Gate, {"open": "out", "to": "back", "swing wide": "out"}),
    "gate two": Known(Gate, {}),
    "glass": Known(Dial, {}),
    "lamp": Known(Lamp, {"for": "on"}),
    "gust": Known(Puff, {}),
    "odd": Known(None, {}),
}


@pytest.mark.parametrize(
    ("text", "move"),
    [
        ("gate out", Move(device="gate", action="out")),
        ("gate open", Move(device="gate", action="out")),
        ("gate swing wide", Move(device="gate", action="out")),
        ("gate to", Move(device="gate", action="back")),
        ("gate two back", Move(device="gate two", action="back")),
        ("  gate   open ", Move(device="gate", action="out")),
        ("glass to 27.5", Move(device="glass", action="go", to=27.5)),
        ("glass go to -3", Move(device="glass", action="go", to=-3.0)),
        (
            "glass to 27 over 4 s",
            Move(device="glass", action="go", to=27.0, over=Span.seconds(4)),
        ),
        (
            "glass over 1 min 30 s to 27",
            None,
        ),
        ("lamp to 60 % over 2 s", Move(device="lamp", action="dim", to=0.6, over=Span.seconds(2))),
        ("lamp dim to 0.25", Move(device="lamp", action="dim", to=0.25)),
        ("lamp on for 70 ms", Move(device="lamp", action="on", hold=Span.ms(70))),
        ("lamp for", Move(device="lamp", action="on")),
        ("gust", Move(device="gust", action="puff")),
        ("gust for 120 ms", Move(device="gust", action="puff", hold=Span.ms(120))),
        ("gust puff for 120 ms", Move(device="gust", action="puff", hold=Span.ms(120))),
    ],
)
def test_texts_as_builders_write_them(text: str, move: Move | None) -> None:
    if move is None:
        with pytest.raises(MoveError):
            move_of(text, DEVICES)
    else:
        assert move_of(text, DEVICES) == move


def test_an_angle_comes_in_radians() -> None:
    move = move_of("lamp turn to 180 deg", DEVICES)
    assert move is not None
    assert move.to == pytest.approx(3.141592653589793)


def test_a_device_of_an_unknown_kind_is_not_judged() -> None:
    assert move_of("odd whatever over 3 kg", DEVICES) is None


@pytest.mark.parametrize(
    ("text", "code", "message"),
    [
        (
            "gat open",
            "BOOK-40",
            ("`gat open` begins with no device of this book. Did you mean `gate`? Known here: "
            "gate, gate two, glass, gust, lamp, odd."),
        ),
        (
            "gateopen",
            "BOOK-40",
            ("`gateopen` begins with no device of this book. Did you mean `gate`? Known here: "
            "gate, gate two, glass, gust, lamp, odd."),
        ),
        (
            "gate opne",
            "BOOK-50",
            ("`opne` is nothing that `gate` (gate) can do. Did you mean `open`? Known here: back, "
            "open, out, swing wide, to."),
        ),
        (
            "gate to 60 %",
            "BOOK-50",
            ("`to 60 %` is nothing that `gate` (gate) can do. Known here: back, open, out, swing "
            "wide, to."),
        ),
        (
            "lamp dim to 160 %",
            "BOOK-51",
            "`lamp dim to 160 %`: `160 %` is no share. Write 0 % to 100 %, or 0 to 1.",
        ),
        (
            "glass to half",
            "BOOK-51",
            "`glass to half`: `half` is no plain number. Write `to 27.5`.",
        ),
        (
            "lamp dim to 30 deg",
            "BOOK-51",
            ("`lamp dim to 30 deg`: `30 deg` is an angle, where a share is wanted. Known here: % "
            "(or a plain number)."),
        ),
        (
            "gust for -1 s",
            "BOOK-51",
            "`gust for -1 s`: `-1 s` is negative. Write a length of time such as `2 s`.",
        ),
        (
            "gate open for 2 s",
            "BOOK-51",
            "`gate open for 2 s`: `out` takes no `for`. `out` stands alone.",
        ),
        (
            "lamp dim for 2 s",
            "BOOK-51",
            ("`lamp dim for 2 s`: `dim` takes no `for`. `dim` takes `over 2 s`, `to` a share (`to "
            "60 %`)."),
        ),
        (
            "lamp on for 2 s for 3 s",
            "BOOK-51",
            "`lamp on for 2 s for 3 s`: `for 3 s` is not understood. `on` takes `for 70 ms`.",
        ),
    ],
)  # fmt: skip
def test_what_is_not_understood_is_never_guessed(text: str, code: str, message: str) -> None:
    with pytest.raises(MoveError) as caught:
        move_of(text, DEVICES)
    assert (caught.value.code, str(caught.value)) == (code, message)


WORDS = st.sampled_from(["gate", "two", "lamp", "glass", "to", "for", "over", "60 %", "2 s", "on"])


@given(st.lists(WORDS, max_size=8))
def test_any_row_of_words_is_a_move_or_a_move_error(words: list[str]) -> None:
    try:
        move = move_of(" ".join(words), DEVICES)
    except MoveError:
        return
    assert move is None or move.device in DEVICES
