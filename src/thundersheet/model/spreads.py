"""How far values may be off, where the builder knows better than the devices' own doubts."""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, number, quantity, span
from thundersheet.base.time import Span


@dataclass(frozen=True, kw_only=True)
class Spreads(Record):
    """What `rehearse --scatter` draws by lot; what is left out is as the devices' doubts say.

    Shares are ranges that hold in 95 % of the cases: `10 %` is from a tenth less to a tenth more.
    """

    valve_delay: float | None = quantity(
        "share", "Of a valve's delay.", default=None, low=0.0, high=1.0, example="20 %"
    )
    valve_flow: float | None = quantity(
        "share", "Of what a valve passes.", default=None, low=0.0, high=1.0, example="10 %"
    )
    flow_control: float | None = quantity(
        "share", "Of a flow control's setting.", default=None, low=0.0, high=1.0, example="5 %"
    )
    friction: float | None = quantity(
        "share", "Of a cylinder's friction.", default=None, low=0.0, high=5.0, example="25 %"
    )
    hose: float | None = quantity(
        "share", "Of a hose's length.", default=None, low=0.0, high=1.0, example="5 %"
    )
    load: float | None = quantity(
        "share", "Of what a cylinder moves.", default=None, low=0.0, high=1.0, example="5 %"
    )
    pressure: float | None = quantity(
        "share", "Of a regulator's gauge pressure, from night to night.", default=None, low=0.0,
        high=0.5, example="5 %",
    )  # fmt: skip
    temperature: float | None = number(
        "Kelvins (degrees Celsius) from night to night; left out: as `evening` has it, else 10.",
        default=None, low=0.0, high=40.0, example="5",
    )  # fmt: skip
    screen_lag: float | None = quantity(
        "share", "Of the lag of a screen or player.", default=None, low=0.0, high=1.0,
        example="10 %",
    )  # fmt: skip
    jitter: Span = span(
        "How much sooner or later a valve switches from one time to the next, as a standard "
        "deviation.",
        default=Span.ms(2),
        low=0.0,
        high=0.1,
        example="2 ms",
        estimated="small valves; common practice, no source",
    )
    decoding: Span | None = span(
        "How exactly the cue track is heard, as a standard deviation; left out: 0.5 ms, and 2 ms "
        "for the layout `direct`.",
        default=None,
        low=0.0,
        high=0.1,
        example="1 ms",
        estimated="the file receiver hears to 0.1 ms in noise, a simple one decides in steps; "
        "common practice, no source",
    )
