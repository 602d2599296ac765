"""A plant in SI, as both solvers read it, and what they answer.

Bodies of air hang on each other as a tree whose root the compressor fills; cylinders and jets hang
on bodies. Pressures are absolute, times are seconds from the beginning of the run.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf
from typing import Literal

from thundersheet.physics.gas import P_ATM, T0, Restriction, Tube
from thundersheet.physics.stroke import Air, Stroke

Way = Literal["out", "back", "middle", "on", "off"]
"""What a valve is told: a cylinder's way, a 5/3 valve's middle, or a jet on and off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """How air gets from one body to the next, or from a body to a device's valve."""

    parts: tuple[Restriction, ...] = ()
    """In the order of the flow: shut-off, filter, lubricator, soft-start valve, fittings."""
    tubes: tuple[Tube, ...] = ()
    """Hoses of the path: their resistance is in series with the parts; their volume belongs to the
    body that the path feeds."""
    set_pa: float = inf
    """A regulator's set pressure, absolute: the path is fed with at most this. Its droop is a
    `Restriction` among the parts. inf: there is none."""
    drop_pa: float = 0.0
    """What a regulator needs between inlet and outlet: fed with min(set, upstream - drop)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Air that stands at one pressure: a tank, a manifold with the hose that feeds it."""

    name: str
    volume_m3: float
    fed_by: str = ""
    """The body upstream; empty for the root, which the compressor fills."""
    path: Path | None = None
    """From that body to this one; None for the root."""
    heat_w_k: float = 0.0
    """From its wall to the ambient; 0 is adiabatic, inf isothermal."""
    leak_m3_s_pa: float = 0.0
    """Sonic conductance of all its leaks to the open."""
    ambient_k: float | None = None
    """Where it stands apart from the rest, in a shed; None: as the plant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """A cylinder at the end of a path."""

    name: str
    body: str
    """What feeds it."""
    path: Path = Path()
    """From the body to its valve: its own regulator, if it has one, and its feed."""
    out: Stroke
    """Whole strokes from end to end as `devices` make them; their supply and first air are the
    plant's to say."""
    back: Stroke
    starts_out: bool = False
    middle: Literal["", "closed", "exhausted"] = ""
    """What a 5/3 valve does in its middle; empty: it has none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Jet:
    """A valve that blows into the open."""

    name: str
    body: str
    path: Path = Path()
    flow: Restriction
    """Valve, hose and nozzle as one."""
    delay_s: float
    """From the command until the valve has switched, either way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compressor:
    """What fills the root."""

    delivers: tuple[tuple[float, float], ...]
    """(absolute pressure, free air delivered m3/s at inlet conditions), one point or two; linear
    between and beyond, never below zero."""
    cut_in_pa: float
    cut_out_pa: float
    duty: float = 1.0
    """Largest share of any 600 s that it may run; 1: always."""
    quiet_s: tuple[tuple[float, float], ...] = ()
    """Stretches of the run in which it may not run."""
    inlet_k: float = T0


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """All of it. Names are unique among bodies and among devices; bodies stand root first."""

    bodies: tuple[Body, ...]
    cylinders: tuple[Cylinder, ...] = ()
    jets: tuple[Jet, ...] = ()
    compressor: Compressor | None = None
    """None: the root is filled beforehand and then lives on what it holds."""
    atmosphere_pa: float = P_ATM
    ambient_k: float = T0
    endless: bool = False
    """The root's pressure never changes: a book that says no more than `set: 60 psi`."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Switch:
    """One command to one device, when its output switches (the valve's own delay comes after)."""

    at_s: float
    device: str
    way: Way
    cue: str = ""
    """The cue's id; empty where nobody asks for it again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """One body's air."""

    pa: float
    kelvin: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Piston:
    """One cylinder at one instant, seen by the stroke out."""

    out_m: float = 0.0
    v_m_s: float = 0.0
    air: Air
    way: Way = "back"
    """Where its valve stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """A plant at one instant: what a run begins with and leaves."""

    at_s: float = 0.0
    bodies: Mapping[str, Gas]
    pistons: Mapping[str, Piston] = field(default_factory=dict)
    running: bool = False
    calls: bool = False
    """Whether the pressure switch asks for the compressor, though its duty or a quiet stretch may
    hold it; one that runs is asked for in any case."""
    ran_s: tuple[tuple[float, float], ...] = ()
    """When the compressor ran within the last 600 s, for its duty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Landing:
    """How one switch of a cylinder or jet went; times of the run, None where it never came."""

    switch: Switch
    start_s: float | None = None
    mid_s: float | None = None
    full_s: float | None = None
    v_impact_m_s: float | None = None
    e_impact_j: float | None = None
    supply_pa: float = 0.0
    """Lowest pressure of the body that fed it, from the switch to the landing."""
    air_l: float = 0.0
    """Standard litres (ANR) that it took."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Accounts:
    """Mass (kg) and energy (J) over a run: what came, what went, what stayed, what is left over.

    ``*_missing`` is what came less what went less the growth of what is inside; a run that is
    right has next to none. What a modelling switch takes away (a cushion that cuts off a tube's
    volume) is booked as gone, not lost.
    """

    mass_in: float
    mass_out: float
    mass_growth: float
    mass_missing: float
    energy_in: float = 0.0
    energy_out: float = 0.0
    energy_growth: float = 0.0
    energy_missing: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Columns over time: ``at_s`` and, by name, what was followed.

    Names: ``body NAME pa``, ``body NAME k``, ``NAME out_m``, ``NAME v_m_s``, ``NAME out_pa`` and
    ``NAME back_pa`` (the chambers that push out and back), ``NAME flow_kg_s``, ``compressor``
    (0 or 1).
    """

    at_s: tuple[float, ...] = ()
    columns: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What a solver answers."""

    landings: tuple[Landing, ...]
    """In the order of the switches."""
    state: State
    accounts: Accounts
    compressor_on: tuple[tuple[float, float], ...] = ()
    """Stretches of the run in which it ran."""
    series: Series = Series()
    solver: Literal["event-driven", "coupled"]
