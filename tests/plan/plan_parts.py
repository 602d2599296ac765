"""Devices simple enough to check a plan by hand: a lamp, a slide, a hammer, a screen, a player."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

from thundersheet.base.finding import Finding
from thundersheet.base.shape import flag, quantity, span, text
from thundersheet.base.source import Origin, Place
from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book
from thundersheet.model.device import (
    Action,
    Command,
    Device,
    Impact,
    Landing,
    Lead,
    Light,
    Load,
    Move,
    Output,
    Part,
    Seen,
    Setting,
    Wire,
)
from thundersheet.model.show import WINDOWS, Beat, Show


@dataclass(frozen=True, kw_only=True)
class Simple(Device):
    """One output, no state, a lead that never changes."""

    KIND: ClassVar[str] = "simple"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(name="on", doc="On.", lands=("full", "starts")),
        Action(name="off", doc="Off.", lands=("full", "starts")),
    )
    EXAMPLE: ClassVar[str] = ""
    SYMBOL: ClassVar[str] = ""

    needs: Span = span("Its lead.", default=Span.ms(2))
    band: Span = span("Its band.", default=Span.ms(1))
    amps_a: float = quantity("current", "What it draws.", default=0.0)

    def outputs(self) -> tuple[Output, ...]:
        return (Output(name="on", terminal=self.on, drives="switch"),)

    def commands(self, move: Move) -> tuple[Command, ...]:
        value = 0.0 if move.action in ("off", "back") else 1.0
        return (Command(output=self.on or f"{self.name}.on", value=value, hold=move.hold),)

    def at_rest(self, setting: Setting) -> Any:
        del setting
        return "home"

    def begins(self, setting: Setting) -> Any:
        del setting
        return 0.0

    def step(
        self, state: Any, wires: tuple[Wire, ...], volts: float, dt_s: float, setting: Setting
    ) -> Any:
        del state, volts, dt_s, setting
        return wires[0].value

    def seen(self, state: Any) -> Seen:
        return Seen(state)

    def has_landed(self, move: Move, land: Landing, first: Any, now: Any) -> bool:
        del move, land
        return bool(now != first)

    def lead(
        self, move: Move, land: Landing, before: Any, since: Span | None, setting: Setting
    ) -> Lead:
        del land, before, since, setting
        return Lead(
            parts=(Part(name="lamp", span=self.needs),),
            early=self.band,
            late=self.band,
            basis="estimated",
            rest=self.needs,
            state=move.action,
            curve=((0.0, 0.0), (self.needs.s, 1.0)),
        )

    def loads(self, move: Move) -> tuple[Load, ...]:
        if move.action in ("off", "back"):
            return ()
        return (Load(volts=24.0, amps=self.amps_a, stop=move.hold),)

    def light(self, move: Move) -> Light | None:
        del move
        return None

    def least_gap(self, earlier: Move, later: Move) -> Span:
        del earlier, later
        return Span(0)

    def objections(self, move: Move) -> tuple[Finding, ...]:
        del move
        return ()

    def checks(self, setting: Setting) -> tuple[Finding, ...]:
        del setting
        return ()


@dataclass(frozen=True, kw_only=True)
class Blinker(Simple):
    """A lamp that shows and flashes."""

    ACTIONS: ClassVar[tuple[Action, ...]] = (
        *Simple.ACTIONS,
        Action(name="flash", doc="A flash.", lands=("full",), takes=frozenset({"for"})),
    )
    red: bool = flag("Red.", default=False)
    falls_from_full: bool = flag("Its way down begins at full.", default=False)
    rhythm: Span | None = span("Its own rhythm while it is on.", default=None)

    def commands(self, move: Move) -> tuple[Command, ...]:
        hold = move.hold or Span.ms(70) if move.action == "flash" else move.hold
        return super().commands(replace(move, hold=hold))

    def light(self, move: Move) -> Light | None:
        if move.action == "flash":
            end = self.needs + (move.hold or Span.ms(70))
            return Light(levels=((self.needs, 1.0), (end, 0.0)), area=self.lit_share, red=self.red)
        if self.rhythm and move.action == "on":
            dark = Span(self.rhythm.ns // 2)
            levels = ((Span(0), 1.0), (dark, 0.0))
            return Light(levels=levels, area=self.lit_share, red=self.red, every=self.rhythm)
        level = 0.0 if move.action == "off" else 1.0
        if self.falls_from_full and move.action == "off":
            fall = ((Span(0), 1.0), (self.needs, 0.0))
            return Light(levels=fall, area=self.lit_share, red=self.red)
        return Light(levels=((self.needs, level),), area=self.lit_share, red=self.red)


@dataclass(frozen=True, kw_only=True)
class Slide(Simple):
    """Moves out and back; the sooner after its last command, the longer it takes to move off."""

    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(name="out", doc="Out.", lands=("arrives", "starts", "half-way")),
        Action(name="back", doc="Back.", lands=("arrives", "starts", "half-way")),
    )
    needs: Span = span("Its move.", default=Span.ms(300))
    lags: Span = span("What a command just before adds.", default=Span(0))
    fades: Span = span("How soon that is forgotten.", default=Span.ms(500))
    force_n: float = quantity("force", "At its end.", default=20.0)
    energy_j: float = quantity("energy", "At its end.", default=0.5)
    why_never: str = text("Why it never lands.", default="")

    def lead(
        self, move: Move, land: Landing, before: Any, since: Span | None, setting: Setting
    ) -> Lead:
        del before
        share = {"starts": 0.2, "half-way": 0.6}.get(land, 1.0)
        still = 1.0 if since is None else min(since.ns / self.fades.ns, 1.0)
        extra = Span(round(self.lags.ns * (1.0 - still)))
        lunge = 4.0 if setting.vented else 1.0
        energy = self.energy_j * lunge
        return Lead(
            parts=(
                Part(name="valve", span=extra),
                Part(name="moving", span=Span(round(self.needs.ns * share))),
            ),
            early=self.band,
            late=self.band,
            basis="estimated",
            rest=self.needs + extra,
            state=move.action,
            curve=((0.0, 0.0), (extra.s + 0.2 * self.needs.s, 0.0), ((extra + self.needs).s, 1.0)),
            impact=Impact(energy_j=energy, force_n=self.force_n, speed_m_s=1.0),
            never=self.why_never,
        )


@dataclass(frozen=True, kw_only=True)
class Hammer(Simple):
    """Strikes, and must fall back before the next."""

    ACTIONS: ClassVar[tuple[Action, ...]] = (
        Action(name="strike", doc="Once.", lands=("arrives",)),
    )
    needs: Span = span("Its lead.", default=Span.ms(30))

    def commands(self, move: Move) -> tuple[Command, ...]:
        return super().commands(replace(move, hold=move.hold or Span.ms(35)))

    def least_gap(self, earlier: Move, later: Move) -> Span:
        del earlier, later
        return Span.ms(120)


@dataclass(frozen=True, kw_only=True)
class Glass(Simple):
    """A screen with a lag, or a player of one."""

    lag: Span = span("Its lag.", default=Span(0))
    screen: str = text("Where a player shows.", default="")

    def outputs(self) -> tuple[Output, ...]:
        return ()

    def commands(self, move: Move) -> tuple[Command, ...]:
        del move
        return ()


LINE = iter(range(1, 1_000_000))


def beat(at: float, *moves: Move, window: str = "hit", **more: Any) -> Beat:
    """A beat at so many seconds, with a place of its own."""
    origin = Origin(Place("book.yaml", next(LINE), 3))
    return Beat(at=Time.seconds(at), moves=moves, window=WINDOWS[window], origin=origin, **more)


def do(device: str, action: str, **more: Any) -> Move:
    """A move."""
    return Move(device=device, action=action, **more)


def book(devices: tuple[Device, ...], beats: tuple[Beat, ...], **more: Any) -> Book:
    """A book of a minute."""
    show = more.pop("show", Show(name="Test", length=Time.seconds(60)))
    return Book(book=1, show=show, devices=devices, beats=beats, **more)
