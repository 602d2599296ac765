"""What a rehearsal switches at an air device: the coils of its valve, and a jet's gust.

In: wires and the share of the coils' voltage. Out: where the valve is told to stand. How the air
then flows and the piston moves is the air plant's; only a gust, once it has left the valve's
plumbing, is followed here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import pi

from thundersheet.model.device import ValveWay, Wire
from thundersheet.physics.gas import R, Restriction, mass_flow, sound_speed

PICKS = 0.85
"""Share of its voltage at which a coil surely shifts its valve: makers allow 10 to 15 % too little
(common practice, no source)."""
HOLDS = 0.4
"""Share at which a valve that has shifted still stays (common practice, no source)."""
STEP_S = 1e-4
"""Of following a gust: a tenth of what matters."""
LONGEST_S = 2.0
"""A gust that has not come by then never does."""


@dataclass(frozen=True, slots=True)
class Coils:
    """A valve's coils in a rehearsal."""

    on: tuple[bool, ...]
    way: ValveWay
    """As the air plant calls it."""
    amps: float = 0.0


def pulled(on: tuple[bool, ...], wires: tuple[Wire, ...], volts: float) -> tuple[bool, ...]:
    """Which coils hold their valve: one that has shifted needs less than one that has to."""
    return tuple(
        wire.value >= 0.5 and volts >= (HOLDS if held else PICKS)
        for held, wire in zip(on, wires, strict=True)
    )


def drawn(wires: tuple[Wire, ...], amps: float, volts: float) -> float:
    """What the coils draw, shifted or not."""
    return sum(amps * volts for wire in wires if wire.value >= 0.5)


def way_of(kind: str, on: tuple[bool, ...], before: ValveWay) -> ValveWay:
    """Where a cylinder's valve of a kind stands with these coils pulled."""
    if len(on) == 1:
        return "out" if on[0] else "back"
    out, back = on
    if out != back:
        return "out" if out else "back"
    # Both or none: a two-coil valve stays where it was, a 5/3 is centred by its springs.
    return before if kind == "5/2 two-coil" else "middle"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gust:
    """A valve, a hose and a nozzle, for the front of a gust."""

    valve: Restriction
    nozzle: Restriction
    """Hose and nozzle as one."""
    hose_m3: float
    hose_m: float
    nozzle_m: float
    decay: float


def reaches(
    gust: Gust, distance_m: float, fed: Callable[[float], float], outside_pa: float, k: float
) -> float:
    """Seconds from the open valve until the front is at a distance; inf: never.

    ``fed``: the pressure before the valve, by the seconds since it opened.

    The hose fills through the valve while the nozzle already blows, dp/dt = R T (in - out) / V;
    the front runs at half the axis' speed behind it, dx/dt = decay u0 d / (2 x). Both by small
    steps, where the lead takes them one after the other.
    """
    area = pi / 4.0 * gust.nozzle_m**2
    density = outside_pa / (R * k)
    front, t = gust.nozzle_m, gust.hose_m / sound_speed(k)
    hose = outside_pa
    while front < distance_m:
        if t > LONGEST_S:
            return float("inf")
        supply_pa = max(fed(t), outside_pa)
        out = mass_flow(gust.nozzle, hose, outside_pa, k)
        if gust.hose_m3 > 0.0:
            inflow = mass_flow(gust.valve, supply_pa, hose, k)
            hose = min(max(supply_pa, hose), hose + STEP_S * R * k * (inflow - out) / gust.hose_m3)
        else:
            hose = supply_pa
        speed = min(out / (density * area), sound_speed(k))
        front = (front**2 + gust.decay * speed * gust.nozzle_m * STEP_S) ** 0.5
        t += STEP_S
    return t
