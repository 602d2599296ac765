"""What the air of an evening does to the show, said: late landings, weak tanks, shared feeds.

In: a book and its cues with what the evening makes of their air. Out: findings, and the evening's
own line in the plan. What the plan knows is refused where a landing misses its window by it; what
the leads allow for, but a builder should know, is a warning.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from thundersheet.base.finding import Finding
from thundersheet.base.time import Span, clock
from thundersheet.model.book import Book
from thundersheet.plan.air.evening import Followed
from thundersheet.plan.air.sag import sag_pa
from thundersheet.plan.air.states import Airs, draws_of, every_of, temperatures, usual_k
from thundersheet.plan.lead import Leads
from thundersheet.plan.plumbing import atmosphere
from thundersheet.plan.records import Cue, EveningPlan
from thundersheet.plan.setting import piping_of
from thundersheet.plan.wording import said, shown

EXPLAINS = {
    "AIR-30": "One media file serves the whole evening, so a cue leaves at one instant whatever "
    "the tank has and however cold it is. The plan puts that instant where the worst landing is "
    "least bad; here even that one is outside the beat's window.",
    "AIR-31": "With the tank as low as this evening leaves it, the move does not happen at all: "
    "what is left of the pressure does not move the load.",
    "AIR-32": "The tank falls below what a regulator needs before the evening is over. From that "
    "show on the pressure at the valves sinks from show to show.",
    "AIR-33": "Moves that take air through one feed at the same time slow each other. The lead "
    "allows for it as the book has it, by the mean of their flows; where a feed is starved, the "
    "rehearsal knows better. A gust that is left out, or a valve that sticks, then brings the "
    "other one early.",
    "AIR-34": "Only time stops this move part-way, and how far it comes in that time changes with "
    "the pressure and the cold of the evening.",
    "AIR-35": "The compressor does not bring what the shows take: the tank falls from show to show "
    "below where it should start. It may be too small, at its duty limit, or kept quiet.",
}

HALF = 0.5
"""A shared feed that takes so much of a beat's late side is worth a warning: the other half is
needed for what nobody knows before measuring."""
DRIFTS = 0.1
"""A share of the way by which a stop part-way is seen to stand elsewhere (common practice)."""


def air_findings(book: Book, found: Leads) -> tuple[Finding, ...]:
    """What is wrong with the air over the evening, or with the feeds in one show."""
    airs = found.airs
    if airs is None:
        return ()
    return (
        *_missed(book, found.cues, airs),
        *_never(book, found.cues, airs),
        *_weak(book, found.cues, airs),
        *_behind(book, airs),
        *_shared(book, found, airs),
        *_drifts(book, found.cues),
    )


def evening_of(book: Book, found: Leads, cues: Sequence[Cue]) -> EveningPlan | None:
    """The evening's line in the plan; ``cues`` with the cue track's share of their errors."""
    if book.evening is None or found.airs is None:
        return None
    followed = list(found.airs.followed.values())
    cold, warm = temperatures(book)
    worst = max((cue for cue in cues if cue.evening is not None), key=_used, default=None)
    early, late = (Span(0), Span(0)) if worst is None else _landings(worst)
    weak = [each.weak_show for each in followed if each.weak_show is not None]
    return EveningPlan(
        shows=book.evening.shows,
        every=every_of(book),
        coldest_k=cold,
        warmest_k=warm,
        worst_cue="" if worst is None else worst.id,
        worst_early=early,
        worst_late=late,
        air_l=sum(cue.lead.air_l for cue in cues),
        tank_low_pa=_lowest(book, followed),
        weak_show=min(weak, default=None),
        ran=max((each.ran for each in followed), default=None) if book.air.compressor else None,
    )


def _landings(cue: Cue) -> tuple[Span, Span]:
    if cue.evening is None:
        return cue.expected_error, cue.expected_error
    return cue.expected_error + cue.evening.early, cue.expected_error + cue.evening.late


def _used(cue: Cue) -> float:
    """How much of its window a cue uses over the evening: 1 is all of the tighter side."""
    window = cue.target.window
    early, late = _landings(cue)
    sides = ((late, window.late), (early, window.early))
    return max(at.ns / side.ns if side else 0.0 for at, side in sides)


def _lowest(book: Book, followed: Sequence[Followed]) -> float | None:
    """Gauge."""
    low = min((each.low_pa for each in followed), default=None)
    return None if low is None or not book.air.parts else low - atmosphere(book.air)


def _missed(book: Book, cues: Sequence[Cue], airs: Airs) -> Iterator[Finding]:
    """One finding for each move: its worst landing."""
    worst: dict[str, Cue] = {}
    for cue in cues:
        evening, window = cue.evening, cue.target.window
        if evening is None or evening.never or not window.holds(Span(0)):
            continue
        if not (window.holds(evening.early) and window.holds(evening.late)):
            name = said(book, cue.target.move)
            if name not in worst or _used(cue) > _used(worst[name]):
                worst[name] = cue
    for name, cue in worst.items():
        assert cue.evening is not None
        late = cue.evening.late_in
        yield Finding(
            code="AIR-30",
            grade="refuse",
            place=cue.target.place,
            says=f"Over the evening {name} at {clock(cue.target.beat_at)} lands "
            f"{cue.evening.early.in_ms:+.0f}..{cue.evening.late.in_ms:+.0f} ms: latest with "
            f"{_state(book, airs, cue, late)}.",
            allowed=f"Its window is {cue.target.window}, and no other instant serves it better.",
            about=(cue.id,),
        )


def _state(book: Book, airs: Airs, cue: Cue, state: str) -> str:
    """A state of the air with what then stands in the tank."""
    root = airs.root_pa(cue.id, state)
    if root is None or not book.air.parts:
        return f"the air {state}" if state == "as usual" else state
    return f"{state} ({shown(book, root - atmosphere(book.air), 'pressure')})"


def _never(book: Book, cues: Sequence[Cue], airs: Airs) -> Iterator[Finding]:
    seen: set[str] = set()
    for cue in cues:
        evening, name = cue.evening, said(book, cue.target.move)
        if evening is None or not evening.never or name in seen:
            continue
        seen.add(name)
        yield Finding(
            code="AIR-31",
            grade="refuse",
            place=cue.target.place,
            says=f"{name} at {clock(cue.target.beat_at)} does not happen with "
            f"{_state(book, airs, cue, evening.never_in)}: {evening.never.rstrip('.')}.",
            allowed="It has to move in the evening's last show as in its first.",
            about=(cue.id,),
        )


def _weak(book: Book, cues: Sequence[Cue], airs: Airs) -> Iterator[Finding]:
    """The first show that finds the tank below what its regulators need."""
    weak = [each for each in airs.followed.values() if each.weak_show is not None]
    if not weak or book.evening is None:
        return
    first = min(weak, key=lambda each: each.weak_show or 0)
    cue = next(each for each in cues if each.id == first.weak_cue)
    low = shown(book, first.low_pa - atmosphere(book.air), "pressure")
    empty = min((each.empty_show for each in weak if each.empty_show), default=None)
    ends = f", and from show {empty} on air is missing altogether" if empty else ""
    yield Finding(
        code="AIR-32",
        grade="warn",
        place=book.evening.origin.place,
        says=f"From show {first.weak_show} of {book.evening.shows} on the tank does not hold what "
        f"{cue.target.move.device} needs; it falls to {low}{ends}.",
        allowed="The tank has to last for all shows of the evening.",
        about=(cue.id,),
    )


def _behind(book: Book, airs: Airs) -> Iterator[Finding]:
    """A compressor that falls behind, as long as the tank bears it."""
    machine, outside = book.air.compressor, atmosphere(book.air)
    if machine is None or any(each.weak_show is not None for each in airs.followed.values()):
        return
    for each in airs.followed.values():
        if each.low_pa >= machine.cut_in_pa + outside - each.dips_pa:
            continue
        limited = each.duty >= machine.duty - 1e-6 and machine.duty < 1.0
        why = f" at its limit of {machine.duty:.0%} of ten minutes" if limited else ""
        yield Finding(
            code="AIR-35",
            grade="note",
            place=machine.origin.place,
            says=f"The compressor does not keep up{why}: the tank falls to "
            f"{shown(book, each.low_pa - outside, 'pressure')} over the evening.",
            allowed=f"It should start at {shown(book, machine.cut_in_pa, 'pressure')}.",
        )
        return


def _shared(book: Book, found: Leads, airs: Airs) -> Iterator[Finding]:
    """Feeds whose sharing takes much of a window; for any two devices where it is worst."""
    piping = piping_of(book, usual_k(book))
    if piping is None:
        return
    alone = {cue.id: cue for cue in found.alone}
    cues = {cue.id: cue for cue in found.together}
    draws = {draw.cue: draw for cue in found.alone for draw in draws_of(cue, piping, {})}
    worst: dict[frozenset[str], tuple[float, Cue, str]] = {}
    for common in airs.commons:
        cue, other = cues[common.cue], cues[common.others[0]]
        later = cue.lead.total - alone[cue.id].lead.total
        used = later.ns / max(cue.target.window.late.ns, 1)
        pair = frozenset((cue.target.move.device, other.target.move.device))
        if used > HALF and (pair not in worst or used > worst[pair][0]):
            worst[pair] = used, cue, other.id
    for _, cue, other_id in worst.values():
        both = (cue, cues[other_id])
        lates = [each.lead.total - alone[each.id].lead.total for each in both]
        sag, link = max(
            (sag_pa(piping, each, draws), each.link)
            for each in airs.commons
            if each.cue == cue.id and other_id in each.others
        )
        yield _feed(book, both, lates, link, sag)


def _feed(
    book: Book, cues: tuple[Cue, Cue], later: Sequence[Span], link: str, sag: float
) -> Finding:
    """Two moves on one feed."""
    first, second = (said(book, cue.target.move) for cue in cues)
    slower = f"{first} lands {later[0].in_ms:.0f} ms later than alone"
    if later[1] >= Span.ms(1):
        slower += f", {second} {later[1].in_ms:.0f} ms"
    return Finding(
        code="AIR-33",
        grade="warn",
        place=cues[0].target.place,
        says=f"{first} at {clock(cues[0].target.beat_at)} and {second} take their air through one "
        f"feed, {_link(book, link)}: up to {shown(book, sag, 'pressure')} less gets through it, "
        f"and {slower}.",
        allowed="The leads allow for it, as for steady flow; but where one of them is left out or "
        "its valve sticks, the other is early. `thundersheet rehearse` shows it moment by moment.",
        about=(cues[0].id, cues[1].id),
    )


def _link(book: Book, name: str) -> str:
    """A feed by what it leads to, with its hose."""
    part = next((each for each in book.air.parts if each.name == name), None)
    if part is None or part.hose is None:
        return f"`{name}`"
    return f"the {shown(book, part.hose.bore_m, 'length')} hose of `{name}`"


def _drifts(book: Book, cues: Sequence[Cue]) -> Iterator[Finding]:
    for cue in cues:
        stands = cue.evening.stands if cue.evening else None
        if stands is None or stands[1] - stands[0] < DRIFTS:
            continue
        yield Finding(
            code="AIR-34",
            grade="warn",
            place=cue.target.place,
            says=f"{said(book, cue.target.move)} at {clock(cue.target.beat_at)} is stopped by time "
            f"alone, and stands anywhere from {stands[0]:.0%} to {stands[1]:.0%} over the evening.",
            allowed=f"Within {DRIFTS:.0%} of the way nobody sees it.",
            about=(cue.id,),
        )
