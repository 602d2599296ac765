"""How a rehearsal moves a device: states and closed forms, apart from the courses of the leads.

In: a state, what the wires do, a time. Out: the state after it, exact for any time. Nothing here
knows a move, a beat or a plan.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, sqrt

from thundersheet.devices._course import SETTLES
from thundersheet.model.device import Wire

NEAR = 1e-3
"""A value nearer to where it is told to go than this has nothing to do."""
MOVED = 1e-6
"""A value that has changed by more than this has started."""
ARRIVED = exp(-SETTLES)
"""What a lag still owes when it is called there: 5 % of a step, after three time constants."""
LEAST = 0.5
"""What gets to less than this share of what its beat asks for has not done it."""
TOUCH = 1e-9
"""A share nearer to an end than this is at it."""


@dataclass(frozen=True, slots=True)
class Lag:
    """A value that follows its wire with a first-order lag."""

    value: float = 0.0
    told: float = 0.0
    """What the wire says by now."""
    owed: float = 0.0
    """How far it was behind when the wire had come to where it stands."""
    lit_s: float = 0.0
    """How long the wire has been on, for a rhythm of its own."""
    volts: float = 1.0


def lagged(state: Lag, wire: Wire, gain: float, tau_s: float, volts: float, dt_s: float) -> Lag:
    """First-order lag, v' = (gain u - v) / tau with u a straight line: textbook closed form."""
    value = _first_order(state.value, gain * wire.value, gain * wire.slope, tau_s, dt_s)
    then = wire.after(dt_s)
    if wire.left_s > 0.0:
        owed = abs(gain * wire.goal - value)
    elif state.told != wire.goal:
        owed = abs(gain * wire.goal - state.value)
    else:
        owed = state.owed
    on = then.value > 0.0 or then.goal > 0.0
    return Lag(value, then.value, owed, state.lit_s + dt_s if on else 0.0, volts)


def _first_order(value: float, wanted: float, slope: float, tau_s: float, dt_s: float) -> float:
    if dt_s <= 0.0:
        return value
    if tau_s < 1e-9:
        return wanted + slope * dt_s
    behind = value - wanted + slope * tau_s
    return wanted + slope * (dt_s - tau_s) + behind * exp(-dt_s / tau_s)


def lag_is_there(first: Lag, now: Lag, aim: float, gain: float) -> bool:
    """Whether a lag has come to an aim: its wire stands there, and little is owed.

    ``gain``: what its voltage lets it get to, as a share of that.
    """
    if abs(aim - first.value) <= NEAR:
        return True
    behind = abs(gain * aim - now.value)
    return abs(now.told - aim) <= TOUCH and behind <= ARRIVED * now.owed + TOUCH


def way_done(first: float, now: float, aim: float) -> float:
    """The share of a way that is done; 1 where there is none."""
    return 1.0 if abs(aim - first) <= NEAR else (now - first) / (aim - first)


def toward(value: float, goal: float, by: float) -> float:
    """A value moved towards a goal by so much, and no farther."""
    if abs(goal - value) <= by:
        return goal
    return value + by if goal > value else value - by


@dataclass(frozen=True, slots=True)
class Leg:
    """A stretch of a motion with one acceleration."""

    lasts_s: float
    speed: float
    """At its beginning."""
    gains: float = 0.0
    """Acceleration."""

    def gone(self, t: float) -> float:
        """How far it has come after so long."""
        return self.speed * t + 0.5 * self.gains * t * t

    def rest(self, t: float) -> Leg:
        """What is left of it after so long."""
        return Leg(self.lasts_s - t, self.speed + self.gains * t, self.gains)


def walk(place: float, legs: tuple[Leg, ...], dt_s: float) -> tuple[float, tuple[Leg, ...]]:
    """The place after so long, and the legs that are left."""
    for index, leg in enumerate(legs):
        if dt_s < leg.lasts_s:
            return place + leg.gone(dt_s), (leg.rest(dt_s), *legs[index + 1 :])
        place += leg.gone(leg.lasts_s)
        dt_s -= leg.lasts_s
    return place, ()


