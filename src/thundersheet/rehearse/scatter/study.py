"""From a book and its plan to a study: what is drawn, and how each landing follows from it.

In: a book and a plan. Out: a ``Study``, plain data that can be sent to another machine. Each
stroke begins as the show leaves it at its nominal values; of that first air, the pressures follow
the drawn supply in proportion and the temperatures follow the drawn ambient.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from thundersheet.base.time import Span, Time
from thundersheet.devices._cylinder.way import Way
from thundersheet.devices.air_cylinder import AirCylinder
from thundersheet.model.book import Book, Measured
from thundersheet.model.device import Device, Landing, Lead
from thundersheet.model.show import Window
from thundersheet.model.spreads import Spreads
from thundersheet.physics.solve import solve
from thundersheet.physics.stroke import Stroke
from thundersheet.plan.lead import board_takes, setting_of
from thundersheet.plan.records import Cue, Plan
from thundersheet.plan.timeline import beats_by_id, same
from thundersheet.rehearse.records import By, Doubt
from thundersheet.rehearse.scatter.airs import Around, airs_of
from thundersheet.rehearse.scatter.doubts import (
    Acting,
    On,
    in_proportion,
    of_board,
    of_decoding,
    of_measured,
    of_picture,
    of_stroke,
    of_the_night,
)
from thundersheet.rehearse.scatter.setup import Setup, setup_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What one column of the draw does to one landing."""

    column: int
    on: On
    sd: float
    """Signed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """One cue, and how its landing error follows from what is drawn."""

    cue: str
    window: Window
    land: Landing
    base_s: float
    """Landing error less the lead, all at its nominal values: late is positive."""
    lead_s: float
    """Nominal, without the board; added where there is no stroke."""
    stroke: Stroke | None = None
    shift_s: float = 0.0
    """Added to the stroke's own time: of a measured lead, or of an exact chain."""
    effects: tuple[Effect, ...] = ()
    by: By

    @property
    def columns(self) -> tuple[int, ...]:
        """Those that it feels."""
        return tuple(effect.column for effect in self.effects)


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """All of it: columns to draw and beats that feel them."""

    show: str
    doubts: tuple[Doubt, ...]
    """One a column."""
    beats: tuple[Beat, ...]
    setup: Setup | None = None
    """The show on its plant; None where nothing in it is shared or runs low."""
    by_events: bool = False
    """Whether every show is played by the event-driven plant, not stroke by stroke."""

    @property
    def strokes(self) -> tuple[int, ...]:
        """The beats whose landings a plant can tell: strokes that nobody has measured."""
        return tuple(i for i, beat in enumerate(self.beats) if beat.by == "stroke by stroke")

    @property
    def fixed(self) -> tuple[int, ...]:
        """Columns that tuning takes away."""
        return tuple(i for i, doubt in enumerate(self.doubts) if doubt.drawn == "fixed")


def study_of(book: Book, plan: Plan) -> Study:
    """The study of a plan's cues, in the plan's order."""
    beats, columns = [], Columns()
    meets = {name: beat.meets or book.show.meets for name, beat in beats_by_id(book).items()}
    airs = airs_of(book, plan)
    for cue, device, lead, fresh in played(book, plan, airs):
        found = _beat(book, cue, device, lead, fresh, airs.get(cue.id))
        acting = [*found[1], *of_decoding(book, cue.id)]
        acting += of_picture(book, meets.get(cue.target.beat, "sound"))
        beats.append(replace(found[0], effects=columns.effects(acting)))
    order = {cue.id: at for at, cue in enumerate(plan.cues)}
    beats.sort(key=lambda beat: order[beat.cue])
    return Study(
        show=plan.show,
        doubts=tuple(columns.doubts),
        beats=tuple(beats),
        setup=setup_of(book, plan) if book.air.parts else None,
    )


class Columns:
    """Deals a column to each doubt: one of the same name of the same thing is the same one.

    It may weigh more in one beat than in another: a rise that is a tenth slow is so at every cue.
    """

    def __init__(self) -> None:
        self.doubts: list[Doubt] = []
        self._known: dict[tuple[str, str], int] = {}

    def effects(self, acting: Iterable[Acting]) -> tuple[Effect, ...]:
        """What acts on one beat, by columns; amounts of nothing are left out."""
        return tuple(
            Effect(column=self._of(each.doubt), on=each.on, sd=each.sign * each.doubt.sd)
            for each in acting
            if each.doubt.sd > 0.0
        )

    def _of(self, doubt: Doubt) -> int:
        key = doubt.name, doubt.of
        if key not in self._known:
            self._known[key] = len(self.doubts)
            self.doubts.append(doubt)
        return self._known[key]


