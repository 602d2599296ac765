"""The air that each cue finds over the evening, as a middle and how far it may be from it.

In: a book and its plan. Out: by cue a setting half-way between the evening's extremes (fullest and
emptiest tank, coldest and warmest), and half of each width; what is shared counts with its share.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from thundersheet.devices.air_cylinder import AirCylinder
from thundersheet.model.book import Book
from thundersheet.model.device import Setting
from thundersheet.plan.air.states import feels_air
from thundersheet.plan.lead import leads
from thundersheet.plan.records import Plan
from thundersheet.plan.timeline import timeline


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """One cue's air."""

    setting: Setting
    """In the middle of what the evening has."""
    supply_half: float = 0.0
    """Half of what the gauge pressure varies, as a share of the middle."""
    kelvin_half: float = 0.0
    """Half of what the temperature varies."""


def airs_of(book: Book, plan: Plan) -> Mapping[str, Around]:
    """By cue id, those of devices that feel the air; empty where it never changes."""
    if not feels_air(book):
        return {}
    airs = leads(book, timeline(book, plan.variant).targets, variant=plan.variant).airs
    if airs is None:
        return {}
    devices = {cue.id: cue.target.move.device for cue in plan.cues}
    exact = {each.name for each in book.devices if isinstance(each, AirCylinder)}
    return {
        cue: _around(settings, devices.get(cue, "") in exact)
        for cue, settings in airs.settings.items()
    }


def root_range(book: Book, plan: Plan) -> tuple[float, float] | None:
    """The most and the least that stands at the root when a cue leaves; None: nobody can say."""
    if not feels_air(book):
        return None
    airs = leads(book, timeline(book, plan.variant).targets, variant=plan.variant).airs
    followed = [] if airs is None else list(airs.followed.values())
    highs = [pa for each in followed for pa in each.highest_pa.values()]
    lows = [pa for each in followed for pa in each.lowest_pa.values()]
    return (max(highs), min(lows)) if highs and lows else None


def _around(settings: Sequence[Setting], landing_only: bool) -> Around:
    """The middle of the corners; the usual state alone where there are none.

    A cylinder is not asked for its band, whose parts are drawn here one by one.
    """
    usual, *corners = settings
    usual = replace(usual, landing_only=landing_only)
    kelvins = [each.ambient_k for each in corners] or [usual.ambient_k]
    warm, cold = max(kelvins), min(kelvins)
    middle = replace(usual, ambient_k=(warm + cold) / 2.0)
    outside = usual.atmosphere_pa
    gauges = [each.supply_pa - outside for each in corners if each.supply_pa is not None]
    if not gauges:
        return Around(setting=middle, kelvin_half=(warm - cold) / 2.0)
    high, low = max(gauges), min(gauges)
    mean = (high + low) / 2.0
    return Around(
        setting=replace(middle, supply_pa=mean + outside),
        supply_half=(high - low) / 2.0 / mean if mean > 0.0 else 0.0,
        kelvin_half=(warm - cold) / 2.0,
    )
