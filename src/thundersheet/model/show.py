"""The show as the book tells it: its length, its beats, what they must meet, its variants."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import (
    Record,
    choice,
    flag,
    number,
    pairs,
    quantity,
    record,
    records,
    span,
    text,
    texts,
    time,
    whole,
    window,
)
from thundersheet.base.time import Span, Time
from thundersheet.model.device import LANDINGS, Move


@dataclass(frozen=True, slots=True)
class Window:
    """How early and how late a landing may be, relative to its beat; early is negative."""

    early: Span
    late: Span
    name: str = ""
    """The class it came from: `tight`, `hit`, `soft`, `loose`; empty for numbers."""

    def holds(self, error: Span) -> bool:
        """Whether a landing error lies inside, ends included."""
        return self.early <= error <= self.late

    def __str__(self) -> str:
        return f"{self.early.in_ms:g}..{self.late.in_ms:+g} ms"


# A landing early of its sound is sound late, which people forgive (noticed from 125 ms); a landing
# late is sound early (noticed from 45 ms): ITU-R BT.1359-1. Hence the lopsided `hit`. `tight` is
# for struck music: order of two sounds is heard from about 20 ms (common practice, no source).
WINDOWS = {
    "tight": Window(Span.ms(-15), Span.ms(15), "tight"),
    "hit": Window(Span.ms(-80), Span.ms(40), "hit"),
    "soft": Window(Span.ms(-100), Span.ms(100), "soft"),
    "loose": Window(Span.ms(-300), Span.ms(300), "loose"),
}


@dataclass(frozen=True, kw_only=True)
class Tempo(Record):
    """From one instant on, how fast the music counts; bars are numbered from the first one."""

    at: Time = time("Where its first count falls.", example="0:24.000")
    per_minute: float = number("Counts a minute.", low=1.0, high=1000.0, example="96")
    counts: int = whole("Counts to a bar.", default=4, low=1, high=64, example="3")
    bar: int | None = whole(
        "Number of the bar that starts here; left out: it follows on from the tempo before, 1 for "
        "the first.",
        default=None,
        low=0,
    )


@dataclass(frozen=True, kw_only=True)
class CueTrack(Record):
    """How the plan is carried in the programme's sound."""

    layout: str = choice(
        "`marks`: numbered words tell a controller the time. `direct`: each tone is a group of "
        "cues for a simple receiver.",
        ("marks", "direct"),
        default="marks",
    )
    channel: str = choice(
        "Which side of the sound the tones are on, or `own` for an audio track of their own.",
        ("left", "right", "own"),
        default="right",
    )
    tone: Span = span("Length of a tone.", default=Span.ms(50), low=0.012, high=1.0)
    gap: Span = span("Silence after a tone.", default=Span.ms(50), low=0.008, high=1.0)
    ramp: Span = span("Rise and fall of a tone.", default=Span.ms(2), low=0.0, high=0.02)
    level_db: float = quantity(
        "level",
        "Level of a tone: both frequencies together, RMS, against a full-scale sine.",
        default=-12.0,
        low=-40.0,
        high=-3.1,
        example="-12 dB",
    )
    listening: Span = span(
        "From the start of a tone until a simple receiver switches (layout `direct`).",
        default=Span.ms(48),
        low=0.0,
        high=1.0,
    )
    every: Span | None = span(
        "Time between marks (layout `marks`); left out: as often as a late joiner needs.",
        default=None,
        low=0.2,
        high=60.0,
    )


@dataclass(frozen=True, kw_only=True)
class Show(Record):
    """The programme and what runs beside it."""

    name: str = text("What the show is called on paper and page.")
    programme: str = text(
        "The media file with the sound and picture that guests get, seen from the book's folder.",
        default="",
        example="media/gale.mp4",
    )
    length: Time = time("How long the programme lasts.", example="1:24")
    rest: Span = span(
        "After the end, before the start button works again.", default=Span.seconds(0), low=0.0
    )
    frame_rate: float | None = number(
        "Frames a second, for beats given as `frame 312`.",
        default=None,
        low=1.0,
        high=1000.0,
        example="25",
    )
    tempo: tuple[Tempo, ...] = records(Tempo, "The music's counts, for `bar 5 count 2`.")
    meets: str = text(
        "What beats are timed to unless they say otherwise: `sound`, or the name of a screen, "
        "whose lag then shifts everything.",
        default="sound",
        names="sound or screen",
        example="sea-window",
    )
    sound_delay: Span = span(
        "By how much the sound is held back on its way to the speakers, so that it meets a slow "
        "screen; beats timed to `sound` land so much later.",
        default=Span.ms(0),
        low=0.0,
        high=2.0,
        example="45 ms",
    )
    cue_track: CueTrack = record(CueTrack, "How the plan is carried.", default=CueTrack())


