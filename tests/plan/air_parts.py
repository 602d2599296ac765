"""Small plumbings to check by hand: parts by their names, cylinders and jets on them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from plan_parts import beat, book, do

from thundersheet.base.finding import Finding
from thundersheet.base.source import Origin, Place
from thundersheet.base.time import Span, Time
from thundersheet.devices._air_parts import Hose, Valve
from thundersheet.devices.air_cylinder import AirCylinder
from thundersheet.devices.air_jet import AirJet
from thundersheet.model.air import Air, AirPart, Compressor, FeedHose
from thundersheet.model.book import Book
from thundersheet.model.show import Show
from thundersheet.plan.plan import plan_cues
from thundersheet.plan.plumbing.checks import plumbing

BAR = 1e5
LITRE = 1e-3
COMPRESSOR = Compressor(
    delivers_m3_s=1e-3, at_pa=6 * BAR, cut_in_pa=6 * BAR, cut_out_pa=8 * BAR, duty=0.6
)
LINES = iter(range(1, 1_000_000))


def part(name: str, kind: str, fed_by: str = "", **more: Any) -> AirPart:
    """A part with a place of its own; a hose as (bore mm, length m)."""
    if "hose" in more:
        bore, length = more.pop("hose")
        more["hose"] = FeedHose(bore_m=bore / 1000.0, length_m=length)
    if kind == "tank":
        more.setdefault("volume_m3", 24 * LITRE)
        more.setdefault("drained", True)
    origin = Origin(Place("book.yaml", next(LINES), 5))
    return AirPart(name=name, kind=kind, fed_by=fed_by, origin=origin, **more)


def usual(*more: AirPart, **changed: AirPart) -> tuple[AirPart, ...]:
    """Tank, shut-off, filter, regulator at 3 bar, dump, soft start; then more."""
    row = {
        "tank": part("tank", "tank"),
        "shut": part("shut", "shut-off", "tank"),
        "filter": part("filter", "filter", "shut"),
        "regulator": part("regulator", "regulator", "filter", set_pa=3 * BAR),
        "dump": part("dump", "dump valve", "regulator"),
        "soft": part("soft", "soft-start valve", "dump"),
    }
    return (*{**row, **changed}.values(), *more)


def cylinder(name: str = "lid", **more: Any) -> AirCylinder:
    """25 x 160 mm, throttled, level, out of reach."""
    origin = Origin(Place("book.yaml", next(LINES), 3))
    made = AirCylinder(
        name=name,
        bore_m=0.025,
        stroke_m=0.16,
        moves_kg=1.8,
        exhaust_restriction_m3_s_pa=2e-9,
        hose=Hose(),
        on=f"main {next(LINES)}",
        origin=origin,
    )
    return replace(made, **more)


def jet(name: str = "gust", **more: Any) -> AirJet:
    """A nozzle of 4 mm."""
    origin = Origin(Place("book.yaml", next(LINES), 3))
    made = AirJet(
        name=name,
        nozzle_m=0.004,
        valve=Valve(kind="3/2"),
        hose=Hose(bore_m=0.004),
        on=f"main {next(LINES)}",
        origin=origin,
    )
    return replace(made, **more)


def aired(parts: tuple[AirPart, ...], *devices: Any, **more: Any) -> Book:
    """A book of a minute with this air; each device moves once, at 10 s."""
    air = more.pop("air", Air())
    if "compressor" not in more:
        more["compressor"] = COMPRESSOR
    air = replace(air, parts=parts, compressor=more.pop("compressor"))
    moves = [do(d.name, "out" if isinstance(d, AirCylinder) else "puff") for d in devices]
    beats = (beat(10.0, *moves),) if moves else ()
    show = Show(name="Test", length=Time.seconds(60), rest=Span.seconds(30))
    return book(devices, beats, air=air, show=show, **more)


def found(made: Book, *, planned: bool = False) -> tuple[Finding, ...]:
    """What the plumbing's checks say, with or without the cues of its plan."""
    return plumbing(made, plan_cues(made)[0] if planned else ())


def codes(made: Book, *, planned: bool = False) -> list[str]:
    """Their codes, sorted."""
    return sorted(finding.code for finding in found(made, planned=planned))
