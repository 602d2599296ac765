"""A small book that every test of the reader starts from."""

from thundersheet.base.finding import Refusal
from thundersheet.book.read import read_text
from thundersheet.model.book import Book

HEAD = """\
book: 1
show:
  name: Gale   # the whole gale
  length: 1:24
  frame rate: 25
  tempo: [{at: 0:10, per minute: 120}]
air: {set: 60 psi}
boards:
  main: {terminals: 8}
devices:
  window: {kind: screen, lag: 45 ms}
  lamp: {kind: lamp, volts: 12 V, current: 1.5 A, on: main 7}
  lamp two: {kind: lamp, volts: 12 V, current: 1500 mA, on: main 6, words: {burn: on}}
  fan: {kind: fan, volts: 24 V, current: 0.8 A, on: main 2}
"""

WITH_AIR = """\
book: 1
show: {name: Gale, length: 1:24}
evening: {shows: 40, every: 104 s, coldest: 2 C, warmest: 15 C, begins: 19:00, ends: 10 pm}
air:
  set: 2.0 bar
  ambient: 12 C
  altitude: 250 m
  compressor: {delivers: 60 l/min, at: 6 bar, also delivers: 45 l/min, also at: 8 bar,
               cut in: 6 bar, cut out: 8 bar, duty: 60 %, quiet: 20:00-22:00, fills: tank}
  parts:
    tank:      {kind: tank, volume: 24 l, rated: 10 bar, drained: yes}
    shut-off:  {kind: shut-off, from: tank}
    filter:    {kind: filter, from: shut-off, port: 3/8}
    regulator: {kind: regulator, from: filter, set: 2.5 bar, flow: 1 Cv}
    dump:      {kind: dump valve, from: regulator}
    soft:      {kind: soft-start valve, from: dump}
    near:      {kind: tank, from: soft, volume: 2 l, hose: {bore: 6 mm, length: 3 m}}
    manifold:  {kind: manifold, from: near, hose: {bore: 6 mm, length: 1 m}}
  leak down: {loses: 0.5 bar, in: 10 min}
boards: {main: {terminals: 4}}
devices:
  shutter: {kind: air cylinder, air from: manifold, when vented: stays, bore: 25 mm,
            stroke: 160 mm, on: main 1}
  gust: {kind: air jet, air from: near, nozzle: 4 mm, on: main 2}
variants:
  air low: {tank below: 4 bar, leave out: [gust]}
"""


def read(text: str) -> Book:
    """The book in a text."""
    return read_text(text)


def refused(text: str) -> list[str]:
    """What the reader says against a text, line by line, without the file's name."""
    try:
        read_text(text)
    except Refusal as refusal:
        return [str(each).removeprefix("book.yaml:") for each in refusal.findings]
    raise AssertionError("this book was read")


def codes(text: str) -> list[str]:
    """The codes of what the reader says against a text, in the order of their places."""
    return [line.rsplit("[", 1)[1].rstrip("]") for line in refused(text)]
