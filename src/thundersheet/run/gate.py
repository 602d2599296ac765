"""The gate: may this output be told this, now? A pure function, asked before every command.

In: the setup, how things stand, what is asked, the instant. Out: allow, hold until an instant, or
refuse, with the reason in plain words. The order of the questions is the order of importance. It
stands in for no hardware stop: it only keeps our own commands back.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from thundersheet.base.time import Span, Time
from thundersheet.model.device import Move
from thundersheet.plan.timeline import same
from thundersheet.run.setup import Holds, Kept, Line, Setup

State = Literal["dark", "ready", "playing", "resting", "stopped"]
STATES: tuple[State, ...] = ("dark", "ready", "playing", "resting", "stopped")
Practice = Literal["full", "half pressure", "dry run"]
PRACTICES: tuple[Practice, ...] = ("full", "half pressure", "dry run")
By = Literal["plan", "jog", "air", "safe"]
Verdict = Literal["allow", "hold", "refuse"]


@dataclass(frozen=True, slots=True)
class Wire:
    """How one output stands."""

    value: float
    on_since: Time | None = None
    """When it left its safe value; None: it has it."""
    off_since: Time | None = None
    """When it came back to it; None: it was never away."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where one device was told to go."""

    move: Move | None
    """None: home, by its safe values."""
    before: Move | None
    """Where it came from."""
    rests: Time
    """When it is there and at rest; until then it counts as in both."""
    passes: bool = False
    """What it was told ends by itself: from `rests` on it is in no state that a rule names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """How things stand, as far as the gate cares."""

    state: State = "dark"
    practice: Practice = "full"
    air: bool = False
    tank_pa: float | None = None
    """Gauge pressure; None: not known."""
    barred: Mapping[str, str] = field(default_factory=dict)
    """Devices that rest for now, and why."""
    wires: Mapping[str, Wire] = field(default_factory=dict)
    """Only those that were ever told something."""
    places: Mapping[str, Place] = field(default_factory=dict)
    unknown: frozenset[str] = frozenset()
    """Devices that may stand anywhere: they were not proved home."""
    jogging: str = ""
    """The output that is being jogged; empty: none."""
    jogged: frozenset[str] = frozenset()
    """Outputs jogged without air since the night was last dark."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One output is to get a value."""

    output: str
    value: float
    by: By = "plan"
    move: Move | None = None
    """The move that it is part of, for the rules of the book."""
    starts: Span = Span(0)
    """From the command until the motion begins, which is what the rules are about."""
    hold: Span | None = None
    """It is let go after this time anyway."""
    held: bool = False
    """For `jog`: whether a person holds the button just now."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What the gate says."""

    verdict: Verdict
    why: str = ""
    until: Time | None = None
    """For `hold`: when it is worth asking again."""
    lets_go: Time | None = None
    """For `allow`: when the output has to have its safe value again; None: no limit."""


ALLOW = Answer("allow")
_Question = Callable[[Setup, Stand, Ask, Line, Time], "Answer | None"]


def gate(setup: Setup, stand: Stand, ask: Ask, now: Time) -> Answer:
    """Whether an output may be told something at an instant."""
    line = setup.lines.get(ask.output)
    if line is None:
        return _no(f"there is no output `{ask.output}` in this show")
    if not math.isfinite(ask.value):
        return _no(f"{ask.value} is no value for `{ask.output}`")
    held: list[Answer] = []
    for question in _QUESTIONS[ask.by]:
        answer = question(setup, stand, ask, line, now)
        if answer is not None and answer.verdict != "hold":
            return answer
        held += [answer] if answer is not None else []
    if held:  # the longest; a refusal, wherever it comes from, would have gone before it
        return max(held, key=lambda each: each.until or now)
    return Answer("allow", lets_go=_lets_go(stand, ask, line, now))


def _no(why: str) -> Answer:
    return Answer("refuse", why)


def _safe(_setup: Setup, _stand: Stand, ask: Ask, line: Line, _now: Time) -> Answer | None:
    """Making safe is always allowed, and only to the safe value."""
    if ask.value == line.safe:
        return ALLOW
    return _no(f"{ask.value:g} is not the safe value of `{line.name}`")


def _has_device(_setup: Setup, _stand: Stand, ask: Ask, line: Line, _now: Time) -> Answer | None:
    if not line.device:
        return _no(f"`{line.name}` lets the air in, which no {ask.by} does")
    return None


def _plays(_setup: Setup, stand: Stand, _ask: Ask, _line: Line, _now: Time) -> Answer | None:
    return None if stand.state == "playing" else _no(f"no show plays: it is {stand.state}")


def _not_barred(_setup: Setup, stand: Stand, ask: Ask, line: Line, _now: Time) -> Answer | None:
    why = stand.barred.get(line.device)
    return None if why is None or ask.value == line.safe else _no(f"{line.device} rests: {why}")


def _practised(setup: Setup, stand: Stand, ask: Ask, line: Line, _now: Time) -> Answer | None:
    """In a dry run nothing moves; at half pressure it does so only when that is known."""
    if stand.practice == "full" or not line.moves or ask.value == line.safe:
        return None
    if stand.practice == "dry run":
        return _no(f"{line.device} moves, and this is a dry run")
    if setup.half_pa is None:
        return _no("the book does not say what half pressure is")
    if stand.tank_pa is None:
        return _no("the pressure is not known, and this is a run at half pressure")
    if stand.tank_pa > setup.half_pa:
        return _no("the pressure is above half")
    return None