def played(
    book: Book, plan: Plan, airs: Mapping[str, Around]
) -> Iterator[tuple[Cue, Device, Lead, bool]]:
    """Each cue with its lead as the device answers to the instants at which cues in fact leave.

    Last: whether its state is a stroke that this very cue has begun.
    """
    for device in book.devices:
        usual = setting_of(book, device)
        before: Time | None = None
        vented = usual.vented
        state = device.at_rest(usual)
        own = (cue for cue in plan.cues if cue.target.move.device == device.name)
        for cue in sorted(own, key=lambda cue: cue.leaves_at):
            since = None if before is None else max(cue.leaves_at.since(before), Span(0))
            around = airs.get(cue.id)
            setting = replace(around.setting if around else usual, vented=vented)
            lead = device.lead(cue.target.move, cue.target.land, state, since, setting)
            yield cue, device, lead, lead.state is not state
            state, before, vented = lead.state, cue.leaves_at, False


def _beat(
    book: Book, cue: Cue, device: Device, lead: Lead, fresh: bool, around: Around | None
) -> tuple[Beat, list[Acting]]:
    """One cue's beat without effects, and what acts on it; a cue that never lands has no lead."""
    stroke = _whole_stroke(lead) if fresh else None
    measured = next((m for m in book.measured if m.move and same(m.move, cue.target.move)), None)
    takes = board_takes(book, device)
    base = cue.leaves_at.since(cue.target.land_at)
    beat = Beat(
        cue=cue.id,
        window=cue.target.window,
        land=cue.target.land,
        base_s=(base if measured else base + takes).s,
        lead_s=(measured.lead if measured else lead.total).s,
        stroke=stroke,
        by="stroke by stroke" if stroke else "linear",
    )
    if lead.never and measured is None:
        return replace(beat, lead_s=float("nan"), stroke=None, by="linear"), []
    if measured is not None:
        return _as_measured(beat, device, measured, around, book.spreads)
    acting = list(of_board(book, device))
    if stroke is None or not isinstance(device, AirCylinder):
        return beat, [*in_proportion(device, lead, cue.id, book.spreads), *acting]
    acting += of_stroke(device, stroke, cue.id, book.spreads)
    acting += of_the_night(device, stroke, around, book.spreads)
    return _in_series(beat, stroke, lead), acting


def _as_measured(
    beat: Beat, device: Device, measured: Measured, around: Around | None, spreads: Spreads
) -> tuple[Beat, list[Acting]]:
    """A measured lead: the model only says what a colder or weaker night changes."""
    beat, acting = replace(beat, by="measured"), list(of_measured(measured, beat.cue))
    stroke = beat.stroke
    if stroke is None or not isinstance(device, AirCylinder):
        return beat, acting
    stroke = replace(stroke, combination="series")
    own = _lands(stroke, beat.land)
    if own is None:
        return replace(beat, stroke=None), acting
    beat = replace(beat, stroke=stroke, shift_s=beat.lead_s - own)
    return beat, [*acting, *of_the_night(device, stroke, around, spreads)]


def _in_series(beat: Beat, stroke: Stroke, lead: Lead) -> Beat:
    """An exact chain can't be scattered: it is combined in series and shifted by what that does."""
    if stroke.combination == "series":
        return beat
    series = replace(stroke, combination="series")
    own = _lands(series, beat.land)
    shift = 0.0 if own is None else lead.total.s - own
    return replace(beat, stroke=series, shift_s=shift)


def _whole_stroke(lead: Lead) -> Stroke | None:
    """The stroke that a lead stands for, where it runs from its command to its end."""
    way = lead.state
    if not isinstance(way, Way) or way.cut_s is not None or way.age_s:
        return None
    return way.stroke


def _lands(stroke: Stroke, land: Landing) -> float | None:
    found = solve(stroke)
    times: Mapping[Landing, float | None] = {
        "starts": found.t_start_s,
        "half-way": found.t_mid_s,
        "arrives": found.t_full_s,
    }
    return times.get(land)
