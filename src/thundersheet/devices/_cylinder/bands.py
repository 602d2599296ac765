"""How sure a stroke's landing is: each uncertain value is changed once, and the landing looked at.

Root-sum-square of the changes; about 95 %, since the amounts below are meant as 95 % ranges. What
a builder has written is taken to be better known than a starting value.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from thundersheet.base.time import Span
from thundersheet.model.device import Landing
from thundersheet.physics import march
from thundersheet.physics.gas import Restriction, Tube
from thundersheet.physics.solve import asked, interpret
from thundersheet.physics.stroke import Air, Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder


@dataclass(frozen=True, slots=True)
class Doubts:
    """By how much each value may be off, about 95 %: shares, or seconds and kelvins."""

    delay_s: float
    pressure: float
    friction: float
    valve_flow: float
    flow_control: float
    hose: float
    load: float
    temperature_k: float = 10.0
    """Evening to night; valves and hoses outdoors (common practice, no source)."""


def doubts_of(cylinder: AirCylinder) -> Doubts:
    """The amounts for one cylinder, wider for what is still `estimated`.

    Common practice, no source, but for: conductances from Cv differ by a tenth between test
    methods (IEC 60534-2-1 against ISO 6358); breakaway lies anywhere between 1 and 10 psi, a
    factor of three about the starting value, and seals differ by a quarter when it is measured.
    """
    valve, hose = cylinder.valve, cylinder.hose
    delay = valve.delay.s
    return Doubts(
        delay_s=0.2 * delay if valve.origin.wrote("delay") else 0.6 * delay,
        pressure=0.05,
        friction=0.25 if cylinder.origin.wrote("breakaway_pa") else 0.7,
        valve_flow=0.1 if valve.origin.wrote("flow_m3_s_pa") else 0.3,
        flow_control=0.1,
        hose=0.1 if hose.origin.wrote("length_m") else 0.5,
        load=0.1,
    )


def bands_of(cylinder: AirCylinder, stroke: Stroke, land: Landing) -> dict[str, Span]:
    """What each uncertain value adds to the band of a landing, largest first."""
    changes = _changes(rounded(stroke), doubts_of(cylinder))
    found = {name: Span.seconds(moved[land]) for name, moved in changes.items()}
    return dict(sorted(found.items(), key=lambda each: each[1], reverse=True))


Times = Mapping[Landing, float]
Moved = Mapping[Landing, float]
TOLERANCE = 1e-3
"""Ten times coarser than a lead's own: it moves a change by less than 2 % of itself and saves some
of the time."""


@lru_cache(maxsize=512)
def _changes(stroke: Stroke, doubts: Doubts) -> dict[str, Moved]:
    """By value: how far the landings move, in seconds, when it is off by its doubt."""
    plain = coarse(stroke).times
    moved: dict[str, Moved] = {"valve": dict.fromkeys(plain, doubts.delay_s)}
    for name, other in _others(stroke, doubts):
        moved[name] = _apart(plain, coarse(other).times)
    return moved


def _others(stroke: Stroke, doubts: Doubts) -> Iterator[tuple[str, Stroke]]:
    """The same stroke with one value off, towards the slower side."""
    atmosphere = stroke.atmosphere_pa
    if stroke.acting != "spring":
        gauge = (stroke.supply_pa - atmosphere) * (1.0 - doubts.pressure)
        yield "pressure", replace(stroke, supply_pa=atmosphere + gauge)
    yield (
        "friction",
        replace(
            stroke,
            breakaway_n=stroke.breakaway_n * (1.0 + doubts.friction),
            coulomb_n=stroke.coulomb_n * (1.0 + doubts.friction),
        ),
    )
    yield "valve flow", _valves(stroke, 1.0 - doubts.valve_flow)
    if stroke.drive_end or stroke.exhaust_end:
        yield "flow control", _controls(stroke, 1.0 - doubts.flow_control)
    if stroke.drive_tube is not None:
        yield "hose", _with_hose(stroke, 1.0 + doubts.hose)
    if stroke.load_kg or stroke.linkage.lid:
        yield "load", _with_load(stroke, 1.0 + doubts.load)
    yield "temperature", replace(stroke, ambient_k=stroke.ambient_k - doubts.temperature_k)


def _scaled(parts: tuple[Restriction, ...], times: float) -> tuple[Restriction, ...]:
    return tuple(replace(part, c_m3_s_pa=part.c_m3_s_pa * times) for part in parts)


def _valves(stroke: Stroke, times: float) -> Stroke:
    return replace(
        stroke,
        drive_valve=_scaled(stroke.drive_valve, times),
        exhaust_valve=_scaled(stroke.exhaust_valve, times),
    )


def _controls(stroke: Stroke, times: float) -> Stroke:
    return replace(
        stroke,
        drive_end=_scaled(stroke.drive_end, times),
        exhaust_end=_scaled(stroke.exhaust_end, times),
    )


def _with_hose(stroke: Stroke, times: float) -> Stroke:
    def longer(tube: Tube | None) -> Tube | None:
        return None if tube is None else replace(tube, length_m=tube.length_m * times)

    return replace(
        stroke, drive_tube=longer(stroke.drive_tube), exhaust_tube=longer(stroke.exhaust_tube)
    )


def _with_load(stroke: Stroke, times: float) -> Stroke:
    lid = stroke.linkage.lid
    if lid is None:
        return replace(stroke, load_kg=stroke.load_kg * times)
    heavier = replace(lid, inertia_kg_m2=lid.inertia_kg_m2 * times, mass_kg=lid.mass_kg * times)
    return replace(stroke, linkage=replace(stroke.linkage, lid=heavier))


def _apart(plain: Times, other: Times) -> Moved:
    """How far the landings differ; one that never comes differs by the whole lead."""
    return {
        land: abs(t if other[land] < 0.0 else other[land] - t) if t >= 0.0 else 0.0
        for land, t in plain.items()
    }


@dataclass(frozen=True, slots=True)
class Coarse:
    """A stroke run coarsely: its landings, below zero what never comes, and its stops under way."""

    times: Times
    turns: int


@lru_cache(maxsize=1024)
def coarse(stroke: Stroke) -> Coarse:
    """When a stroke starts, is half-way and arrives, and how often it stops: to a thousandth."""
    row, tables = asked(stroke, tolerance=TOLERANCE)
    found, _, _ = interpret(row, tables, 0)
    starts, middle, ends = found[march.T_START], found[march.T_MID], found[march.T_FULL]
    times: Times = {
        "starts": starts,
        "half-way": starts if middle < 0.0 else middle,
        "arrives": ends,
    }
    return Coarse(times, int(found[march.TURNED]))


def rounded(stroke: Stroke) -> Stroke:
    """The stroke with its first state rounded, so that like states share their changes."""
    air = stroke.first_air
    return replace(
        stroke,
        air=Air.at(_near(air.drive_pa, stroke), _near(air.exhaust_pa, stroke), stroke.ambient_k),
        y0_m=round(stroke.y0_m / stroke.stroke_m, 1) * stroke.stroke_m,
        v0_m_s=round(stroke.v0_m_s, 1),
    )


def _near(pressure: float, stroke: Stroke) -> float:
    """To a tenth of the way from atmosphere to supply."""
    gauge = stroke.supply_pa - stroke.atmosphere_pa
    if gauge <= 0.0:
        return stroke.atmosphere_pa
    return stroke.atmosphere_pa + round((pressure - stroke.atmosphere_pa) / gauge, 1) * gauge
