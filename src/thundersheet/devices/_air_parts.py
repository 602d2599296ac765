"""What feeds an air device: its valve and hoses, with starting values for what nobody knows.

The records are as a builder writes them; their properties are the same for physics.
"""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, choice, flag, quantity, span
from thundersheet.base.time import Span
from thundersheet.physics.gas import Restriction, Tube

VALVE_KINDS = ("5/2", "5/2 two-coil", "5/3 closed", "5/3 exhausted", "3/2")
TWO_COILS = ("5/2 two-coil", "5/3 closed", "5/3 exhausted")
CRITICAL = 0.3
"""Critical pressure ratio where the maker gives only a Cv, Kv or nominal flow (ISO 6358 tables of
small valves give 0.2-0.4)."""
NODE_FROM_M = 1.5
"""Hoses longer than this are reckoned as a volume of their own: lumped, a stroke comes out 7 ms
late at 3 m and 28 ms at 6 m."""


@dataclass(frozen=True, kw_only=True)
class Valve(Record):
    """A solenoid valve."""

    kind: str = choice(
        "Ports and positions: 3/2 for single-acting cylinders and jets; 5/2 goes back by a spring "
        "when its coil is off; two-coil stays where it was; 5/3 has a middle position with all "
        "ports closed, or with the cylinder exhausted.",
        VALVE_KINDS,
        default="5/2",
    )
    delay: Span = span(
        "From the coil's current until the air has switched.",
        default=Span.ms(15),
        low=0.0,
        high=1.0,
        example="15 ms",
        estimated="small valves shift in 10-30 ms; common practice, no source",
    )
    opens_over: Span = span(
        "From the first opening to its full flow.",
        default=Span(0),
        low=0.0,
        high=1.0,
        example="5 ms",
        estimated="taken to be part of the delay; common practice, no source",
    )
    flow_m3_s_pa: float = quantity(
        "conductance",
        "Its flow: Cv, Kv, `Qn 400 l/min` or a sonic conductance.",
        default=1.6e-8,
        low=1e-11,
        high=1e-5,
        example="0.4 Cv",
        key="flow",
        estimated="a small valve of Cv 0.4; common practice, no source",
    )
    exhaust_flow_m3_s_pa: float | None = quantity(
        "conductance",
        "Its flow from the cylinder to the open, muffler included; left out: as `flow`.",
        default=None,
        low=1e-11,
        high=1e-5,
        example="0.35 Cv",
        key="exhaust flow",
    )
    volts_v: float = quantity(
        "voltage", "Voltage of its coil.", default=24.0, low=1.0, high=400.0, example="24 V",
        key="volts", estimated="12 or 24 V, 1-5 W; common practice, no source",
    )  # fmt: skip
    current_a: float = quantity(
        "current", "Current of its coil.", default=0.1, low=0.0, high=5.0, example="0.1 A",
        key="current", estimated="a 2.5 W coil; common practice, no source",
    )  # fmt: skip
    pulse: Span = span(
        "How long a coil of a two-coil valve gets current.", default=Span.ms(100), low=0.005,
        high=10.0, example="100 ms", estimated="several times its delay; common practice",
    )  # fmt: skip

    @property
    def feeds(self) -> Restriction:
        """From the supply to the cylinder."""
        return Restriction(self.flow_m3_s_pa, CRITICAL)

    @property
    def vents(self) -> Restriction:
        """From the cylinder to the open."""
        return Restriction(self.exhaust_flow_m3_s_pa or self.flow_m3_s_pa, CRITICAL)


@dataclass(frozen=True, kw_only=True)
class Hose(Record):
    """The hose from the valve to each port."""

    bore_m: float = quantity(
        "length", "Inside diameter.", default=2.7e-3, low=0.5e-3, high=0.05, example="2.7 mm",
        key="bore", estimated="tube of 4 mm outside; common practice, no source",
    )  # fmt: skip
    length_m: float = quantity(
        "length", "From the valve to the port.", default=1.0, low=0.0, high=100.0, example="1 m",
        key="length", estimated="a valve beside its cylinder; common practice, no source",
    )  # fmt: skip

    @property
    def tube(self) -> Tube | None:
        """The same for physics; None when there is none."""
        return Tube(self.bore_m, self.length_m) if self.length_m > 0.0 else None


@dataclass(frozen=True, kw_only=True)
class Cushion(Record):
    """An air cushion at both ends of a cylinder."""

    length_m: float = quantity(
        "length", "Over which part of the stroke it brakes.", low=1e-3, high=0.2, example="15 mm",
        key="length",
    )  # fmt: skip
    flow_m3_s_pa: float = quantity(
        "conductance",
        "Flow through its screw.",
        default=8e-10,
        low=1e-12,
        high=1e-6,
        example="0.02 Cv",
        key="flow",
        estimated="screw about a turn open; common practice, no source",
    )


@dataclass(frozen=True, kw_only=True)
class LidShape(Record):
    """A lid, door or jaw on a hinge, pushed by a cylinder whose foot is pinned elsewhere."""

    hinge_to_foot_m: float = quantity(
        "length", "From the hinge to the pin of the cylinder's foot.", low=0.01, high=10.0,
        example="300 mm", key="hinge to foot",
    )  # fmt: skip
    hinge_to_pin_m: float = quantity(
        "length", "From the hinge to the pin at which the rod pushes.", low=0.01, high=10.0,
        example="200 mm", key="hinge to pin",
    )  # fmt: skip
    angle_rad: float = quantity(
        "angle", "Between those two lines with the rod back.", low=0.02, high=3.1,
        example="60 deg", key="angle",
    )  # fmt: skip
    length_m: float = quantity(
        "length", "From the hinge to the lid's free edge.", low=0.01, high=10.0, example="600 mm",
        key="length",
    )  # fmt: skip
    centre_m: float | None = quantity(
        "length", "From the hinge to its centre of gravity; left out: half its length.",
        default=None, low=0.0, high=10.0, example="300 mm", key="centre",
    )  # fmt: skip
    rises_rad: float = quantity(
        "angle", "How far the lid stands above the horizontal with the rod back.", default=0.0,
        low=-3.2, high=3.2, example="0 deg", key="stands",
    )  # fmt: skip
    sideways: bool = flag(
        "Whether its hinge stands upright, like a door's, so that its weight does not matter.",
        default=False,
    )
