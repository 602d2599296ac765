"""From a book to its plan, assembled in one place.

In: a book, a variant, whether cures are wanted. Out: the frozen plan. The same book and variant
give the same plan, to the last digit. No file is opened here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from thundersheet.base.finding import Finding
from thundersheet.base.time import ZERO, Span
from thundersheet.model.book import Book
from thundersheet.plan.air.findings import air_findings, evening_of
from thundersheet.plan.frozen import from_json, print_of, to_json
from thundersheet.plan.gate import gate
from thundersheet.plan.judge import judge
from thundersheet.plan.lead import Leads, Memo, leads, setting_of
from thundersheet.plan.media import media
from thundersheet.plan.plumbing.checks import plumbing
from thundersheet.plan.power import power
from thundersheet.plan.records import Cue, Plan
from thundersheet.plan.safety import safety
from thundersheet.plan.schedule import Schedule, Want, check_style, lay_out
from thundersheet.plan.timeline import timeline

__all__ = ["from_json", "make_plan", "plan_cues", "to_json"]


def make_plan(
    book: Book,
    variant: str = "",
    *,
    cures: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Plan:
    """The plan of one variant; the empty name is the show as written.

    With `cures`, findings that refuse or warn carry up to three, each tried by planning again;
    that may take some seconds, and `progress` is told how far it is.
    """
    memo: Memo = {}
    found, findings = _led(book, variant, memo)
    cues = found.cues
    fingerprint = print_of(book.show.name, variant, book.show.length, book.show.cue_track, cues)
    schedule = lay_out(_wants(cues), book.show.cue_track, book.show.length, fingerprint)
    cues = _departed(cues, schedule)
    findings = (
        *book.findings,
        *findings,
        *judge(book, cues),
        *_style_findings(book),
        *_at_cues(cues, schedule.findings),
    )
    if cures and any(finding.grade != "note" for finding in findings):
        from thundersheet.plan.cures import with_cures  # only needed when something is wrong

        findings = with_cures(book, variant, findings, memo, progress or (lambda _: None))
    return Plan(
        show=book.show.name,
        variant=variant,
        length=book.show.length,
        fingerprint=fingerprint,
        cues=tuple(replace(cue, lead=replace(cue.lead, state=None, draws=())) for cue in cues),
        style=book.show.cue_track,
        schedule=schedule,
        findings=findings,
        units=book.units,
        evening=evening_of(book, found, cues),
    )


def plan_cues(
    book: Book, variant: str = "", memo: Memo | None = None, *, quick: bool = False
) -> tuple[tuple[Cue, ...], tuple[Finding, ...]]:
    """Cues and what is wrong with them, before the cue track has its share.

    ``quick``: without the leads' bands, for trying a book out.
    """
    found, findings = _led(book, variant, memo, quick)
    return found.cues, findings


def _led(
    book: Book, variant: str, memo: Memo | None, quick: bool = False
) -> tuple[Leads, tuple[Finding, ...]]:
    line = timeline(book, variant)
    found = leads(book, line.targets, memo, variant=variant, quick=quick)
    cues = found.cues
    findings = (
        *line.findings,
        *_device_checks(book),
        *found.findings,
        *air_findings(book, found),
        *gate(book, cues),
        *safety(book, cues),
        *media(book, cues),
        *power(book, cues),
        *plumbing(book, cues),
    )
    return found, findings


def _device_checks(book: Book) -> tuple[Finding, ...]:
    """What the devices say about their own records, at their own places."""
    return tuple(
        finding if finding.place.line else replace(finding, place=device.origin.place)
        for device in book.devices
        for finding in device.checks(setting_of(book, device))
    )


def _wants(cues: Sequence[Cue]) -> list[Want]:
    """What the cue track has to carry; a screen's or player's move has nothing to switch."""
    return [_want(cue) for cue in cues if cue.commands]


def _want(cue: Cue) -> Want:
    """A cue with its window. One that would leave before 0:00 leaves at 0:00."""
    window = cue.target.window
    shift = max(ZERO.since(cue.at), Span(0))
    # What the evening takes of the window, the cue track must not take again.
    early, late = window.early, window.late
    if cue.evening is not None:
        early, late = early - cue.evening.early, late - cue.evening.late
    return Want(
        cue_id=cue.id,
        at=cue.at + shift,
        early=max(-early, Span(0)) if not shift else Span(0),
        late=max(late - shift, Span(0)),
        commands=cue.commands,
    )


def _departed(cues: Sequence[Cue], schedule: Schedule) -> tuple[Cue, ...]:
    """The cues with the cue track's share of their error."""
    leaves = {departure.cue_id: departure.at for departure in schedule.departures}
    return tuple(
        replace(cue, expected_error=leaves.get(cue.id, max(cue.at, ZERO)).since(cue.at))
        for cue in cues
    )


def _style_findings(book: Book) -> tuple[Finding, ...]:
    place = book.show.origin.of("cue_track")
    return tuple(
        finding if finding.place.line else replace(finding, place=place)
        for finding in check_style(book.show.cue_track)
    )


def _at_cues(cues: Sequence[Cue], findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """The cue track's findings at the beats of the cues that they are about."""
    places = {cue.id: cue.target.place for cue in cues}
    return tuple(
        replace(finding, place=places[finding.about[0]])
        if finding.about and finding.about[0] in places and not finding.place.line
        else finding
        for finding in findings
    )
