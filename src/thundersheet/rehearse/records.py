"""What a rehearsal finds, as data: verbs print it, sheets draw it, the page asks for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from thundersheet.base.finding import Finding
from thundersheet.base.units import METRIC, UnitStyle
from thundersheet.model.device import Landing
from thundersheet.model.show import Window

Quantity = Literal["motion", "out pressure", "back pressure", "supply", "current", "light", "air"]
"""motion: share 0..1; pressures: absolute Pa; current: A; light: 0..1; air: kg/s."""
Solver = Literal["coupled", "event-driven"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One quantity of one device, or of one body of air, over a show; straight between points."""

    of: str
    """The device, body or supply."""
    quantity: Quantity
    at_s: tuple[float, ...]
    """Seconds of the programme."""
    values: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Landed:
    """One cue in one show."""

    cue: str
    """The cue's id."""
    device: str
    land: Landing
    beat_s: float
    """On the programme's line, the screen's lag included."""
    window: Window
    planned_ms: float
    """Where the plan expects it against the beat, with a full tank; late is positive."""
    error_ms: float | None
    """Where it landed against the beat; None: it never did."""
    lead_ms: float | None = None
    """From the command to the landing, as rehearsed."""
    impact_m_s: float | None = None
    impact_j: float | None = None
    supply_pa: float | None = None
    """Lowest pressure where it was fed, absolute."""
    why: str = ""
    """Why it never landed or lay outside, in plain words, where that is known."""

    @property
    def inside(self) -> bool:
        """Whether it landed in its window."""
        if self.error_ms is None:
            return False
        return self.window.early.in_ms <= self.error_ms <= self.window.late.in_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """One show of an evening."""

    number: int
    """From 1."""
    start_s: float
    """Seconds of the evening at which its programme began."""
    variant: str
    """What the ladder chose; empty: the show as written."""
    why: str = ""
    """Why it chose that."""
    guests: int = 0
    tank_pa: float | None = None
    """Absolute, at its start."""
    lowest_pa: float | None = None
    """Of the tank, while it played."""
    air_l: float = 0.0
    """Standard litres (ANR) that all devices took."""
    air_of: tuple[tuple[str, float], ...] = ()
    """The same, device by device."""
    landed: tuple[Landed, ...] = ()

    @property
    def weak(self) -> bool:
        """Whether any landing lay outside its window."""
        return any(not each.inside for each in self.landed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """The tank over the evening."""

    at_s: tuple[float, ...]
    pa: tuple[float, ...]
    """Absolute."""
    compressor_on: tuple[tuple[float, float], ...] = ()
    cut_in_pa: float | None = None
    cut_out_pa: float | None = None
    duty: float = 0.0
    """Share of the evening that the compressor ran."""
    worst_duty: float = 0.0
    """Largest share of any 600 s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Queue:
    """Guests, where an evening of arrivals was rehearsed."""

    came: int
    played: int
    """Guests who saw the show by the end."""
    left_waiting: int
    mean_wait_s: float
    longest_wait_s: float
    longest_line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Differs:
    """How far the rehearsal's landings lie from where the plan expects them, in milliseconds.

    Where a plan expects a range over an evening, the distance is that to the range.
    """

    mean_ms: float
    """Of the distances."""
    worst_ms: float
    """Of them, late is positive."""
    worst_cue: str
    landings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A question of a builder's, answered in one line."""

    asks: str
    """`shows with the compressor off`."""
    value: float | None
    """None: there is no such number, and `says` why."""
    unit: str = ""
    says: str
    """The whole answer, in the builder's units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """All of it."""

    show: str
    mode: Literal["show", "rush", "evening"]
    solver: Solver
    seed: int | None
    """Of whatever was drawn by lot; None: nothing was."""
    length_s: float
    """Of the programme."""
    shows: tuple[Played, ...]
    curves: tuple[Curve, ...] = ()
    """Of the first show, or of the show asked for."""
    tank: Tank | None = None
    queue: Queue | None = None
    guests_per_hour: float | None = None
    rest_s: float | None = None
    """Least pause between two shows after which the devices are at rest and the air is back."""
    rest_why: str = ""
    faults: tuple[str, ...] = ()
    """As they were asked for."""
    started: str = ""
    """What became of presses of the start that found the prop playing or resting."""
    differs: Differs | None = None
    """Against the plan; None where a fault was asked for, or nothing landed."""
    answers: tuple[Answer, ...] = ()
    findings: tuple[Finding, ...] = ()
    units: UnitStyle = METRIC
    atmosphere_pa: float = 101_325.0

    @property
    def first_weak(self) -> Played | None:
        """The first show that had a landing outside its window."""
        return next((show for show in self.shows if show.weak), None)


Drawn = Literal["fixed", "night", "show"]
"""Whether a value is unknown but the same in every show, until somebody measures it (``fixed``);
one for all of a show (``night``: pressure, temperature); or another at every cue (``show``)."""
By = Literal["coupled", "event-driven", "stroke by stroke", "linear", "measured"]
"""What gave a beat's figures: the plant as a whole; each stroke alone, compiled; shares of a lead
that grow in proportion; a measured lead with its measured spread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """One value that was drawn by lot."""

    name: str
    """`friction`, `valve delay`, as the drivers call it."""
    of: str
    """The device, screen or cue; empty: shared by all."""
    sd: float
    """Standard deviation in `unit`; of a uniform one half its width."""
    unit: Literal["share", "s", "K"]
    """share: of the value, as a factor of exp(sd z), so that 95 % lie in 1/f..f."""
    law: Literal["normal", "uniform"] = "normal"
    drawn: Drawn
    source: str
    """Where the amount comes from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """One beat's landing error over many shows drawn by lot; milliseconds, late is positive."""

    cue: str
    window: Window
    shows: int
    missing: int
    """How often it never landed."""
    inside: float
    """Share 0..1 inside its window."""
    mean_ms: float
    sd_ms: float
    quantiles: tuple[tuple[float, float], ...]
    """(share, ms): 0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99."""
    drivers: tuple[tuple[str, float, float, float], ...] = ()
    """(parameter, first-order index, total index, half width of its 95 % interval), largest total
    first: variance-based (Sobol) sensitivity."""
    by: By = "event-driven"
    tuned_inside: float | None = None
    """Share inside its window where only that varies which no tuning removes (not ``fixed``)."""
    tuned_sd_ms: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """Some of the drawn shows played once more by the air plant as a whole."""

    solver: Solver
    shows: int
    landings: int
    mean_ms: float
    """How much later it says they land, on average."""
    rms_ms: float
    """Root mean square of the differences."""
    worst_ms: float
    worst_cue: str
    of_scatter: float = 0.0
    """Largest root mean square of a cue's differences as a share of its own scatter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Many shows drawn by lot."""

    show: str
    shows: int
    seed: int
    solver: Solver
    all_inside: float
    """Share of shows with every landing inside its window."""
    spreads: tuple[Spread, ...]
    ran_on: str = "this machine"
    seconds: float = 0.0
    tuned_all_inside: float | None = None
    """Share of shows with every landing inside, where only that varies which no tuning removes."""
    doubts: tuple[Doubt, ...] = ()
    """What was drawn by lot."""
    checks: tuple[Checked, ...] = ()
    findings: tuple[Finding, ...] = ()
