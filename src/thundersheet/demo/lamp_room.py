"""The Lamp Room's sound: a gale that rises, falls silent, breaks in, and goes."""

from __future__ import annotations

import numpy as np

from thundersheet.base.time import Span, Time
from thundersheet.demo import instruments as make
from thundersheet.demo.instruments import Generator, Samples
from thundersheet.demo.score import Event, Sheet, events, relit, times
from thundersheet.model.book import Book

SILENCE_S = 2.5
"""The hush before the shutter flies open."""


def lamp_room_sound(book: Book, rng: Generator) -> Samples:
    """The whole soundtrack, samples x 2."""
    sheet = Sheet(book.show.length)
    happens = events(book)
    _weather(sheet, happens, rng, book.show.length.s)
    for event in happens:
        _sound(sheet, event, happens, rng)
    return sheet.finished()


def gale(happens: tuple[Event, ...], length_s: float, t: Samples) -> Samples:
    """How strong the wind is, 0 to 1: it breaks in with the first opening of the shutter."""
    fright = next(iter(times(happens, "shutter", "out")), length_s / 2)
    hush = max(fright - SILENCE_S, 1.0)
    knots = [(0.0, 0.12), (hush * 0.6, 0.4), (hush - 0.6, 0.6), (hush, 0.08),
             (fright - 0.001, 0.06), (fright, 1.0), (fright + 6, 0.8), (fright + 20, 0.55),
             (length_s * 0.93, 0.15), (length_s, 0.1)]  # fmt: skip
    return np.interp(t, [at for at, _ in knots], [level for _, level in knots]).astype(np.float32)


def _weather(sheet: Sheet, happens: tuple[Event, ...], rng: Generator, length_s: float) -> None:
    t = make.time_axis(length_s)[: len(sheet.samples)]
    wind = gale(happens, length_s, t)
    gusts = 1 + 0.35 * np.sin(2 * np.pi * t / 7.3) * np.sin(2 * np.pi * t / 4.1 + 1)
    swell = 0.6 + 0.4 * np.sin(2 * np.pi * t / 9.1) ** 2
    seconds = length_s + 0.1
    for low, high, level in ((120, 700, 0.16 * wind * gusts), (600, 2200, 0.08 * wind**2 * gusts),
                             (40, 260, 0.14 * (0.35 + 0.65 * wind) * swell)):  # fmt: skip
        left, right = (make.endless(rng, seconds, low, high) for _ in range(2))
        sheet.bed(left, right, level)


def _sound(sheet: Sheet, event: Event, happens: tuple[Event, ...], rng: Generator) -> None:
    at = event.at
    match event.device, event.action:
        case "shutter", "out":
            sheet.lay(make.slam(rng), at, 1.0, -0.2)
        case "shutter", "back":
            sheet.lay(make.clap(rng), at, 0.7, -0.2)
        case "lens", "out":
            sheet.lay(make.groan(1.4), at - Span.ms(1420), 0.5, 0.1)
            sheet.lay(make.clank(rng), at, 0.9, 0.1)
        case "knocker", _:
            wound = _is_down("lens", at, happens)
            sheet.lay(make.ratchet(rng) if wound else make.knock(rng), at, 0.8, 0.3)
        case "gust", _:
            seconds = event.hold.s if event.hold else 0.12
            sheet.lay(make.puff(rng, seconds), at, 0.5, -0.5)
        case "lightning", _:
            _thunder(sheet, event, happens, rng)
        case "lamp", "on" if at.s in relit(happens, "lamp"):
            sheet.lay(make.click(), at, 0.6, 0.1)
            sheet.lay(make.horn(3.2), at + Span.seconds(1.6), 0.4, 0.6)
        case _:
            pass  # what makes no sound of its own


def _thunder(sheet: Sheet, event: Event, happens: tuple[Event, ...], rng: Generator) -> None:
    """The first lightning is far: a kilometre away, 3 s. Later ones come near."""
    first = times(happens, "lightning")[0]
    near = event.at.s > first
    delay = Span.seconds(0.4 if near else 3.0)
    # A near one is short, so that the hush before the fright stays a hush.
    sound = make.thunder(rng, 1.8 if near else 5.0, near)
    sheet.lay(sound, event.at + delay, 0.55 if near else 0.35, -0.4)


def _is_down(device: str, at: Time, happens: tuple[Event, ...]) -> bool:
    last = [e.action for e in happens if e.device == device and e.at <= at]
    return bool(last) and last[-1] == "out"
