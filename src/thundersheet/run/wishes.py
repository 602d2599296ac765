"""What a person at the controls may ask, each wish one function. Pure.

In: the setup, the night, the wish. Out: the night after it, and what to do; a wish that does not
fit the state is answered with a sentence and changes nothing.
"""

from __future__ import annotations

from thundersheet.run import turns, watch
from thundersheet.run.events import Air, MakeSafe, Say, Wish
from thundersheet.run.now import Now, Step
from thundersheet.run.setup import Setup


def asked(setup: Setup, now: Now, wish: Wish) -> Step:
    """The night after a wish."""
    return _WISHES[wish](setup, now, wish)


def _open(setup: Setup, now: Now, _wish: Wish) -> Step:
    """A person opens: air in, and every device waited for before it is ready."""
    if now.state != "dark":
        return now, (Say("note", f"It is {now.state}; open when it is dark."),)
    if why := next(iter(watch.bad(setup, now, ("stop", "supply", "door"))), ""):
        return now, (Say("note", f"Not opened: {why}."),)
    now = now.but(air=True, unproved=frozenset(), failed=frozenset(), variant="")
    now = now.but(jogged=frozenset(), player_lost=False, rests_until=now.at)
    return turns.to_rest(setup, now), (MakeSafe("opened"), Air(True))


def _close(_setup: Setup, now: Now, _wish: Wish) -> Step:
    if now.state not in ("ready", "resting"):
        return now, (Say("note", f"It is {now.state}; close when it is ready."),)
    return _dark(now), (MakeSafe("closed"), Air(False))


def _dark(now: Now) -> Now:
    """Dark, and nothing taken for known: whoever opens again has every device proved anew."""
    nobody: frozenset[str] = frozenset()
    now = now.but(state="dark", air=False, away={}, queued=False, quiet=False)
    return now.but(unproved=nobody, failed=nobody, jogged=nobody)


def _wish_start(setup: Setup, now: Now, _wish: Wish) -> Step:
    return turns.pressed(setup, now)


def _wish_stop(_setup: Setup, now: Now, _wish: Wish) -> Step:
    return (now, ()) if now.state == "stopped" else turns.stop(now, "stopped at the controls")


def _release(setup: Setup, now: Now, _wish: Wish) -> Step:
    """Stopped becomes dark: nothing moves, and no show starts, until a person opens."""
    if now.state != "stopped":
        return now, ()
    if why := next(iter(watch.bad(setup, now, ("stop", "supply"))), ""):
        return now, (Say("note", f"Not released: {why}."),)
    return _dark(now), (MakeSafe("released"), Air(False))


def _lock(_setup: Setup, now: Now, wish: Wish) -> Step:
    return now.but(locked=wish == "lock", queued=False), ()


def _quiet(setup: Setup, now: Now, wish: Wish) -> Step:
    if wish == "quiet" and not setup.quiet:
        return now, (Say("note", "This book has no quiet show."),)
    return now.but(quiet=wish == "quiet" and now.state != "stopped"), ()


def _practice(_setup: Setup, now: Now, wish: Wish) -> Step:
    if now.state != "dark":
        return now, (Say("note", f"It is {now.state}; choose when it is dark."),)
    assert wish in ("full", "half pressure", "dry run")
    return now.but(practice=wish), ()


def _jog_air(_setup: Setup, now: Now, wish: Wish) -> Step:
    on = wish == "air on"
    if now.state != "dark" or (on and not now.jogged):
        return now, (Say("note", "Air for jogging: in the dark, once jogged without."),)
    return now.but(air=on), (MakeSafe("air is switched"), Air(on))


_WISHES = {
    "open": _open,
    "close": _close,
    "start": _wish_start,
    "stop": _wish_stop,
    "release": _release,
    "lock": _lock,
    "unlock": _lock,
    "quiet": _quiet,
    "as usual": _quiet,
    "full": _practice,
    "half pressure": _practice,
    "dry run": _practice,
    "air on": _jog_air,
    "air off": _jog_air,
}
