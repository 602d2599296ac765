"""Targets to cues: when each command must leave so that its move lands.

In: a book and targets. Out: cues, each with its lead in named parts, and what cannot be done at
all. Device by device in the order of landings, each device's state is carried from move to move;
where the air changes over an evening, one state for each state of the air. The lead is taken off
here and nowhere else. No cue track is known here.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from thundersheet.base.finding import Finding
from thundersheet.base.time import Span, Time
from thundersheet.model.book import Book, Measured
from thundersheet.model.device import Command, Device, Landing, Lead, Move, Part, Setting
from thundersheet.plan.air.serve import serve, served_total
from thundersheet.plan.air.states import Airs, How, expected, feels_air, plain
from thundersheet.plan.moves import move_findings, moves_something
from thundersheet.plan.plumbing import atmosphere
from thundersheet.plan.records import Cue, Target
from thundersheet.plan.setting import setting_of
from thundersheet.plan.timeline import same

__all__ = ["Leads", "Memo", "atmosphere", "leads", "moves_something", "setting_of"]

SETTLED = Span.ms(0.05)
"""A cue's instant is found when another round moves it by less: the stroke model's own accuracy."""
HURRIED = Span.ms(2)
SHARINGS, QUICK_SHARINGS = 3, 1
"""Rounds of who shares what with whom; feeds that are not starved settle in one or two."""
MOST_ROUNDS = 16
"""Beats that can be met settle in three or four; what swings for longer cannot."""

# Two-sided 95 % points of Student's t by degrees of freedom (NIST/SEMATECH e-Handbook of
# Statistical Methods, 1.3.6.7.2); beyond the table the next smaller row is taken.
STUDENT_95 = {
    1: 12.706, 2: 4.303, 3: 3.182, 4: 2.776, 5: 2.571, 6: 2.447, 7: 2.365, 8: 2.306, 9: 2.262,
    10: 2.228, 12: 2.179, 15: 2.131, 20: 2.086, 30: 2.042, 60: 2.000, 120: 1.980,
}  # fmt: skip

Memo = dict[Hashable, Lead]
"""Leads already worked out; handed from plan to plan where cures are tried."""


Settings = Callable[[Target], tuple[Setting, ...]]
"""The states of the air in which a target has to be met, the usual one first."""


@dataclass(frozen=True, slots=True)
class Leads:
    """Cues in the order in which they leave, and what is wrong with them."""

    cues: tuple[Cue, ...]
    findings: tuple[Finding, ...]
    alone: tuple[Cue, ...] = ()
    """Air devices' cues as if each had a full tank to itself; empty where air never changes."""
    together: tuple[Cue, ...] = ()
    """The same with the feeds shared as they are."""
    airs: Airs | None = None
    """What the evening makes of the air; None for a book in which it never changes."""


@dataclass(frozen=True, slots=True)
class _Task:
    """One device, with what its leads depend on and what they were before."""

    book: Book
    device: Device
    settings: Settings
    takes: Span
    key: Device
    """The device without what its motion does not depend on."""
    memo: Memo = field(default_factory=dict)
    names: tuple[str, ...] = ()
    """What the states of the air are called, for saying which is worst."""


def leads(
    book: Book,
    targets: Sequence[Target],
    memo: Memo | None = None,
    *,
    variant: str = "",
    quick: bool = False,
) -> Leads:
    """The cues of all targets; ``quick``: without their bands, as a book is tried out.

    ``variant`` is the version of the show that the targets are of: what the tank may have then.
    """
    memo = {} if memo is None else memo
    lists: dict[str, list[Target]] = {}
    for target in targets:
        lists.setdefault(target.move.device, []).append(target)
    alone, together, airs = (
        _in_its_air(book, lists, memo, variant, quick) if feels_air(book) else ((), (), None)
    )
    cues = _all_cues(book, lists, memo, airs, quick)
    findings: list[Finding] = []
    for name, wanted in lists.items():
        device = book.device(name)
        own = [cue for cue in cues if cue.target.move.device == name]
        findings += move_findings(book, device, wanted, own)
    ordered = sorted(cues, key=lambda cue: cue.at)
    return Leads(tuple(ordered), tuple(findings), alone, together, airs)


Lists = dict[str, list[Target]]


