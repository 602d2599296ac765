"""A cylinder's record to the strokes of ``physics``, out and back.

Everything that a builder left out gets its starting value here; nothing is reckoned in time.
"""

from __future__ import annotations

import functools
from math import acos, cos, pi, radians, sin
from typing import TYPE_CHECKING

from thundersheet.base.units import UnitError, read_quantity
from thundersheet.devices._air_parts import CRITICAL, NODE_FROM_M, LidShape
from thundersheet.model.device import Setting
from thundersheet.physics.gas import GRAVITY, Restriction
from thundersheet.physics.sizing import rod_mass
from thundersheet.physics.stroke import Acting, Lid, Linkage, Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder

COULOMB_SHARE = 0.6
"""Sliding friction as a share of breakaway: the reference model's starting guess."""
SPRING_PA = 40_000.0
"""A return spring's force as a pressure on the bore (common practice, no source)."""
INCLINES = {"level": 0.0, "up": radians(90), "down": radians(-90)}


@functools.cache
def incline_rad(text: str) -> float | None:
    """The angle of the way out above the horizontal; None for a text that says none."""
    if text in INCLINES:
        return INCLINES[text]
    try:
        return read_quantity(text, "angle")
    except UnitError:
        return None


def rod_m(cylinder: AirCylinder) -> float:
    """Diameter of the rod: 0.4 of the bore where it is not written (ISO 6432)."""
    return 0.4 * cylinder.bore_m if cylinder.rod_m is None else cylinder.rod_m


def area_m2(cylinder: AirCylinder, out: bool) -> float:
    """The piston's area on the side that the air fills."""
    rod = 0.0 if out else rod_m(cylinder)
    return pi / 4.0 * (cylinder.bore_m**2 - rod**2)


def rod_weight_kg(cylinder: AirCylinder) -> float:
    """Piston and rod, reckoned from their size where nobody has weighed them."""
    if cylinder.rod_weighs_kg is not None:
        return cylinder.rod_weighs_kg
    return rod_mass(cylinder.bore_m, rod_m(cylinder), cylinder.stroke_m)


def dead_m3(cylinder: AirCylinder) -> float:
    """Air that the piston never sweeps: a tenth of a bore of stroke, and a fitting of 1 ml."""
    if cylinder.dead_volume_m3 is not None:
        return cylinder.dead_volume_m3
    return 0.1 * cylinder.bore_m * area_m2(cylinder, True) + 1e-6


def spring(cylinder: AirCylinder) -> tuple[float, float]:
    """Force with the rod back, and its growth per metre, of a single-acting cylinder's spring."""
    if cylinder.acting == "double":
        return 0.0, 0.0
    force = cylinder.spring_n
    if force is None:
        force = SPRING_PA * area_m2(cylinder, True)
    rate = cylinder.spring_rate_n_per_m
    return force, force / cylinder.stroke_m if rate is None else rate


def stroke_of(cylinder: AirCylinder, setting: Setting, *, out: bool) -> Stroke:
    """The whole stroke one way, from the end; ValueError when its numbers are impossible."""
    if setting.supply_pa is None:
        raise ValueError(NO_AIR)
    force, rate = spring(cylinder)
    sign = 1.0 if out else -1.0
    tube = cylinder.hose.tube
    node = cylinder.hose.length_m > NODE_FROM_M and cylinder.cushion is None
    dead = dead_m3(cylinder)
    quick = cylinder.quick_exhaust_m3_s_pa
    if cylinder.quick_exhaust_for not in ("both", "out" if out else "back"):
        quick = None
    breakaway = cylinder.breakaway_pa * area_m2(cylinder, True)
    return Stroke(
        bore_m=cylinder.bore_m,
        rod_m=rod_m(cylinder),
        stroke_m=cylinder.stroke_m,
        extend=out,
        acting=_acting(cylinder, out),
        dead_drive_m3=dead,
        dead_exhaust_m3=dead,
        supply_pa=setting.supply_pa,
        atmosphere_pa=setting.atmosphere_pa,
        ambient_k=setting.ambient_k,
        valve_delay_s=cylinder.valve.delay.s,
        valve_ramp_s=cylinder.valve.opens_over.s,
        drive_valve=(*(Restriction(c, b) for c, b in setting.feed), cylinder.valve.feeds),
        drive_tube=tube,
        drive_end=_control(cylinder.supply_restriction_m3_s_pa,
                           cylinder.back_supply_restriction_m3_s_pa, out),
        exhaust_valve=(cylinder.valve.vents,),
        exhaust_tube=tube,
        exhaust_end=_control(cylinder.exhaust_restriction_m3_s_pa,
                             cylinder.back_exhaust_restriction_m3_s_pa, out),
        quick_exhaust=None if quick is None else Restriction(quick, CRITICAL),
        cushion_m=cylinder.cushion.length_m if cylinder.cushion else 0.0,
        cushion=(
            Restriction(cylinder.cushion.flow_m3_s_pa, CRITICAL) if cylinder.cushion else None
        ),
        tube_model="node" if node else "lumped",
        combination="chain" if cylinder.exact_flow else "series",
        rod_mass_kg=rod_weight_kg(cylinder),
        load_kg=0.0 if cylinder.linkage == "lid" else cylinder.moves_kg,
        linkage=_linkage(cylinder, out),
        incline_rad=0.0 if cylinder.linkage == "lid" else sign * _incline(cylinder),
        external_n=sign * cylinder.against_n,
        spring_n=force if out else -(force + rate * cylinder.stroke_m),
        spring_n_m=rate,
        breakaway_n=breakaway,
        coulomb_n=COULOMB_SHARE * breakaway,
    )  # fmt: skip


