"""A small show with everything that a night can have."""

from __future__ import annotations

from functools import cache

from thundersheet.book.read import read_text
from thundersheet.plan.plan import make_plan
from thundersheet.run.setup import Setup, setup_of

BOOK = """
book: 1
show: {name: The small night, length: 0:04, rest: 1 s}
guests: {start: cord}
air:
  parts:
    tank: {kind: tank, volume: 20 l, filled: 8 bar}
    reg: {kind: regulator, from: tank, set: 4 bar}
    feed: {kind: manifold, from: reg, hose: {bore: 6 mm, length: 1 m}}
boards: {main: {terminals: 8}}
devices:
  flap:
    kind: air cylinder
    bore: 16 mm
    stroke: 60 mm
    moves: 0.4 kg
    reachable: no
    valve: {flow: 0.3 Cv, delay: 20 ms}
    hose: {bore: 4 mm, length: 1 m}
    air from: feed
    on: main 1
  hatch:
    kind: air cylinder
    bore: 16 mm
    stroke: 60 mm
    moves: 0.4 kg
    reachable: no
    valve: {flow: 0.3 Cv, delay: 20 ms}
    hose: {bore: 4 mm, length: 1 m}
    air from: feed
    on: main 2
  lamp: {kind: lamp, volts: 12 V, current: 0.5 A, on: main 3}
  glow: {kind: lamp, volts: 12 V, current: 0.5 A, on: main 4}
rules:
  - {never together: [flap out, hatch out], because: they meet}
beats:
  - {at: 0:00.750, do: lamp on, land: starts, window: loose}
  - {at: 0:00.900, do: flap out, window: loose, name: first}
  - {at: 0:01.500, do: flap back, window: loose, name: first back}
  - {at: 0:02.600, do: hatch out, window: loose, name: second}
  - {at: 0:03.200, do: hatch back, window: loose, name: second back}
  - {at: 0:02.000, do: glow on, land: starts, window: loose}
  - {at: 0:03.500, do: [lamp off, glow off], land: starts, window: loose}
variants:
  quiet: {leave out: [flap]}
  low: {tank below: 3 bar, leave out: [hatch]}
  still: {tank below: 1 bar, leave out: [flap, hatch]}
night:
  inputs:
    cord: {kind: start}
    mushroom: {kind: stop, silent after: 6 s}
    door: {kind: door, silent after: 6 s}
    beam: {kind: beam, of: [flap], silent after: 6 s}
    gauge: {kind: pressure, silent after: 6 s}
    rail: {kind: supply, silent after: 6 s}
    flap home: {kind: home, of: flap, within: 3 s}
    hatch home: {kind: home, of: hatch, within: 3 s}
  start: {at rest: %s}
  outputs:
    main 1: {most on: 2 s, least off: 200 ms}
    main 3: {most on: 2 s}
  air: main 8
  quiet: quiet
  half pressure: 3 bar
  lost after: 1.2 s
"""


@cache
def small_setup(at_rest: str = "ignore", follows: bool = True) -> Setup:
    book = read_text(BOOK % at_rest)
    plans = [make_plan(book, name) for name in ("", "quiet", "low", "still")]
    for plan in plans:
        assert not [each for each in plan.findings if each.grade == "refuse"], plan.findings
    return setup_of(book, plans, follows=follows)
