"""Carry the air of a cylinder through a pause: from the end of one stroke to the next command.

In comes a stroke, its air and how long it rests; out comes the air then. The piston stands still,
the driven side goes on filling and the other one emptying, both through their fully open paths.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from math import exp, pi

from thundersheet.physics import march
from thundersheet.physics.gas import CP, R
from thundersheet.physics.solve import air_at_end, asked, interpret
from thundersheet.physics.stroke import Air, Stroke

SOON_S, LONG_S = 1.0, 20.0
"""Within a second few cylinders have settled; after twenty any of a prop's size has."""


def settle(stroke: Stroke, air: Air, rest_s: float, *, y_m: float | None = None) -> Air:
    """The air after a rest of ``rest_s`` at ``y_m`` (None: at the end of the stroke).

    For the next stroke the other way take `Air.swapped` of it.
    """
    if rest_s <= 0.0:
        return air
    at = stroke.stroke_m if y_m is None else y_m
    still = replace(stroke, air=air, y0_m=at, v0_m_s=0.0)
    if rest_s > SOON_S:
        then, took = _settled(still)
        if took is not None and took <= rest_s:
            return _drift(still, then, rest_s - took)
    then, took = _flows(still, rest_s)
    return then if took is None else _drift(still, then, rest_s - took)


@lru_cache(maxsize=1024)
def _settled(still: Stroke) -> tuple[Air, float | None]:
    """The air once nothing flows any more, the same for every longer rest; kept for these."""
    return _flows(still, LONG_S)


def _flows(still: Stroke, most_s: float) -> tuple[Air, float | None]:
    """The air after so long, or once nothing flows any more, and then how long that took."""
    begin = still.switch_s + still.valve_ramp_s
    row, tables = asked(still, until_s=begin + most_s, held=True, from_s=begin)
    found, state, _ = interpret(row, tables, 0)
    settled = found[march.STATUS] == march.SETTLED
    return air_at_end(still, state), found[march.T_END] - begin if settled else None


def dumped(stroke: Stroke) -> Air:
    """Both sides at the atmosphere: after a dump valve has let the air out."""
    return Air.at(stroke.atmosphere_pa, stroke.atmosphere_pa, stroke.ambient_k)


def _drift(stroke: Stroke, air: Air, rest_s: float) -> Air:
    """The rest of the rest: pressures at their ends, temperatures on their way to ambient.

    Stepping through it would take steps as short as the passage is wide.
    """
    drive = stroke.atmosphere_pa if stroke.acting == "spring" else stroke.supply_pa
    exhaust = stroke.atmosphere_pa
    near, far = stroke.y0_m, stroke.stroke_m - stroke.y0_m
    drive_v = stroke.dead_drive_m3 + stroke.drive_area_m2 * near
    exhaust_v = stroke.dead_exhaust_m3 + stroke.exhaust_area_m2 * far
    ends = pi / 2.0 * stroke.bore_m**2
    drive_wall, exhaust_wall = (ends + pi * stroke.bore_m * x for x in (near, far))
    if stroke.tube_model == "lumped":
        drive_v += stroke.drive_tube.volume_m3 if stroke.drive_tube else 0.0
        exhaust_v += stroke.exhaust_tube.volume_m3 if stroke.exhaust_tube else 0.0
    return Air(
        drive_pa=drive,
        exhaust_pa=exhaust,
        drive_tube_pa=drive,
        exhaust_tube_pa=exhaust,
        drive_k=_cooled(stroke, air.drive_k, drive, drive_wall / drive_v, rest_s),
        exhaust_k=_cooled(stroke, air.exhaust_k, exhaust, exhaust_wall / exhaust_v, rest_s),
        drive_tube_k=_tube_cooled(stroke, air.drive_tube_k, drive, rest_s, drive=True),
        exhaust_tube_k=_tube_cooled(stroke, air.exhaust_tube_k, exhaust, rest_s, drive=False),
    )


def _tube_cooled(stroke: Stroke, kelvin: float, pa: float, rest_s: float, *, drive: bool) -> float:
    tube = stroke.drive_tube if drive else stroke.exhaust_tube
    if tube is None:
        return stroke.ambient_k
    return _cooled(stroke, kelvin, pa, 4.0 / tube.bore_m, rest_s)


def _cooled(stroke: Stroke, kelvin: float, pa: float, wall_m: float, rest_s: float) -> float:
    """Temperature after ``rest_s``; ``wall_m`` is wall area per volume.

    At constant pressure m cp dT/dt = h A (T_amb - T) with m = p V/(R T): a logistic curve. It is
    exact for cold air that flows out as it warms, and close for warm air that draws some in.
    """
    if stroke.isothermal:
        return stroke.ambient_k
    heat = stroke.heat_w_m2_k * wall_m * R * stroke.ambient_k / (pa * CP)
    return stroke.ambient_k / (1.0 + (stroke.ambient_k / kelvin - 1.0) * exp(-heat * rest_s))
