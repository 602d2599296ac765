"""Where things stand across the sheet: labels, stills, spine, cue track, a column a device.

In: the plan. Out: x positions in drawing units; a sheet of up to fourteen devices is 720 wide,
which prints on a portrait page with letters of 8 points; more devices make it wider.
"""

from __future__ import annotations

from dataclasses import dataclass

from thundersheet.plan.records import Cue, Plan

WIDTH = 720.0
LABELS = 128.0
STILLS = 60.0
STILL_SIZE = (56.0, 31.5)
RULER = 26.0
"""Room for the name of the ruler's step, left of the spine."""
SPINE = 40.0
TONES = 34.0
FINDINGS = 44.0
NARROWEST, WIDEST = 28.0, 84.0
STRIP = 7.0
"""Width of the lead's strip of parts, at the left of a column."""
BRACKET = 7.0
"""Room for the window's bracket, at the right of a column."""


@dataclass(frozen=True, slots=True)
class Column:
    """The place of one device across the sheet."""

    device: str
    left: float
    width: float

    @property
    def axis(self) -> float:
        """Where the curve's zero is, right of the strip of parts."""
        return self.left + 3 + STRIP

    @property
    def bracket(self) -> float:
        """Where the window's bracket stands."""
        return self.left + self.width - BRACKET

    @property
    def reach(self) -> float:
        """How far right of the axis the curve's one is."""
        return self.bracket - 3 - self.axis


@dataclass(frozen=True, slots=True)
class Layout:
    """All places across one sheet."""

    width: float
    stills: float | None
    """Left edge of the stills; None: there are none."""
    spine: float
    """Middle of the waveform."""
    tones: float
    columns: tuple[Column, ...]
    findings: float

    def column(self, cue: Cue) -> Column:
        """The column of the cue's device."""
        return next(c for c in self.columns if c.device == cue.target.move.device)


def lay_out(
    plan: Plan,
    stills: bool,
    width: float = WIDTH,
    labels: float = LABELS,
    narrowest: float = NARROWEST,
) -> Layout:
    """Columns in the order in which their devices first act."""
    devices = tuple(dict.fromkeys(cue.target.move.device for cue in plan.cues))
    left = labels + (STILLS if stills else 0.0) + RULER
    first = left + SPINE + TONES
    each = (width - first - FINDINGS) / max(len(devices), 1)
    each = min(max(each, narrowest), WIDEST)
    columns = tuple(
        Column(device, first + index * each, each) for index, device in enumerate(devices)
    )
    end = first + len(devices) * each
    return Layout(
        width=max(width, end + FINDINGS),
        stills=labels if stills else None,
        spine=left + SPINE / 2,
        tones=left + SPINE + 3,
        columns=columns,
        findings=end + 8,
    )
