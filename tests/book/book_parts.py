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
