"""What the controller has to know of a show, gathered once before the night.

In: a book and its frozen plans. Out: outputs with their safe values and limits, the rules with what
holds at home, the inputs, the rungs of the ladder. Nothing is decided here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book
from thundersheet.model.device import Device, Move
from thundersheet.model.night import Input, Start
from thundersheet.model.rules import Rule
from thundersheet.plan.gate import start_again
from thundersheet.plan.records import Plan
from thundersheet.plan.timeline import same
from thundersheet.rehearse.ladder import rungs


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One output and what holds for it, whoever tells it something."""

    name: str
    """Its terminal, or `device.output` where none is given."""
    device: str
    """Empty for the valve that lets air in."""
    safe: float = 0.0
    moves: bool = True
    """Whether it may set a body in motion; False: it only shows light."""
    most_on: Span | None = None
    least_off: Span | None = None


@dataclass(frozen=True, slots=True)
class Holds:
    """A state that a rule names, and whether its device is in it when nothing was told."""

    move: Move
    at_home: bool

    def by(self, move: Move | None) -> bool:
        """Whether a move leads into it; None: the device waits at home."""
        return self.at_home if move is None else same(self.move, move)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """One rule of the book, ready to be asked."""

    never: tuple[Holds, ...] = ()
    first: Holds | None = None
    then: Move | None = None
    apart: Span = Span(0)
    because: str = ""


@dataclass(frozen=True, kw_only=True)
class Setup:
    """One show as the controller knows it."""

    lines: Mapping[str, Line]
    plans: Mapping[str, Plan]
    """By variant; `""` is the show as written."""
    rules: tuple[Kept, ...] = ()
    inputs: Mapping[str, Input]
    start: Start = Start()
    air: str = ""
    """The output that lets air in; empty: nothing here switches it."""
    half_pa: float | None = None
    rungs: tuple[tuple[str, float], ...] = ()
    """Variants that play when the tank stands below a gauge pressure, from the highest down."""
    quiet: str = ""
    again: Time
    """When the start may be given again, from the start of a show."""
    lost_after: Span = Span.seconds(5)
    follows: bool = False
    """Whether marks of the cue track are expected; False: the show runs by its own clock."""

    @cached_property
    def movers(self) -> frozenset[str]:
        """The devices that move."""
        return frozenset(line.device for line in self.lines.values() if line.moves and line.device)

    def of_kind(self, kind: str) -> tuple[Input, ...]:
        """The inputs of one kind."""
        return self._kinds.get(kind, ())

    @cached_property
    def _kinds(self) -> dict[str, tuple[Input, ...]]:
        kinds = {each.kind for each in self.inputs.values()}
        return {k: tuple(each for each in self.inputs.values() if each.kind == k) for k in kinds}

    def guarded(self, beam: Input) -> frozenset[str]:
        """The devices that rest while a beam is broken."""
        return frozenset(beam.of) or self.movers


def setup_of(book: Book, plans: Sequence[Plan], *, follows: bool = False) -> Setup:
    """The show of a book, to be played from these plans; the one as written is among them."""
    return Setup(
        lines={line.name: line for line in _lines(book, plans)},
        plans={plan.variant: plan for plan in plans},
        rules=tuple(_kept(book, rule) for rule in book.rules),
        inputs={each.name: each for each in book.night.inputs},
        start=book.night.start,
        air=book.night.air,
        half_pa=book.night.half_pa,
        rungs=tuple((each.name, each.tank_below_pa or 0.0) for each in rungs(book)),
        quiet=book.night.quiet,
        again=start_again(book),
        lost_after=book.night.lost_after,
        follows=follows,
    )


def _lines(book: Book, plans: Sequence[Plan]) -> Iterator[Line]:
    limits = {each.name: each for each in book.night.outputs}
    for device in book.devices:
        moves = device.name not in book.night.dry_run and not _only_lights(device, plans)
        for output in device.outputs():
            name = output.terminal or f"{device.name}.{output.name}"
            limit = limits.get(name)
            yield Line(
                name=name,
                device=device.name,
                safe=output.safe,
                moves=moves,
                most_on=limit.most_on if limit else None,
                least_off=limit.least_off if limit else None,
            )
    if book.night.air:
        yield Line(name=book.night.air, device="", moves=True)


def _only_lights(device: Device, plans: Sequence[Plan]) -> bool:
    """Whether all that a device is told gives light and moves nothing; never told: it may move."""
    cues = [cue for plan in plans for cue in plan.cues if cue.target.move.device == device.name]
    return bool(cues) and all(
        cue.lead.impact is None and device.light(cue.target.move) is not None for cue in cues
    )


def _kept(book: Book, rule: Rule) -> Kept:
    def holds(move: Move) -> Holds:
        return Holds(move, book.device(move.device).is_home(move))

    return Kept(
        never=tuple(holds(state) for state in rule.states),
        first=None if rule.first_move is None else holds(rule.first_move),
        then=rule.then_move,
        apart=rule.apart or Span(0),
        because=rule.because,
    )
