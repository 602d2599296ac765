"""Schedules and tones without sound, for the tests of words."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, replace

from thundersheet.base.time import Span, Time
from thundersheet.model.device import Command
from thundersheet.model.show import CueTrack
from thundersheet.plan.schedule import Schedule, Want, lay_out

MARKS = CueTrack(layout="marks")
DIRECT = CueTrack(layout="direct")


@dataclass(frozen=True)
class Heard:
    symbol: str
    onset_s: float
    length_s: float = 0.05


def wants(instants_s: Iterable[float], outputs: int = 10) -> list[Want]:
    return [
        Want(
            cue_id=f"cue-{i}",
            at=Time.seconds(at),
            early=Span.ms(80),
            late=Span.ms(40),
            commands=(Command(output=f"out {i % outputs}", value=1.0),),
        )
        for i, at in enumerate(instants_s)
    ]


def show(
    style: CueTrack, length_s: float, instants_s: Iterable[float] = (), print_: str = "c0ffee42"
) -> Schedule:
    return lay_out(wants(instants_s), style, Time.seconds(length_s), print_)


def heard(schedule: Schedule, speed: float = 1.0, offset_s: float = 0.0) -> list[Heard]:
    """The tones of a schedule played `speed` times as fast, on exact instants."""
    return [
        Heard(symbol, offset_s + onset.s / speed, schedule.style.tone.s / speed)
        for word in schedule.words
        for symbol, onset in zip(word.symbols, word.tone_onsets, strict=True)
    ]


def torn(
    tones: list[Heard], rng: random.Random, lost: float, wrong: float, extra: float
) -> list[Heard]:
    """Tones with chances to be lost, to be another, and to have a stray one beside them."""
    out = []
    for tone in tones:
        if rng.random() < extra:
            out.append(Heard(rng.choice("0123456789ABCD*#"), tone.onset_s + rng.uniform(-0.5, 0.5)))
        if rng.random() < lost:
            continue
        other = rng.random() < wrong
        out.append(replace(tone, symbol=rng.choice("0123456789ABCD*#")) if other else tone)
    return out
