"""What might cure a finding: changes of the book, each a sentence and a function from book to book.

In: a book, its cues and a finding. Out: ideas, not yet tried; `cures.py` plans each again and
keeps what works. A scalable idea carries its steps from small to large, and the least that works
is kept. An idea that does not apply is not made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from thundersheet.base.finding import Finding
from thundersheet.base.time import ZERO, Span, Time, clock
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Move
from thundersheet.model.show import Beat
from thundersheet.model.wiring import Supply
from thundersheet.plan.gate import is_home, start_again
from thundersheet.plan.records import Cue
from thundersheet.plan.timeline import beats_by_id, lag_of
from thundersheet.plan.wording import said, shown, up

CHASE = 3
"""More lamps alike than this are a chase."""
Change = Callable[[Book], Book]
TURN, SAY, SHIFT, DROP, BUY = range(5)
"""What an idea asks of the builder, cheapest first: a screw, a line in the book, another time,
something less, something bought."""


@dataclass(frozen=True, slots=True)
class Step:
    """One size of an idea."""

    do: str
    change: Change


@dataclass(frozen=True, slots=True)
class Idea:
    """One way that may help."""

    price: int
    steps: tuple[Step, ...]
    """Smallest first; the first that helps is the cure."""
    cost: str = ""
    device: str = ""
    """Whose motion changes by it: the cure then says how."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """A finding with what it is about."""

    book: Book
    finding: Finding
    cues: Mapping[str, Cue]

    def cue(self, index: int) -> Cue | None:
        """The finding's cue of this rank; None where it is about no such cue."""
        about = self.finding.about
        return self.cues.get(about[index]) if index < len(about) else None

    def beat(self, index: int) -> Beat | None:
        """The beat of that cue."""
        cue = self.cue(index)
        return None if cue is None else beats_by_id(self.book).get(cue.target.beat)


def ideas(trouble: Trouble) -> Iterator[Idea]:
    """Everything that might help against a finding, by its code."""
    for maker in MAKERS.get(trouble.finding.code, ()):
        yield from maker(trouble)


# Steps by which a beat may move: fine where it is cheap, then coarser. 10 ms is what people write.
SHIFTS_MS = (
    *range(10, 200, 10), *range(200, 1000, 50), *range(1000, 5000, 250), *range(5000, 15_001, 1000),
)  # fmt: skip


