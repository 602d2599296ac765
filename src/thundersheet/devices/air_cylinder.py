"""An air cylinder with its valve, hoses, linkage and load.

Its strokes are reckoned by ``physics``; which stroke a move is, is in ``_cylinder.lead``, how sure
a lead is in ``_cylinder.bands``, what may be wrong with a cylinder in ``_cylinder.faults``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from thundersheet.base.finding import Finding
from thundersheet.base.shape import choice, flag, number, quantity, record, text
from thundersheet.base.time import Span
from thundersheet.devices._air_parts import TWO_COILS, Cushion, Hose, LidShape, Valve
from thundersheet.devices._cylinder import faults, lead, plant, way
from thundersheet.devices._cylinder.stroke import share_out
from thundersheet.devices._valve_steps import Coils, drawn, pulled, way_of
from thundersheet.model.device import (
    Action,
    Command,
    Device,
    Landing,
    Lead,
    Light,
    Load,
    Move,
    Output,
    Seen,
    Setting,
    ValveWay,
    Wire,
)
from thundersheet.physics.plant.records import Cylinder


@dataclass(frozen=True, kw_only=True)
class AirCylinder(Device):
    """A cylinder: out and back, in a time that its air, its load and what came before decide."""

    KIND: ClassVar[str] = "air cylinder"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(
            name="out",
            doc="The rod goes out: all the way, or part-way where a 5/3 valve with closed centre "
            "can stop it.",
            lands=("arrives", "starts", "half-way"),
            takes=frozenset({"to", "for"}),
            to="share",
        ),
        Action(
            name="back",
            doc="The rod goes back: all the way, or part-way as above.",
            lands=("arrives", "starts", "half-way"),
            takes=frozenset({"to", "for"}),
            to="share",
        ),
        Action(
            name="stop",
            doc="Both coils of a 5/3 valve off: closed centre holds the rod, exhausted lets it go.",
            lands=("arrives", "starts"),
        ),
    )
    EXAMPLE: ClassVar[str] = """\
air: {set: 2.0 bar}
devices:
  shutter:
    kind: air cylinder
    what: storm shutter
    bore: 25 mm
    stroke: 160 mm
    rod: 10 mm
    linkage: lever
    ratio: 2.0              # the tip moves 320 mm
    moves: 1.8 kg
    valve: {kind: 5/2, delay: 15 ms, flow: 0.4 Cv}
    hose: {bore: 2.7 mm, length: 1 m}
    exhaust restriction: 0.05 Cv
    words: {open: out, shut: back}
    on: main 1
