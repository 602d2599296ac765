"""Cylinders that stick or creep on their way: how unsure that makes a landing, and what to do.

Below some 50 mm/s friction falls as a seal slides faster, so that a slow piston stops, waits for
more pressure and jumps; a flow control cannot hold it. How often it does so, nobody can foretell.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from thundersheet.base.finding import Cure
from thundersheet.base.time import Span
from thundersheet.devices._answers import together
from thundersheet.devices._cylinder.bands import bands_of, coarse, rounded
from thundersheet.devices._cylinder.way import Way, begun, home, run, spot_at
from thundersheet.model.device import Landing, Setting
from thundersheet.physics.stroke import Landed, Stroke

if TYPE_CHECKING:
    from thundersheet.devices.air_cylinder import AirCylinder

MANY_STOPS = 4
"""One that lunges is thrown back by its own exhaust air up to three times, and then runs on."""
SLIDES_LESS, FADES_SLOWER = 2.0 / 3.0, 2.0
"""How far off the starting guesses may be of friction once it slides (0.6 of breakaway: 0.4 is
found too) and of the speed at which it has fallen so far (common practice, no source)."""


def by_jerks(stroke: Stroke, landed: Landed) -> bool:
    """Whether a stroke sticks often, or creeps on the whole slower than the Stribeck speed."""
    if landed.t_full_s is None or landed.t_start_s is None:
        return False
    return _sticks(stroke, landed.turns) or _creeps(stroke, landed.t_full_s - landed.t_start_s)


def _sticks(stroke: Stroke, turns: int) -> bool:
    return turns >= MANY_STOPS and _falls(stroke)


def _creeps(stroke: Stroke, seconds: float) -> bool:
    return stroke.stroke_m - stroke.y0_m < stroke.stribeck_m_s * seconds and _falls(stroke)


def _falls(stroke: Stroke) -> bool:
    """Whether friction falls with speed; without, a piston swings on its air and sticks nowhere."""
    return stroke.breakaway_n > stroke.coulomb_n


def bands_with_jerks(
    cylinder: AirCylinder, stroke: Stroke, land: Landing, landed: Landed
) -> Mapping[str, Span]:
    """`bands_of`, with a share for the jerks of a stroke that goes by them, largest first."""
    bands = bands_of(cylinder, stroke, land)
    if not by_jerks(stroke, landed):
        return bands
    share = Span.seconds(_share(rounded(stroke), land))
    return dict(sorted({**bands, "jerks": share}.items(), key=lambda each: each[1], reverse=True))


def _share(stroke: Stroke, land: Landing) -> float:
    """Seconds that a landing moves with other friction at low speed, or by a stop more or less."""
    plain = coarse(stroke)
    lands, starts = plain.times[land], plain.times["starts"]
    if lands < 0.0:
        return 0.0
    others = (
        replace(stroke, coulomb_n=SLIDES_LESS * stroke.coulomb_n),
        replace(stroke, stribeck_m_s=FADES_SLOWER * stroke.stribeck_m_s),
    )
    moved = [abs(coarse(other).times[land] - lands) for other in others]
    stop = (lands - starts) / (plain.turns + 1) if _sticks(stroke, plain.turns) else 0.0
    return max(*moved, stop)


Said = tuple[str, str, tuple[Cure, ...]]


def words(cylinder: AirCylinder, setting: Setting, strokes: Mapping[str, Stroke]) -> Said | None:
    """What there is to say of a cylinder that goes by jerks one way or both, once; else None.

    ``strokes``: the whole ones by their ways, `out` and `back`.
    """
    found = dict(_found(cylinder, setting, strokes))
    if not found:
        return None
    ways = " and ".join(f"on the way {way} it {how}" for way, (how, _) in found.items())
    wide = max(span for _, span in found.values())
    says = (
        f"{cylinder.name} moves by jerks: {ways}. Its landing is not to be trusted to better than "
        f"{wide.in_ms:.0f} ms either way."
    )
    allowed = "Below about 50 mm/s seals stick and slip; measure its lead, or make it run."
    return says, allowed, tuple(_cures(cylinder))


def _found(
    cylinder: AirCylinder, setting: Setting, strokes: Mapping[str, Stroke]
) -> Iterator[tuple[str, tuple[str, Span]]]:
    """By way: what it does, and how far its landing may be off."""
    state = home(cylinder, replace(setting, vented=False))
    for way, whole in strokes.items():
        stroke = begun(whole, state)
        seen = coarse(rounded(stroke))
        if seen.times["arrives"] < 0.0:
            return
        slow = _creeps(stroke, seen.times["arrives"] - seen.times["starts"])
        if _sticks(stroke, seen.turns) or slow:
            landed = run(stroke, care=False)
            if by_jerks(stroke, landed):
                wide = together(bands_with_jerks(cylinder, stroke, "arrives", landed))
                yield way, (_how(stroke, landed), wide)
        state = spot_at(Way(stroke, care=False), None)


def _how(stroke: Stroke, landed: Landed) -> str:
    if _sticks(stroke, landed.turns):
        return f"stops {landed.turns} times"
    seconds = (landed.t_full_s or 0.0) - (landed.t_start_s or 0.0)
    speed = (stroke.stroke_m - stroke.y0_m) / seconds
    return f"creeps at {1000 * speed:.0f} mm/s"


def _cures(cylinder: AirCylinder) -> Iterator[Cure]:
    if cylinder.exhaust_restriction_m3_s_pa or cylinder.supply_restriction_m3_s_pa:
        yield Cure(do="Open its flow control", cost="it arrives sooner and harder")
    yield Cure(do="Give it more pressure", cost="more force, and more air a stroke")
    yield Cure(
        do="Take friction off: guides in line, low-friction seals; then measure `breakaway`",
        cost="work, or a better cylinder",
    )
