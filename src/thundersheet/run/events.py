"""What the controller is told, and what it answers: plain records, each with its instant.

Instants are on the night's own line: from when the controller was switched on, never a wall clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from thundersheet.base.time import Span, Time

Wish = Literal[
    "open", "close", "start", "stop", "release", "lock", "unlock", "quiet", "as usual",
    "air on", "air off", "full", "half pressure", "dry run",
]  # fmt: skip
"""What a person at the controls may ask."""
Sort = Literal["show", "quiet", "practice"]
"""How a show is counted."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened; by itself: time has passed."""

    at: Time


@dataclass(frozen=True, slots=True)
class PowerUp(Event):
    """The controller starts: for the first time, or after whatever ended it before."""

    shows: int = 0
    """Counted so far, as the journal says."""


@dataclass(frozen=True, slots=True)
class Read(Event):
    """An input as it stands: said at every change, and again and again while nothing changes."""

    name: str
    value: bool | float | None
    """True: pressed (start), or all is well (every other switch); a gauge pressure in Pa; None:
    what came was no value."""


@dataclass(frozen=True, slots=True)
class Asked(Event):
    """A person at the controls asks for something."""

    wish: Wish


@dataclass(frozen=True, slots=True)
class Mark(Event):
    """The cue track says where the programme is."""

    programme: Time


@dataclass(frozen=True, slots=True)
class PlayerLost(Event):
    """What plays the programme does not answer any more."""


@dataclass(frozen=True, slots=True)
class OutputFailed(Event):
    """An output could not be told something."""

    output: str


@dataclass(frozen=True, slots=True)
class Jog(Event):
    """A person holds, or lets go of, the jog button of one output."""

    output: str
    value: float
    held: bool


@dataclass(frozen=True, slots=True)
class Effect:
    """Something to be done."""


@dataclass(frozen=True, slots=True)
class MakeSafe(Effect):
    """Every output to its safe value."""

    why: str


@dataclass(frozen=True, slots=True)
class Air(Effect):
    """Let the air in, or out."""

    on: bool


@dataclass(frozen=True, slots=True)
class Counted(Effect):
    """One more show, of which sort, and how many there are of those that count."""

    sort: Sort
    shows: int


@dataclass(frozen=True, slots=True)
class Begin(Effect):
    """A show starts."""

    variant: str
    at: Time


@dataclass(frozen=True, slots=True)
class Shift(Effect):
    """The programme in fact began at another instant."""

    began: Time


@dataclass(frozen=True, slots=True)
class Over(Effect):
    """The show is over, or was ended."""


@dataclass(frozen=True, slots=True)
class Say(Effect):
    """One sentence for the operator and the journal."""

    grade: Literal["note", "warn", "fault"]
    text: str


@dataclass(frozen=True, slots=True)
class Send(Effect):
    """One output gets a value."""

    output: str
    value: float
    at: Time
    cue: str = ""
    """Whose command it is; empty: made safe, let go, jogged, air."""
    over: Span | None = None
    """The board itself ramps there over this time; None: at once."""
    lets_go: Time | None = None
    """The board lets go by itself then, whether we live or not."""