beats:
  - {at: 0:41.5, do: shutter open, window: hit}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor">'
        '<path d="M2 8h14v8H2zM7 8v8M9 8v8M9 12h13M4 16v4M14 16v4"/></g>'
    )

    bore_m: float = quantity(
        "length", "Inside diameter.", low=2e-3, high=0.32, example="1-1/16 in", key="bore"
    )
    stroke_m: float = quantity(
        "length", "How far the rod goes.", low=2e-3, high=3.0, example="4 in", key="stroke"
    )
    rod_m: float | None = quantity(
        "length", "Diameter of the rod; left out: 0.4 of the bore, as ISO 6432 has it.",
        default=None, low=1e-3, high=0.2, example="10 mm", key="rod",
        estimated="ISO 6432: 6, 8, 10 mm for 16, 20, 25 mm of bore",
    )  # fmt: skip
    acting: str = choice(
        "`double`: air moves it both ways. `single`: air moves it out, a spring back.",
        ("double", "single"),
        default="double",
    )
    spring_n: float | None = quantity(
        "force", "Force of the spring of a single-acting one with the rod back; left out: 0.4 bar "
        "on the bore.", default=None, low=0.0, high=5000.0, example="12 N", key="spring",
        estimated="strong enough for its own friction; common practice, no source",
    )  # fmt: skip
    spring_rate_n_per_m: float | None = quantity(
        "stiffness", "How fast that force grows; left out: it doubles over the stroke.",
        default=None, low=0.0, high=1e6, example="0.2 N/mm", key="spring rate",
        estimated="common practice, no source",
    )  # fmt: skip
    linkage: str = choice(
        "How the load hangs on the rod.", ("straight", "lever", "lid"), default="straight"
    )
    ratio: float = number(
        "How far the lever's tip moves for each unit of the rod's way.", default=1.0, low=0.02,
        high=50.0, example="2.0",
    )  # fmt: skip
    lid: LidShape | None = record(LidShape, "The lid's triangle, for `linkage: lid`.", default=None)
    moves_kg: float = quantity(
        "mass", "What it moves, rod and piston apart; at a lever, as if all were at its tip.",
        default=0.0, low=0.0, high=500.0, example="4 lb", key="moves",
    )  # fmt: skip
    rod_weighs_kg: float | None = quantity(
        "mass", "Piston and rod; left out: reckoned from their size.", default=None, low=0.0,
        high=100.0, example="150 g", key="rod weighs", estimated="steel rod, aluminium piston",
    )  # fmt: skip
    against_n: float = quantity(
        "force", "A steady force on the load against the way out, such as a counterweight; it "
        "helps on the way back.", default=0.0, low=-5000.0, high=5000.0, example="15 N",
        key="against",
    )  # fmt: skip
    incline: str = text(
        "Which way the load moves when the rod goes out: `level`, `up`, `down`, or an angle above "
        "the horizontal.",
        default="level",
        example="up",
    )
    pressure_pa: float | None = quantity(
        "pressure", "Gauge pressure of its own regulator; left out: as `air` says.", default=None,
        low=10_000.0, high=1_000_000.0, example="40 psi", key="pressure",
    )  # fmt: skip
    air_from: str = text(
        "The part of the plumbing that feeds its valve; left out: the one end that there is.",
        default="", names="air part", example="manifold",
    )  # fmt: skip
    when_vented: str | None = choice(
        "What its load does when the air is let off: it `stays`, it `falls`, or something holds "
        "it (`held`: a latch, a counterweight, a spring); left out: reckoned from `incline`.",
        ("stays", "falls", "held"),
        default=None,
    )
    valve: Valve = record(Valve, "Its valve.", default=Valve())
    hose: Hose = record(Hose, "The hose from the valve to each port.", default=Hose())
    exhaust_restriction_m3_s_pa: float | None = quantity(
        "conductance", "A flow control at each port that throttles the air going out (meter-out: "
        "the usual way to slow a cylinder).", default=None, low=1e-12, high=1e-5,
        example="0.05 Cv", key="exhaust restriction",
    )  # fmt: skip
    back_exhaust_restriction_m3_s_pa: float | None = quantity(
        "conductance", "The same for the way back, where it differs.", default=None, low=1e-12,
        high=1e-5, example="0.1 Cv", key="back exhaust restriction",
    )  # fmt: skip
    supply_restriction_m3_s_pa: float | None = quantity(
        "conductance", "A flow control that throttles the air coming in (meter-in).", default=None,
        low=1e-12, high=1e-5, example="0.05 Cv", key="supply restriction",
    )  # fmt: skip
    back_supply_restriction_m3_s_pa: float | None = quantity(
        "conductance", "The same for the way back, where it differs.", default=None, low=1e-12,
        high=1e-5, example="0.1 Cv", key="back supply restriction",
    )  # fmt: skip
    quick_exhaust_m3_s_pa: float | None = quantity(
        "conductance", "A quick exhaust valve right at the port that empties.", default=None,
        low=1e-12, high=1e-5, example="1 Cv", key="quick exhaust",
    )  # fmt: skip
    quick_exhaust_for: str = choice(
        "Which way it makes quicker.", ("out", "back", "both"), default="out"
    )
    cushion: Cushion | None = record(Cushion, "Air cushions at both ends.", default=None)
    dead_volume_m3: float | None = quantity(
        "volume", "Air at each end that the piston never sweeps, port and fitting included; left "
        "out: a tenth of the bore of stroke and 1 ml.", default=None, low=1e-8, high=0.01,
        example="2 ml", key="dead volume", estimated="common practice, no source",
    )  # fmt: skip
    breakaway_pa: float = quantity(
        "pressure", "Friction: the pressure on the bore at which it just begins to move, unloaded.",
        default=20_000.0, low=0.0, high=500_000.0, example="3 psi", key="breakaway",
        estimated="1-10 psi on the bore is usual; a starting guess of the reference model",
    )  # fmt: skip
    exact_flow: bool = flag(
        "Whether the pressures between the parts of each path are solved instead of combined by "
        "the quick rule, which is up to 8 ms early where a flow control and the hose are alike.",
        default=False,
    )
    on_back: str = text(
        "Board and terminal of the second coil, for two-coil and 5/3 valves.", default="",
        names="terminal", example="main 5",
    )  # fmt: skip

    def pull_when_vented_n(self) -> float:
        """What pulls at its rod when the air is let off, more than friction holds; 0: it stays."""
        return plant.pull_when_vented_n(self)

    def on_the_air(self, setting: Setting) -> Cylinder | None:
        return plant.cylinder(self, setting)

    def outputs(self) -> tuple[Output, ...]:
        if self.valve.kind not in TWO_COILS:
            return (Output(name="out", terminal=self.on, drives="switch"),)
        return (
            Output(name="out", terminal=self.on, drives="switch"),
            Output(name="back", terminal=self.on_back, drives="switch"),
        )

    def commands(self, move: Move) -> tuple[Command, ...]:
        out, *rest = (out.terminal or f"{self.name}.{out.name}" for out in self.outputs())
        if not rest:
            return (Command(output=out, value=float(move.action == "out")),)
        coils = {"out": out, "back": rest[0]}
        if self.valve.kind == "5/2 two-coil":
            wire = coils.get(move.action, out)
            return (Command(output=wire, value=1.0, hold=self.valve.pulse),)
        return tuple(
            Command(output=wire, value=float(move.action == name), hold=move.hold)
            for name, wire in coils.items()
        )

    def at_rest(self, setting: Setting) -> Any:
        return way.home(self, setting)

    def lead(
        self, move: Move, land: Landing, before: Any, since: Span | None, setting: Setting
    ) -> Lead:
        return lead.lead(self, move, land, before, since, setting)

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        two = self.valve.kind in TWO_COILS
        rests: ValveWay = "middle" if self.valve.kind.startswith("5/3") else "back"
        return Coils((False,) * (2 if two else 1), rests)

    def step(
        self,
        state: Any,
        wires: tuple[Wire, ...],
        volts: float,
        dt_s: float,  # noqa: ARG002 - the plant keeps the valve's time
        setting: Setting,  # noqa: ARG002
    ) -> Any:
        found: Coils = state
        on = pulled(found.on, wires, volts)
        way = way_of(self.valve.kind, on, found.way)
        return Coils(on, way, drawn(wires, self.valve.current_a, volts))

    def seen(self, state: Any) -> Seen:
        found: Coils = state
        return Seen(float(found.way == "out"), found.amps)

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:  # noqa: ARG002
        # As far as its wires go: where the piston is, the air plant says.
        return bool(now.way == {"stop": "middle"}.get(move.action, move.action))

    def tells_valve(self, state: Any) -> ValveWay:
        found: Coils = state
        return found.way

    def landed_by_air(
        self,
        land: Landing,
        found: Any,
        fed: Callable[[float], float],  # noqa: ARG002 - its piston was followed
        setting: Setting,  # noqa: ARG002
    ) -> float | None:
        seen: dict[str, float | None]
        seen = {"starts": found.start_s, "half-way": found.mid_s, "arrives": found.full_s}
        return seen[land]

    def shown_by_air(self, out_m: float) -> float:
        return share_out(self, min(max(out_m, 0.0), self.stroke_m))

    def loads(self, move: Move) -> tuple[Load, ...]:
        valve = self.valve
        draws = Load(volts=valve.volts_v, amps=valve.current_a, stop=move.hold)
        if move.action == "stop" or (move.action == "back" and valve.kind not in TWO_COILS):
            return ()
        return (replace(draws, stop=valve.pulse) if valve.kind == "5/2 two-coil" else draws,)

    def light(self, move: Move) -> Light | None:  # noqa: ARG002
        return None

    def least_gap(self, earlier: Move, later: Move) -> Span:  # noqa: ARG002
        if self.valve.kind == "5/2 two-coil":
            return max(self.valve.pulse, self.valve.delay)
        return self.valve.delay

    def is_home(self, move: Move) -> bool:
        return move.action == "back" and move.hold is None and not move.to

    def objections(self, move: Move) -> tuple[Finding, ...]:
        return tuple(faults.objections(self, move))

    def checks(self, setting: Setting) -> tuple[Finding, ...]:
        return tuple(faults.checks(self, setting))
