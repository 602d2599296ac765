"""What a guest or a stop feels of a stroke, through the linkage."""

from __future__ import annotations

from typing import TYPE_CHECKING

from thundersheet.devices._cylinder.stroke import area_m2, lever_at, lid_angle, spring
from thundersheet.model.device import Impact
from thundersheet.physics.stroke import Landed, Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder


def impact_of(cylinder: AirCylinder, stroke: Stroke, landed: Landed) -> Impact:
    """Greatest energy and speed on the way, force with nothing moving and full pressure, reach.

    Energy: all that moves, m v^2 / 2 through the linkage. Force: the thrust (gauge pressure times
    area, a return spring's push for a spring's way) through the lever where it is shortest; weight
    and friction are not counted.
    """
    places = (0.0, cylinder.stroke_m / 2.0, cylinder.stroke_m)
    levers = [abs(lever_at(cylinder, place)) for place in places]
    moving = [
        (abs(each.v_m_s), _lever(cylinder, stroke, each.y_m, levers)) for each in landed.samples
    ]
    return Impact(
        energy_j=max((_energy(cylinder, stroke, v, lever) for v, lever in moving), default=0.0),
        force_n=_thrust(cylinder, stroke) / min(levers),
        speed_m_s=max((v * lever for v, lever in moving), default=0.0),
        reach_m=_reach(cylinder, levers),
    )


def _energy(cylinder: AirCylinder, stroke: Stroke, v_m_s: float, lever: float) -> float:
    """Rod and load; a lid turns with v f, f being its edge's lever over its length."""
    lid = stroke.linkage.lid
    moving = stroke.rod_mass_kg
    if lid is None:
        moving += stroke.load_kg * lever**2
    elif cylinder.lid is not None:
        moving += lid.inertia_kg_m2 * (lever / cylinder.lid.length_m) ** 2
    return 0.5 * moving * v_m_s**2


def _lever(cylinder: AirCylinder, stroke: Stroke, y_m: float, levers: list[float]) -> float:
    if cylinder.linkage != "lid":
        return levers[0]
    y = min(max(y_m, 0.0), stroke.stroke_m)
    return abs(lever_at(cylinder, y if stroke.extend else stroke.stroke_m - y))


def _thrust(cylinder: AirCylinder, stroke: Stroke) -> float:
    force, rate = spring(cylinder)
    if stroke.acting == "spring":
        return force + rate * stroke.stroke_m
    gauge = stroke.supply_pa - stroke.atmosphere_pa
    return max(gauge * area_m2(cylinder, stroke.extend) - force, 0.0)


def _reach(cylinder: AirCylinder, levers: list[float]) -> float:
    if cylinder.linkage != "lid" or cylinder.lid is None:
        return cylinder.stroke_m * levers[0]
    turned = lid_angle(cylinder.lid, cylinder.stroke_m) - lid_angle(cylinder.lid, 0.0)
    return abs(turned) * cylinder.lid.length_m
