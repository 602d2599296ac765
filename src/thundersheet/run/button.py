"""The start button as guests treat it: bounced, hammered, held, stuck. A pure function of edges.

In: the button as it was, its level, the instant. Out: the button as it is, and whether this made a
press that counts. A press counts once it has lasted; it has to be a new one; and a series of
presses, none far from the one before, makes one show at most.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from thundersheet.base.time import Time
from thundersheet.model.night import Start


@dataclass(frozen=True, slots=True)
class Button:
    """What is remembered of the button."""

    down: bool = True
    """The level last heard; down at first, so that one held at power-up is no press."""
    since: Time | None = None
    """Since when; None: since before we looked."""
    pressed: bool = True
    """The level that has lasted long enough to be believed."""
    last: Time | None = None
    """The last time that a press was believed, held on, or let go."""
    used: bool = False
    """Whether this series of presses has had its show."""
    said: bool = False
    """Whether it was reported as stuck."""


def heard(button: Button, down: bool, at: Time) -> Button:
    """The button after its level was heard; the same level again changes nothing."""
    return button if down == button.down else replace(button, down=down, since=at)


def passed(button: Button, start: Start, at: Time) -> tuple[Button, bool]:
    """The button as time has passed, and whether a press was believed just now."""
    if button.since is None or button.down == button.pressed or at < button.since + start.settles:
        if button.pressed and button.down and button.since is not None:
            return replace(button, last=at), False
        return button, False
    if not button.down:
        return replace(button, pressed=False, last=button.since, said=False), False
    new = button.last is None or button.since.since(button.last) >= start.left_alone
    used = button.used and not new
    return replace(button, pressed=True, last=at, used=used), True


def stuck(button: Button, start: Start, at: Time) -> bool:
    """Whether it has been held for so long that it has to be reported, and was not yet."""
    return (
        button.pressed
        and button.down
        and not button.said
        and button.since is not None
        and at.since(button.since) >= start.stuck_after
    )


def wakes(button: Button, start: Start) -> Time | None:
    """When the button has to be looked at again though nothing is heard."""
    if button.since is None:
        return None
    if button.down != button.pressed:
        return button.since + start.settles
    if button.down and not button.said:
        return button.since + start.stuck_after
    return None
