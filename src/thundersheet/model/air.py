"""The air that feeds the cylinders: compressor, plumbing, leaks, and the evening it has to last.

Records as a builder writes them, with starting values for what nobody knows. Nothing is reckoned
here; which part feeds which is in `plan.plumbing`.
"""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import (
    Record,
    choice,
    clock,
    flag,
    hours,
    named,
    quantity,
    record,
    span,
    text,
    whole,
)
from thundersheet.base.time import Span
from thundersheet.base.unit_table import CV

PART_KINDS = (
    "tank",
    "manifold",
    "shut-off",
    "filter",
    "dryer",
    "regulator",
    "lubricator",
    "dump valve",
    "soft-start valve",
    "check valve",
)
WITH_VOLUME = ("tank", "manifold")
"""Parts that hold air; the others only let it through."""
PORTS = ("1/8", "1/4", "3/8", "1/2", "3/4")
"""Thread of a part's ports in inches, G (ISO 228) or NPT alike."""

# Cv by port, in the order of PORTS: what small parts of that thread usually pass with the valve
# open and the filter clean; a regulator's stands for its droop (common practice, no source).
_USUAL_CV = {
    "shut-off": (0.6, 1.2, 3.0, 6.0, 10.0),
    "filter": (0.5, 1.2, 2.2, 4.0, 6.0),
    "dryer": (0.4, 0.8, 1.5, 2.5, 4.0),
    "regulator": (0.5, 1.0, 2.0, 3.5, 5.5),
    "lubricator": (0.5, 1.2, 2.2, 4.0, 6.0),
    "dump valve": (0.5, 1.2, 2.0, 4.0, 6.0),
    "soft-start valve": (0.5, 1.0, 1.8, 3.5, 5.5),
    "check valve": (0.5, 1.0, 2.0, 4.0, 6.0),
}


@dataclass(frozen=True, kw_only=True)
class FeedHose(Record):
    """The hose through which a part of the plumbing is fed."""

    bore_m: float = quantity(
        "length", "Inside diameter.", low=0.5e-3, high=0.1, example="6 mm", key="bore"
    )
    length_m: float = quantity(
        "length", "How long it is.", low=0.0, high=200.0, example="3 m", key="length"
    )


@dataclass(frozen=True, kw_only=True)
class AirPart(Record):
    """One part of the plumbing between the compressor and the valves."""

    name: str = ""
    kind: str = choice(
        "What it is. Tanks and manifolds hold air; the others let it through.", PART_KINDS
    )
    fed_by: str = text(
        "The part that feeds it; left out: the compressor, or whatever fills the tank.",
        default="", key="from", names="air part", example="regulator",
    )  # fmt: skip
    hose: FeedHose | None = record(
        FeedHose, "The hose that feeds it; left out: it is screwed on.", default=None
    )
    port: str = choice(
        "Thread of its ports in inches, which says what such a part usually passes.",
        PORTS,
        default="1/4",
    )
    flow_m3_s_pa: float | None = quantity(
        "conductance", "What it passes: Cv, Kv, `Qn 400 l/min` or a sonic conductance. A "
        "regulator's is its droop; left out: what is usual for its port.", default=None, low=1e-11,
        high=1e-4, example="1 Cv", key="flow",
        estimated="0.5 to 6 Cv by kind and port; common practice, no source",
    )  # fmt: skip
    volume_m3: float | None = quantity(
        "volume", "Air that a tank or manifold holds.", default=None, low=1e-6, high=20.0,
        example="24 l", key="volume", estimated="20 ml for a manifold; common practice, no source",
    )  # fmt: skip
    set_pa: float | None = quantity(
        "pressure", "Gauge pressure that a regulator is set to; left out: as `set` of `air`.",
        default=None, low=10_000.0, high=1_600_000.0, example="2.5 bar", key="set",
    )  # fmt: skip
    drop_pa: float = quantity(
        "pressure", "How much more a regulator needs before it than behind it.", default=30_000.0,
        low=0.0, high=500_000.0, example="0.3 bar", key="drop",
        estimated="0.2-0.5 bar is usual; common practice, no source",
    )  # fmt: skip
    filled_pa: float | None = quantity(
        "pressure", "Gauge pressure to which a tank without a compressor is filled beforehand.",
        default=None, low=10_000.0, high=5_000_000.0, example="8 bar", key="filled",
    )  # fmt: skip
    rated_pa: float | None = quantity(
        "pressure", "Greatest gauge pressure that its plate allows.", default=None, low=10_000.0,
        high=5_000_000.0, example="10 bar", key="rated",
    )  # fmt: skip
    ambient_k: float | None = quantity(
        "temperature", "How warm it is where a tank stands, if elsewhere than the prop.",
        default=None, low=233.15, high=333.15, example="8 C", key="ambient",
    )  # fmt: skip
    drained: bool = flag(
        "Whether somebody, or a drain of its own, lets a tank's water off before every evening.",
        default=False,
    )

    @property
    def passes_m3_s_pa(self) -> float:
        """What it passes, as written or usual; inf for a tank or manifold."""
        if self.flow_m3_s_pa is not None:
            return self.flow_m3_s_pa
        usual = _USUAL_CV.get(self.kind)
        return float("inf") if usual is None else usual[PORTS.index(self.port)] * float(CV)

    @property
    def holds_m3(self) -> float:
        """The air it holds itself, its hose apart; 0 for a part that only lets it through."""
        if self.kind not in WITH_VOLUME:
            return 0.0
        return MANIFOLD_M3 if self.volume_m3 is None else self.volume_m3


