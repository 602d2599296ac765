"""A Lamp Room of eight seconds: as much of the demo as a test has time for."""

from pathlib import Path

from thundersheet.book.read import read_book
from thundersheet.model.book import Book

SHORT = """\
book: 1
show:
  name: The Lamp Room
  programme: media/short.mp4
  length: 0:08
boards:
  main: {kind: 16 transistor outputs, terminals: 16, takes: 1 ms, each: 3 A}
supplies:
  main: {volts: 24 V, current: 6.5 A}
devices:
  knocker: {kind: solenoid hammer, volts: 24 V, current: 1.0 A, strikes after: 30 ms, on: main 4}
beats:
  - {at: 0:03.337, what: knock, do: knocker strike}
  - {at: 0:05.250, what: knock again, do: knocker strike, times: 2, every: 0.6 s}
"""
KNOCKS_S = (3.337, 5.25, 5.85)


def write_short(folder: Path) -> Path:
    """An example's folder with the short book in it."""
    example = folder / "short"
    example.mkdir(parents=True)
    (example / "book.yaml").write_text(SHORT, encoding="utf-8")
    return example


def read_short(folder: Path) -> Book:
    return read_book(str(write_short(folder) / "book.yaml"))
