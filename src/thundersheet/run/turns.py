"""The turns from one state to the next that more than one thing brings about: start, stop, rest.

In: the setup and the night. Out: the night after the turn, and what to do. Pure.
"""

from __future__ import annotations

from dataclasses import replace

from thundersheet.base.time import ZERO, Span
from thundersheet.run import watch
from thundersheet.run.events import Air, Begin, Counted, Effect, MakeSafe, Over, Say, Sort
from thundersheet.run.now import Now, Step
from thundersheet.run.setup import Setup


def length_of(setup: Setup, variant: str) -> Span:
    """How long a show plays: its programme, or longer where a cue leaves after it."""
    plan = setup.plans[variant]
    return max([plan.length, *(cue.leaves_at for cue in plan.cues[-1:])]).since(ZERO)


def stop(now: Now, why: str) -> Step:
    """All safe, air out, and a person has to look."""
    playing = (Over(),) if now.state == "playing" else ()
    stopped = now.but(state="stopped", air=False, queued=False, away={}, fault=why)
    stopped = stopped.but(quiet=False, practice="full", jogged=frozenset())
    says = Say("fault", f"Stopped: {why}. Look, then release.")
    return stopped, (MakeSafe(why), Air(False), *playing, says)


def to_rest(setup: Setup, now: Now) -> Now:
    """Resting, with every device waited for that has a home switch, or moved and has none."""
    away = {each.of[0]: now.at + each.within for each in setup.of_kind("home")}
    plan = setup.plans[now.variant]
    for cue in plan.cues:
        device = cue.target.move.device
        if device in setup.movers and not has_switch(setup, device):
            away[device] = max(away.get(device, now.at), now.at + cue.lead.rest)
    return now.but(state="resting", away=away)


def has_switch(setup: Setup, device: str) -> bool:
    """Whether a home switch proves a device."""
    return any(each.of == (device,) for each in setup.of_kind("home"))


def pressed(setup: Setup, now: Now) -> Step:
    """One press that counts, by a guest or at the controls."""
    if now.state == "ready":
        return start(setup, now)
    if now.state == "resting" and setup.start.at_rest == "queue" and not now.queued:
        return now.but(queued=True), (Say("note", "One press waits for the end of the rest."),)
    return now, ()


def start(setup: Setup, now: Now) -> Step:
    """A show, unless something stands against it; which version is chosen here and only here."""
    if why := watch.against_start(setup, now):
        return now, (Say("note", f"No start: {why}."),)
    quiet = now.quiet and bool(setup.quiet)
    variant, because = watch.rung(setup, now)
    said: tuple[Effect, ...] = ()
    if because and quiet:
        said = (Say("warn", f"The quiet show plays, although {because}."),)
    elif because:
        said = (Say("warn", f"The lesser show `{variant}` plays: {because}."),)
    variant = setup.quiet if quiet else variant
    guests = now.practice == "full"
    now = now.but(
        state="playing",
        variant=variant,
        quiet=False,
        queued=False,
        pressed_at=now.at,
        began=now.at,
        heard=None,
        own_clock=now.player_lost or not setup.follows,
        shows=now.shows + guests,
        quiet_shows=now.quiet_shows + (quiet and guests),
        buttons={name: replace(each, used=True) for name, each in now.buttons.items()},
    )
    sort: Sort = "practice" if not guests else "quiet" if quiet else "show"
    return now, (*said, Counted(sort, now.shows), Begin(variant, now.at))