MANIFOLD_M3 = 20e-6
"""A block of four to six small valves (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Compressor(Record):
    """What fills the tank, between its two pressures."""

    delivers_m3_s: float = quantity(
        "volume flow", "Free air that it delivers: measured as it is sucked in (FAD). What a "
        "label calls displacement is a third to a half more (common practice).", low=1e-7, high=0.2,
        example="60 l/min", key="delivers",
    )  # fmt: skip
    at_pa: float | None = quantity(
        "pressure", "Gauge pressure in the tank at which it does; left out: at all.", default=None,
        low=0.0, high=3_000_000.0, example="6 bar", key="at",
    )  # fmt: skip
    also_delivers_m3_s: float | None = quantity(
        "volume flow", "The same at a second, higher pressure; it is linear between and beyond.",
        default=None, low=0.0, high=0.2, example="45 l/min", key="also delivers",
    )  # fmt: skip
    also_at_pa: float | None = quantity(
        "pressure", "That second pressure.", default=None, low=0.0, high=3_000_000.0,
        example="8 bar", key="also at",
    )  # fmt: skip
    cut_in_pa: float = quantity(
        "pressure", "Gauge pressure at or below which it starts.", low=10_000.0, high=3_000_000.0,
        example="6 bar", key="cut in",
    )  # fmt: skip
    cut_out_pa: float = quantity(
        "pressure", "Gauge pressure at which it stops.", low=10_000.0, high=3_000_000.0,
        example="8 bar", key="cut out",
    )  # fmt: skip
    duty: float = quantity(
        "share", "Most of any ten minutes that it may run without overheating.", default=0.5,
        low=0.01, high=1.0, example="60 %",
        estimated="small piston compressors bear 50-60 %; common practice, no source",
    )  # fmt: skip
    quiet: tuple[tuple[Span, Span], ...] = hours(
        "When it may not run because of its noise, by the clock.", example="20:00-22:00"
    )
    fills: str = text(
        "The tank that it fills; left out: the part without `from`.", default="",
        names="air part", example="tank",
    )  # fmt: skip
    inlet_k: float | None = quantity(
        "temperature", "How warm the air is that it sucks in; left out: as `ambient` says.",
        default=None, low=233.15, high=333.15, example="5 C", key="inlet",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class LeakDown(Record):
    """What the tank lost while everything was shut: the leaks as measured."""

    loses_pa: float = quantity(
        "pressure", "By how much the gauge fell.", low=100.0, high=1_500_000.0, example="0.5 bar",
        key="loses",
    )  # fmt: skip
    within: Span = span("In what time.", low=1.0, high=1e6, example="10 min", key="in")
    began_pa: float | None = quantity(
        "pressure", "Gauge pressure at the beginning; left out: where the compressor cuts out.",
        default=None, low=10_000.0, high=3_000_000.0, example="8 bar", key="from",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Evening(Record):
    """The evening that one plan has to serve: how many shows, how fast, how cold."""

    shows: int = whole("How many shows.", low=1, high=100_000, example="40")
    every: Span | None = span(
        "From one start to the next; left out: the show's length and its `rest`.", default=None,
        low=1.0, example="104 s",
    )  # fmt: skip
    coldest_k: float | None = quantity(
        "temperature", "The coldest that it gets; left out: as `ambient` of `air`.", default=None,
        low=233.15, high=333.15, example="2 C", key="coldest",
    )  # fmt: skip
    warmest_k: float | None = quantity(
        "temperature", "The warmest that it gets; left out: as `ambient` of `air`.", default=None,
        low=233.15, high=333.15, example="15 C", key="warmest",
    )  # fmt: skip
    begins: Span | None = clock("When the first show may start.", default=None, example="19:00")
    ends: Span | None = clock("When the last one has to be over.", default=None, example="22:00")


@dataclass(frozen=True, kw_only=True)
class Air(Record):
    """What the devices' air comes from, and the weather it stands in."""

    set_pa: float | None = quantity(
        "pressure",
        "Gauge pressure at the devices; one may have its own `pressure`. Alone it means a supply "
        "without end; with `parts`, it is what a regulator without `set` is set to.",
        default=None,
        low=10_000.0,
        high=1_000_000.0,
        example="60 psi",
    )
    ambient_k: float = quantity(
        "temperature",
        "How warm it is where the air is.",
        default=293.15,
        low=233.15,
        high=333.15,
        example="12 C",
    )
    altitude_m: float = quantity(
        "length", "Height above the sea.", default=0.0, low=-400.0, high=4500.0, example="250 m"
    )
    dumped: bool = flag(
        "Whether the air was dumped before the show, so that first strokes lunge.", default=False
    )
    compressor: Compressor | None = record(
        Compressor, "What fills the tank; left out: it is filled beforehand.", default=None
    )
    parts: tuple[AirPart, ...] = named(
        AirPart, "The plumbing, part by part; each says what feeds it."
    )
    leaks_m3_s_anr: float | None = quantity(
        "flow", "What all leaks lose with the tank full, in litres of free air.", default=None,
        low=0.0, high=0.1, example="0.5 l/min", key="leaks",
    )  # fmt: skip
    leak_down: LeakDown | None = record(
        LeakDown, "The same as measured, instead of `leaks`.", default=None
    )