def _ruled(setup: Setup, stand: Stand, ask: Ask, _line: Line, now: Time) -> Answer | None:
    """The worst that any rule of the book says."""
    if ask.move is None:
        return None
    said = list(_by_rules(setup, stand, ask.move, now + ask.starts))
    if refused := next((each for each in said if each.verdict == "refuse"), None):
        return refused
    worst = max(said, key=lambda each: each.until or now, default=None)
    if worst is None or worst.until is None:
        return None
    return replace(worst, until=max(worst.until - ask.starts, now))


def _by_rules(setup: Setup, stand: Stand, move: Move, at: Time) -> Iterator[Answer]:
    for rule in setup.rules:
        if rule.then is not None and same(rule.then, move):
            yield from _first(rule, stand, at)
        if any(same(state.move, move) for state in rule.never):
            for other in rule.never:
                if other.move.device != move.device:
                    yield from _apart(rule, other, stand, at)


def _first(rule: Kept, stand: Stand, at: Time) -> Iterator[Answer]:
    assert rule.first is not None  # the reader gives `first` and `then` together
    place = stand.places.get(rule.first.move.device)
    what = f"{rule.first.move} comes first, and"
    if rule.first.move.device in stand.unknown:
        yield _no(_because(f"{rule.first.move} comes first, and may not hold", rule))
    elif place is None:
        if not rule.first.at_home:
            yield _no(_because(f"{what} has not happened", rule))
    elif not rule.first.by(place.move) or (place.passes and place.rests <= at):
        yield _no(_because(f"{what} does not hold", rule))
    elif (done := place.rests + rule.apart) > at:
        yield Answer("hold", _because(f"{what} is under way", rule), done)


def _apart(rule: Kept, other: Holds, stand: Stand, at: Time) -> Iterator[Answer]:
    place = stand.places.get(other.move.device)
    now_in, was_in = other.by(place.move if place else None), place and other.by(place.before)
    moving = place is not None and place.rests > at
    if other.move.device in stand.unknown:
        yield _no(_because(f"never together with {other.move}, which may hold", rule))
    elif now_in and not (place and place.passes):
        yield _no(_because(f"never together with {other.move}, which holds", rule))
    elif place and moving and (now_in or was_in):
        why = f"never together with {other.move}, which is not over"
        yield Answer("hold", _because(why, rule), place.rests)


def _because(why: str, rule: Kept) -> str:
    return f"{why} ({rule.because.rstrip('.')})" if rule.because else why


def _rested(_setup: Setup, stand: Stand, ask: Ask, line: Line, now: Time) -> Answer | None:
    """Off long enough before it is on again, and no longer on than it may be."""
    wire = stand.wires.get(line.name)
    if wire is None or ask.value == line.safe:
        return None
    if wire.on_since is not None and line.most_on and wire.on_since + line.most_on <= now:
        return _no(f"`{line.name}` has been on for {line.most_on}, the most it may")
    if wire.on_since is None and wire.off_since is not None and line.least_off:
        until = wire.off_since + line.least_off
        if until > now:
            return Answer("hold", f"`{line.name}` has to stay off for {line.least_off}", until)
    return None


def _by_hand(_setup: Setup, stand: Stand, ask: Ask, line: Line, _now: Time) -> Answer | None:
    """Jog: in the dark, held, one at a time, and without air before it is done with air."""
    if ask.value == line.safe:
        return ALLOW
    if stand.state != "dark":
        return _no(f"jog is for the dark: it is {stand.state}")
    if not ask.held:
        return _no("jog goes only as long as the button is held")
    if stand.jogging not in ("", line.name):
        return _no(f"one at a time: `{stand.jogging}` is being jogged")
    if stand.air and line.name not in stand.jogged:
        return _no(f"air off first: `{line.name}` has not been jogged without air")
    return None


def _lets_in(_setup: Setup, stand: Stand, ask: Ask, line: Line, _now: Time) -> Answer | None:
    if line.device:
        return _no(f"`{line.name}` does not let the air in")
    if ask.value == line.safe or stand.state in ("ready", "playing", "resting"):
        return ALLOW
    if stand.state == "dark" and stand.jogged and not stand.jogging:
        return ALLOW  # for jogging with air what was jogged without
    return _no(f"no air while it is {stand.state}")


_QUESTIONS: dict[By, tuple[_Question, ...]] = {
    "safe": (_safe,),
    "air": (_lets_in,),
    "jog": (_has_device, _by_hand, _not_barred, _practised, _rested),
    "plan": (_has_device, _plays, _not_barred, _practised, _ruled, _rested),
}


def _lets_go(stand: Stand, ask: Ask, line: Line, now: Time) -> Time | None:
    """When the output is let go: by the command, or at the latest by its limit."""
    if ask.value == line.safe:
        return None
    wire = stand.wires.get(line.name)
    since = wire.on_since if wire and wire.on_since is not None else now
    ends = [now + ask.hold] if ask.hold is not None else []
    ends += [since + line.most_on] if line.most_on is not None else []
    return min(ends, default=None)
