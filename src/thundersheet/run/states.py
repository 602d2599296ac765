"""The night's five states, as one pure function: what is, and an event, make what is next.

In: the setup, the night as it is, an event. Out: the night as it then is, and what to do. Time is
in the events. dark: outputs safe, air out. ready: waits for a press. playing. resting: devices on
their way home, air recovers. stopped: a person must look. Only a person's start begins a show.
"""

from __future__ import annotations

from dataclasses import replace

from thundersheet.base.time import ZERO, Span, Time
from thundersheet.run import button as buttons
from thundersheet.run import sensors, turns, watch, wishes
from thundersheet.run.button import Button
from thundersheet.run.events import (
    Air,
    Asked,
    Effect,
    Event,
    MakeSafe,
    Mark,
    OutputFailed,
    Over,
    PlayerLost,
    PowerUp,
    Read,
    Say,
    Shift,
)
from thundersheet.run.now import Now, Step
from thundersheet.run.setup import Setup

MARK_SLACK = Span.ms(250)
MARK_SHARE = 50
"""A mark may be off our clock by MARK_SLACK and one part in MARK_SHARE of the time since the start
(a player at +-1.5 % and then some); what is farther off is a word misheard."""


def step(setup: Setup, now: Now, event: Event) -> Step:
    """What an event makes of the night; one from before the last one counts as just now."""
    if isinstance(event, PowerUp):
        return _power_up(setup, event)
    now = now.but(at=max(event.at, now.at))
    first: tuple[Effect, ...] = ()
    if isinstance(event, Read):
        if event.name in now.buttons:  # what lasted until this report may have been a press
            now, first = _passing(setup, now)
        now = _read(setup, _settled(setup, now), event)
    now, second = _passing(setup, now)
    now, third = _done(setup, now, event)
    now, fourth = _stops(setup, now)
    return now, (*first, *second, *third, *fourth)


def _settled(setup: Setup, now: Now) -> Now:
    readings = sensors.settled(now.readings, setup, now.at)
    return now if readings is now.readings else now.but(readings=readings)


def _power_up(setup: Setup, event: PowerUp) -> Step:
    """Dark, whatever was before: nothing moves by itself, and a held button is no press."""
    now = Now(
        at=event.at,
        shows=event.shows,
        # Whoever presses on through a restart has not started anything: it may have had its show.
        buttons={
            each.name: Button(since=event.at, last=event.at, used=True)
            for each in setup.of_kind("start")
        },
    )
    return now, (MakeSafe("power has come"), Air(False))


def _read(setup: Setup, now: Now, event: Read) -> Now:
    which = setup.inputs.get(event.name)
    if which is None:
        return now
    if which.kind != "start":
        return now.but(readings=sensors.told(now.readings, which, event.value, now.at))
    button = now.buttons.get(which.name, Button(since=now.at))
    # What is no level is no press either: the line is as if it had been let go.
    button = buttons.heard(button, event.value is True, now.at)
    return now.but(buttons={**now.buttons, which.name: button})


def _passing(setup: Setup, now: Now) -> Step:
    """All that time alone brings: presses that have lasted, readings, homes, the show's end."""
    now, effects = _stops(setup, _settled(setup, now))
    pressed: list[str] = []
    for name, before in now.buttons.items():
        after, press = buttons.passed(before, setup.start, now.at)
        if buttons.stuck(after, setup.start, now.at):
            after = replace(after, said=True)
            effects += (Say("warn", f"{name} has been held for long: is it stuck?"),)
        if after is not before:
            now = now.but(buttons={**now.buttons, name: after})
        pressed += [name] if press and not after.used else []
    for stage in (_lost, _over, _homes, *(turns.pressed for _ in pressed), _queued):
        now, more = stage(setup, now)
        effects += more
    return now, effects


def _stops(setup: Setup, now: Now) -> Step:
    why = watch.ends(setup, now)
    return turns.stop(now, why) if why else (now, ())


