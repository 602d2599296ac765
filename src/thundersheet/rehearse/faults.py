"""Faults on request: what goes wrong in a rehearsal, and what each does to the world.

In: what a show's cues, switches, supplies and air would be. Out: the same with the fault in it.
What a fault costs is nobody's guess: the world goes on with it by its own physics. How a fault is
asked for is in `faults_read`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from thundersheet.physics.gas import T0
from thundersheet.physics.plant.records import Plant, Switch
from thundersheet.plan.records import Plan
from thundersheet.plan.schedule import Word
from thundersheet.rehearse.motion import Steps
from thundersheet.track.follow import follow as heard_by


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something that goes wrong."""

    says: str
    """As it was asked for."""

    def why(self, device: str) -> str:  # noqa: ARG002
        """What to say where a device did not land; empty: it has nothing to do with that."""
        return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StuckValve(Fault):
    """A valve that does not shift any more, in this show and in all that follow."""

    device: str
    from_s: float = 0.0
    """Of the first show's programme."""

    def why(self, device: str) -> str:
        """Of its own device alone."""
        return "its valve is stuck" if device == self.device else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowValve(Fault):
    """A valve that takes longer to shift, either way."""

    device: str
    by_s: float

    def why(self, device: str) -> str:
        """Of its own device alone."""
        late = f"its valve is {1000 * self.by_s:g} ms slow"
        return late if device == self.device else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak(Fault):
    """Air that is lost all the time, at the tank or another body of air."""

    m3_s: float
    """Of free air (ANR) with the tank full."""
    body: str = ""
    """Empty: the first tank."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LostWords(Fault):
    """Words of the cue track that nobody hears."""

    numbers: tuple[int, ...] = ()
    """Their places among the words, from 1."""
    between_s: tuple[float, float] | None = None
    """All that begin in this stretch of the programme."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LatePlayer(Fault):
    """A player that starts late or runs late: its picture comes so much later."""

    player: str
    screen: str
    by_s: float

    def why(self, device: str) -> str:
        """Of its own device alone."""
        return "the player started late" if device == self.player else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drifted(Fault):
    """A follower whose clock is off, so that its picture falls behind (or gets ahead)."""

    player: str
    screen: str
    ppm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sag(Fault):
    """A supply whose voltage falls."""

    supply: str
    to: float
    """Share of its voltage that is left."""
    from_s: float = 0.0
    for_s: float | None = None
    """None: to the end of the show."""

    def steps(self, length_s: float) -> Steps:
        """The share of its voltage over a show."""
        ends = length_s if self.for_s is None else self.from_s + self.for_s
        before = [(0.0, 1.0)] if self.from_s > 0.0 else []
        return (*before, (self.from_s, self.to), *([(ends, 1.0)] if ends < length_s else []))


@dataclass(frozen=True, slots=True, kw_only=True)
class Hammered(Fault):
    """A start button that somebody keeps hitting, whatever the prop does."""

    every_s: float = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldStart(Fault):
    """A start button that sticks once it has been pressed."""


Faults = Sequence[Fault]


def on_switches(
    faults: Iterable[Fault], switches: Sequence[Switch], *, first: bool
) -> tuple[Switch, ...]:
    """A show's switches with stuck and slow valves; `first`: it is the show a fault begins in."""
    found = list(switches)
    for fault in faults:
        match fault:
            case StuckValve():
                from_s = fault.from_s if first else float("-inf")
                found = [s for s in found if s.device != fault.device or s.at_s < from_s]
            case SlowValve():
                found = [
                    replace(s, at_s=s.at_s + fault.by_s) if s.device == fault.device else s
                    for s in found
                ]
    return tuple(sorted(found))


def on_plant(faults: Iterable[Fault], plant: Plant) -> Plant:
    """The plant with its leaks."""
    for fault in faults:
        if isinstance(fault, Leak):
            full = plant.compressor.cut_out_pa if plant.compressor else _fullest(plant)
            # Choked flow of a sonic conductance, ISO 6358-1: m = C rho0 p sqrt(T0/T); a litre of
            # free air (ANR) weighs rho0.
            more = fault.m3_s / (full * (T0 / plant.ambient_k) ** 0.5)
            name = fault.body or plant.bodies[0].name
            plant = replace(
                plant,
                bodies=tuple(
                    replace(body, leak_m3_s_pa=body.leak_m3_s_pa + more)
                    if body.name == name
                    else body
                    for body in plant.bodies
                ),
            )
    return plant


def _fullest(plant: Plant) -> float:
    """Where nobody says how full the tank is, what the regulators ask for."""
    paths = [each.path for each in plant.cylinders] + [each.path for each in plant.jets]
    sets = [p.set_pa + p.drop_pa for p in paths if p.set_pa < float("inf")]
    return max(sets, default=plant.atmosphere_pa)


@dataclass(frozen=True, slots=True)
class _Tone:
    """A tone as a receiver hears it that hears perfectly."""

    symbol: str
    onset_s: float
    length_s: float


def on_leaving(faults: Iterable[Fault], plan: Plan) -> Mapping[str, float]:
    """When each cue leaves, seconds of the programme; one that never does is not there.

    With words lost, a controller or a simple receiver hears the rest and does what it would.
    """
    leaves = {cue.id: max(cue.leaves_at.s, 0.0) for cue in plan.cues}
    lost = [fault for fault in faults if isinstance(fault, LostWords)]
    if not lost:
        return leaves
    words = [
        word
        for number, word in enumerate(plan.schedule.words, start=1)
        if not any(_lost(fault, number, word) for fault in lost)
    ]
    tones = [
        _Tone(symbol, onset.s, word.tone.s)
        for word in words
        for symbol, onset in zip(word.symbols, word.tone_onsets, strict=True)
    ]
    heard = {each.cue_id: each.at_s for each in heard_by(plan.schedule, tones)}
    carried = {departure.cue_id for departure in plan.schedule.departures}
    return {
        cue: heard.get(cue, at) for cue, at in leaves.items() if cue in heard or cue not in carried
    }


def _lost(fault: LostWords, number: int, word: Word) -> bool:
    if number in fault.numbers:
        return True
    return fault.between_s is not None and fault.between_s[0] <= word.onset.s <= fault.between_s[1]


def picture_late(faults: Iterable[Fault], screen: str, at_s: float) -> float:
    """By how much a screen's picture is late at an instant of the programme, in seconds."""
    late = 0.0
    for fault in faults:
        match fault:
            case LatePlayer(screen=own, by_s=by) if own == screen:
                late += by
            case Drifted(screen=own, ppm=ppm) if own == screen:
                late += at_s * ppm * 1e-6
    return late