def _in_its_air(
    book: Book, lists: Lists, memo: Memo, variant: str, quick: bool
) -> tuple[tuple[Cue, ...], tuple[Cue, ...], Airs]:
    """The cues each alone, the same together, and what the evening makes of their air.

    Who flows at the same time follows from when cues leave, and that from who flows.
    """
    lone = plain(book)
    lists = {name: wanted for name, wanted in lists.items() if name in lone}

    def found(target: Target) -> tuple[Setting, ...]:
        return lone[target.move.device]

    first = _cues(book, lists, memo, found, ())
    used = {cue.id: found(cue.target)[0] for cue in first}
    rounds = QUICK_SHARINGS if quick else SHARINGS
    alone, used = _settled_shares(book, lists, memo, first, used, "alone", rounds)
    together, used = _settled_shares(book, lists, memo, alone, used, "together", rounds)
    return alone, together, expected(book, together, used, "over the evening", variant)


def _settled_shares(
    book: Book,
    lists: Lists,
    memo: Memo,
    cues: tuple[Cue, ...],
    used: dict[str, Setting],
    how: How,
    rounds: int,
) -> tuple[tuple[Cue, ...], dict[str, Setting]]:
    """The cues, and the setting of each, once who flows when makes no other settings of it."""
    for _ in range(rounds):
        airs = expected(book, cues, used, how)
        now = {cue: each[0] for cue, each in airs.settings.items()}
        if all(used[cue] == replace(each, landing_only=True) for cue, each in now.items()):
            break
        cues = _all_cues(book, lists, memo, airs, quick=True)
        used = {**used, **{cue: replace(each, landing_only=True) for cue, each in now.items()}}
    return cues, used


def _all_cues(
    book: Book, lists: Lists, memo: Memo, airs: Airs | None, quick: bool
) -> tuple[Cue, ...]:
    usual = {name: setting_of(book, book.device(name)) for name in lists}
    known = airs.settings if airs else {}
    names = airs.names if airs else ()

    def found(target: Target) -> tuple[Setting, ...]:
        settings = known.get(target.id) or (usual[target.move.device],)
        if quick:
            return tuple(replace(each, landing_only=True) for each in settings)
        if len(settings) == 1:
            return settings
        # Others are held against the usual state as it looks to as coarse an eye as theirs.
        return (settings[0], replace(settings[0], landing_only=True), *settings[1:])

    return _cues(book, lists, memo, found, names if quick else (*names[:1], *names))


def _cues(
    book: Book, lists: Lists, memo: Memo, settings: Settings, names: tuple[str, ...]
) -> tuple[Cue, ...]:
    cues: list[Cue] = []
    for name, wanted in lists.items():
        device = book.device(name)
        key = replace(device, reachable=False, edge=False, on="")
        task = _Task(book, device, settings, board_takes(book, device), key, memo, names)
        cues += _device_cues(task, sorted(wanted, key=lambda target: target.land_at))
    return tuple(cues)


def board_takes(book: Book, device: Device) -> Span:
    """How long the slowest board that switches the device takes to do so."""
    takes = {board.name: board.takes for board in book.boards}
    names = [out.terminal.rpartition(" ")[0] for out in device.outputs()]
    return max((takes.get(name, Span(0)) for name in names), default=Span(0))


def _device_cues(task: _Task, targets: Iterable[Target]) -> Iterator[Cue]:
    states: list[Any] = []
    before: Cue | None = None
    for target in targets:
        settings = task.settings(target)
        if before is not None:  # the first stroke has filled the device
            settings = tuple(replace(each, vented=False) for each in settings)
        states = states or [task.device.at_rest(each) for each in settings]
        found = _settled(task, target, settings, states, before)
        states = [lead.state for lead in found]
        measured = _measured_all(task.book, target, found)
        lead, evening = serve(target.window, measured, task.names)
        lead = _with_board(lead, task.takes)
        commands = _held(task.device.commands(target.move), lead)
        before = Cue(
            target=target,
            at=target.land_at - lead.total,
            lead=lead,
            commands=commands,
            evening=evening,
        )
        yield before


def _held(commands: tuple[Command, ...], lead: Lead) -> tuple[Command, ...]:
    """The commands with the time that the lead found them to last, where it did."""
    if lead.hold is None:
        return commands
    return tuple(replace(command, hold=lead.hold) for command in commands)


def _settled(
    task: _Task,
    target: Target,
    settings: Sequence[Setting],
    states: Sequence[Any],
    before: Cue | None,
) -> list[Lead]:
    """The leads, one a state of the air, when the command's instant and the time before it agree.

    Fixed-point iteration, sped up by the secant through the last two rounds. A command that would
    have to leave before the last one has no such instant: then it is taken to follow at once, and
    found to be too close; and one that comes before the device is at rest, which is found to be
    that too, need not be known so well.
    """
    at, last = target.land_at, None
    found: list[Lead] = []
    for _ in range(MOST_ROUNDS):
        since = None if before is None else max(at.since(before.at), Span(0))
        found = _in_each_air(task, target, settings, states, since)
        own = _measured_all(task.book, target, found)
        total = served_total(target.window, own)
        total = total if own[0].basis == "measured" else total + task.takes
        step = (target.land_at - total).since(at)
        hurried = before is not None and moves_something(before) and at < _rests(before)
        if since is None or not since or abs(step) < (HURRIED if hurried else SETTLED):
            break
        last, at = (at, step), _next(at, step, last)
    if not found:
        raise AssertionError("at least one round is made")
    return found


