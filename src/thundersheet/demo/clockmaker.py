"""The Clockmaker's Window's sound: ticking, a bell tune on the music's grid, a cuckoo."""

from __future__ import annotations

from thundersheet.base.time import Span
from thundersheet.demo import instruments as make
from thundersheet.demo.instruments import Generator, Samples
from thundersheet.demo.score import Event, Sheet, events
from thundersheet.model.book import Book

BELLS_HZ = (392.00, 440.00, 493.88, 523.25, 587.33, 659.26, 698.46, 783.99)
"""G4 A4 B4 C5 D5 E5 F5 G5 in equal temperament, A4 = 440 Hz (ISO 16)."""
CHORDS = (
    (130.81, 329.63, 392.00),
    (174.61, 349.23, 440.00),
    (196.00, 293.66, 493.88),
    (130.81, 329.63, 392.00),
)
"""C, F, G, C: a bass note and two above, a bar each."""


def clockmaker_sound(book: Book, rng: Generator) -> Samples:
    """The whole soundtrack, samples x 2."""
    sheet = Sheet(book.show.length)
    happens = events(book)
    bells = bell_names(book)
    _ticking(sheet, happens)
    _accompaniment(sheet, book, happens, bells)
    for event in happens:
        _sound(sheet, event, bells, rng)
    return sheet.finished()


def bell_names(book: Book) -> tuple[str, ...]:
    """The hammers in the book's order, lowest bell first."""
    hammers = [d.name for d in book.devices if d.KIND == "solenoid hammer"]
    return tuple(name for name in hammers if "pendulum" not in name)[: len(BELLS_HZ)]


def _ticking(sheet: Sheet, happens: tuple[Event, ...]) -> None:
    """The pendulum's beats, tick and tock in turns."""
    beats = [event.at for event in happens if event.device == "pendulum"]
    for index, at in enumerate(beats):
        sheet.lay(make.tick(index % 2 == 0), at, 0.5, -0.3)


def _sound(sheet: Sheet, event: Event, bells: tuple[str, ...], rng: Generator) -> None:
    match event.kind, event.action:
        case "solenoid hammer", _ if event.device in bells:
            place = bells.index(event.device)
            sheet.lay(make.bell(BELLS_HZ[place]), event.at, 0.5, -0.7 + 0.2 * place)
        case "air cylinder", "out":
            sheet.lay(make.cuckoo(), event.at, 0.8, 0.2)
        case "air cylinder", "back":
            sheet.lay(make.clap(rng), event.at, 0.6, 0.2)
        case "gear motor", "on":
            sheet.lay(make.whirr(rng, 6.0), event.at, 0.8, 0.4)
        case "servo", "out" if "arm" in event.device:
            sheet.lay(make.click(), event.at, 0.5, -0.4)
        case "lamp" | "dimmed lamp" | "relay", "on":
            sheet.lay(make.click(), event.at, 0.35, -0.4)
        case _:
            pass  # what makes no sound of its own


def _accompaniment(
    sheet: Sheet, book: Book, happens: tuple[Event, ...], bells: tuple[str, ...]
) -> None:
    """Bass on the first count of each bar, the chord on the others, while the bells play."""
    strikes = [e.at for e in happens if e.device in bells]
    if not book.show.tempo or not strikes:
        return
    tempo = book.show.tempo[0]
    count = Span.seconds(60 / tempo.per_minute)
    for index in range((max(strikes).since(tempo.at)).ns // count.ns + 1):
        bar, place = divmod(index, tempo.counts)
        chord = CHORDS[bar % len(CHORDS)]
        for hz in chord[:1] if place == 0 else chord[1:]:
            sheet.lay(make.plucked(hz), tempo.at + count * index, 0.22, 0.1)
