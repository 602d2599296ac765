"""A small prop whose show is rehearsed in a moment: a tank, a hatch, a bell, lamps, two players."""

from __future__ import annotations

from thundersheet.book.read import read_text
from thundersheet.model.book import Book

BOOK = """\
book: 1
show: {name: Gale, length: 0:12, rest: 4 s, cue track: {layout: LAYOUT}}
guests: {per show: 4}
air:
  set: 3 bar
  ambient: 20 C
  compressor: {delivers: 30 l/min, cut in: 6 bar, cut out: 8 bar, duty: 80 %}
  parts:
    tank: {kind: tank, volume: TANK}
    regulator: {kind: regulator, from: tank}
    near: {kind: manifold, from: regulator, volume: 200 ml, hose: {bore: 8 mm, length: 1 m}}
boards:
  main: {kind: 16 transistor outputs, terminals: 16, takes: 1 ms}
supplies:
  main: {volts: 24 V, current: 6 A, wire: 0.2 ohm}
devices:
  big: {kind: screen, lag: 40 ms}
  small: {kind: screen, lag: 20 ms}
  player: {kind: media player, role: leader, screen: big}
  second: {kind: media player, role: follower, screen: small}
  hatch:
    kind: air cylinder
    bore: 32 mm
    stroke: 100 mm
    moves: 3 kg
    exhaust restriction: 0.06 Cv
    reachable: no
    on: main 1
  knocker: {kind: solenoid hammer, volts: 24 V, current: 1 A, strikes after: 30 ms, on: main 2}
  lamp: {kind: lamp, type: filament, volts: 24 V, current: 2 A, on: main 3}
  pilots: {kind: pilot light, volts: 24 V, current: 0.1 A, on: main 4}
beats:
  - {at: 0:03, do: pilots on, window: soft}
  - {at: 0:04, do: hatch out, name: bang}
  - {at: 0:05, do: lamp on, land: full, window: soft, name: glow}
  - {at: 0:06, do: knocker strike, name: knock}
  - {at: 0:07, do: hatch back, window: soft, name: to}
  - {at: 0:08, do: pilots off, meets: small, name: picture}
  - {at: 0:08.5, do: hatch out, name: again, may drop: yes}
  - {at: 0:10, do: hatch back, window: soft, name: again to, may drop: yes}
  - {at: 0:11, do: lamp off, window: loose}
variants:
  air low: {tank below: 5 bar, why: the first bang is kept}
  no air: {tank below: 4 bar, why: light and sound carry it, leave out: [hatch]}
"""


def small_book(*, layout: str = "marks", tank: str = "10 l", **changes: str) -> Book:
    """The book, with some of its words replaced."""
    text = BOOK.replace("LAYOUT", layout).replace("TANK", tank)
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    return read_text(text)
