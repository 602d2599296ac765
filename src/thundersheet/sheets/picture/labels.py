"""The beats: ruled lines across with their labels, and the findings that concern them.

Labels that would lie on each other are pushed down and tied to their line by a leader.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from thundersheet.base.finding import GRADES, Finding
from thundersheet.base.time import Time, clock
from thundersheet.plan.records import Cue, Plan
from thundersheet.sheets.markup import NOTHING, Markup, join, say, tag
from thundersheet.sheets.picture.fold import Scale
from thundersheet.sheets.picture.layout import Layout
from thundersheet.sheets.wording import grade_shape

LETTERS = 25
"""So many letters of a label fit beside the spine."""
LINE = 12.0


@dataclass(frozen=True, slots=True)
class Ruled:
    """One instant with all the cues whose beat it is."""

    at: Time
    cues: tuple[Cue, ...]

    @property
    def what(self) -> str:
        """What guests see then, each said once; the moves where the book says nothing."""
        texts = (cue.target.what or str(cue.target.move) for cue in self.cues)
        return ", ".join(dict.fromkeys(texts))


def ruled(plan: Plan) -> tuple[Ruled, ...]:
    """The plan's beats in order of time, those at one instant together."""
    at: dict[Time, list[Cue]] = {}
    for cue in sorted(plan.cues, key=lambda cue: cue.target.beat_at):
        at.setdefault(cue.target.beat_at, []).append(cue)
    return tuple(Ruled(time, tuple(cues)) for time, cues in at.items())


def draw_beats(
    beats: Sequence[Ruled], layout: Layout, scale: Scale, lines: int = 2, most: float | None = None
) -> tuple[Markup, float]:
    """The lines and labels, and how far down the last label reaches.

    Labels are left out where they would pass `most`; a run of beats that say the same is named
    at its first.
    """
    drawn: list[Markup] = []
    free, said = scale.stretches[0].top, ""
    for beat in beats:
        y = scale.y(beat.at)
        drawn.append(tag("line", x1=0, x2=layout.findings, y1=y, y2=y, class_="beat"))
        if lines < 2 and (beat.what == said or y < free - 2.5 * LINE):
            continue
        said = beat.what
        top = max(y + LINE, free)
        if most is None or top + LINE * (lines - 1) <= most:
            drawn.append(_label(beat, y, top, lines))
            free = top + LINE * lines + (3 if lines > 1 else 1)
    return join(drawn), free


def _label(beat: Ruled, line: float, top: float, lines: int) -> Markup:
    time = tag("tspan", say(clock(beat.at)), class_="at")
    if lines == 1:
        words = say(" " + _shortened(beat.what, LETTERS - 6))
        text = tag("text", time, tag("tspan", words, class_="what"), x=8, y=top)
    else:
        text = join(
            (
                tag("text", time, x=8, y=top),
                tag("text", say(_shortened(beat.what, LETTERS)), x=8, y=top + LINE, class_="what"),
            )
        )
    pushed = top - line > LINE + 1
    leader = tag(
        "polyline", points=f"2,{line:.1f} 2,{top - 4:.1f} 6,{top - 4:.1f}", class_="leader"
    )
    return tag(
        "g", tag("title", say(f"{beat.at}: {beat.what}")), leader if pushed else NOTHING, text
    )


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
