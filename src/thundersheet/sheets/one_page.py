"""The report on one page: the show at a glance, its biggest hits enlarged, the proof, what next.

In: plan, programme, perhaps a proof. Out: one HTML page that prints on one sheet of A4 or Letter.
"""

from __future__ import annotations

from collections.abc import Sequence

from thundersheet.base.finding import GRADES, Finding
from thundersheet.base.time import Span
from thundersheet.plan.records import Cue, Plan
from thundersheet.sheets.markup import NOTHING, Markup, join, say, tag
from thundersheet.sheets.page import Paper, page
from thundersheet.sheets.picture import (
    NO_PROGRAMME,
    Programme,
    draw_hit,
    draw_overview,
)
from thundersheet.sheets.proof_report import figures, proof_figures, verdict
from thundersheet.sheets.wording import (
    count_findings,
    grade_badge,
    in_ms,
    lead_parts,
    stamp_of,
    title_of,
)
from thundersheet.track.proof.records import Proof

HITS = 2
FINDINGS = 2
LETTERS = 105
"""So much fits one page; the cue sheet has the findings whole."""


def one_page_html(
    plan: Plan,
    programme: Programme = NO_PROGRAMME,
    proof: Proof | None = None,
    try_next: Sequence[str] = (),
    paper: Paper = None,
) -> str:
    """The report; `try_next` are commands or steps, one line each."""
    title = f"{title_of(plan)}: the show on one page"
    heading = (tag("h1", say(title_of(plan))), tag("p", say(stamp_of(plan)), class_="quiet"))
    head = tag("header", *heading, class_="masthead")
    left = tag("div", tag("div", draw_overview(plan, programme), class_="scroll overview"))
    right = tag("div", join(_right(plan, programme, proof)))
    parts = (head, verdict(proof) if proof else NOTHING, left, right, _next(try_next))
    stamp = f"{title_of(plan)}, {stamp_of(plan)}"
    return page(
        title, tag("div", join(parts), class_="one"), stamp=stamp, paper=paper, kind="report"
    )


def _right(
    plan: Plan,
    programme: Programme,
    proof: Proof | None,
) -> list[Markup]:
    parts = [figures(plan_figures(plan, proof)), tag("h2", say("The longest waits"))]
    for cue in longest_leads(plan):
        parts += [
            draw_hit(plan, cue, programme),
            tag("p", say(_told(cue)), class_="quiet"),
        ]
    found = sorted(
        (*plan.findings, *(proof.findings if proof else ())),
        key=lambda finding: GRADES.index(finding.grade),
    )
    parts += [tag("h2", say(f"Findings: {count_findings(found)}")), _brief(found)]
    return parts


def _next(steps: Sequence[str]) -> Markup:
    if not steps:
        return NOTHING
    listed = join(tag("li", tag("code", say(step))) for step in steps)
    return tag("footer", tag("h2", say("What to try next")), tag("ol", listed))


def plan_figures(plan: Plan, proof: Proof | None = None) -> dict[str, str]:
    """Plan and proof in six figures at most, by name."""
    worst = max((cue.expected_error for cue in plan.cues), key=abs, default=Span(0))
    longest = max((cue.lead.total for cue in plan.cues), default=Span(0))
    air = sum(cue.lead.air_l for cue in plan.cues)
    measured = sum(cue.lead.basis == "measured" for cue in plan.cues)
    found = {
        "cues": str(len(plan.cues)),
        "leads measured": f"{measured} of {len(plan.cues)}",
        "longest lead": f"{in_ms(longest)} ms",
        "worst expected miss": f"{in_ms(worst, signed=True)} ms",
        "free air for a show": f"{air:.2f} l",
    }
    if proof is not None:
        found["worst word heard"] = proof_figures(proof)["worst error"]
    return found


def longest_leads(plan: Plan) -> tuple[Cue, ...]:
    """The cues with the longest leads, one a device, those with a curve of a motion first."""
    by_lead = sorted(plan.cues, key=lambda cue: (cue.lead.air_l > 0, cue.lead.total), reverse=True)
    firsts: dict[str, Cue] = {}
    for cue in by_lead:
        firsts.setdefault(cue.target.move.device, cue)
    return tuple(firsts.values())[:HITS]


def _told(cue: Cue) -> str:
    return f"{cue.target.says}: {in_ms(cue.lead.total)} ms = {lead_parts(cue)}."


def _brief(findings: Sequence[Finding]) -> Markup:
    """The gravest findings, one short line each; the cue sheet has them whole."""
    if not findings:
        return NOTHING
    lines = join(
        tag(
            "li",
            grade_badge(f.grade),
            tag("div", say(_clipped(f.says) + " "), tag("code", say(f.code), class_="code")),
        )
        for f in findings[:FINDINGS]
    )
    more = len(findings) - FINDINGS
    note = (
        tag("p", say(f"and {more} more on the cue sheet"), class_="quiet") if more > 0 else NOTHING
    )
    return join((tag("ul", lines, class_="findings"), note))


def _clipped(text: str) -> str:
    return text if len(text) <= LETTERS else text[: LETTERS - 1] + "…"
