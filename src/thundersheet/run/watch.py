"""What stands against a start, ends a show, or lets single devices rest: sensors in plain words.

In: the setup and the night as it is. Out: reasons, as sentences without a full stop. Nothing is
done here. The stop is hardware: it has acted before we read it.
"""

from __future__ import annotations

from collections.abc import Iterator

from thundersheet.run.now import Now
from thundersheet.run.sensors import tank_pa, value_of
from thundersheet.run.setup import Setup

BAD = {
    "stop": ("the stop is pressed", "the stop cannot be read"),
    "supply": ("the outputs' supply is down", "the outputs' supply cannot be read"),
    "door": ("is open", "cannot be read"),
}
"""What a switch says when it is not well: known to be so, and not known."""


def ends(setup: Setup, now: Now) -> str:
    """Why it has to be stopped now; empty: nothing."""
    if now.state == "stopped":
        return ""
    if now.state == "dark":  # what cannot be read yet is no news while nothing is open
        pressed = any(value_of(now.readings, each) is False for each in setup.of_kind("stop"))
        return BAD["stop"][0] if pressed else ""
    kinds = ("stop", "supply", "door") if _moving(now) else ("stop", "supply")
    return next(bad(setup, now, kinds), "")


def _moving(now: Now) -> bool:
    return now.state == "playing" or (now.state == "resting" and bool(now.away))


def bad(setup: Setup, now: Now, kinds: tuple[str, ...]) -> Iterator[str]:
    """What is not well, or not known to be, among the switches of some kinds."""
    for kind in kinds:
        for each in setup.of_kind(kind):
            value = value_of(now.readings, each)
            if value is not True:
                words = BAD[kind][value is None]
                yield f"{each.name} {words}" if kind == "door" else words


def against_start(setup: Setup, now: Now) -> str:
    """The first thing that stands against a start; empty: nothing."""
    if now.locked:
        return "it is locked at the controls"
    if why := next(bad(setup, now, ("stop", "supply", "door")), ""):
        return why
    for beam in setup.of_kind("beam"):
        if value_of(now.readings, beam) is False:
            return f"{beam.name} is broken: somebody stands too near"
    return _against_air(setup, now)


def _against_air(setup: Setup, now: Now) -> str:
    least = max((each.least_pa or 0.0 for each in setup.of_kind("pressure")), default=0.0)
    tank = tank_pa(now.readings, setup)
    if not least:
        return ""
    if tank is None:
        return "" if setup.rungs else "the pressure cannot be read"
    return "" if tank >= least else "the air is too low"


def rung(setup: Setup, now: Now) -> tuple[str, str]:
    """The lesser version that a show has to start with, and why; both empty: as written."""
    if not setup.rungs or not setup.of_kind("pressure"):
        return "", ""
    tank = tank_pa(now.readings, setup)
    if tank is None:
        return setup.rungs[-1][0], "the pressure cannot be read"
    holds = [name for name, below in setup.rungs if tank < below]
    return (holds[-1], "the air is low") if holds else ("", "")


def barred(setup: Setup, now: Now) -> dict[str, str]:
    """The devices that rest for now, each with the reason."""
    found = dict.fromkeys(now.unproved, "it was not proved home")
    found |= dict.fromkeys(now.failed, "its output failed")
    for beam in setup.of_kind("beam"):
        value = value_of(now.readings, beam)
        if value is not True:
            why = f"{beam.name} is broken" if value is False else f"{beam.name} cannot be read"
            found |= dict.fromkeys(setup.guarded(beam), why)
    return found