def _lost(setup: Setup, now: Now) -> Step:
    """The cue track is silent: on by our own clock until the end of this show."""
    if now.state != "playing" or not setup.follows or now.own_clock:
        return now, ()
    if now.at.since(now.heard or now.began) < setup.lost_after:
        return now, ()
    why = "The tones are lost: the show goes on by our own clock."
    return now.but(own_clock=True, fault=why), (Say("warn", why),)


def _over(setup: Setup, now: Now) -> Step:
    if now.state != "playing" or now.at < now.began + turns.length_of(setup, now.variant):
        return now, ()
    resting = turns.to_rest(setup, now).but(rests_until=now.pressed_at + setup.again.since(ZERO))
    return resting, (MakeSafe("the show is over"), Over())


def _homes(setup: Setup, now: Now) -> Step:
    """Devices proved home, or waited for long enough; ready when none is left and it has rested."""
    if now.state != "resting":
        return now, ()
    effects: tuple[Effect, ...] = ()
    proved = {
        each.of[0] for each in setup.of_kind("home") if sensors.value_of(now.readings, each) is True
    }
    late = {name for name, until in now.away.items() if until <= now.at and name not in proved}
    for name in sorted(late):
        if turns.has_switch(setup, name):
            why = f"{name} was not proved home in time: it rests until somebody has looked."
            effects += (Say("fault", why),)
            now = now.but(fault=why, unproved=now.unproved | {name})
    away = {name: until for name, until in now.away.items() if name not in proved | late}
    now = now.but(away=away)
    if away or now.at < now.rests_until:
        return now, effects
    return now.but(state="ready"), effects


def _queued(setup: Setup, now: Now) -> Step:
    if now.state != "ready" or not now.queued:
        return now, ()
    return turns.start(setup, now.but(queued=False))


def _done(setup: Setup, now: Now, event: Event) -> Step:
    """What the event itself asks for; time alone asks for nothing more."""
    if isinstance(event, Asked):
        return wishes.asked(setup, now, event.wish)
    if isinstance(event, Mark):
        return _marked(now, event)
    if isinstance(event, PlayerLost):
        return _player_lost(now)
    if isinstance(event, OutputFailed):
        return _output_failed(setup, now, event.output)
    return now, ()


def _marked(now: Now, event: Mark) -> Step:
    """A mark that can be true moves our clock; any other is a word misheard."""
    if now.state != "playing" or now.own_clock:
        return now, ()
    began = now.at - event.programme.since(ZERO)
    slack = MARK_SLACK + Span(now.at.since(now.pressed_at).ns // MARK_SHARE)
    if abs(began.since(now.pressed_at)) > slack:
        return now, (Say("note", "A mark that cannot be true was passed over."),)
    return now.but(began=began, heard=now.at), (Shift(began),)


def _player_lost(now: Now) -> Step:
    if now.player_lost:
        return now, ()
    why = "The player is lost: shows go on by our own clock."
    return now.but(player_lost=True, own_clock=True, fault=why), (Say("warn", why),)


def _output_failed(setup: Setup, now: Now, output: str) -> Step:
    """What moves and cannot be told anything ends the show; a lamp is done without."""
    line = setup.lines.get(output)
    if line is None or now.state == "stopped":
        return now, ()
    if now.state == "dark":
        # It was not jogged, whatever we sent; with air it would be for the first time.
        why = f"Output `{output}` failed."
        return now.but(jogged=now.jogged - {output}, fault=why), (Say("warn", why),)
    if line.moves:
        return turns.stop(now, f"output `{output}` failed")
    why = f"Output `{output}` failed: the show goes on without {line.device}."
    failed = now.but(failed=now.failed | {line.device}, fault=why)
    return failed, () if line.device in now.failed else (Say("warn", why),)


def wakes(setup: Setup, now: Now) -> Time | None:
    """When something is due though nothing happens; None: never."""
    due = list(sensors.wakes(now.readings, setup))
    due += [at for each in now.buttons.values() if (at := buttons.wakes(each, setup.start))]
    if now.state == "playing":
        due += [now.began + turns.length_of(setup, now.variant)]
        if setup.follows and not now.own_clock:
            due += [(now.heard or now.began) + setup.lost_after]
    if now.state == "resting":
        due += [*now.away.values(), now.rests_until]
    return min((at for at in due if at > now.at), default=None)
