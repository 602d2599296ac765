"""What every device is and answers: the contract between a kind's file and the rest.

A kind is one file in ``devices/`` with one class that derives from ``Device``. It says which
actions it has, which outputs it takes, how long an action takes to land (``lead``), what it
draws, and what its safe value is. It is asked in SI and answers in records of this module.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal

from thundersheet.base.finding import Finding
from thundersheet.base.shape import Record, flag, pairs, quantity, text
from thundersheet.base.time import Span

Landing = Literal["starts", "half-way", "arrives", "full"]
"""The point of an action that has to meet the beat: it starts to move or shine, is half-way,
arrives at its end, or has its full brightness, speed or cloud."""
ValveWay = Literal["", "out", "back", "middle", "on", "off"]
"""Where a valve stands; empty: there is none."""
LANDINGS: tuple[Landing, ...] = ("starts", "half-way", "arrives", "full")


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing a kind of device can be told to do."""

    name: str
    """The word after the device; an action called `to` is written `lamp to 60 %`."""
    doc: str
    lands: tuple[Landing, ...]
    """Landings that make sense for it; the first is the default."""
    takes: frozenset[Literal["to", "over", "for"]] = frozenset()
    """What may follow in a beat: `to 60 %`, `over 2 s`, `for 70 ms`."""
    to: str = ""
    """The dimension of `to`: `share` (60 %), `angle`, `number` (a scale value)."""
    visible: bool = True
    """Whether guests see it act (for flashes and for the picture)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One device told to do one thing, as a beat says it."""

    device: str
    action: str
    """The kind's own name for it, never the user's alias."""
    to: float | None = None
    """Where to, in SI or as a share 0..1 or a scale value; None: the action needs none."""
    over: Span | None = None
    """How long a change may take: `over 2 s`."""
    hold: Span | None = None
    """How long an output stays on: `for 70 ms`."""

    def __str__(self) -> str:
        words = [self.device, self.action]
        if self.to is not None:
            # An action may itself be called `to`: `glass to 27`.
            words += [f"{self.to:g}"] if self.action == "to" else ["to", f"{self.to:g}"]
        if self.over is not None:
            words += ["over", str(self.over)]
        if self.hold is not None:
            words += ["for", str(self.hold)]
        return " ".join(words)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """The surroundings in which a device acts: air as fed to it, temperature, supply."""

    supply_pa: float | None = None
    """Absolute pressure at the device's regulator; None: the book has no air for it."""
    atmosphere_pa: float = 101_325.0
    ambient_k: float = 293.15
    vented: bool = False
    """The air was dumped before: the first stroke meets no back pressure."""
    feed: tuple[tuple[float, float], ...] = ()
    """What stands between that pressure and the device's valve: each part's sonic conductance
    (m3/(s Pa)) and critical ratio; of a part shared with others this device's share."""
    landing_only: bool = False
    """Neither the lead's band is asked for nor the last digit of a motion that is hard to
    reckon, which is most of the work of some kinds: many airs, or many books, are being tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One named share of a lead."""

    name: str
    """A noun of the workshop: `valve`, `hose`, `filling`, `moving`, `relay`, `lamp`."""
    span: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Impact:
    """What a guest or a stop would feel of a motion."""

    energy_j: float
    """Greatest kinetic energy on the way, which a hand or a stop may meet."""
    force_n: float
    """Static force at the working end with nothing moving and full pressure."""
    speed_m_s: float
    """Greatest speed of the working end."""
    reach_m: float = 0.0
    """How far the working end travels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """How long one move takes from its command to its landing, and what it leaves behind."""

    parts: tuple[Part, ...]
    """Their sum is the lead; each may be zero, none is negative."""
    early: Span
    late: Span
    """The error band around the landing, both positive: it may land `early` before or `late`
    after the beat for reasons that the book cannot know (about 95 %)."""
    basis: Literal["estimated", "measured"]
    rest: Span
    """From the command until the device is at rest and may be commanded the other way."""
    hold: Span | None = None
    """How long the outputs stay on where the move itself finds that out (a stop part-way by a
    closed-centre valve, a motor that runs home); None: as the commands say."""
    state: Any
    """The device's state when the command has run its course; handed to its next `lead`."""
    curve: tuple[tuple[float, float], ...] = ()
    """What is seen, as (seconds after the command, share 0..1) points, for the drawn wedge."""
    impact: Impact | None = None
    air_l: float = 0.0
    """Free air (ANR litres) that this move takes from the supply."""
    draws: tuple[tuple[float, float], ...] = ()
    """How fast it takes it, stepwise: (seconds after the command, ANR litres a second from then
    on); the last step is zero."""
    never: str = ""
    """Why it never lands, in the user's words; empty: it does."""
    bands: Mapping[str, Span] = field(default_factory=dict)
    """What each uncertain value adds to the band, largest first: the cures start here."""

    @property
    def total(self) -> Span:
        """The lead: how long before the beat the command must leave."""
        return sum((part.span for part in self.parts), start=Span(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One wire that the device takes on a board."""

    name: str
    """What it does there: `out`, `back`, `on`, `step`."""
    terminal: str
    """Board and terminal as the book says, `main 4`; empty: not wired yet."""
    drives: Literal["switch", "level", "pulses", "data"]
    safe: float = 0.0
    """Value it gets on every exit, crash and lost heartbeat: 0 off, 1 on, or a level."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """What one move does to one output at the instant of its cue."""

    output: str
    """The terminal, or `device.output` where none is given yet."""
    value: float
    hold: Span | None = None
    """The board itself lets go after this time; None: it stays."""
    over: Span | None = None
    """The board itself ramps over this time; None: at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What a move draws, counted from its command."""

    volts: float
    amps: float
    start: Span = Span(0)
    stop: Span | None = None
    """None: until another command changes it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """What a move does to what is seen, for the flash check."""

    levels: tuple[tuple[Span, float], ...]
    """(after the command, relative brightness 0..1), stepwise."""
    area: float
    """Share 0..1 of the guests' view that it lights."""
    red: bool = False
    """Saturated red (R/(R+G+B) >= 0.8)."""
    every: Span | None = None
    """The levels come again with this period until the device's next command (a beacon, a
    flicker); None: once, and the last one stays."""


@dataclass(frozen=True, slots=True)
class Wire:
    """What one output does from an instant on: it stands at a value, or ramps evenly to one.

    One that `drives` a switch stands at 0 or 1 and never ramps.
    The board keeps the time of a ramp, so a device that makes a motion of its own out of it (a
    stepper's pulses) is told where it ends and when.
    """

    value: float
    """At this instant."""
    goal: float
    """Where it ends."""
    left_s: float = 0.0
    """Until it is there; 0: it is."""

    @classmethod
    def at(cls, value: float) -> Wire:
        """An output that stands at a value."""
        return cls(value, value)

    def after(self, dt_s: float) -> Wire:
        """The same wire some time later, nothing having been told in between."""
        left = self.left_s - dt_s
        if left <= 1e-12:  # a rounding, not a ramp
            return Wire(self.goal, self.goal)
        return Wire(self.goal - (self.goal - self.value) * left / self.left_s, self.goal, left)

    @property
    def slope(self) -> float:
        """Change of its value in a second."""
        return (self.goal - self.value) / self.left_s if self.left_s > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class Seen:
    """A device at one instant of a rehearsal."""

    shown: float
    """What its leads are about, 0..1: brightness, place, speed, cloud."""
    amps: float = 0.0
    light: float = 0.0
    """How bright it is just now, 0..1, a rhythm of its own included."""


@dataclass(frozen=True, kw_only=True)
class Device(Record, ABC):
    """A thing that acts or shows. A kind derives from it, adds its fields and answers."""

    KIND: ClassVar[str]
    """The word in `kind:`; the file is named after it (`air cylinder` -> air_cylinder.py)."""
    ACTIONS: ClassVar[tuple[Action, ...]]
    EXAMPLE: ClassVar[str]
    """A device of this kind as a builder writes it: YAML under a name, and one beat that uses it;
    the docs show it and the tests read and plan it."""
    SYMBOL: ClassVar[str]
    """An SVG fragment in a 24 x 24 box, strokes in currentColor, for pages and paper."""

    name: str = ""
    """Its key under `devices`."""
    what: str = text("What guests see it as: `storm shutter`.", default="")
    on: str = text(
        "Board and terminal that switch it.", default="", example="main 4", names="terminal"
    )
    words: tuple[tuple[str, str], ...] = pairs(
        "Your own words for its actions, yours first.",
        default=(),
        example="{open: out, shut: back}",
    )
    reachable: bool = flag("Whether a guest's hand can get at it while it moves.", default=False)
    edge: bool = flag("Whether a pressure-sensitive edge reverses or stops it.", default=False)
    lit_share: float = quantity(
        "share",
        "Share of the guests' view that it lights, for the flash check.",
        default=0.0,
        low=0.0,
        high=1.0,
        example="20 %",
    )

    def on_the_air(self, setting: Setting) -> Any:  # noqa: ARG002
        """The device as the air plant knows it; None: it uses no air.

        A Cylinder or Jet of `physics.plant.records`, its `body` empty and its `path` from a
        regulator of its own alone: what feeds it, the plumbing knows.
        """
        return None

    @abstractmethod
    def outputs(self) -> tuple[Output, ...]:
        """The outputs it takes, in wiring order; none for a screen or a self-running player."""

    @abstractmethod
    def commands(self, move: Move) -> tuple[Command, ...]:
        """What a move does to its outputs at the cue."""

    @abstractmethod
    def at_rest(self, setting: Setting) -> Any:
        """Its state before the show's first command."""

    @abstractmethod
    def lead(
        self, move: Move, land: Landing, before: Any, since: Span | None, setting: Setting
    ) -> Lead:
        """The lead of a move that starts from the state `before`.

        `since` is the time between the command that left that state and this command; None:
        longer than matters (everything has settled).
        """

    @abstractmethod
    def begins(self, setting: Setting) -> Any:
        """Its state before anything was switched, for `step`: another one than `lead`'s."""

    @abstractmethod
    def step(
        self, state: Any, wires: tuple[Wire, ...], volts: float, dt_s: float, setting: Setting
    ) -> Any:
        """The state some time later: the rehearsal's motion, reckoned apart from `lead`.

        `wires` in the order of `outputs`, as they are when the step begins; none of their ramps
        ends within it. `volts` is the share of its voltage that arrives. Exact however long the
        step: two in a row are the same as one. A step of 0 s tells it what its wires do now.
        """

    @abstractmethod
    def seen(self, state: Any) -> Seen:
        """What guests see of a state, and what it draws."""

    @abstractmethod
    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:
        """Whether a move whose command found it in the state `first` has landed in `now`.

        Once true it stays so until an output changes again.
        """

    def tells_valve(self, state: Any) -> ValveWay:  # noqa: ARG002
        """Where its valve stands, as the air plant calls it.

        Empty for a device that uses no air; one that does is moved by the air plant.
        """
        return ""

    def landed_by_air(
        self,
        land: Landing,  # noqa: ARG002
        found: Any,  # noqa: ARG002
        fed: Callable[[float], float],  # noqa: ARG002
        setting: Setting,  # noqa: ARG002
    ) -> float | None:
        """When a switch of its valve landed, from how it went in the air plant; None: never.

        `found` is a Landing of `physics.plant.records`; seconds of that run. `fed`: the pressure
        before its own path, by the seconds since the switch.
        """
        return None

    def shown_by_air(self, out_m: float) -> float:  # noqa: ARG002
        """What guests see, 0..1, of a piston that stands so far out."""
        return 0.0

    @abstractmethod
    def loads(self, move: Move) -> tuple[Load, ...]:
        """What the move draws from the supply."""

    @abstractmethod
    def light(self, move: Move) -> Light | None:
        """What the move does to what is seen; None: it lights nothing."""

    @abstractmethod
    def least_gap(self, earlier: Move, later: Move) -> Span:
        """The least time between two commands to this device, whatever the air does."""

    @abstractmethod
    def objections(self, move: Move) -> tuple[Finding, ...]:
        """Why this device cannot do this move at all: a plain valve asked to stop part-way.

        The place is the beat's, so the plan puts it in; leave it out here.
        """

    def is_home(self, move: Move) -> bool:
        """Whether a move leads to where the device waits between shows.

        All outputs at their safe values, unless a kind knows better.
        """
        safe = {out.terminal or f"{self.name}.{out.name}": out.safe for out in self.outputs()}
        commands = self.commands(move)
        return bool(commands) and all(
            command.hold is None and command.value == safe.get(command.output)
            for command in commands
        )

    @abstractmethod
    def checks(self, setting: Setting) -> tuple[Finding, ...]:
        """What is wrong or unwise in this device's own record."""