def _shifts(trouble: Trouble) -> Iterator[int]:
    """Shifts in ms from small to large; from what is missing on where two cues tell."""
    later, earlier = trouble.cue(0), trouble.cue(1)
    missing = 0.0
    if trouble.finding.code == "MOVE-02" and later is not None and earlier is not None:
        missing = (earlier.at + earlier.lead.rest).since(later.at).in_ms
    first = max(0, int(missing // 10) * 10)
    return (first + ms for ms in ((0, *SHIFTS_MS) if first else SHIFTS_MS))


def _later(trouble: Trouble) -> Iterator[Idea]:
    """The beat of the first cue comes later."""
    beat, cue = trouble.beat(0), trouble.cue(0)
    if beat is None or cue is None:
        return
    other = trouble.cue(1)
    if beat.times > 1 and other is not None and other.target.beat == cue.target.beat:
        return  # repeats of one beat move together
    name = said(trouble.book, cue.target.move)
    steps = []
    for ms in _shifts(trouble):
        last = beat.at + Span.ms(ms) + (beat.every or Span(0)) * (beat.times - 1)
        if last <= trouble.book.show.length and last < _neighbour(trouble, cue, 1):
            steps.append(
                Step(f"Move the beat of `{name}` to {up(beat.at + Span.ms(ms))}.", _at(beat, ms))
            )
    yield Idea(SHIFT, tuple(steps), "it comes that much later than written")


def _earlier(trouble: Trouble) -> Iterator[Idea]:
    """The beat of the last cue comes earlier."""
    index = len(trouble.finding.about) - 1
    beat, cue = trouble.beat(index), trouble.cue(index)
    if beat is None or cue is None or (index and trouble.beat(0) is beat):
        return
    name = said(trouble.book, cue.target.move)
    steps = [
        Step(f"Move the beat of `{name}` to {clock(beat.at - Span.ms(ms), 2)}.", _at(beat, -ms))
        for ms in _shifts(trouble)
        if beat.at - Span.ms(ms) > max(_neighbour(trouble, cue, -1), ZERO)
    ]
    yield Idea(SHIFT, tuple(steps), "it comes that much earlier than written")


def _neighbour(trouble: Trouble, cue: Cue, way: int) -> Time:
    """The device's next beat (`way` 1) or the one before: a shift must not pass it."""
    times = [
        other.target.beat_at
        for other in trouble.cues.values()
        if other.target.move.device == cue.target.move.device
    ]
    here = cue.target.beat_at
    if way > 0:
        return min((t for t in times if t > here), default=Time(1 << 62))
    return max((t for t in times if t < here), default=ZERO - Span(1))


def _at(beat: Beat, ms: int) -> Change:
    # To a whole 10 ms: what the sentence says is what was tried.
    exact = beat.at + Span.ms(ms)
    tick = Span.ms(10).ns
    rounded = -(-exact.ns // tick) * tick if ms > 0 else exact.ns // tick * tick
    return _with_beat(beat, at=replace(exact, ns=rounded))


def _with_beat(beat: Beat, **changes: Any) -> Change:
    return lambda book: replace(
        book,
        beats=tuple(replace(b, **changes) if b is beat else b for b in book.beats),
    )


def _wider_every(trouble: Trouble) -> Iterator[Idea]:
    """Repeats stand further apart."""
    beat = trouble.beat(0)
    if beat is None or beat.times < 2 or beat.every is None:
        return
    steps = []
    for ms in range(10, 2000, 10):
        every = Span(-(-(beat.every.ns + ms * 1_000_000) // 10_000_000) * 10_000_000)
        if beat.at + every * (beat.times - 1) <= trouble.book.show.length:
            steps.append(Step(f"Write `every: {every}`.", _with_beat(beat, every=every)))
    yield Idea(SHIFT, tuple(steps), "the repeats take longer")


def _thinner(trouble: Trouble) -> Iterator[Idea]:
    """Every second lamp of a chase is left out."""
    device = _device_of(trouble)
    if device is None:
        return
    alike = [
        each.name
        for each in trouble.book.devices
        if each.KIND == device.KIND and each.lit_share == device.lit_share
    ]
    if len(alike) > CHASE:
        out = set(alike[1::2])
        do = f"Leave every second lamp out of the chase: {', '.join(alike[1::2])}."
        yield Idea(DROP, (Step(do, _without_devices(out)),), "half as many lamps go by")


def _without_devices(names: set[str]) -> Change:
    return lambda book: replace(
        book,
        beats=tuple(
            replace(b, moves=tuple(m for m in b.moves if m.device not in names)) for b in book.beats
        ),
    )


def _fewer(trouble: Trouble) -> Iterator[Idea]:
    """Fewer repeats."""
    beat = trouble.beat(0)
    if beat is None or beat.times < 2:
        return
    steps = tuple(
        Step(f"Write `times: {times}`." if times > 1 else "Leave out the repeats.", change)
        for times in range(beat.times - 1, 0, -1)
        for change in [_with_beat(beat, times=times)]
    )
    yield Idea(DROP, steps, f"fewer than the {beat.times} of the beat")


def _without(trouble: Trouble) -> Iterator[Idea]:
    """The first cue's move is left out of its beat."""
    beat, cue = trouble.beat(0), trouble.cue(0)
    if beat is None or cue is None or beat.times > 1:
        return
    moves = tuple(move for move in beat.moves if move != cue.target.move)
    name = said(trouble.book, cue.target.move)
    do = f"Leave out `{name}` at {clock(beat.at)}."
    yield Idea(DROP, (Step(do, _with_beat(beat, moves=moves)),), "one effect less")


def _device_of(trouble: Trouble, index: int = 0) -> Device | None:
    cue = trouble.cue(index)
    if cue is not None:
        return trouble.book.device(cue.target.move.device)
    names = {device.name: device for device in trouble.book.devices}
    about = trouble.finding.about
    return names.get(about[index]) if index < len(about) else None


def _with_device(name: str, **changes: Any) -> Change:
    return lambda book: replace(
        book,
        devices=tuple(replace(d, **changes) if d.name == name else d for d in book.devices),
    )


def _faster(trouble: Trouble) -> Iterator[Idea]:
    """What lets the device whose move is in the way move faster."""
    device = _device_of(trouble, 1) or _device_of(trouble)
    if device is not None:
        yield from _scaled(trouble.book, device, METER_OUT, FASTER, TURN, "Open")
        yield from _more_pressure(trouble.book, device)
        yield from _scaled(trouble.book, device, VALVE_FLOW, FASTER, BUY, "Fit")


FASTER = (1.25, 1.5, 2.0, 3.0, 5.0, 8.0)
SLOWER = (0.7, 0.5, 0.25, 0.12, 0.06, 0.03)
METER_OUT = "exhaust_restriction_m3_s_pa"
VALVE_FLOW = "valve.flow_m3_s_pa"
NAMES = {METER_OUT: "the exhaust restriction", VALVE_FLOW: "a larger valve"}


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
        steps.append(Step(words, _with_device(device.name, **{part: inner})))
    yield Idea(price, tuple(steps), device=device.name)


def _pressure(book: Book, device: Device) -> float | None:
    """The gauge pressure of a device that has one."""
    if not hasattr(device, "pressure_pa"):
        return None
    own: float | None = device.pressure_pa
    return book.air.set_pa if own is None else own


def _more_pressure(book: Book, device: Device) -> Iterator[Idea]:
    now = _pressure(book, device)
    if now is not None:
        wanted = [now + 25_000.0 * k for k in range(1, 13)]
        yield _pressures(book, device, [p for p in wanted if p <= 800_000.0])


def _less_pressure(trouble: Trouble) -> Iterator[Idea]:
    device, cue = _device_of(trouble), trouble.cue(0)
    now = None if device is None else _pressure(trouble.book, device)
    if device is None or now is None or cue is None or cue.lead.impact is None:
        return
    limits = trouble.book.limits
    most = limits.force_with_edge_n if device.edge else limits.force_n
    enough = now * min(1.0, most / cue.lead.impact.force_n)
    wanted = [enough * share // 5000.0 * 5000.0 for share in (1.0, 0.9, 0.75, 0.6, 0.45)]
    yield _pressures(trouble.book, device, [p for p in wanted if p >= 50_000.0])


def _pressures(book: Book, device: Device, gauges: Sequence[float]) -> Idea:
    steps = tuple(
        Step(
            f"Give {device.name} {shown(book, p, 'pressure')} by a regulator of its own "
            "(`pressure`).",
            _with_device(device.name, pressure_pa=p),
        )
        for p in gauges
    )
    return Idea(TURN, steps, device=device.name)


def _slower(trouble: Trouble) -> Iterator[Idea]:
    device = _device_of(trouble)
    if device is None or not hasattr(device, METER_OUT):
        return
    if getattr(device, METER_OUT) is None:
        # None fitted yet: one as free as the valve is where closing it begins.
        valve = getattr(device, "valve", None)
        flow = getattr(valve, "flow_m3_s_pa", None)
        if not isinstance(flow, float):
            return
        device = replace(device, **{METER_OUT: flow})  # type: ignore[arg-type]
    yield from _scaled(trouble.book, device, METER_OUT, SLOWER, TURN, "Fit or close")


def _edge(trouble: Trouble) -> Iterator[Idea]:
    device = _device_of(trouble)
    if device is not None and not device.edge:
        change = _with_device(device.name, edge=True)
        do = f"Fit {device.name} with an edge that makes it give way when touched (`edge: yes`)."
        yield Idea(BUY, (Step(do, change),), "an edge, its wiring and a test each evening")


def _guard(trouble: Trouble) -> Iterator[Idea]:
    device = _device_of(trouble)
    if device is None:
        return
    origin = device.origin
    written = replace(origin, places={**origin.places, "reachable": origin.place})
    change = _with_device(device.name, reachable=False, origin=written)
    do = f"Put {device.name} behind a guard or out of arm's length, and write `reachable: no`."
    yield Idea(BUY, (Step(do, change),), "material for the guard")


def _again(trouble: Trouble) -> Iterator[Idea]:
    cues = [trouble.cues[cue_id] for cue_id in trouble.finding.about if cue_id in trouble.cues]
    if cues:
        rests = max(cue.at + cue.lead.rest for cue in cues)
        later = Time(-(-rests.ns // 10_000_000) * 10_000_000)
        guests = replace(trouble.book.guests, again=later)
        do = f"Write `again: {up(later)}` under `guests`."
        yield Idea(SAY, (Step(do, _with_guests(guests)),), "guests wait that much longer")


def _per_hour(trouble: Trouble) -> Iterator[Idea]:
    seconds = start_again(trouble.book).s
    fits = int(3600.0 / seconds) if seconds > 0 else 0
    if fits:
        guests = replace(trouble.book.guests, shows_per_hour=float(fits))
        do = f"Write `shows per hour: {fits}`."
        yield Idea(SAY, (Step(do, _with_guests(guests)),), "fewer guests an hour")


def _with_guests(guests: Any) -> Change:
    return lambda book: replace(book, guests=guests)


def _bring_home(trouble: Trouble) -> Iterator[Idea]:
    device, cue = _device_of(trouble), trouble.cue(0)
    if device is None or cue is None:
        return
    for action in device.ACTIONS:
        move = Move(device=device.name, action=action.name)
        if "to" in action.takes or not is_home(device, move):
            continue
        beat = Beat(at=trouble.book.show.length, do=(said(trouble.book, move),), moves=(move,))
        do = f"Add a beat `{said(trouble.book, move)}` at {clock(beat.at)} or before."
        yield Idea(SAY, (Step(do, _one_more(beat)),))
        return


def _one_more(beat: Beat) -> Change:
    return lambda book: replace(book, beats=(*book.beats, beat))


def _supply_of(trouble: Trouble) -> Supply | None:
    place = trouble.finding.place
    for supply in trouble.book.supplies:
        if place in (supply.origin.of("current_a"), supply.origin.of("wire_ohm")):
            return supply
    return None


def _with_supply(name: str, **changes: Any) -> Change:
    return lambda book: replace(
        book,
        supplies=tuple(replace(s, **changes) if s.name == name else s for s in book.supplies),
    )


def _stronger_supply(trouble: Trouble) -> Iterator[Idea]:
    supply = _supply_of(trouble)
    if supply is not None:
        amps = [supply.current_a * k for k in (1.25, 1.5, 2.0, 3.0, 5.0)]
        steps = tuple(
            Step(
                f"Fit a supply of {shown(trouble.book, a, 'current')} for `{supply.name}`.",
                _with_supply(supply.name, current_a=a),
            )
            for a in amps
        )
        yield Idea(BUY, steps, "a larger supply")


def _thicker_wire(trouble: Trouble) -> Iterator[Idea]:
    supply = _supply_of(trouble)
    if supply is not None:
        steps = tuple(
            Step(
                f"Wire `{supply.name}` with {k:g} times the copper, or that many wires side by "
                f"side: {shown(trouble.book, supply.wire_ohm / k, 'resistance')}.",
                _with_supply(supply.name, wire_ohm=supply.wire_ohm / k),
            )
            for k in (1.5, 2.0, 3.0, 4.0, 6.0, 10.0)
        )
        yield Idea(BUY, steps, "thicker wire, out and back")


def _free_terminal(trouble: Trouble) -> Iterator[Idea]:
    """Another terminal of the same board for the last device of several on one."""
    device = _device_of(trouble)
    if device is None or not device.on:
        return
    board_name = device.on.rpartition(" ")[0]
    board = next((b for b in trouble.book.boards if b.name == board_name), None)
    if board is None:
        return
    taken = {out.terminal for d in trouble.book.devices for out in d.outputs()}
    free = [f"{board_name} {n}" for n in range(1, board.terminals + 1)]
    free = [terminal for terminal in free if terminal not in taken]
    if free:
        do = f"Wire {device.name} to `{free[0]}`, which is free."
        yield Idea(SAY, (Step(do, _with_device(device.name, on=free[0])),), "one more wire")


def _lag_once(trouble: Trouble) -> Iterator[Idea]:
    player = _device_of(trouble)
    if player is not None and lag_of(player):
        change = _with_device(player.name, lag=Span(0))
        yield Idea(SAY, (Step(f"Take the lag out of {player.name}.", change),))


Maker = Callable[[Trouble], Iterator[Idea]]
MAKERS: dict[str, tuple[Maker, ...]] = {
    "MOVE-01": (_faster, _without),
    "MOVE-02": (_later, _earlier, _faster, _without),
    "MOVE-03": (_later, _wider_every, _fewer, _without),
    "MOVE-04": (_later, _faster),
    "RULE-01": (_later, _earlier),
    "RULE-02": (_later,),
    "RULE-03": (_later, _without),
    "RULE-04": (_without,),
    "RULE-05": (_again, _earlier),
    "RULE-06": (_bring_home,),
    "RULE-07": (_per_hour,),
    "FLASH-01": (_wider_every, _fewer, _later, _thinner),
    "FLASH-02": (_wider_every, _fewer, _later),
    "FORCE-01": (_less_pressure, _slower, _edge, _guard),
    "FORCE-04": (_guard, _less_pressure),
    "POWER-01": (_later, _stronger_supply),
    "POWER-02": (_later, _thicker_wire, _without),
    "POWER-03": (_free_terminal,),
    "POWER-04": (_free_terminal,),
    "SHOW-07": (_lag_once,),
}
