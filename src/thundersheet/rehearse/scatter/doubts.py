"""What may be otherwise in a show: which values are drawn by lot, how widely, and what they act on.

In: a book, a device, a cue. Out: doubts, each with what it acts on. Amounts are the book's own
where it says them (`spreads`, a hammer's scatter, a measured spread, the evening's cold), else
the devices' doubts, which are 95 % ranges, and starting values stated here. Nothing is drawn here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import log
from typing import Literal

from thundersheet.base.time import Span
from thundersheet.devices._answers import ESTIMATED_DOUBT, WRITTEN_DOUBT
from thundersheet.devices._cylinder.bands import doubts_of
from thundersheet.devices.air_cylinder import AirCylinder
from thundersheet.model.book import Book, Measured
from thundersheet.model.device import Device, Lead
from thundersheet.model.spreads import Spreads
from thundersheet.physics.stroke import Stroke
from thundersheet.plan.lead import board_takes
from thundersheet.plan.timeline import lag_of
from thundersheet.rehearse.records import Doubt
from thundersheet.rehearse.scatter.airs import Around

On = Literal[
    "late", "delay", "supply", "friction", "valve flow", "flow control", "hose", "load", "ambient"
]
"""What a doubt acts on: the landing as it is, or a number of the stroke."""

NORMAL_95 = 1.959963984540054
"""Half of a normal distribution's central 95 %, in standard deviations."""
DECODE_S = {"marks": 0.0005, "direct": 0.002}
REFRESH_S = 1.0 / 60.0
OWN = {
    "jitter": "starting value: a valve switches some 2 ms sooner or later from show to show",
    "decode": "starting value: the file receiver hears tones to 0.1 ms even in noise, a simple "
    "receiver decides in steps of some milliseconds",
    "refresh": "a picture waits for its screen's next refresh, 60 a second",
    "book": "the book's `spreads`",
    "doubt": "the device's doubt, 95 %; narrower where the book says the value",
    "measured": "measured",
    "evening": "the evening's coldest and warmest",
    "tank": "the fullest and the emptiest tank that the cue finds in the evening",
}
"""Where the amounts come from, in words."""


@dataclass(frozen=True, slots=True)
class Acting:
    """A doubt and what it acts on in one cue; the same doubt may act on many cues."""

    doubt: Doubt
    on: On
    sign: float = 1.0


def sd_of_share(doubt_95: float) -> float:
    """The standard deviation of the logarithm of a factor that lies in 1/(1+d)..1+d by 95 %.

    Factors, not additions: a starting value may be three times off, but never below nothing.
    """
    return log(1.0 + doubt_95) / NORMAL_95


def of_stroke(
    cylinder: AirCylinder, stroke: Stroke, cue: str, spreads: Spreads
) -> Iterator[Acting]:
    """The doubts of one stroke; those of the cylinder are the same for all its strokes."""
    found = doubts_of(cylinder)
    way = f"{cylinder.name} {'out' if stroke.extend else 'back'}"
    delay = found.delay_s
    if spreads.valve_delay is not None:
        delay = spreads.valve_delay * cylinder.valve.delay.s
    sd, source = delay / NORMAL_95, _source(spreads.valve_delay)
    yield Acting(_drawn("valve delay", cylinder.name, sd, "s", "fixed", source), "delay")
    yield jitter(cue, "delay", spreads)
    yield _share("friction", cylinder.name, found.friction, spreads.friction)
    yield _share("valve flow", cylinder.name, found.valve_flow, spreads.valve_flow)
    if stroke.drive_end or stroke.exhaust_end:
        yield _share("flow control", way, found.flow_control, spreads.flow_control)
    if stroke.drive_tube is not None or stroke.exhaust_tube is not None:
        yield _share("hose", cylinder.name, found.hose, spreads.hose)
    if stroke.load_kg or stroke.linkage.lid:
        yield _share("load", cylinder.name, found.load, spreads.load)


def _share(
    name: Literal["friction", "valve flow", "flow control", "hose", "load"],
    of: str,
    doubt: float,
    said: float | None,
) -> Acting:
    sd = sd_of_share(doubt if said is None else said)
    return Acting(_drawn(name, of, sd, "share", "fixed", _source(said)), name)


def _source(said: float | Span | None) -> str:
    return OWN["doubt"] if said is None else OWN["book"]


