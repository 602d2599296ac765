"""Cures at a device: faster, gentler, guarded; its pressure, valve and flow controls."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from thundersheet.base.time import Span
from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.plan.cures.idea import (
    BUY,
    SAY,
    TURN,
    Idea,
    Step,
    Trouble,
    device_of,
    with_device,
)
from thundersheet.plan.gate import is_home
from thundersheet.plan.lead import setting_of
from thundersheet.plan.plumbing import nominal_pa
from thundersheet.plan.records import Cue
from thundersheet.plan.safety import limits_of, strain
from thundersheet.plan.timeline import lag_of
from thundersheet.plan.wording import shown

FASTER = (1.5, 3.0)
SLOWER = (0.7, 0.5, 0.25, 0.12, 0.06, 0.03)
METER_OUT = "exhaust_restriction_m3_s_pa"
VALVE_FLOW = "valve.flow_m3_s_pa"
NAMES = {METER_OUT: "the exhaust restriction", VALVE_FLOW: "a larger valve"}


def faster(trouble: Trouble) -> Iterator[Idea]:
    """What lets the device whose move is in the way move faster."""
    device = device_of(trouble, 1) or device_of(trouble)
    if device is not None:
        yield from _scaled(trouble.book, device, METER_OUT, FASTER, TURN, "Open")
        yield from _more_pressure(trouble.book, device)
        yield from _scaled(trouble.book, device, VALVE_FLOW, FASTER, BUY, "Fit")


def _scaled(
    book: Book, device: Device, field: str, by: Sequence[float], price: int, do: str
) -> Iterator[Idea]:
    """A flow of the device as a multiple of what it is, where it has one."""
    part, _, rest = field.partition(".")
    record = getattr(device, part, None)
    value = getattr(record, rest, None) if rest else record
    if not isinstance(value, float):
        return
    steps = []
    for factor in by:
        new = value * factor
        inner = replace(record, **{rest: new}) if rest else new  # type: ignore[type-var]
        words = f"{do} {NAMES[field]} of {device.name}: {shown(book, new, 'conductance')}."
        steps.append(Step(words, with_device(device.name, **{part: inner})))
    yield Idea(price, tuple(steps), device=device.name)


def _pressure(book: Book, device: Device) -> float | None:
    """The gauge pressure of a device that has one."""
    return nominal_pa(book, device) if hasattr(device, "pressure_pa") else None


def less_pressure_of_its_own(trouble: Trouble) -> Iterator[Idea]:
    """A pressure that the tank still has when it is low."""
    device = device_of(trouble)
    now = None if device is None else _pressure(trouble.book, device)
    if device is not None and now is not None:
        wanted = [now * share // 5000.0 * 5000.0 for share in (0.9, 0.8, 0.7, 0.6)]
        yield _pressures(trouble.book, device, [p for p in wanted if p >= 50_000.0])


def _more_pressure(book: Book, device: Device) -> Iterator[Idea]:
    now = _pressure(book, device)
    if now is not None:
        wanted = [now + 50_000.0, now + 100_000.0]
        yield _pressures(book, device, [p for p in wanted if p <= 800_000.0])


def less_pressure(trouble: Trouble) -> Iterator[Idea]:
    """Less pressure; and, where energy is too much as well, less exhaust with it."""
    device, cue = device_of(trouble), trouble.cue(0)
    gentle = _low_pressures(trouble, device, cue)
    if device is None or cue is None or not gentle:
        return
    quick = _gentle(trouble.book, cue)
    yield replace(_pressures(trouble.book, device, gentle), quick=quick)
    throttled = _throttled(device)
    if throttled is not None:
        steps = tuple(_soft(trouble.book, throttled, gentle[0], share) for share in SLOWER)
        yield Idea(TURN, steps, device=device.name, quick=quick)


def _low_pressures(trouble: Trouble, device: Device | None, cue: Cue | None) -> list[float]:
    """Gauge pressures at which the force keeps to its limit, the highest first."""
    now = None if device is None else _pressure(trouble.book, device)
    if device is None or now is None or cue is None or cue.lead.impact is None:
        return []
    enough = now * min(1.0, limits_of(trouble.book, device)[0] / cue.lead.impact.force_n)
    wanted = [enough * share // 5000.0 * 5000.0 for share in (1.0, 0.9, 0.75, 0.6, 0.45)]
    return [p for p in wanted if p >= 50_000.0]


def _soft(book: Book, device: Device, gauge: float, share: float) -> Step:
    flow = getattr(device, METER_OUT) * share
    do = (
        f"Give {device.name} {shown(book, gauge, 'pressure')} and an exhaust restriction of "
        f"{shown(book, flow, 'conductance')}."
    )
    return Step(do, with_device(device.name, **{"pressure_pa": gauge, METER_OUT: flow}))


def _gentle(book: Book, cue: Cue) -> Callable[[Book], bool] | None:
    """Whether the move, made from rest, keeps to the limits; None where it does not begin there."""
    move, land = cue.target.move, cue.target.land
    if is_home(book.device(move.device), move):
        return None

    def within(changed: Book) -> bool:
        device = changed.device(move.device)
        setting = setting_of(changed, device)
        impact = device.lead(move, land, device.at_rest(setting), None, setting).impact
        return impact is not None and strain(changed, device, impact) <= 1.0

    return within


def _pressures(book: Book, device: Device, gauges: Sequence[float]) -> Idea:
    steps = tuple(
        Step(
            f"Give {device.name} {shown(book, p, 'pressure')} by a regulator of its own "
            "(`pressure`).",
            with_device(device.name, pressure_pa=p),
        )
        for p in gauges
    )
    return Idea(TURN, steps, device=device.name)


def slower(trouble: Trouble) -> Iterator[Idea]:
    """Less air leaves while it moves."""
    device, cue = device_of(trouble), trouble.cue(0)
    throttled = None if device is None else _throttled(device)
    if throttled is None:
        return
    quick = None if cue is None else _gentle(trouble.book, cue)
    for idea in _scaled(trouble.book, throttled, METER_OUT, SLOWER, TURN, "Fit or close"):
        yield replace(idea, quick=quick)


def _throttled(device: Device) -> Device | None:
    """The device with an exhaust restriction, as free as its valve where it has none yet."""
    if not hasattr(device, METER_OUT) or getattr(device, METER_OUT) is not None:
        return device if hasattr(device, METER_OUT) else None
    flow = getattr(getattr(device, "valve", None), "flow_m3_s_pa", None)
    return replace(device, **{METER_OUT: flow}) if isinstance(flow, float) else None  # type: ignore[arg-type]


def edge(trouble: Trouble) -> Iterator[Idea]:
    """An edge makes it give way when touched."""
    device = device_of(trouble)
    if device is not None and not device.edge:
        change = with_device(device.name, edge=True)
        do = f"Fit {device.name} with an edge that makes it give way when touched (`edge: yes`)."
        yield Idea(BUY, (Step(do, change),), "an edge, its wiring and a test each evening")


def guard(trouble: Trouble) -> Iterator[Idea]:
    """Hands are kept away from it."""
    device = device_of(trouble)
    if device is None:
        return
    origin = device.origin
    written = replace(origin, places={**origin.places, "reachable": origin.place})
    change = with_device(device.name, reachable=False, origin=written)
    do = f"Put {device.name} behind a guard or out of arm's length, and write `reachable: no`."
    yield Idea(BUY, (Step(do, change),), "material for the guard")


def lag_once(trouble: Trouble) -> Iterator[Idea]:
    """The lag stays with the screen alone."""
    player = device_of(trouble)
    if player is not None and lag_of(player):
        change = with_device(player.name, lag=Span(0))
        yield Idea(SAY, (Step(f"Take the lag out of {player.name}.", change),))
