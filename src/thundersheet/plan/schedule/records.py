"""The cue track as data: what leaves when, in which symbols, and how well that can be done.

In: nothing. Out: frozen records that the encoder, the proof, the paper and a player read. No sums
are made here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from thundersheet.base.finding import Finding
from thundersheet.base.source import NOWHERE, Place
from thundersheet.base.time import Span, Time
from thundersheet.model.device import Command
from thundersheet.model.show import CueTrack

Kind = Literal["cue", "mark", "fingerprint"]
Group = frozenset[Command]
"""What one tone or word switches: always exactly this set, wherever it is used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Want:
    """A cue that has to leave, and how far from its instant it still may."""

    cue_id: str
    at: Time
    """When the output must switch."""
    early: Span
    """By how much it may switch sooner and still land inside its window; not negative."""
    late: Span
    """By how much later; not negative."""
    commands: tuple[Command, ...]
    place: Place = NOWHERE

    @property
    def group(self) -> Group:
        """The set of output changes."""
        return frozenset(self.commands)


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """One tone or several on a fixed pitch that belong together."""

    id: str
    """`mark 17`, `cue 3`, `fingerprint 0.2` (copy and part): stable, for proof and paper."""
    kind: Kind
    symbols: str
    onset: Time
    """First instant of the first tone's attack."""
    tone_onsets: tuple[Time, ...]
    tone: Span
    """Length of each tone."""
    cues: tuple[str, ...] = ()
    """Direct: the cues that leave by it. Marks: those due from it to the next mark."""
    number: int | None = None
    """Of a mark: which place of the grid."""
    switches_at: Time | None = None
    """Of a cue word: when a simple receiver switches."""

    @property
    def end(self) -> Time:
        """When its last tone ends."""
        return self.tone_onsets[-1] + self.tone


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """When a cue in fact leaves."""

    cue_id: str
    at: Time
    error: Span
    """Leaves late (positive) or early against the instant that was wanted."""
    word: str = ""
    """Id of the word it leaves by; empty in layout `marks`, where it leaves by the clock."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Allotment:
    """What a tone or word stands for in layout `direct`."""

    symbols: str
    commands: tuple[Command, ...]
    uses: int

    @property
    def group(self) -> Group:
        """The set of output changes."""
        return frozenset(self.commands)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Cues that cannot all leave inside their windows; without any one of them the rest can."""

    cues: tuple[str, ...]
    missing: Span | None
    """The least by which every window of these, widened at both ends, would do; None: not even
    a second is known to do."""
    for_symbols: bool = False
    """The cues have room enough in time, but the symbols do not reach."""
    fewest: bool = True
    """Whether no part of these is in conflict: False when that search was cut short."""
    unsure: bool = False
    """The search was cut short before it could tell whether these are in conflict at all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """The whole cue track: every tone with its instant, and the proof that it can't be better."""

    layout: str
    style: CueTrack
    length: Time
    words: tuple[Word, ...]
    """In the order of their onsets; they never overlap."""
    departures: tuple[Departure, ...]
    """One for each want, in the wants' own order; empty where there is a conflict."""
    allotments: tuple[Allotment, ...] = ()
    """Layout `direct`: the receiver's table, singles first."""
    spacing: Span = Span(0)
    """Layout `marks`: from mark to mark."""
    worst_error: Span = Span(0)
    """Largest |error| of the departures."""
    bound: Span = Span(0)
    """No schedule at all has a smaller worst error than this."""
    proven: bool = True
    """`worst_error` equals `bound`; with conflicts: that they are conflicts is proven."""
    fingerprint: int = 0
    """The 32 bits carried."""
    copies: int = 0
    """How many whole fingerprints are carried."""
    conflicts: tuple[Conflict, ...] = ()
    findings: tuple[Finding, ...] = ()

    def word(self, word_id: str) -> Word:
        """The word of this id (KeyError when there is none)."""
        for word in self.words:
            if word.id == word_id:
                return word
        raise KeyError(word_id)