def _in_each_air(
    task: _Task,
    target: Target,
    settings: Sequence[Setting],
    states: Sequence[Any],
    since: Span | None,
) -> list[Lead]:
    """The lead in each state of the air.

    What holds the outputs for a time of its own making (a stop part-way) makes that time once, in
    the usual state: one track serves them all.
    """
    usual = _model(task, target.move, target.land, states[0], since, settings[0])
    move = target.move
    if usual.hold is not None and len(settings) > 1:
        move = replace(move, to=None, hold=usual.hold)
    others = zip(states[1:], settings[1:], strict=True)
    return [usual, *(_model(task, move, target.land, s, since, each) for s, each in others)]


def _rests(cue: Cue) -> Time:
    return cue.at + cue.lead.rest


def _next(at: Time, step: Span, last: tuple[Time, Span] | None) -> Time:
    """Where the secant through two rounds meets zero; the plain next step where it leads astray."""
    if last is not None and step != last[1]:
        slope = (step.ns - last[1].ns) / at.since(last[0]).ns if at != last[0] else 0.0
        if slope < -0.2:  # -1 where the lead does not feel the time since the last command
            return at + Span(round(-step.ns / slope))
    return at + step


def _model(
    task: _Task, move: Move, land: Landing, state: Any, since: Span | None, setting: Setting
) -> Lead:
    key = (task.key, move, land, state, since, setting)
    try:
        known = task.memo.get(key)
    except TypeError:  # a kind whose state can't be a key is merely asked again
        return task.device.lead(move, land, state, since, setting)
    if known is None:
        known = task.memo[key] = task.device.lead(move, land, state, since, setting)
    return known


def _measured_all(book: Book, target: Target, found: Sequence[Lead]) -> list[Lead]:
    """The leads in each air, on one level and as measured."""
    return [_measured(book, target, lead, found[0]) for lead in _levelled(found)]


def _levelled(found: Sequence[Lead]) -> Sequence[Lead]:
    """The leads with those in other air moved by what the second look differs from the first."""
    if len(found) < 3 or found[0].total == found[1].total:
        return found
    apart = found[0].total - found[1].total
    return [found[0], *(_moved(lead, apart) for lead in found[1:])]


def _moved(lead: Lead, by: Span) -> Lead:
    *first, last = lead.parts
    return replace(lead, parts=(*first, replace(last, span=max(last.span + by, Span(0)))))


def _measured(book: Book, target: Target, lead: Lead, usual: Lead) -> Lead:
    """The lead as measured where the book has it; what the model saw is stretched to it.

    The measurement stands for the ``usual`` state of the air; by how much another differs from
    it, the model says. The band is the 95 % prediction interval for one more firing:
    t s sqrt(1 + 1/n) (NIST/SEMATECH e-Handbook 7.2.6.3 gives the normal case); from one firing no
    spread is known, so the model's band stays.
    """
    found = _measurement(book, target.move)
    if found is None:
        return lead
    ratio = found.lead.ns / usual.total.ns if usual.total.ns else 1.0
    differs = Span(round((lead.total - usual.total).ns * ratio))
    lead = replace(
        lead,
        parts=(Part(name="measured", span=max(found.lead + differs, Span(0))),),
        basis="measured",
        rest=Span(round(lead.rest.ns * ratio)),
        hold=None if lead.hold is None else Span(round(lead.hold.ns * ratio)),
        curve=tuple((t * ratio, share) for t, share in lead.curve),
        never="" if lead is usual else lead.never,
    )
    if found.firings < 2:
        return lead
    degrees = max(row for row in STUDENT_95 if row < found.firings)
    wide = Span(round(found.spread.ns * STUDENT_95[degrees] * (1 + 1 / found.firings) ** 0.5))
    return replace(lead, early=wide, late=wide, bands={"spread": wide})


def _measurement(book: Book, move: Move) -> Measured | None:
    return next((m for m in book.measured if m.move is not None and same(m.move, move)), None)


def _with_board(lead: Lead, takes: Span) -> Lead:
    """The lead with the board's share; a measured one has it in it already."""
    if lead.basis == "measured" or not takes:
        return lead
    return replace(
        lead,
        parts=(Part(name="board", span=takes), *lead.parts),
        rest=lead.rest + takes,
        curve=tuple((t + takes.s, share) for t, share in lead.curve),
    )
