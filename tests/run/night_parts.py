"""A small show with everything that a night can have."""

from __future__ import annotations

from functools import cache

from thundersheet.base.time import Time
from thundersheet.book.read import read_text
from thundersheet.plan.plan import make_plan
from thundersheet.run.controller import Controller
from thundersheet.run.events import Asked, Begin, Counted, Event, PowerUp, Read, Say, Send
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


WELL = {"mushroom": True, "door": True, "beam": True, "gauge": 6e5, "rail": True,
        "flap home": True, "hatch home": True}  # fmt: skip


class Evening:
    """A controller and its whole line of time, in milliseconds; every tick comes when due."""

    def __init__(self, setup=None, **levels):
        self.setup = setup or small_setup(follows=False)
        self.controller = Controller(self.setup)
        self.ms = 0.0
        self.out = []
        self.levels = {**WELL, "cord": False, **levels}
        self.tell(PowerUp(Time(0)))
        self.report()
        self.wait(2_500)  # the button has to be left alone first

    @property
    def state(self):
        return self.controller.now.state

    def tell(self, event):
        self.out += self.controller.tell(event)

    def report(self):
        for name, value in self.levels.items():
            self.tell(Read(self.at, name, value))

    @property
    def at(self):
        return Time(round(self.ms * 1e6))

    def wait(self, ms):
        """Time passes; inputs say how they stand every second."""
        end = self.ms + ms
        while True:
            due = self.controller.wakes()
            cycle = (self.ms // 1000 + 1) * 1000
            nearest = min(end, cycle, due.ns / 1e6 if due else end)
            self.ms = max(self.ms, nearest)
            if self.ms >= end:
                self.tell(Event(self.at))
                return
            self.report() if self.ms == cycle else self.tell(Event(self.at))

    def set(self, name, value, lasts=0.0):
        self.levels[name] = value
        self.tell(Read(self.at, name, value))
        self.wait(lasts)

    def ask(self, wish):
        self.tell(Asked(self.at, wish))

    def opened(self):
        self.wait(100)
        self.ask("open")
        self.wait(100)
        assert self.state == "ready"
        return self

    def press(self, lasts=60.0, pause=90.0):
        self.set("cord", True, lasts)
        self.set("cord", False, pause)

    def of(self, kind):
        return [each for each in self.out if isinstance(each, kind)]

    @property
    def shows(self):
        assert len(self.of(Begin)) == len(self.of(Counted))
        return len(self.of(Begin))

    def said(self, words):
        return any(words in each.text for each in self.of(Say))

    def on(self):
        """Outputs that do not have their safe value, from all that was sent."""
        values = {each.output: each.value for each in self.of(Send)}
        return {name for name, value in values.items() if value != 0.0}