def speed_of(legs: tuple[Leg, ...]) -> float:
    """How fast it goes just now."""
    return legs[0].speed if legs else 0.0


def legs_to(
    way: float, speed: float, *, most: float, gains: float | None, takes_s: float
) -> tuple[Leg, ...]:
    """Legs over a way from a speed to rest, in a given time or as soon as it can.

    ``gains`` None: its speed changes at once. Otherwise it brakes first if it moves, then goes up
    to a speed, on, and down (the usual trapezoid); the speed for a given time by halving.
    """
    if gains is None:
        lasts = max(abs(way) / most, takes_s)
        return (Leg(lasts, way / lasts),) if lasts > 0.0 else ()
    brake: tuple[Leg, ...] = ()
    if speed:
        brake = (Leg(abs(speed) / gains, speed, -gains if speed > 0.0 else gains),)
        way -= brake[0].gone(brake[0].lasts_s)
        takes_s -= brake[0].lasts_s
    if not way:
        return brake
    cruise = _cruise(abs(way), min(most, sqrt(abs(way) * gains)), gains, takes_s)
    sign = 1.0 if way > 0.0 else -1.0
    ramp_s = cruise / gains
    flat_s = max(abs(way) / cruise - ramp_s, 0.0)
    return (
        *brake,
        Leg(ramp_s, 0.0, sign * gains),
        Leg(flat_s, sign * cruise),
        Leg(ramp_s, sign * cruise, -sign * gains),
    )


def _cruise(way: float, most: float, gains: float, takes_s: float) -> float:
    """The greatest speed that makes a way last as long as it should; `most` where it can't."""

    def lasts(speed: float) -> float:
        return way / speed + speed / gains

    if lasts(most) >= takes_s:
        return most
    low, high = way / takes_s * 0.5, most
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if lasts(middle) > takes_s else (low, middle)
    return high


@dataclass(frozen=True, slots=True)
class Placing:
    """A thing that is told a place and goes there."""

    place: float
    told: float
    waits_s: float = 0.0
    """Until it answers what it was told last."""
    over_s: float = 0.0
    """How long the board gives it for that."""
    waiting: bool = False
    legs: tuple[Leg, ...] = ()
    hurry: float = 1.0
    """Share of its greatest speed that its way needs: below it, a low voltage costs nothing."""
    volts: float = 1.0


def told(state: Placing, wire: Wire, answers_s: float) -> Placing:
    """The same, told what its wire says, if that is news."""
    if wire.goal == state.told:
        return state
    return replace(state, told=wire.goal, waiting=True, waits_s=answers_s, over_s=wire.left_s)


def placed(
    state: Placing, *, volts: float, dt_s: float, most: float, gains: float | None
) -> Placing:
    """Some time later: the wait, then the way, slower where the voltage does not do."""
    if state.waiting and dt_s >= state.waits_s:
        run = _walked(state, volts, state.waits_s)
        way = run.told - run.place
        legs = legs_to(way, speed_of(run.legs), most=most, gains=gains, takes_s=run.over_s)
        top = max((abs(leg.speed + leg.gains * leg.lasts_s) for leg in legs), default=0.0)
        hurry = 1.0 if gains is not None and not run.over_s else min(1.0, top / most)
        ready = replace(run, waiting=False, waits_s=0.0, over_s=0.0, legs=legs, hurry=hurry)
        return _walked(ready, volts, dt_s - state.waits_s)
    waits = state.waits_s - dt_s if state.waiting else 0.0
    return replace(_walked(state, volts, dt_s), waits_s=waits)


def _walked(state: Placing, volts: float, dt_s: float) -> Placing:
    rate = 1.0 if state.hurry <= 0.0 else min(1.0, max(volts, 0.0) / state.hurry)
    place, legs = walk(state.place, state.legs, dt_s * rate)
    arrived = state.legs and not legs and not state.waiting
    # The last leg's rounding: it stands where it was told to.
    place = state.told if arrived else place
    return replace(state, place=place, legs=legs, volts=volts)
