"""The night at one instant, as a record: what the states, the watch and the controls share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from thundersheet.base.time import ZERO, Time
from thundersheet.run.button import Button
from thundersheet.run.events import Effect
from thundersheet.run.gate import Practice, State
from thundersheet.run.sensors import Readings


@dataclass(frozen=True, kw_only=True)
class Now:
    """The night at one instant."""

    at: Time = ZERO
    state: State = "dark"
    practice: Practice = "full"
    air: bool = False
    shows: int = 0
    """Shows for guests so far, quiet ones among them."""
    quiet_shows: int = 0
    locked: bool = False
    quiet: bool = False
    """Whether the next show is the quiet one."""
    queued: bool = False
    """Whether a press during the rest waits."""
    variant: str = ""
    pressed_at: Time = ZERO
    """When the last show was started."""
    began: Time = ZERO
    """When its programme began, as the marks say."""
    heard: Time | None = None
    """When the last mark came; None: none did in this show."""
    own_clock: bool = False
    """Whether this show has lost the programme, and goes on by our own clock."""
    player_lost: bool = False
    buttons: Mapping[str, Button] = field(default_factory=dict)
    readings: Readings = field(default_factory=dict)
    away: Mapping[str, Time] = field(default_factory=dict)
    """Devices on their way home, and until when they are waited for."""
    rests_until: Time = ZERO
    unproved: frozenset[str] = frozenset()
    """Devices whose time to be home is over; they rest until a person has opened again."""
    failed: frozenset[str] = frozenset()
    jogged: frozenset[str] = frozenset()
    fault: str = ""
    """The last one, in a sentence."""

    def but(self, **changes: Any) -> Now:
        """The same night with some fields changed.

        As `dataclasses.replace`, which takes ten times as long with so many fields and was most of
        a simulated night.
        """
        if not changes.keys() <= self.__dict__.keys():
            raise TypeError(f"no such fields: {sorted(changes.keys() - self.__dict__.keys())}")
        new = object.__new__(Now)
        new.__dict__.update(self.__dict__)
        new.__dict__.update(changes)
        return new


Step = tuple[Now, tuple[Effect, ...]]
