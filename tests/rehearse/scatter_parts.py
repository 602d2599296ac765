"""Small studies for the tests of the scatter, and a book of one stroke."""

from __future__ import annotations

from thundersheet.base.time import Span
from thundersheet.model.show import Window
from thundersheet.rehearse.records import Doubt
from thundersheet.rehearse.scatter.study import Beat, Effect, Study

WIDE = Window(Span.ms(-80), Span.ms(40))

BOOK = """\
book: 1
show: {name: One stroke, length: 0:20, programme: p.wav}
air: {set: 4 bar, ambient: 15 C}
boards:
  main: {kind: board, terminals: 4, takes: 1 ms}
supplies:
  main: {volts: 24 V, current: 3 A}
devices:
  arm:
    kind: air cylinder
    bore: 25 mm
    stroke: 100 mm
    moves: 1 kg
    valve: {delay: 20 ms, flow: 0.4 Cv}
    hose: {bore: 4 mm, length: 1 m}
    exhaust restriction: 0.08 Cv
    on: main 1
  knocker: {kind: solenoid hammer, volts: 24 V, current: 1 A, strikes after: 30 ms, on: main 2}
beats:
  - {at: 0:05, do: arm out, name: arm lands}
  - {at: 0:08, do: knocker strike, name: knock, window: -5..+5 ms}
  - {at: 0:12, do: arm back, name: arm home, window: soft}
"""


def doubt(name: str, sd: float, **more: str) -> Doubt:
    """A doubt in seconds unless said otherwise, another at every cue."""
    given = {"unit": "s", "law": "normal", "drawn": "show", **more}
    return Doubt(name=name, of="", sd=sd, source="a test", **given)  # type: ignore[arg-type]


def study(*doubts: Doubt, on: tuple[str, ...] = (), **beat: object) -> Study:
    """A study of one beat that feels all of these."""
    acts = on or ("late",) * len(doubts)
    effects = tuple(
        Effect(column=i, on=act, sd=each.sd)  # type: ignore[arg-type]
        for i, (each, act) in enumerate(zip(doubts, acts, strict=True))
    )
    given = {"window": WIDE, "base_s": -0.3, "lead_s": 0.3, "by": "linear", **beat}
    one = Beat(cue="bang", land="arrives", effects=effects, **given)  # type: ignore[arg-type]
    return Study(show="A test", doubts=doubts, beats=(one,))
