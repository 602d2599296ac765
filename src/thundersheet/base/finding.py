"""What a check says to the user about their file, and the one way a program run is refused.

A ``Finding`` is about the user's book or media and is gathered with others; a ``Refusal`` is
raised when a command cannot go on (a missing file, a full disk, findings that refuse).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

from thundersheet.base.source import NOWHERE, Place

Grade = Literal["refuse", "warn", "note"]
GRADES: tuple[Grade, ...] = ("refuse", "warn", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """One way to mend a finding, with its price in the show's own terms."""

    do: str
    """A sentence in the imperative: `Fit a valve of Cv 0.4 or more`."""
    cost: str = ""
    """What it costs in time, money, motion or work: `the slam is 20 % slower`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What one check says: where, what is wrong, what would be right, what to do."""

    code: str
    """Topic and number, `AIR-07`; its page is docs/reference/findings.md#air-07."""
    grade: Grade
    place: Place = NOWHERE
    says: str
    """What is wrong, in the user's words, with the value quoted."""
    allowed: str = ""
    """What would be right."""
    cures: tuple[Cure, ...] = ()
    """Up to three, cheapest first."""
    about: tuple[str, ...] = ()
    """Ids of the cues, beats or devices concerned, for the page and the paper."""
    source: str = ""
    """Where a limit comes from: document and clause, or `common practice, no source`."""

    def __str__(self) -> str:
        where = f"{self.place}: " if self.place != NOWHERE else ""
        lines = [f"{where}{self.says} {self.allowed}".rstrip() + f"  [{self.code}]"]
        for cure in self.cures:
            cost = f" ({cure.cost})" if cure.cost else ""
            lines.append(f"    - {cure.do}{cost}")
        if self.source:
            lines.append(f"    source: {self.source}")
        return "\n".join(lines)


def finding_json(finding: Finding) -> dict[str, Any]:
    """The finding as every JSON document carries it."""
    place = finding.place
    return {
        "code": finding.code,
        "grade": finding.grade,
        "file": place.file or None,
        "line": place.line or None,
        "column": place.column or None,
        "says": finding.says,
        "allowed": finding.allowed,
        "cures": [{"do": cure.do, "cost": cure.cost} for cure in finding.cures],
        "about": list(finding.about),
        "source": finding.source,
    }


def worst(findings: Iterable[Finding]) -> Grade | None:
    """The gravest grade among the findings, or None when there are none."""
    found = {finding.grade for finding in findings}
    return next((grade for grade in GRADES if grade in found), None)


class Refusal(Exception):
    """A command cannot go on; carries what to tell the user, in full sentences.

    Raised for the world (a missing file, a folder where a file was meant, a full disk) and,
    with the findings, for input that cannot be read. The command line turns it into exit 2.
    """

    def __init__(self, *findings: Finding) -> None:
        self.findings = findings
        super().__init__("\n".join(str(finding) for finding in findings))

    @classmethod
    def because(cls, code: str, says: str, allowed: str = "", place: Place = NOWHERE) -> Refusal:
        """A refusal with one finding."""
        return cls(Finding(code=code, grade="refuse", place=place, says=says, allowed=allowed))