def of_the_night(
    cylinder: AirCylinder, stroke: Stroke, around: Around | None, spreads: Spreads
) -> Iterator[Acting]:
    """Pressure, tank and temperature: one draw a show, and no tuning takes them away."""
    found = doubts_of(cylinder)
    if stroke.acting != "spring":
        own = "" if cylinder.pressure_pa is None else cylinder.name
        said = spreads.pressure
        sd = sd_of_share(found.pressure if said is None else said)
        yield Acting(_drawn("pressure", own, sd, "share", "night", _source(said)), "supply")
    if around is not None and around.supply_half > 0.0:
        yield Acting(_evenly("tank", around.supply_half, "share", "tank"), "supply")
    said = spreads.temperature
    if said is None and around is not None and around.kelvin_half > 0.0:
        yield Acting(_evenly("temperature", around.kelvin_half, "K", "evening"), "ambient")
        return
    sd = (found.temperature_k if said is None else said) / NORMAL_95
    yield Acting(_drawn("temperature", "", sd, "K", "night", _source(said)), "ambient")


def _evenly(name: str, half: float, unit: Literal["share", "s", "K"], source: str) -> Doubt:
    """Anywhere within half its width of the middle, one draw a show."""
    return Doubt(
        name=name, of="", sd=half, unit=unit, law="uniform", drawn="night", source=OWN[source]
    )


def in_proportion(device: Device, lead: Lead, cue: str, spreads: Spreads) -> Iterator[Acting]:
    """Shares of a lead that are linear in what is in doubt: what is electric, jets, timed stops."""
    scatter = getattr(device, "scatter", None)
    for name, band in lead.bands.items():
        if name == "scatter" and isinstance(scatter, Span):
            # The one that the kind says to differ from one strike to the next.
            sd = band.s / NORMAL_95
            yield Acting(_drawn(name, cue, sd, "s", "show", OWN["doubt"]), "late")
        else:
            yield Acting(_fixed(name, device.name, band.s / NORMAL_95, "s"), "late")
    if getattr(device, "valve", None) is not None and lead.bands:
        yield jitter(cue, "late", spreads)


def jitter(cue: str, on: On, spreads: Spreads) -> Acting:
    """A valve's own scatter from one switching to the next."""
    source = OWN["book"] if spreads.origin.wrote("jitter") else OWN["jitter"]
    return Acting(_drawn("valve jitter", cue, spreads.jitter.s, "s", "show", source), on)


def of_measured(found: Measured, cue: str) -> Iterator[Acting]:
    """A measured lead: its spread from firing to firing, and how well its mean is known."""
    sd, words = found.spread.s, f"measured over {found.firings} firings"
    yield Acting(_drawn("measured spread", cue, sd, "s", "show", words), "late")
    mean = sd / found.firings**0.5
    yield Acting(_drawn("measured lead", found.name, mean, "s", "fixed", words), "late")


def of_board(book: Book, device: Device) -> Iterator[Acting]:
    """The slowest board that switches the device."""
    takes = board_takes(book, device)
    names = {out.terminal.rpartition(" ")[0] for out in device.outputs()}
    board = next((b for b in book.boards if b.name in names and b.takes == takes), None)
    if board is not None and takes:
        share = WRITTEN_DOUBT if board.origin.wrote("takes") else ESTIMATED_DOUBT
        yield Acting(_fixed("board", board.name, share * takes.s / NORMAL_95, "s"), "late")


def of_decoding(book: Book, cue: str) -> Iterator[Acting]:
    """How exactly the controller hears the cue track."""
    said = book.spreads.decoding
    sd = DECODE_S[book.show.cue_track.layout] if said is None else said.s
    source = OWN["decode"] if said is None else OWN["book"]
    yield Acting(_drawn("decoding", cue, sd, "s", "show", source), "late")


def of_picture(book: Book, meets: str) -> Iterator[Acting]:
    """A screen that is later than the book says makes what meets it early."""
    if meets == "sound":
        return
    feeds = [each for each in book.devices if getattr(each, "screen", "") == meets]
    for device in (book.device(meets), *feeds):
        if lag := lag_of(device):
            share = WRITTEN_DOUBT if device.origin.wrote("lag") else ESTIMATED_DOUBT
            said = book.spreads.screen_lag
            sd = (share if said is None else said) * lag.s / NORMAL_95
            found = _drawn("screen lag", device.name, sd, "s", "fixed", _source(said))
            yield Acting(found, "late", -1.0)
    refresh = replace(_evenly("refresh", REFRESH_S / 2.0, "s", "refresh"), of=meets)
    yield Acting(refresh, "late", -1.0)


def _fixed(name: str, of: str, sd: float, unit: Literal["share", "s", "K"]) -> Doubt:
    return _drawn(name, of, sd, unit, "fixed", OWN["doubt"])


def _drawn(
    name: str,
    of: str,
    sd: float,
    unit: Literal["share", "s", "K"],
    drawn: Literal["fixed", "night", "show"],
    source: str,
) -> Doubt:
    return Doubt(name=name, of=of, sd=sd, unit=unit, drawn=drawn, source=source)
