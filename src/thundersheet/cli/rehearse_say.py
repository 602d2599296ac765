"""A rehearsal in about twenty-five lines that a tired person reads at night.

In: a `Rehearsal` and its book. Out: text, the builder's own units in it.
"""

from __future__ import annotations

from collections.abc import Iterator

from thundersheet.base.finding import Finding
from thundersheet.base.time import Time, clock
from thundersheet.cli.say import count_findings, table, wrapped
from thundersheet.model.book import Book
from thundersheet.rehearse.findings import lands
from thundersheet.rehearse.questions import minutes
from thundersheet.rehearse.records import Landed, Played, Rehearsal

MOST_ROWS = 8
"""More landings outside, or more weak shows, are counted and not listed."""
SOLVERS = {
    "coupled": "all air and pistons integrated together",
    "event-driven": "stroke by stroke over the tank",
}


def rehearsal_text(found: Rehearsal, book: Book) -> str:
    """The whole text."""
    parts = (
        _head(found),
        *(_outside(found) if found.mode == "show" else _weak(found)),
        *_ladder(found),
        *_air(found),
        *_guests(found),
        *_power(found, book),
        *_close(found),
    )
    return "\n".join(wrapped(part) if "\n" not in part else part for part in parts if part)


def _head(found: Rehearsal) -> str:
    count = len(found.shows)
    landed = [each for show in found.shows for each in show.landed]
    outside = sum(not each.inside for each in landed)
    shows = "1 show" if count == 1 else f"{count} shows"
    what = {
        "show": "one show",
        "rush": f"a rush of {shows}",
        "evening": f"an evening of {shows}",
    }[found.mode]
    landings = "1 landing" if len(landed) == 1 else f"{len(landed)} landings"
    seed = f", seed {found.seed}" if found.seed is not None else ""
    return (
        f"{found.show}: {what}{seed}; {landings}, "
        f"{f'{outside} outside their windows' if outside else 'all inside their windows'}."
    )


def _outside(found: Rehearsal) -> Iterator[str]:
    rows = [each for show in found.shows for each in show.landed if not each.inside]
    if rows:
        head = ("beat", "lands ms", "may", "cue", "")
        yield table(head, (_row(each) for each in rows[:MOST_ROWS]), right=(0, 1, 2))
        if len(rows) > MOST_ROWS:
            yield f"and {len(rows) - MOST_ROWS} more."


def _row(each: Landed) -> tuple[str, ...]:
    return (
        clock(Time.seconds(each.beat_s)),
        "never" if each.error_ms is None else f"{each.error_ms:+.0f}",
        f"{each.window.early.in_ms:+.0f}..{each.window.late.in_ms:+.0f}",
        each.cue,
        each.why,
    )


def _weak(found: Rehearsal) -> Iterator[str]:
    weak = [show for show in found.shows if show.weak]
    if not weak:
        yield "No show was weak."
        return
    first = weak[0]
    worst = _worst(first)
    yield (
        f"First weak show: number {first.number}, {minutes(first.start_s)} in"
        f"{_stood(found, first.tank_pa)}: {worst.cue} {lands(worst)}. "
        f"Weak in all: {len(weak)} of {len(found.shows)}."
    )


def _worst(show: Played) -> Landed:
    outside = [each for each in show.landed if not each.inside]
    return max(outside, key=lambda each: abs(each.error_ms if each.error_ms is not None else 1e9))


def _stood(found: Rehearsal, pa: float | None) -> str:
    return "" if pa is None else f", the tank at {_gauge(found, pa)}"


def _gauge(found: Rehearsal, pa: float) -> str:
    return found.units.show(float(f"{pa - found.atmosphere_pa:.3g}"), "pressure")


def _ladder(found: Rehearsal) -> Iterator[str]:
    """What the ladder did: a line for each lesser version that played."""
    lesser: dict[str, list[Played]] = {}
    for show in found.shows:
        if show.why:
            lesser.setdefault(show.variant, []).append(show)
    for variant, shows in lesser.items():
        first = shows[0]
        count = "1 show" if len(shows) == 1 else f"{len(shows)} shows"
        yield f"`{variant}` played in {count}, first in number {first.number}: {first.why}."


def _air(found: Rehearsal) -> Iterator[str]:
    played = [show for show in found.shows if show.air_l > 0.0]
    if played:
        show = played[0]
        own = ", ".join(f"{name} {litres:.2f}" for name, litres in show.air_of if litres > 0.0)
        yield f"Free air: {show.air_l:.2f} l a show ({own})."
    if found.tank is not None and found.tank.pa:
        pa = found.tank.pa
        yield (
            f"Tank: {_gauge(found, pa[0])} at first, {_gauge(found, min(pa))} at its lowest, "
            f"{_gauge(found, pa[-1])} at the end."
        )
    elif found.shows and (low := found.shows[0].lowest_pa) is not None:
        yield f"Tank: {_gauge(found, low)} at its lowest."
    yield from (each.says for each in found.answers)


def _guests(found: Rehearsal) -> Iterator[str]:
    if found.queue is not None:
        queue = found.queue
        yield (
            f"Guests: {queue.came} came, {queue.played} saw it, {queue.left_waiting} were left; "
            f"they waited {minutes(queue.mean_wait_s)} in the mean and at most "
            f"{minutes(queue.longest_wait_s)}; the longest line was {queue.longest_line}."
        )
    if found.rest_s is None:
        yield f"Rest after a show: no pause is long enough: {found.rest_why}."
    else:
        rest = f"{found.rest_s:.0f} s or more" if found.rest_s else "none needed"
        yield f"Rest after a show: {rest} ({found.rest_why})."
    if found.guests_per_hour is not None:
        yield f"Guests an hour: {found.guests_per_hour:.0f}."


def _power(found: Rehearsal, book: Book) -> Iterator[str]:
    """The peak of each supply, where one show was followed."""
    peaks = []
    for supply in book.supplies:
        own = [c for c in found.curves if c.of == supply.name and c.quantity == "current"]
        for each in own:
            at, most = max(zip(each.at_s, each.values, strict=True), key=lambda row: row[1])
            amps = found.units.show(float(f"{most:.2g}"), "current")
            gives = found.units.show(supply.current_a, "current")
            peaks.append(f"{supply.name} {amps} of {gives} at {clock(Time.seconds(at), 1)}")
    if peaks:
        yield f"Peaks: {', '.join(peaks)}."


def _close(found: Rehearsal) -> Iterator[str]:
    if found.faults:
        yield f"With: {'; '.join(found.faults)}."
    if found.started:
        yield found.started
    solver = f"{found.solver}, {SOLVERS[found.solver]}"
    if found.differs is None:
        yield f"Solver: {solver}."
    else:
        apart = found.differs
        what = (
            "Rehearsal and plan differ by"
            if found.mode == "show"
            else "Landings lie beyond what the plan expects of its evening by"
        )
        yield (
            f"{what} {apart.mean_ms:.2f} ms in the mean, at most {apart.worst_ms:+.2f} ms "
            f"({apart.worst_cue}); solver: {solver}."
        )
    plans = [each for each in found.findings if each not in own_findings(found)]
    if any(each.grade != "note" for each in plans):
        yield f"The plan itself has {count_findings(plans)}: see `thundersheet check`."


def own_findings(found: Rehearsal) -> tuple[Finding, ...]:
    """What the rehearsal itself found, the plan's findings apart."""
    return tuple(each for each in found.findings if each.code.startswith("REHEARSE"))
