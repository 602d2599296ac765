"""What one reading of a book gathers as it goes: findings, names, units, the time ruler."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from thundersheet.base.finding import Cure, Finding, Grade
from thundersheet.base.read_time import CLOCK_ONLY, Ruler
from thundersheet.base.source import Place
from thundersheet.base.units import UnitStyle
from thundersheet.model.device import Device, Move


@dataclass(frozen=True, slots=True)
class Known:
    """A device as far as its name and kind can be read, even where the rest of it is wrong."""

    kind: type[Device] | None
    """None: an unknown kind, which has its own finding; what it can do is anyone's guess."""
    words: Mapping[str, str] = field(default_factory=dict)
    """The builder's own words for its actions."""


@dataclass(slots=True)
class Reading:
    """Handed to everything that reads; it only ever grows."""

    findings: list[Finding] = field(default_factory=list)
    ruler: Ruler = CLOCK_ONLY
    ruler_known: bool = True
    """False: frame rate or tempo is wrong, so that frames and bars cannot be judged."""
    units: Counter[tuple[str, str]] = field(default_factory=Counter)
    """How often each (dimension, unit) was written."""
    kinds: dict[str, type[Device]] = field(default_factory=dict)
    """The kinds that the book uses, of those that there are."""
    devices: dict[str, Known] = field(default_factory=dict)
    boards: dict[str, int | None] = field(default_factory=dict)
    """By name: how many terminals; None: as many as a board has unless it says otherwise."""
    moves: dict[str, Move | None] = field(default_factory=dict)
    """What texts said so far: beats repeat themselves."""
    measured: set[tuple[str, str]] = field(default_factory=set)
    """Devices and actions that have a measurement."""
    variants: frozenset[str] = frozenset()
    air_parts: frozenset[str] = frozenset()
    """Names of the plumbing's parts."""
    beats: frozenset[str] = frozenset()
    """Names that beats have."""

    def say(
        self,
        code: str,
        place: Place,
        says: str,
        allowed: str = "",
        *,
        cures: tuple[Cure, ...] = (),
        grade: Grade = "refuse",
    ) -> None:
        """Note a finding and go on."""
        self.findings.append(
            Finding(code=code, grade=grade, place=place, says=says, allowed=allowed, cures=cures)
        )

    def style(self) -> UnitStyle:
        """The unit that the builder writes most for each dimension; the first where it is even."""
        chosen: dict[str, str] = {}
        for (dimension, unit), _ in self.units.most_common():
            if unit:
                chosen.setdefault(dimension, unit)
        return UnitStyle.of(chosen)


def hint(word: str, known: Iterable[str], most: int = 24) -> str:
    """The nearest of the known words and the list of them: ``Did you mean `rod`? Known here: ...``.

    A word that fits but for its case or its dashes counts as nearest.
    """
    import difflib  # only now: most books have nothing to suggest

    names = sorted(known)
    if not names:
        return ""
    lower = {name.lower().replace("-", " "): name for name in names}
    asked = word.lower().replace("_", " ").replace("-", " ")
    near = difflib.get_close_matches(asked, lower, n=1, cutoff=0.6)
    listed = ", ".join(names[:most]) + (f" and {len(names) - most} more" * (len(names) > most))
    start = f"Did you mean `{lower[near[0]]}`? " if near else ""
    return f"{start}Known here: {listed}."
