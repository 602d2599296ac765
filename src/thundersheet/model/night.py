"""What the book says about running for guests: inputs, the start, and limits of outputs.

All of it may be left out: a book without `night` has a start button, no sensors and no limits of
its own. What is watched here stands in for no hardware: the stop, the dump valve and guards act by
themselves, and software merely reads them.
"""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.base.shape import Record, choice, named, quantity, record, span, text, texts
from thundersheet.base.time import Span

INPUT_KINDS = ("start", "stop", "door", "beam", "pressure", "supply", "home")


@dataclass(frozen=True, kw_only=True)
class Input(Record):
    """One thing that the controller reads."""

    name: str = ""
    kind: str = choice(
        "`start`: the guests' button. `stop`: watches the stop, which is hardware. `door`: opened, "
        "the show ends. `beam`: broken, what it guards rests. `pressure`: at the tank. `supply`: "
        "the power of the outputs. `home`: a device stands where it waits.",
        INPUT_KINDS,
        example="door",
    )
    on: str = text("Board and input terminal.", default="", example="main in 2")
    of: tuple[str, ...] = texts(
        "For `home` the one device that it proves; for `beam` those that it guards, left out: all "
        "that move.",
        names="device",
        example="[shutter]",
    )
    settles: Span = span(
        "For how long a change has to stay before it is believed (contacts bounce 5 to 50 ms; "
        "common practice).",
        default=Span.ms(30),
        low=0.0,
        high=2.0,
    )
    silent_after: Span | None = span(
        "After which time without a report it counts as failed; left out: it is never missed.",
        default=None,
        low=0.01,
        high=600.0,
        example="2 s",
    )
    within: Span = span(
        "For `home`: how long the way home may take; then the next show leaves the device out.",
        default=Span.seconds(10),
        low=0.05,
        high=600.0,
    )
    least_pa: float | None = quantity(
        "pressure", "For `pressure`: no show starts under this gauge pressure.", default=None,
        low=0.0, high=3_000_000.0, example="2 bar",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Start(Record):
    """How the start button is understood; however it is pressed, one series gives one show."""

    settles: Span = span(
        "For how long a press has to last (contacts bounce 5 to 50 ms; common practice).",
        default=Span.ms(30),
        low=0.005,
        high=2.0,
    )
    left_alone: Span = span(
        "Presses nearer than this are one series, and a series starts one show at most.",
        default=Span.seconds(2),
        low=0.0,
        high=60.0,
    )
    stuck_after: Span = span(
        "After which time of being held it is reported as stuck.",
        default=Span.seconds(10),
        low=0.1,
        high=600.0,
    )
    at_rest: str = choice(
        "What a press during the rest does: `ignore` it, or `queue` one show.",
        ("ignore", "queue"),
        default="ignore",
    )


@dataclass(frozen=True, kw_only=True)
class OutputLimit(Record):
    """How long one output may stay on and has to stay off, whatever the cues say."""

    name: str = ""
    """Its terminal, or `device.output` where none is given."""
    most_on: Span | None = span(
        "Then it is let go.", default=None, low=0.001, high=86_400.0, example="10 s"
    )
    least_off: Span | None = span(
        "Before it may be on again.", default=None, low=0.001, high=86_400.0, example="1 s"
    )


@dataclass(frozen=True, kw_only=True)
class Night(Record):
    """How the show is run for guests."""

    inputs: tuple[Input, ...] = named(Input, "What the controller reads.")
    start: Start = record(Start, "How the start button is understood.", default=Start())
    outputs: tuple[OutputLimit, ...] = named(OutputLimit, "Limits, under the outputs' terminals.")
    air: str = text(
        "The terminal that lets air in; off, the dump valve lets it out.",
        default="",
        names="terminal",
        example="main 8",
    )
    quiet: str = text(
        "The variant for young or frightened guests, for one show at one press.",
        default="",
        names="variant",
        example="quiet",
    )
    dry_run: tuple[str, ...] = texts(
        "What takes part in a dry run beside lamps.", names="device", example="[gauge]"
    )
    half_pa: float | None = quantity(
        "pressure", "Most gauge pressure for what moves, in a run at half pressure.", default=None,
        low=1000.0, high=3_000_000.0, example="30 psi", key="half pressure",
    )  # fmt: skip
    lost_after: Span = span(
        "After which time without marks the show goes on by the controller's own clock.",
        default=Span.seconds(5),
        low=0.2,
        high=600.0,
    )