NO_AIR = "the book has no air for it: write `air: {set: 60 psi}`, or its own `pressure`"


def _acting(cylinder: AirCylinder, out: bool) -> Acting:
    if cylinder.acting == "double":
        return "double"
    return "air" if out else "spring"


def _control(both: float | None, back: float | None, out: bool) -> tuple[Restriction, ...]:
    """A flow control in one way; the back's own goes before the one for both."""
    flow = both if out or back is None else back
    return () if flow is None else (Restriction(flow, CRITICAL),)


def _incline(cylinder: AirCylinder) -> float:
    angle = incline_rad(cylinder.incline)
    if angle is None:
        raise ValueError(f"`incline: {cylinder.incline}` is no direction")
    return angle


def _linkage(cylinder: AirCylinder, out: bool) -> Linkage:
    if cylinder.linkage == "straight":
        return Linkage()
    if cylinder.linkage == "lever":
        return Linkage(ratio=cylinder.ratio)
    if cylinder.lid is None:
        raise ValueError("`linkage: lid` needs its triangle under `lid`")
    return Linkage(lid=_lid(cylinder, cylinder.lid, out))


def _lid(cylinder: AirCylinder, shape: LidShape, out: bool) -> Lid:
    """The triangle as this stroke meets it; a uniform plate's inertia about its edge is m L^2/3."""
    centre = shape.length_m / 2.0 if shape.centre_m is None else shape.centre_m
    return Lid(
        hinge_to_base_m=shape.hinge_to_foot_m,
        hinge_to_pin_m=shape.hinge_to_pin_m,
        angle_rad=shape.angle_rad if out else lid_angle(shape, cylinder.stroke_m),
        offset_rad=shape.rises_rad - shape.angle_rad,
        inertia_kg_m2=cylinder.moves_kg * shape.length_m**2 / 3.0,
        mass_kg=0.0 if shape.sideways else cylinder.moves_kg,
        reach_m=centre,
    )


def lid_angle(shape: LidShape, out_m: float) -> float:
    """The angle between the two lines at the hinge with the rod ``out_m`` out: law of cosines.

    ValueError where the triangle breaks.
    """
    a, c = shape.hinge_to_pin_m, shape.hinge_to_foot_m
    length = (a * a + c * c - 2.0 * a * c * cos(shape.angle_rad)) ** 0.5 + out_m
    cosine = (a * a + c * c - length * length) / (2.0 * a * c)
    if not -1.0 < cosine < 1.0:
        raise ValueError(
            f"the lid's triangle breaks with the rod {1000 * out_m:.0f} mm out: from foot to pin "
            f"{1000 * length:.0f} mm cannot be spanned by {1000 * a:.0f} and {1000 * c:.0f} mm"
        )
    return acos(cosine)


def lever_at(cylinder: AirCylinder, out_m: float) -> float:
    """How far the working end moves for each unit of the rod's way, with the rod ``out_m`` out."""
    if cylinder.linkage == "lid" and cylinder.lid is not None:
        shape, step = cylinder.lid, cylinder.stroke_m * 1e-4
        low = max(out_m - step, 0.0)
        high = min(low + 2 * step, cylinder.stroke_m)
        turned = lid_angle(shape, high) - lid_angle(shape, high - 2 * step)
        return shape.length_m * turned / (2 * step)
    return cylinder.ratio if cylinder.linkage == "lever" else 1.0


def share_out(cylinder: AirCylinder, out_m: float) -> float:
    """How far it is open as guests see it, 0..1: by angle for a lid, else by the rod's way."""
    if cylinder.linkage == "lid" and cylinder.lid is not None:
        first = lid_angle(cylinder.lid, 0.0)
        last = lid_angle(cylinder.lid, cylinder.stroke_m)
        return (lid_angle(cylinder.lid, out_m) - first) / (last - first)
    return out_m / cylinder.stroke_m


def push_n(stroke: Stroke) -> float:
    """Thrust at the rod with both sides at their final pressure."""
    if stroke.acting == "spring":
        return 0.0
    return (stroke.supply_pa - stroke.atmosphere_pa) * stroke.drive_area_m2


def resists_n(stroke: Stroke, y_m: float) -> float:
    """What stands against the motion at the rod, friction apart: weight, springs, steady forces."""
    ratio, lid = stroke.linkage.ratio, stroke.linkage.lid
    weight = GRAVITY * sin(stroke.incline_rad) * (stroke.rod_mass_kg + ratio * stroke.load_kg)
    steady = weight + ratio * stroke.external_n + stroke.spring_n + stroke.spring_n_m * y_m
    if lid is None:
        return steady
    a, c = lid.hinge_to_pin_m, lid.hinge_to_base_m
    first: float = (a * a + c * c - 2.0 * a * c * cos(lid.angle_rad)) ** 0.5
    way = 1.0 if stroke.extend else -1.0
    length: float = first + way * y_m
    angle = acos(max(-1.0, min(1.0, (a * a + c * c - length**2) / (2.0 * a * c))))
    lever = way * length / (a * c * sin(angle))
    heavy = lid.mass_kg * GRAVITY * lid.reach_m * cos(angle + lid.offset_rad)
    return steady + heavy * lever
