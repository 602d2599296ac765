"""What the inputs say, once it can be believed: settled, not silent. Pure, of reports and time.

In: readings as they were, a report, the instant. Out: readings as they are. What a door or a
pressure means for the show is decided elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from thundersheet.base.time import Time
from thundersheet.model.night import Input
from thundersheet.run.setup import Setup

Value = bool | float | None


@dataclass(frozen=True, slots=True)
class Reading:
    """One input."""

    value: Value = None
    """What is believed; None: nothing."""
    raw: Value = None
    """What was said last."""
    since: Time | None = None
    """Since when it says so."""
    heard: Time | None = None
    """When anything was said last; None: never."""


Readings = Mapping[str, Reading]


def told(readings: Readings, which: Input, value: Value, at: Time) -> Readings:
    """The readings after one report; a bad stop or supply is believed at once."""
    before = readings.get(which.name, Reading())
    clean = _clean(which, value)
    now = replace(before, raw=clean, heard=at)
    if clean != before.raw or before.since is None:
        now = replace(now, since=at)
    if which.kind == "pressure" or (which.kind in ("stop", "supply") and clean is False):
        now = replace(now, value=clean)
    return {**readings, which.name: now}


def _clean(which: Input, value: Value) -> Value:
    """The value if it can be one of this input, else None."""
    if which.kind != "pressure":
        return value if isinstance(value, bool) else None
    if isinstance(value, bool) or value is None or not math.isfinite(value):
        return None
    return value


def settled(readings: Readings, setup: Setup, at: Time) -> Readings:
    """The readings as time has passed: what has lasted is believed, what is silent is not."""
    changed: dict[str, Reading] = {}
    for name, reading in readings.items():
        which = setup.inputs[name]
        if reading.value is not None and _silent(reading, which, at):
            changed[name] = replace(reading, value=None, raw=None, since=None)
        elif reading.value != reading.raw and _lasted(reading, which, at):
            changed[name] = replace(reading, value=reading.raw)
    return {**readings, **changed} if changed else readings


def _silent(reading: Reading, which: Input, at: Time) -> bool:
    after, heard = which.silent_after, reading.heard
    return after is not None and heard is not None and at.ns - heard.ns > after.ns


def _lasted(reading: Reading, which: Input, at: Time) -> bool:
    return reading.since is not None and at.ns >= reading.since.ns + which.settles.ns


def wakes(readings: Readings, setup: Setup) -> Iterator[Time]:
    """When a reading may change though nothing is heard."""
    for name, reading in readings.items():
        which = setup.inputs[name]
        if reading.since is not None and reading.value != reading.raw:
            yield reading.since + which.settles
        if which.silent_after and reading.heard is not None and reading.value is not None:
            yield Time(reading.heard.ns + which.silent_after.ns + 1)


def value_of(readings: Readings, which: Input) -> Value:
    """What is believed of an input; None: nothing."""
    reading = readings.get(which.name)
    return None if reading is None else reading.value


def tank_pa(readings: Readings, setup: Setup) -> float | None:
    """The lowest gauge pressure of all that are read; None: one is not known, or none is there."""
    found = [value_of(readings, each) for each in setup.of_kind("pressure")]
    known = [each for each in found if isinstance(each, float)]
    return min(known) if known and len(known) == len(found) else None
