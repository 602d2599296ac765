"""A cylinder as the air plant knows it, and whether its load falls when the air is let off."""

from __future__ import annotations

from math import inf, sin
from typing import TYPE_CHECKING, Literal

from thundersheet.devices._cylinder.stroke import (
    area_m2,
    incline_rad,
    resists_n,
    rod_weight_kg,
    spring,
    stroke_of,
)
from thundersheet.model.device import Setting
from thundersheet.physics.gas import GRAVITY
from thundersheet.physics.plant.records import Cylinder, Path

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder

_MIDDLES: dict[str, Literal["closed", "exhausted"]] = {
    "5/3 closed": "closed",
    "5/3 exhausted": "exhausted",
}


def cylinder(device: AirCylinder, setting: Setting) -> Cylinder | None:
    """Both whole strokes and its own regulator.

    None for a cylinder that cannot be reckoned: it has no air, or its numbers contradict each
    other; what is wrong is in its checks.
    """
    try:
        out, back = (stroke_of(device, setting, out=way) for way in (True, False))
    except ValueError:
        return None
    own = inf if device.pressure_pa is None else device.pressure_pa + setting.atmosphere_pa
    return Cylinder(
        name=device.name,
        body="",
        path=Path(set_pa=own),
        out=out,
        back=back,
        middle=_MIDDLES.get(device.valve.kind, ""),
    )


def pull_when_vented_n(device: AirCylinder) -> float:
    """What pulls at the rod when the air is let off, more than friction holds; 0: it stays.

    The weight of a load that moves up or down; a spring that holds it counts.
    """
    holds = device.breakaway_pa * area_m2(device, True)
    return max(_weight_n(device) - holds, 0.0)


def _weight_n(device: AirCylinder) -> float:
    """The pull of the weight at the rod with no air in it, at the end it would fall from."""
    angle = incline_rad(device.incline)
    if device.linkage == "lid" or angle is None:
        return _lid_weight_n(device)
    ratio = device.ratio if device.linkage == "lever" else 1.0
    weight = GRAVITY * sin(angle) * (rod_weight_kg(device) + ratio * device.moves_kg)
    pull = weight + ratio * device.against_n
    if pull >= 0.0:
        return pull
    holds, _ = spring(device)
    return max(-pull - holds, 0.0)


def _lid_weight_n(device: AirCylinder) -> float:
    """The same for a lid: the greatest pull over its way, either way; no pressure comes into it."""
    try:
        stroke = stroke_of(device, Setting(supply_pa=200_000.0), out=True)
    except ValueError:
        return 0.0
    return max(abs(resists_n(stroke, share * stroke.stroke_m)) for share in (0.0, 0.5, 1.0))
