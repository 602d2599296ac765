"""A programme was cut again: which beats, tempos and lengths of the book move, and where to.

In: a book and cuts on the old programme's line. Out: edits of single values in the book, which
the book's writer applies, and the beats whose moment is gone. Nothing is written here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from thundersheet.base.finding import Finding
from thundersheet.base.read_time import Ruler
from thundersheet.base.shape import Record
from thundersheet.base.source import Place
from thundersheet.base.time import NS, Span, Time
from thundersheet.model.book import Book
from thundersheet.model.show import Beat, Tempo
from thundersheet.plan.markers import Marker, exact

EXPLAINS = {
    "CUT-01": "A beat lies in a stretch that was cut out of the programme. It was left where it "
    "was: move it or take it out.",
    "CUT-02": "A beat is written in bars, and the cut goes through the music it counts by. It is "
    "given on the clock instead.",
}


@dataclass(frozen=True, slots=True)
class Cut:
    """From one instant of the old programme on, everything comes so much later, or earlier."""

    at: Time
    by: Span
    """Positive: something was put in at `at`. Negative: so much was taken out from `at` on."""


@dataclass(frozen=True, slots=True)
class Edit:
    """One value of the book, to be written anew."""

    path: tuple[str | int, ...]
    """Of the value in the book: `("beats", 3, "at")`."""
    place: Place
    what: str
    """For the message: `beat shutter-slams`, `show length`."""
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Recut:
    """What a recut programme does to a book."""

    edits: tuple[Edit, ...]
    findings: tuple[Finding, ...]


def recut(book: Book, cuts: Iterable[Cut]) -> Recut:
    """The edits that bring a book into step with its programme."""
    ordered = sorted(cuts, key=lambda cut: cut.at)
    edits: list[Edit] = []
    findings: list[Finding] = []
    for index, beat in enumerate(book.beats):
        if _gone(beat.at, ordered):
            findings.append(_lost(beat))
        else:
            findings += _uncounted(book, beat, ordered)
            edits += _beat_edit(book, index, beat, ordered)
    for index, tempo in enumerate(book.show.tempo):
        path = ("show", "tempo", index, "at")
        edits += _edit(book, tempo, path, (tempo.at, moved(tempo.at, ordered)), "tempo")
    length = (book.show.length, moved(book.show.length, ordered))
    edits += _edit(book, book.show, ("show", "length"), length, "show length")
    if book.guests.again is not None:
        again = (book.guests.again, moved(book.guests.again, ordered))
        edits += _edit(book, book.guests, ("guests", "again"), again, "start again")
    return Recut(tuple(edits), tuple(findings))


def moved(at: Time, cuts: Sequence[Cut]) -> Time:
    """Where an instant of the old programme lies in the new one.

    An instant just at a cut moves with what follows; one inside a stretch that was taken out
    comes to lie where it was closed.
    """
    shift = Span(0)
    for cut in cuts:
        if cut.at > at:
            break
        taken_out = min(at.since(cut.at), -cut.by)
        shift = shift + cut.by if cut.by.ns >= 0 else shift - taken_out
    return at + shift


def cuts_between(old: Iterable[Marker], new: Iterable[Marker]) -> tuple[Cut, ...]:
    """The cuts that took markers from one list to the other, matched by beat, else by name.

    Where the shift changes between two markers, the cut is put at the later one's old place.
    """
    after = {marker.beat or marker.name: marker.at for marker in new}
    pairs = [(m.at, after[m.beat or m.name]) for m in old if (m.beat or m.name) in after]
    cuts: list[Cut] = []
    shift = Span(0)
    for before, now in sorted(pairs):
        change = now.since(before) - shift
        if change:
            at = before if change.ns > 0 else before + change
            cuts.append(Cut(at, change))
            shift = shift + change
    return tuple(cuts)


def _gone(at: Time, cuts: Sequence[Cut]) -> bool:
    return any(cut.by.ns < 0 and cut.at <= at < cut.at - cut.by for cut in cuts)


def _beat_edit(book: Book, index: int, beat: Beat, cuts: Sequence[Cut]) -> Iterator[Edit]:
    new = moved(beat.at, cuts)
    if _in_bars(beat):
        tempo = _tempo_of(book, beat.at)
        if tempo is None or moved(tempo.at, cuts) + beat.at.since(tempo.at) == new:
            return  # moves with its tempo
    what = f"beat {beat.name or beat.what or beat.at}"
    yield from _edit(book, beat, ("beats", index, "at"), (beat.at, new), what)


def _edit(
    book: Book, record: Record, path: tuple[str | int, ...], times: tuple[Time, Time], what: str
) -> Iterator[Edit]:
    old, new = times
    if new != old:
        field = str(path[-1])
        was = record.origin.texts.get(field, exact(old))
        yield Edit(path, record.origin.of(field), what, was, _as_written(book, was, new))


def _as_written(book: Book, was: str, new: Time) -> str:
    """The new time in frames where the old one was and it falls on one, else on the clock."""
    rate = Ruler.of(book.show.frame_rate).frame_rate
    if was.strip().lower().startswith("fr") and rate is not None:
        index = round(Fraction(new.ns, NS) * rate)
        if round(index / rate * NS) == new.ns:
            return f"frame {index}"
    return exact(new)


def _in_bars(beat: Beat) -> bool:
    return beat.origin.texts.get("at", "").strip().lower().startswith("bar")


def _tempo_of(book: Book, at: Time) -> Tempo | None:
    before = [tempo for tempo in book.show.tempo if tempo.at <= at]
    return max(before, key=lambda tempo: tempo.at, default=None)


def _uncounted(book: Book, beat: Beat, cuts: Sequence[Cut]) -> Iterator[Finding]:
    if _in_bars(beat) and any(True for _ in _beat_edit(book, 0, beat, cuts)):
        yield Finding(
            code="CUT-02",
            grade="note",
            place=beat.origin.of("at"),
            says=f"`{beat.origin.texts['at']}` does not move with its music: the cut goes through "
            "the bars before it.",
            allowed=f"It becomes {exact(moved(beat.at, cuts))}.",
        )


def _lost(beat: Beat) -> Finding:
    return Finding(
        code="CUT-01",
        grade="warn",
        place=beat.origin.of("at"),
        says=f"The beat at {beat.at} ({beat.what or beat.name or 'no words'}) lies in a stretch "
        "that was cut out.",
        allowed="Move it, or take it out; it was left as it is.",
    )
