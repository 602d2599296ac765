"""The plan as data: frozen, versioned, complete. A player, a proof, a page need nothing else."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.finding import Finding
from thundersheet.base.source import NOWHERE, Place
from thundersheet.base.time import Span, Time
from thundersheet.base.units import UnitStyle
from thundersheet.model.device import Command, Landing, Lead, Move
from thundersheet.model.show import CueTrack, Window
from thundersheet.plan.schedule import Schedule

PLAN_VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A beat's landing as an instant: when one move of it has to be seen, heard or felt."""

    id: str
    """The cue's id, made of names: joins proof, rehearsal, journal, paper and page."""
    beat: str
    """The beat's id: its name, or its first cue's id."""
    beat_at: Time
    """When, on the programme's line."""
    land_at: Time
    """The same plus the lag of the screen that it meets."""
    move: Move
    land: Landing
    window: Window
    what: str
    """What guests see, hear or feel; may be empty."""
    says: str
    """The move as the book says it: `glass to 27 over 4 s`."""
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningError:
    """Between which errors one cue lands over a whole evening, and in which air."""

    early: Span
    """The earliest landing against the beat; negative is early."""
    late: Span
    """The latest one."""
    usual: Span
    """The landing with a full tank and nothing but the book's ambient."""
    early_in: str
    """The state of the air in which it is earliest: `full tank, 15 C`."""
    late_in: str
    never_in: str = ""
    """The lowest state in which it never lands; empty: it always does."""
    never: str = ""
    """Why it does not, there."""
    stands: tuple[float, float] | None = None
    """Between which shares of its way a move stops that is stopped by time alone; None: it is
    not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """A command with its instant, its lead, and where it is expected to land."""

    target: Target
    at: Time
    """When the output must switch."""
    lead: Lead
    commands: tuple[Command, ...]
    expected_error: Span = Span(0)
    """By how much the landing is expected to miss its beat (late is positive): the cue track's
    share, when cues cannot all leave just when they should."""
    evening: EveningError | None = None
    """What the evening adds to that, at most; None where its air never changes."""

    @property
    def id(self) -> str:
        """The cue's id."""
        return self.target.id

    @property
    def leaves_at(self) -> Time:
        """When the cue in fact leaves, the cue track's share included."""
        return self.at + self.expected_error


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningPlan:
    """The evening that the leads serve, and how well they do."""

    shows: int
    every: Span
    """From one start to the next."""
    coldest_k: float
    warmest_k: float
    worst_cue: str
    """The cue that uses most of its window at worst; empty: none moves by air."""
    worst_early: Span
    """Its earliest and latest landing over the evening, the cue track's share included."""
    worst_late: Span
    air_l: float
    """What one show takes, ANR litres."""
    tank_low_pa: float | None
    """The lowest gauge pressure at the tank; None: the book says of no tank."""
    weak_show: int | None
    """The first show in which a device has less than its regulator's pressure; None: no such."""
    ran: float | None
    """Share of the evening that the compressor runs, at most; None: there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One variant of one show, ready to be written, proved, rehearsed, printed and run."""

    version: int = PLAN_VERSION
    show: str
    variant: str
    """Empty for the show as written."""
    length: Time
    fingerprint: str
    """Hex digits over all that a player acts on; the cue track carries it."""
    cues: tuple[Cue, ...]
    """In the order in which they leave."""
    style: CueTrack
    schedule: Schedule
    findings: tuple[Finding, ...]
    units: UnitStyle
    """The builder's own units, for saying things back."""
    evening: EveningPlan | None = None
    """None: the book declares none."""
