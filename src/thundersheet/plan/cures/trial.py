"""Up to three cures for a finding, each tried by planning the changed book again.

In: a book, its findings, the leads already known. Out: the findings with cures, cheapest first. A
cure is kept only when the finding is gone and no other that refuses or warns has come.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import islice

from thundersheet.base.finding import Cure, Finding, Refusal
from thundersheet.model.book import Book
from thundersheet.plan.cures.idea import Idea, Step, Trouble
from thundersheet.plan.cures.table import ideas
from thundersheet.plan.lead import Memo
from thundersheet.plan.records import Cue
from thundersheet.plan.wording import shown

MOST_CURES = 3
MOST_PLANS, LEAST_PLANS, MOST_CUES = 120, 12, 20_000
"""Plans made for one book at most and at least, and cues in all of them together: cures are a
service, and a check must not take minutes."""
MOST_OF_A_CODE = 3
"""Cures are worked out for so many findings of one code: the rest is cured alike."""

OVER_THE_EVENING = ("AIR-30", "AIR-31", "AIR-32", "AIR-34", "AIR-35")
"""What only shows over a whole evening; anything else shows in its usual air already."""

MOVES_ON = ("AIR-14",)
"""Found at the narrowest place of a feed: once that is wide, the next one is the narrowest."""

MORE_STEPS = 3
"""So many steps are held against the evening before an idea is given up."""

Key = tuple[str, tuple[str, ...]]


def quiet(_: float) -> None:
    """Say nothing of how far it is."""


def with_cures(
    book: Book,
    variant: str,
    findings: Sequence[Finding],
    memo: Memo,
    progress: Callable[[float], None] = quiet,
) -> tuple[Finding, ...]:
    """The findings, those that refuse or warn with up to three cures that were tried.

    ``progress`` is told the share of the findings that were gone through.
    """
    if not any(_curable(finding) for finding in findings):
        return tuple(findings)
    progress(0.0)
    trial = Trial(book, variant, findings, memo)
    counts: Counter[str] = Counter()
    out = []
    for index, finding in enumerate(findings):
        progress(index / len(findings))
        if _curable(finding) and counts[finding.code] < MOST_OF_A_CODE:
            counts[finding.code] += 1
            finding = replace(finding, cures=trial.cures(finding))
        out.append(finding)
    return tuple(out)


def _curable(finding: Finding) -> bool:
    return finding.grade != "note" and not finding.cures


class Trial:
    """Plans changed books and says whether a finding is gone and nothing new has come."""

    def __init__(self, book: Book, variant: str, findings: Sequence[Finding], memo: Memo) -> None:
        self.book = book
        self.variant = variant
        self.memo = memo
        cues, _ = self._plan(book)
        self.cues = {cue.id: cue for cue in cues}
        fitting = MOST_CUES // max(1, len(cues))
        self.plans_left = max(LEAST_PLANS, min(MOST_PLANS, fitting))
        self.known = {_key(finding) for finding in findings}
        self.tried: dict[tuple[int, bool], tuple[Cue, ...] | None] = {}
        """What is known of the steps of the idea in hand."""

    def cures(self, finding: Finding) -> tuple[Cure, ...]:
        """The first three ideas that help, cheapest first."""
        trouble = Trouble(self.book, finding, self.cues)
        found: list[Cure] = []
        for idea in sorted(ideas(trouble), key=lambda each: each.price):
            cure = self._least(idea, finding)
            if cure is not None:
                found.append(cure)
            if len(found) == MOST_CURES:
                break
        return tuple(found)

    def _least(self, idea: Idea, finding: Finding) -> Cure | None:
        """The smallest step that helps, found by strides that double and then by halving.

        It is looked for in the usual air, which is soon told, and then held against the evening;
        where that asks for more, the next few steps are tried.
        """
        self.tried.clear()
        steps = idea.steps
        if idea.quick is not None:
            steps = self._first(idea.quick, steps)
        low, high = 0, len(steps)
        if high > 2:
            low, high = self._bracket(steps, finding)
        while low < high:
            middle = (low + high) // 2
            if self._helps(steps[middle], finding) is None:
                low = middle + 1
            else:
                high = middle
        for step in steps[low : low + MORE_STEPS]:
            cues = self._helps(step, finding, whole=True)
            if cues is not None:
                return self._cure(idea, finding, step, cues)
        return None

    def _first(self, quick: Callable[[Book], bool], steps: Sequence[Step]) -> tuple[Step, ...]:
        """The first step that may help at all."""
        return tuple(islice((step for step in steps if quick(step.change(self.book))), 1))

    def _bracket(self, steps: Sequence[Step], finding: Finding) -> tuple[int, int]:
        """Between which steps the least that helps lies: strides that double."""
        last, at = -1, 0
        while at < len(steps):
            if self._helps(steps[at], finding) is not None:
                return last + 1, at
            last, at = at, at * 2 + 1
        return len(steps), len(steps)

    def _helps(
        self, step: Step, finding: Finding, *, whole: bool = False
    ) -> tuple[Cue, ...] | None:
        """The cues of the changed book when the finding is gone and nothing new has come.

        Unless the ``whole`` evening is asked for, one state of the air will do where the finding
        shows in it.
        """
        usual = self.book.evening is not None and finding.code not in OVER_THE_EVENING
        key = (id(step), whole or not usual)
        if key not in self.tried:
            self.tried[key] = self._tried(step, finding, usual and not whole)
        return self.tried[key]

    def _tried(self, step: Step, finding: Finding, usual: bool) -> tuple[Cue, ...] | None:
        if not self.plans_left:
            return None
        self.plans_left -= 1
        try:
            book = step.change(self.book)
            return self._without(replace(book, evening=None) if usual else book, finding)
        except (Refusal, ValueError):
            return None  # a change that makes no book at all

    def _without(self, book: Book, finding: Finding) -> tuple[Cue, ...] | None:
        """The cues of a book in which the finding is gone and nothing new has come."""
        cues, found = self._plan(book)
        grave = {_key(each) for each in found if each.grade != "note"}
        same = any(
            code == finding.code and (not about or set(about) & set(finding.about))
            for code, about in grave
        )
        return None if same or any(self._is_new(key) for key in grave) else cues

    def _is_new(self, key: Key) -> bool:
        """Whether a finding has come that was not there; the next narrow place is none."""
        code, about = key
        if key in self.known or code not in MOVES_ON:
            return key not in self.known
        return not any(code == known and set(about) & set(ids) for known, ids in self.known)

    def _plan(self, book: Book) -> tuple[tuple[Cue, ...], tuple[Finding, ...]]:
        from thundersheet.plan.plan import plan_cues  # plan.py calls this module

        return plan_cues(book, self.variant, self.memo, quick=True)

    def _cure(self, idea: Idea, finding: Finding, step: Step, cues: Sequence[Cue]) -> Cure:
        cost = idea.cost or self._motion(idea.device, cues)
        return Cure(do=step.do, cost="; ".join(filter(None, (cost, _lands(finding, cues)))))

    def _motion(self, device: str, cues: Sequence[Cue]) -> str:
        """How a device's hardest move is then: `then 0.9 m/s and 1.4 J at its end`."""
        impacts = [
            cue.lead.impact
            for cue in cues
            if cue.target.move.device == device and cue.lead.impact is not None
        ]
        if not impacts:
            return ""
        hardest = max(impacts, key=lambda each: each.energy_j)
        force = shown(self.book, max(each.force_n for each in impacts), "force")
        speed, energy = (
            shown(self.book, hardest.speed_m_s, "speed"),
            shown(self.book, hardest.energy_j, "energy"),
        )
        return f"then {speed}, {energy}, {force} at its end"


def _lands(finding: Finding, cues: Sequence[Cue]) -> str:
    """Where the cue of a finding about the evening then lands: `lands at -4..+2 ms at worst`."""
    if finding.code not in OVER_THE_EVENING or not finding.about:
        return ""
    evening = next((cue.evening for cue in cues if cue.id == finding.about[0]), None)
    if evening is None:
        return ""
    return f"lands at {evening.early.in_ms:+.0f}..{evening.late.in_ms:+.0f} ms at worst"


def _key(finding: Finding) -> Key:
    return finding.code, tuple(sorted(finding.about))
