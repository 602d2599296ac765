"""How a cylinder's piston and air are found, moved and left, from one command to the next.

A state is a ``Spot`` (at rest since long) or a ``Way`` (a stroke under way or done). The next
command takes up the piston where it truly is when the valve switches, with the air that is left.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from thundersheet.model.device import Setting
from thundersheet.physics.gas import Restriction
from thundersheet.physics.settle import settle
from thundersheet.physics.solve import solve
from thundersheet.physics.stroke import Air, Landed, Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder

SETTLED_S = 20.0
"""After so long the air of any cylinder of this size is as it will stay."""
COASTS_S = 1.0
"""A piston caught by a closed valve bounces on its air and is still by then."""
SINKS_S = 20.0
"""A load let go by an exhausted centre has sunk by then, or stays."""
KELVINS = ("drive_k", "exhaust_k", "drive_tube_k", "exhaust_tube_k")
SHUT = Restriction(1e-14)
"""A closed port: nothing to speak of leaks through."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Piston and air at one instant, seen by the stroke out."""

    out_m: float
    v_m_s: float
    air: Air


@dataclass(frozen=True, slots=True)
class Way:
    """A stroke that a command began, and what closed the valve under way, if anything did."""

    stroke: Stroke
    cut_s: float | None = None
    """When a 5/3 valve went to its middle, after the command."""
    free: Stroke | None = None
    """What follows where that middle opens both ports to the air: the stroke the other way, which
    a load may make by itself; None: it shuts both ports."""
    age_s: float = 0.0
    """How much earlier than the last command it was told."""
    care: bool = True
    """Whether a stroke that goes by jerks is run with care, which takes long."""


State = Spot | Way


@lru_cache(maxsize=1024)
def run(stroke: Stroke, until_s: float | None = None, care: bool = True) -> Landed:
    """One stroke with its motion's samples, kept: a plan asks for the same one many times.

    The steady ones are the same with care and without.
    """
    if care:
        plain = run(stroke, until_s, False)
        return solve(stroke, until_s=until_s, samples=True) if plain.jerks else plain
    return solve(stroke, until_s=until_s, samples=True, care=False)


@lru_cache(maxsize=2048)
def rested(stroke: Stroke, air: Air, pause_s: float, y_m: float) -> Air:
    """The air after a pause at a place, kept; to 0.01 K, so that strokes which begin alike are one.

    So little changes a landing by less than 0.01 ms.
    """
    then = settle(stroke, air, pause_s, y_m=y_m)
    return replace(then, **{name: round(getattr(then, name), 2) for name in KELVINS})


def home(cylinder: AirCylinder, setting: Setting) -> Spot:
    """Back, long since; without pressure anywhere where the air was dumped."""
    atmosphere = setting.atmosphere_pa
    full = atmosphere if setting.supply_pa is None else setting.supply_pa
    empty = setting.vented or cylinder.acting == "single"
    empty = empty or cylinder.valve.kind == "5/3 exhausted"
    return Spot(0.0, 0.0, Air.at(atmosphere, atmosphere if empty else full, setting.ambient_k))


def spot_at(state: State, seconds: float | None) -> Spot:
    """Piston and air so long after the last command; None: all has settled."""
    if isinstance(state, Spot):
        return state
    seconds = None if seconds is None else seconds + state.age_s
    if state.cut_s is not None and (seconds is None or seconds > state.cut_s):
        return _caught(state, SINKS_S if seconds is None else seconds - state.cut_s)
    return _spot(state.stroke, seconds, state.care)


def _spot(stroke: Stroke, seconds: float | None, care: bool) -> Spot:
    if seconds is not None and seconds <= stroke.switch_s:
        return _seen(stroke, stroke.y0_m, stroke.v0_m_s, stroke.first_air)
    ended = run(stroke, care=care)
    if seconds is not None and seconds < ended.t_end_s:
        part = run(stroke, seconds, care)
        return _seen(stroke, part.y_m, part.v_m_s, part.air)
    pause = None if seconds is None else seconds - ended.t_end_s
    if pause is None or pause > SETTLED_S:
        return _seen(stroke, ended.y_m, 0.0, _at_last(stroke))
    return _seen(stroke, ended.y_m, 0.0, rested(stroke, ended.air, pause, ended.y_m))


def _at_last(stroke: Stroke) -> Air:
    """The air when nothing flows any more."""
    fed = stroke.atmosphere_pa if stroke.acting == "spring" else stroke.supply_pa
    return Air.at(fed, stroke.atmosphere_pa, stroke.ambient_k)


def _seen(stroke: Stroke, y_m: float, v_m_s: float, air: Air) -> Spot:
    """A stroke's own view turned into that of the stroke out."""
    if stroke.extend:
        return Spot(y_m, v_m_s, air)
    return Spot(stroke.stroke_m - y_m, -v_m_s, air.swapped())


def begun(stroke: Stroke, spot: Spot) -> Stroke:
    """The stroke taken up where piston and air are."""
    if stroke.extend:
        y, v, air = spot.out_m, spot.v_m_s, spot.air
    else:
        y, v, air = stroke.stroke_m - spot.out_m, -spot.v_m_s, spot.air.swapped()
    return replace(stroke, y0_m=min(max(y, 0.0), stroke.stroke_m), v0_m_s=v, air=air)


def shut(stroke: Stroke) -> Stroke:
    """The same cylinder with both ports closed."""
    return replace(
        stroke,
        valve_delay_s=0.0,
        drive_valve=(SHUT,),
        drive_tube=None,
        drive_end=(),
        exhaust_valve=(SHUT,),
        exhaust_tube=None,
        exhaust_end=(),
        quick_exhaust=None,
        cushion_m=0.0,
        cushion=None,
        tube_model="lumped",
    )


def loosed(way: Way) -> Stroke:
    """What happens from the instant at which the valve goes to its middle."""
    after = shut(way.stroke)
    if way.free is not None:
        after = replace(way.free, supply_pa=way.free.atmosphere_pa)
    return begun(replace(after, valve_delay_s=0.0), _spot(way.stroke, way.cut_s, way.care))


def let_go(way: Way) -> Landed:
    """The motion from the instant at which the valve goes to its middle, until it is still."""
    return run(loosed(way), COASTS_S if way.free is None else SINKS_S, way.care)


def _caught(way: Way, after_s: float) -> Spot:
    """Where the piston is, so long after the valve went to its middle."""
    stroke, whole = loosed(way), let_go(way)
    if after_s >= whole.t_end_s:
        air = whole.air if way.free is None else _at_last(stroke)
        return _seen(stroke, whole.y_m, 0.0, air)
    part = run(stroke, after_s, way.care)
    return _seen(stroke, part.y_m, part.v_m_s, part.air)
