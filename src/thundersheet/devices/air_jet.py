"""An air jet: a valve, a hose and a nozzle; a gust that is felt or lifts light things."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, pi
from typing import Any, ClassVar

from thundersheet.base.finding import Finding, Grade
from thundersheet.base.shape import number, quantity, record, text
from thundersheet.base.time import Span
from thundersheet.devices._air_parts import CRITICAL, Hose, Valve
from thundersheet.devices._answers import Plain
from thundersheet.devices._course import Course, course_of, pulse, still
from thundersheet.devices._cylinder.stroke import NO_AIR
from thundersheet.devices._valve_steps import Coils, Gust, drawn, pulled, reaches
from thundersheet.model.device import (
    Action,
    Command,
    Landing,
    Lead,
    Load,
    Move,
    Output,
    Part,
    Seen,
    Setting,
    ValveWay,
    Wire,
)
from thundersheet.physics.gas import (
    R,
    Restriction,
    c_of_area,
    in_series,
    mass_flow,
    sound_speed,
    standard_litres,
)
from thundersheet.physics.plant.records import Jet, Path

EXPLAINS = {
    "JET-01": "The valve is let go before the gust has reached what it is to move.",
    "JET-02": "The gust has spread and slowed so much at that distance that it is hardly felt.",
}
PUFF = Span.ms(120)
DECAY = 6.2
"""Speed on the axis of a round jet: u = 6.2 u0 d/x beyond 6.2 d (Rajaratnam, Turbulent Jets, 1976:
6.2-6.3; the front of a starting jet runs at half of that)."""
FELT_M_S = 2.0
"""A gust slower than this moves no paper (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class AirJet(Plain):
    """A jet: the valve shifts, the hose fills, and the gust runs to what it moves."""

    KIND: ClassVar[str] = "air jet"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(
            name="puff",
            doc="One gust, 120 ms or as long as `for` says.",
            lands=("arrives", "starts"),
            takes=frozenset({"for"}),
        ),
    )
    EXAMPLE: ClassVar[str] = """\
air: {set: 2.0 bar}
devices:
  gust:
    kind: air jet
    what: charts lift
    nozzle: 4 mm
    distance: 0.5 m
    valve: {kind: 3/2, delay: 15 ms}
    hose: {bore: 4 mm, length: 1 m}
    on: main 3
beats:
  - {at: 0:31, do: gust puff for 120 ms}
"""
    SYMBOL: ClassVar[str] = (
        '<g fill="none" stroke="currentColor"><path d="M2 9h7l4 2v2l-4 2H2z"/>'
        '<path d="M15 12h7M15 10l6-4M15 14l6 4"/></g>'
    )

    nozzle_m: float = quantity(
        "length", "Bore of the nozzle.", low=0.2e-3, high=0.05, example="4 mm", key="nozzle"
    )
    distance_m: float = quantity(
        "length", "From the nozzle to what the gust moves.", default=0.5, low=0.0, high=5.0,
        example="0.5 m", key="distance", estimated="an arm's length; common practice, no source",
    )  # fmt: skip
    discharge: float = number(
        "Share of an ideal nozzle's flow that passes.", default=0.9, low=0.3, high=1.0,
        example="0.9", estimated="0.97 for rounded, 0.6-0.8 for sharp edges; common practice",
    )  # fmt: skip
    pressure_pa: float | None = quantity(
        "pressure", "Gauge pressure of its own regulator; left out: as `air` says.", default=None,
        low=10_000.0, high=1_000_000.0, example="2 bar", key="pressure",
    )  # fmt: skip
    air_from: str = text(
        "The part of the plumbing that feeds its valve; left out: the one end that there is.",
        default="", names="air part", example="manifold",
    )  # fmt: skip
    valve: Valve = record(Valve, "Its valve.", default=Valve(kind="3/2"))
    hose: Hose = record(Hose, "The hose from the valve to the nozzle.", default=Hose())

    def on_the_air(self, setting: Setting) -> Jet | None:
        if setting.supply_pa is None:
            return None
        own = inf if self.pressure_pa is None else self.pressure_pa + setting.atmosphere_pa
        return Jet(
            name=self.name,
            body="",
            path=Path(set_pa=own),
            flow=self.path(),
            delay_s=self.valve.delay.s,
        )

    def outputs(self) -> tuple[Output, ...]:
        return (Output(name="puff", terminal=self.on, drives="switch"),)

    def blows(self, move: Move) -> Span:
        """How long the valve is open."""
        return move.hold or PUFF

    def commands(self, move: Move) -> tuple[Command, ...]:
        return (Command(output=self.wire(), value=1.0, hold=self.blows(move)),)

    def path(self, feed: tuple[tuple[float, float], ...] = ()) -> Restriction:
        """What feeds the valve, valve, hose and nozzle as one."""
        nozzle = c_of_area(pi / 4.0 * self.nozzle_m**2, self.discharge)
        tube = self.hose.tube
        parts = [self._inlet(feed), *([tube.flow] if tube else []), Restriction(nozzle, CRITICAL)]
        return in_series(parts)

    def _inlet(self, feed: tuple[tuple[float, float], ...]) -> Restriction:
        """The valve with what feeds it."""
        parts = [Restriction(c, b) for c, b in feed]
        return in_series([*parts, self.valve.feeds]) if parts else self.valve.feeds

    def _flow(self, setting: Setting) -> float:
        """kg/s while it blows."""
        supply = setting.supply_pa or setting.atmosphere_pa
        path = self.path(setting.feed)
        return mass_flow(path, supply, setting.atmosphere_pa, setting.ambient_k)

    def exit_speed(self, setting: Setting) -> float:
        """m/s of the air at the nozzle: mass flow at the open air's density, at most sound's."""
        if setting.supply_pa is None:
            return 0.0
        flow = self._flow(setting)
        density = setting.atmosphere_pa / (R * setting.ambient_k)
        speed = flow / (density * pi / 4.0 * self.nozzle_m**2)
        return min(speed, sound_speed(setting.ambient_k))

    def delays(self, setting: Setting) -> tuple[tuple[str, float], ...]:
        """What passes between the command and the gust, part by part, in seconds.

        Sound's way down the hose; filling it to the supply at the choked flow of the valve; and
        the front of a starting jet, x^2 / (DECAY u0 d) from dx/dt = DECAY u0 d / (2 x).
        """
        supply = setting.supply_pa or setting.atmosphere_pa
        tube = self.hose.tube
        filling = 0.0
        if tube is not None and supply > setting.atmosphere_pa:
            inflow = mass_flow(
                self._inlet(setting.feed), supply, setting.atmosphere_pa, setting.ambient_k
            )
            mass = tube.volume_m3 * (supply - setting.atmosphere_pa) / (R * setting.ambient_k)
            filling = mass / inflow
        speed = self.exit_speed(setting)
        flight = self.distance_m**2 / (DECAY * speed * self.nozzle_m) if speed else 0.0
        hose = self.hose.length_m / sound_speed(setting.ambient_k)
        return (
            ("valve", self.valve.delay.s),
            ("hose", hose),
            ("filling", filling),
            ("gust", flight),
        )

    def at_rest(self, setting: Setting) -> Any:  # noqa: ARG002
        return still(0.0)

    def lead(
        self,
        move: Move,
        land: Landing,
        before: Any,
        since: Span | None,  # noqa: ARG002 - a gust is over before the next one
        setting: Setting,
    ) -> Lead:
        delays = self.delays(setting)
        told = delays if land == "arrives" else delays[:2]
        parts = tuple(Part(name=name, span=Span.seconds(s)) for name, s in told)
        course = self._gust(move, delays)
        bands = self._bands(dict(told))
        wide = Span.seconds(sum(span.s**2 for span in bands.values()) ** 0.5)
        return Lead(
            parts=parts,
            early=wide,
            late=wide,
            basis="estimated",
            rest=Span.seconds(course.end_s),
            state=before,
            curve=course.points,
            air_l=self.air_l(move, setting),
            draws=self._draws(move, setting),
            never=NO_AIR if setting.supply_pa is None else "",
            bands=bands,
        )

    def _gust(self, move: Move, delays: tuple[tuple[str, float], ...]) -> Course:
        """What is felt at the distance: it rises while the front comes and ends as it began."""
        begins = sum(seconds for _, seconds in delays[:2])
        rises = max(sum(seconds for _, seconds in delays[2:]), 1e-4)
        return course_of(
            pulse(
                after_s=begins, rises_s=rises, stays_s=self.blows(move).s + rises, falls_s=rises
            ).points
        )

    def _bands(self, told: dict[str, float]) -> dict[str, Span]:
        known = self.valve.origin.wrote("delay")
        shares = {"valve": 0.2 if known else 0.6, "hose": 0.1, "filling": 0.3, "gust": 0.5}
        found = {name: Span.seconds(shares[name] * s) for name, s in told.items() if s}
        return dict(sorted(found.items(), key=lambda each: each[1], reverse=True))

    def air_l(self, move: Move, setting: Setting) -> float:
        """Litres of free air (ANR) of one gust: flow through the whole path while it is open."""
        if setting.supply_pa is None:
            return 0.0
        flow = self._flow(setting)
        return standard_litres(flow * self.blows(move).s)

    def _draws(self, move: Move, setting: Setting) -> tuple[tuple[float, float], ...]:
        if setting.supply_pa is None:
            return ()
        opens = self.valve.delay.s
        flow = standard_litres(self._flow(setting))
        return ((opens, flow), (opens + self.blows(move).s, 0.0))

    def begins(self, setting: Setting) -> Any:  # noqa: ARG002
        return Coils((False,), "off")

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
        return Coils(on, "on" if on[0] else "off", drawn(wires, self.valve.current_a, volts))

    def seen(self, state: Any) -> Seen:
        found: Coils = state
        return Seen(float(found.way == "on"), found.amps)

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:  # noqa: ARG002
        # As far as its wires go: when the gust arrives, the air's pressure says.
        return bool(now.way == "on")

    def tells_valve(self, state: Any) -> ValveWay:
        found: Coils = state
        return found.way

    def landed_by_air(
        self, land: Landing, found: Any, fed: Callable[[float], float], setting: Setting
    ) -> float | None:
        delay = self.valve.delay.s
        if found.start_s is None:
            return None
        if land == "starts":
            sound = self.hose.length_m / sound_speed(setting.ambient_k)
            return float(found.switch.at_s + delay + sound)
        limit = inf if self.pressure_pa is None else self.pressure_pa + setting.atmosphere_pa
        takes = reaches(
            self._gust_front(),
            self.distance_m,
            lambda t: min(fed(delay + t), limit),
            setting.atmosphere_pa,
            setting.ambient_k,
        )
        return None if takes == inf else float(found.switch.at_s + delay + takes)

    def _gust_front(self) -> Gust:
        tube = self.hose.tube
        nozzle = Restriction(c_of_area(pi / 4.0 * self.nozzle_m**2, self.discharge), CRITICAL)
        return Gust(
            valve=self.valve.feeds,
            nozzle=in_series([*([tube.flow] if tube else []), nozzle]),
            hose_m3=tube.volume_m3 if tube else 0.0,
            hose_m=self.hose.length_m,
            nozzle_m=self.nozzle_m,
            decay=DECAY,
        )

    def loads(self, move: Move) -> tuple[Load, ...]:
        valve = self.valve
        return (Load(volts=valve.volts_v, amps=valve.current_a, stop=self.blows(move)),)

    def least_gap(self, earlier: Move, later: Move) -> Span:  # noqa: ARG002
        return self.blows(earlier) + self.valve.delay

    def objections(self, move: Move) -> tuple[Finding, ...]:
        if self.blows(move) >= self.valve.delay:
            return ()
        return (
            Finding(
                code="JET-01",
                grade="refuse",
                says=f"{self.name} is let go after {self.blows(move)}, before its valve has "
                f"shifted ({self.valve.delay}).",
                allowed=f"Give it {self.valve.delay} or more.",
                about=(self.name,),
            ),
        )

    def checks(self, setting: Setting) -> tuple[Finding, ...]:
        if setting.supply_pa is None:
            says, field = f"{self.name}: {NO_AIR}.", "pressure_pa"
            return (*super().checks(setting), self._finding("AIR-01", "refuse", says, field))
        core = DECAY * self.nozzle_m
        speed = self.exit_speed(setting) * min(1.0, core / max(self.distance_m, core))
        if speed < FELT_M_S:
            says = f"The gust of {self.name} has {speed:.1f} m/s left at its distance."
            return (*super().checks(setting), self._finding("JET-02", "warn", says, "distance_m"))
        return super().checks(setting)

    def _finding(self, code: str, grade: Grade, says: str, field: str) -> Finding:
        return Finding(
            code=code,
            grade=grade,
            place=self.origin.of(field),
            says=says,
            allowed="" if code == "AIR-01" else "Bring the nozzle nearer, or make it larger.",
            about=(self.name,),
        )
