"""What most kinds answer alike: a value that follows a course, on one wire.

A kind that derives from ``Simple`` says its course; parts, landings, band, curve and state follow.
It knows neither air nor the plan.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from thundersheet.base.finding import Finding
from thundersheet.base.time import Span
from thundersheet.devices._course import Course, still
from thundersheet.model.device import (
    Device,
    Impact,
    Landing,
    Lead,
    Light,
    Load,
    Move,
    Output,
    Part,
    Setting,
)

EXPLAINS = {
    "WIRE-01": "The device has no terminal, so nothing can switch it. Its cues are planned all the "
    "same, and they go nowhere until `on` says where.",
    "MOVE-10": "The move has no value to go to: `lamp to 60 %`, `glass to 27`.",
    "MOVE-11": "The value to go to lies outside what the device can show or reach.",
}

WRITTEN_DOUBT = 0.1
ESTIMATED_DOUBT = 0.3
"""Shares of a lead that the band allows for: two same-make parts differ by about a tenth, and a
starting value may be a third off (common practice, no source; a measurement replaces both)."""


@dataclass(frozen=True, kw_only=True)
class Plain(Device):
    """A device of one output that draws, shows and wants nothing beyond its wire.

    What a kind has more of, it says itself.
    """

    def outputs(self) -> tuple[Output, ...]:
        return (Output(name="on", terminal=self.on, drives="switch"),)

    def wire(self, index: int = 0) -> str:
        """What a command calls the output."""
        out = self.outputs()[index]
        return out.terminal or f"{self.name}.{out.name}"

    def loads(self, move: Move) -> tuple[Load, ...]:  # noqa: ARG002
        return ()

    def light(self, move: Move) -> Light | None:  # noqa: ARG002
        return None

    def least_gap(self, earlier: Move, later: Move) -> Span:  # noqa: ARG002
        return Span(0)

    def objections(self, move: Move) -> tuple[Finding, ...]:
        action = next(each for each in self.ACTIONS if each.name == move.action)
        if "to" in action.takes and action.name == "to" and move.to is None:
            return (_no_value(self, action.to),)
        return ()

    def checks(self, setting: Setting) -> tuple[Finding, ...]:  # noqa: ARG002
        return tuple(unwired(self))


@dataclass(frozen=True, kw_only=True)
class Simple(Plain):
    """A device with one value 0..1 that follows a course after each command."""

    TIMED_BY: ClassVar[str] = ""
    """The field that its lead mostly comes from: the band is wider while that is estimated."""
    WAITS: ClassVar[str] = "waiting"
    WORKS: ClassVar[str] = "moving"
    """Names of the two parts of a lead: until anything is seen, and from then on."""

    @abstractmethod
    def course(self, move: Move, first: float) -> Course:
        """How its value goes after a command that finds it at ``first``."""

    def at_rest(self, setting: Setting) -> Any:  # noqa: ARG002
        return still(0.0)

    def lead(
        self,
        move: Move,
        land: Landing,
        before: Any,
        since: Span | None,
        setting: Setting,  # noqa: ARG002 - what is electric does not feel the air
    ) -> Lead:
        found: Course = before
        first = found.at(since.s) if since is not None else found.points[-1][1]
        course = self.course(move, first)
        parts = self.parts(move, course, land)
        bands = self.bands(move, parts)
        wide = together(bands)
        return Lead(
            parts=parts,
            early=wide,
            late=wide,
            basis="estimated",
            rest=Span.seconds(course.end_s),
            state=course,
            curve=course.points,
            impact=self.impact(move, course),
            bands=bands,
        )

    def parts(self, move: Move, course: Course, land: Landing) -> tuple[Part, ...]:  # noqa: ARG002
        """The lead's named parts; those of no length are left out, but for the last."""
        starts = Span.seconds(course.landing("starts"))
        lands = Span.seconds(course.landing(land))
        waits = Part(name=self.WAITS, span=starts)
        works = Part(name=self.WORKS, span=lands - starts)
        return (waits, works) if waits.span and works.span else (waits if waits.span else works,)

    def bands(self, move: Move, parts: tuple[Part, ...]) -> dict[str, Span]:  # noqa: ARG002
        """What each uncertain value adds to the band: a share of each part."""
        known = not self.TIMED_BY or self.origin.wrote(self.TIMED_BY)
        share = WRITTEN_DOUBT if known else ESTIMATED_DOUBT
        found = {part.name: Span.seconds(part.span.s * share) for part in parts if part.span}
        return dict(sorted(found.items(), key=lambda each: each[1], reverse=True))

    def impact(self, move: Move, course: Course) -> Impact | None:  # noqa: ARG002
        """What a guest or a stop would feel; None for what moves nothing."""
        return None


def unwired(device: Device) -> Iterator[Finding]:
    """A note for each output that has no terminal yet."""
    missing = [out.name for out in device.outputs() if not out.terminal]
    if missing:
        what = (
            "is on no terminal"
            if len(device.outputs()) == 1
            else f"has no terminal for {_list(missing)}"
        )
        yield Finding(
            code="WIRE-01",
            grade="note",
            place=device.origin.of("on"),
            says=f"{device.name} {what}.",
            allowed="Write a board and a terminal, as in `on: main 4`.",
            about=(device.name,),
        )


def _list(names: list[str]) -> str:
    return " and ".join(f"`{name}`" for name in names)


def _no_value(device: Device, dimension: str) -> Finding:
    shown = {"share": "60 %", "angle": "45 deg"}.get(dimension, "27")
    return Finding(
        code="MOVE-10",
        grade="refuse",
        says=f"`{device.name} to` does not say where to.",
        allowed=f"Write a value, as in `{device.name} to {shown}`.",
        about=(device.name,),
    )


def together(bands: Mapping[str, Span]) -> Span:
    """Independent errors of a kind: root of the sum of squares."""
    return Span.seconds(sum(span.s**2 for span in bands.values()) ** 0.5)


def outside(device: Device, wanted: str, allowed: str) -> Finding:
    """A value beyond what the device can show or reach."""
    return Finding(
        code="MOVE-11",
        grade="refuse",
        says=f"`{device.name} to {wanted}` is beyond what {device.name} can do.",
        allowed=f"It goes from {allowed}.",
        about=(device.name,),
    )
