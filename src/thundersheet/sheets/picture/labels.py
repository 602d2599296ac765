"""The beats: ruled lines across with their labels, and the findings that concern them.

Labels that would lie on each other are pushed down and tied to their line by a leader.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from thundersheet.base.finding import GRADES, Finding
from thundersheet.base.time import Time, clock
from thundersheet.plan.records import Cue, Plan
from thundersheet.sheets.markup import NOTHING, Markup, join, say, tag
from thundersheet.sheets.picture.fold import Scale
from thundersheet.sheets.picture.layout import Layout
from thundersheet.sheets.wording import grade_shape

LETTERS = 22
"""So many letters of a label fit beside the spine."""
LINE = 12.0


@dataclass(frozen=True, slots=True)
class Ruled:
    """One instant with all the cues whose beat it is."""

    at: Time
    cues: tuple[Cue, ...]

    what: str
    """What guests see then: what is rare in the show first."""


def ruled(plan: Plan) -> tuple[Ruled, ...]:
    """The plan's beats in order of time, those at one instant together."""
    at: dict[Time, list[Cue]] = {}
    for cue in sorted(plan.cues, key=lambda cue: cue.target.beat_at):
        at.setdefault(cue.target.beat_at, []).append(cue)
    often = Counter(map(_what, plan.cues))
    return tuple(
        Ruled(
            time,
            tuple(cues),
            ", ".join(dict.fromkeys(sorted(map(_what, cues), key=often.__getitem__))),
        )
        for time, cues in at.items()
    )


def _what(cue: Cue) -> str:
    """What the book says of it, or the move where it says nothing."""
    return cue.target.what or cue.target.says


def draw_beats(beats: Sequence[Ruled], layout: Layout, scale: Scale) -> tuple[Markup, float]:
    """The lines with labels of two lines, and how far down the last label reaches."""
    drawn: list[Markup] = []
    free = scale.stretches[0].top
    for beat in beats:
        y = scale.y(beat.at)
        drawn.append(tag("line", x1=0, x2=layout.findings, y1=y, y2=y, class_="beat"))
        top = max(y + LINE, free)
        drawn.append(_label(beat, y, top))
        free = top + LINE * 2 + 3
    return join(drawn), free


def draw_few_beats(beats: Sequence[Ruled], layout: Layout, scale: Scale) -> Markup:
    """For an overview: a thin line and a label of one line where there is room, each text once."""
    drawn: list[Markup] = []
    free, said = scale.stretches[0].top, set[str]()
    for beat in beats:
        y = scale.y(beat.at)
        if beat.what in said or y + 3 < free:
            continue
        said.add(beat.what)
        free = y + LINE + 1
        line = tag("line", x1=0, x2=layout.findings, y1=y, y2=y, class_="beat few")
        words = tag("tspan", say(" " + _shortened(beat.what, LETTERS - 4)), class_="what")
        label = tag(
            "text", tag("tspan", say(clock(beat.at, 1)), class_="at"), words, x=4, y=y + LINE - 1
        )
        drawn.append(tag("g", tag("title", say(f"{beat.at}: {beat.what}")), line, label))
    return join(drawn)


def _label(beat: Ruled, line: float, top: float) -> Markup:
    time = tag("text", tag("tspan", say(clock(beat.at)), class_="at"), x=8, y=top)
    what = tag("text", say(_shortened(beat.what, LETTERS)), x=8, y=top + LINE, class_="what")
    leader = tag(
        "polyline", points=f"2,{line:.1f} 2,{top - 4:.1f} 6,{top - 4:.1f}", class_="leader"
    )
    pushed = top - line > LINE + 1
    name = tag("title", say(f"{beat.at}: {beat.what}"))
    return tag("g", name, leader if pushed else NOTHING, time, what)


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip(" ,") + "…"


def findings_at(plan: Plan, beat: Ruled) -> tuple[Finding, ...]:
    """The findings that name one of the beat's cues or the beat itself, gravest first."""
    names = {cue.id for cue in beat.cues} | {cue.target.beat for cue in beat.cues}
    found = (finding for finding in plan.findings if names & set(finding.about))
    return tuple(sorted(found, key=lambda finding: GRADES.index(finding.grade)))


def draw_findings(plan: Plan, beats: Iterable[Ruled], layout: Layout, scale: Scale) -> Markup:
    """Shape and letter of each finding at its beat's line, at the right edge."""
    drawn = []
    free = scale.stretches[0].top
    for beat in beats:
        for finding in findings_at(plan, beat):
            y = max(scale.y(beat.at), free + 10)
            free = y + 10
            name = tag("title", say(str(finding)))
            drawn.append(tag("g", name, grade_shape(finding.grade, layout.findings + 14, y)))
    return join(drawn)
