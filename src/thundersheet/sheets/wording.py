"""How instants, lengths of time, cues and findings are written on every sheet, said once."""

from __future__ import annotations

from collections.abc import Sequence

from thundersheet.base.finding import GRADES, Finding, Grade
from thundersheet.base.source import NOWHERE
from thundersheet.base.time import Span, Time, clock
from thundersheet.plan.records import Cue, Plan
from thundersheet.plan.schedule import Word
from thundersheet.sheets.markup import NOTHING, Markup, join, say, tag

GRADE_LETTER: dict[Grade, str] = {"refuse": "R", "warn": "W", "note": "n"}
GRADE_WORD: dict[Grade, str] = {"refuse": "refused", "warn": "warning", "note": "note"}
MINUS = "−"


def at(time: Time, decimals: int = 3) -> str:
    """An instant as a cue sheet has it, `0:41.500`, with a true minus sign before 0:00."""
    return clock(time, decimals).replace("-", MINUS)


def in_ms(span: Span, signed: bool = False) -> str:
    """Milliseconds as paper writes them: `312`, `+0.4`, with a true minus sign."""
    value = span.in_ms
    text = f"{abs(value):.0f}" if abs(value) >= 10 else f"{abs(value):.1f}".removesuffix(".0")
    sign = MINUS if value < 0 else ("+" if signed and value > 0 else "")
    return text if text == "0" else sign + text


def signed(value: float, figures: int = 3) -> str:
    """A small number with its sign, three figures and three decimals: `+0.012`, `−4.2`, `0`."""
    text = f"{round(abs(value), 3):.{figures}g}"
    return "0" if text == "0" else (MINUS if value < 0 else "+") + text


def lead_parts(cue: Cue) -> str:
    """`valve 15 + hose 8 + moving 289`, the parts that are not zero."""
    parts = [f"{part.name} {in_ms(part.span)}" for part in cue.lead.parts if part.span]
    return " + ".join(parts) or "at once"


def window(cue: Cue) -> str:
    """`hit −80..+40`, `soft ±100`: the window's name, if it has one, and its ends in ms."""
    of = cue.target.window
    return f"{of.name} {band(-of.early, of.late)}".strip()


def band(early: Span, late: Span) -> str:
    """So many ms early and late, both given as positive: `−80..+40`, `±100`."""
    if early == late:
        return f"±{in_ms(late)}"
    return f"{in_ms(-early, signed=True)}..{in_ms(late, signed=True)}"


def words_of_cues(plan: Plan) -> dict[str, Word]:
    """The word of the cue track that each cue leaves by, or after which it is due."""
    return {cue_id: word for word in plan.schedule.words for cue_id in word.cues}


def word_for(cue: Cue, words: dict[str, Word]) -> str:
    """What the paper says of the word: `tone 5`, or `mark 17 +412 ms`."""
    word = words.get(cue.id)
    if word is None:
        return "by the clock"
    if word.kind == "mark":
        return f"{word.id} {in_ms(cue.leaves_at.since(word.onset), signed=True)} ms"
    return f"{'tone' if len(word.symbols) == 1 else 'word'} {word.symbols}"


def title_of(plan: Plan) -> str:
    """The show and, where it is one, its variant."""
    return f"{plan.show} ({plan.variant})" if plan.variant else plan.show


def stamp_of(plan: Plan) -> str:
    """What tells this paper from an older one: length and the plan's fingerprint."""
    return f"plan {plan.fingerprint}, {clock(plan.length, 0)} long, {len(plan.cues)} cues"


def count_findings(findings: Sequence[Finding]) -> str:
    """`1 refused, 2 warnings`, or `no findings`."""
    counts = []
    for grade in GRADES:
        found = sum(finding.grade == grade for finding in findings)
        if found:
            plural = "s" if found > 1 and grade != "refuse" else ""
            counts.append(f"{found} {GRADE_WORD[grade]}{plural}")
    return ", ".join(counts) or "no findings"


def list_findings(findings: Sequence[Finding]) -> Markup:
    """The findings as a list, gravest first: shape with letter, words, cures, source."""
    if not findings:
        return tag("p", say("No findings."), class_="quiet")
    grave_first = sorted(findings, key=lambda finding: GRADES.index(finding.grade))
    return tag("ul", join(_item(finding) for finding in grave_first), class_="findings")


def _item(finding: Finding) -> Markup:
    where = f"{finding.place}: " if finding.place != NOWHERE else ""
    cures = [f"{cure.do} ({cure.cost})" if cure.cost else cure.do for cure in finding.cures]
    return tag(
        "li",
        grade_badge(finding.grade),
        tag(
            "div",
            say(f"{where}{finding.says} {finding.allowed} ".replace("  ", " ")),
            tag("code", say(finding.code), class_="code"),
            tag("ul", join(tag("li", say(cure)) for cure in cures)) if cures else NOTHING,
            tag("p", say(f"Source: {finding.source}"), class_="quiet")
            if finding.source
            else NOTHING,
        ),
    )


def grade_badge(grade: Grade) -> Markup:
    """The finding's shape and letter as a small drawing for running text."""
    return tag(
        "svg",
        grade_shape(grade, 10, 10),
        viewBox="0 0 20 20",
        width=20,
        height=20,
        role="img",
        aria_label=GRADE_WORD[grade],
        class_="badge",
    )


def grade_shape(grade: Grade, x: float, y: float) -> Markup:
    """Octagon R, triangle W or circle n, about 18 across, for the picture and for badges."""
    eight = ((-4, -9), (4, -9), (9, -4), (9, 4), (4, 9), (-4, 9), (-9, 4), (-9, -4))
    shapes = {
        "refuse": _polygon(x, y, eight),
        "warn": _polygon(x, y, ((0, -9.5), (10, 8), (-10, 8))),
        "note": tag("circle", cx=x, cy=y, r=8.5),
    }  # fmt: skip
    letter = tag("text", say(GRADE_LETTER[grade]), x=x, y=y + (5.6 if grade == "warn" else 4))
    return tag("g", shapes[grade], letter, class_=f"grade {grade}")


def _polygon(x: float, y: float, corners: tuple[tuple[float, float], ...]) -> Markup:
    return tag("polygon", points=" ".join(f"{x + dx:g},{y + dy:g}" for dx, dy in corners))