@dataclass(frozen=True, kw_only=True)
class Guests(Record):
    """Who comes, how many, and when the next may start."""

    per_show: int = whole("Guests in one show.", default=1, low=1, high=10_000)
    shows_per_hour: float | None = number(
        "Shows an hour at the busiest.", default=None, low=0.1, high=3600.0
    )
    start: str = text("What starts a show.", default="", example="fog-bell cord")
    again: Time | None = time(
        "When the start may be given again, from the start of a show; left out: at its end plus "
        "`rest`.",
        default=None,
        example="1:30",
    )


@dataclass(frozen=True, kw_only=True)
class Beat(Record):
    """A moment of the programme at which something must be seen, heard or felt."""

    at: Time = time("When.", example="0:41.500")
    what: str = text("What guests see, hear or feel.", default="", example="shutter slams open")
    do: tuple[str, ...] = texts(
        "What does it: a device and one of its actions.", example="shutter open"
    )
    land: str | None = choice(
        "Which point of the action meets the beat; left out: what suits the action.",
        LANDINGS,
        default=None,
    )
    window: Window = window(
        "How early and late it may land: `tight`, `hit`, `soft`, `loose`, or `-20..+40 ms`.",
        default=WINDOWS["hit"],
        example="-20..+40 ms",
    )
    meets: str | None = text(
        "`sound` or a screen's name; left out: as the show says.",
        default=None,
        names="sound or screen",
    )
    times: int = whole("How often, one after another.", default=1, low=1, high=10_000)
    every: Span | None = span("Time between repeats.", default=None, low=0.001)
    name: str = text("A name of its own, to be called by elsewhere.", default="")
    only: tuple[str, ...] = texts("Variants in which alone it plays.", names="variant")
    without: tuple[str, ...] = texts("Variants that leave it out.", names="variant")
    may_drop: bool = flag(
        "Whether the show may do without it when the air is low: variants with `tank below` leave "
        "it out.",
        default=False,
    )
    moves: tuple[Move, ...] = ()
    """`do`, understood: filled in by the reader."""


@dataclass(frozen=True, kw_only=True)
class Variant(Record):
    """Another version of the same show: quiet, captioned, air low."""

    name: str = ""
    why: str = text("For whom or when.", default="", example="young or frightened guests")
    leave_out: tuple[str, ...] = texts(
        "Devices, or a device and its action, or beats by name, that do not take part.",
        example="[shutter, lightning flash]",
    )
    instead: tuple[tuple[str, str], ...] = pairs(
        "A device and action, and what plays in its place.",
        default=(),
        example="{lightning flash: lightning glow}",
    )
    louder: float = quantity(
        "level", "Change of the programme's sound.", default=0.0, low=-60.0, high=0.0,
        example="-10 dB",
    )  # fmt: skip
    tank_below_pa: float | None = quantity(
        "pressure", "It plays by itself when the tank stands below this gauge pressure at a start; "
        "of several, the lowest that holds.", default=None, low=0.0, high=3_000_000.0,
        example="4 bar", key="tank below",
    )  # fmt: skip
    without_devices: tuple[str, ...] = ()
    """`leave out`, understood: devices that take no part. Filled in by the reader."""
    without_moves: tuple[Move, ...] = ()
    """`leave out`, understood: single actions; `to`, `over` and `hold` are None."""
    without_beats: tuple[str, ...] = ()
    """`leave out`, understood: beats by their names."""
    swaps: tuple[tuple[Move, Move], ...] = ()
    """`instead`, understood: an action as the beats have it, and what plays in its place."""
