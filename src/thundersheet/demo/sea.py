"""The Lamp Room's picture: the sea at night through the lamp room's window, drawn frame by frame.

In: the book's events. Out: frames of 640 x 360. Sky, clouds and waves are computed each frame; the
gale, the lamp's beam, lightning and the ship follow the beats.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from thundersheet.demo.instruments import Generator
from thundersheet.demo.lamp_room import gale
from thundersheet.demo.score import Event, events, relit, times
from thundersheet.model.book import Book

Frame = NDArray[np.uint8]
Field = NDArray[np.float32]

WIDTH, HEIGHT = 640, 360
HORIZON = 172
WAVES = 7
SHADES = 256
NIGHT = ((0, (5, 9, 17)), (40, (20, 42, 62)), (90, (50, 92, 112)), (150, (108, 150, 162)),
         (255, (236, 243, 238)))  # fmt: skip
"""The sea's ink, from dark to foam: shade and red, green, blue."""
LIGHTS = 32
"""Steps of lamplight in the table of inks."""
SHIP_LIGHTS = ((0, -7, (255, 236, 190)), (9, -4, (120, 255, 170)), (-8, -4, (255, 110, 90)))
LANTERN = np.array([1.0, 0.72, 0.34], np.float32)
TURN_S = 10.0
"""The lamp turns at 6 rpm."""


class SeaPainter:
    """Draws the sea at any instant of one show."""

    def __init__(self, book: Book, rng: Generator) -> None:
        self.happens = events(book)
        self.length_s = book.show.length.s
        self.lamp = _lamp_levels(self.happens)
        self.inks = _inks(NIGHT)
        y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
        self.x = np.arange(WIDTH, dtype=np.float32)
        self.rows = y[:, :1]
        self.angle = np.arctan2(x - WIDTH / 2, y + 90)
        self.glow = 1 / (1 + ((x - WIDTH / 2) ** 2 + (y + 90) ** 2) / 90_000)
        self.clouds = _clouds(rng)
        self.rain = _rain(rng)
        self.window = _window(x, y)
        self.height = np.linspace(32, 78, HORIZON, dtype=np.float32)[:, None]

    def frame(self, t: float) -> Frame:
        """The picture at `t` seconds."""
        wind = float(gale(self.happens, self.length_s, np.array([t]))[0])
        flash = _flash(self.happens, t)
        shade = np.empty((HEIGHT, WIDTH), np.float32)
        self._sky(shade[:HORIZON], t, wind, flash)
        self._sea(shade, t, wind, flash)
        self._rain_on(shade, t, wind)
        shade *= self.window
        np.clip(shade, 0, SHADES - 1, out=shade)
        index = shade.astype(np.uint16) * LIGHTS + self._beam(t)
        picture = np.take(self.inks, index, axis=0)
        self._ship(picture, t)
        return picture

    def _sky(self, sky: Field, t: float, wind: float, flash: float) -> None:
        drift = int(t * (6 + 22 * wind)) % (self.clouds.shape[1] - WIDTH)
        np.multiply(self.clouds[:, drift : drift + WIDTH], 22 + 34 * wind + 150 * flash, out=sky)
        sky += self.height + 40 * flash

    def _sea(self, shade: Field, t: float, wind: float, flash: float) -> None:
        """Wave behind wave; each is drawn only as far down as the next one leaves it visible."""
        shade[HORIZON:] = 92 + 60 * flash
        crests = [self._crest(t, wave, wind) for wave in range(WAVES)]
        ends = [int(crest.max()) + 2 for crest in crests[1:]] + [HEIGHT]
        for wave, (crest, end) in enumerate(zip(crests, ends, strict=True)):
            depth = (wave + 1) / WAVES
            rows = slice(max(int(crest.min()), 0), min(end, HEIGHT))
            below = self.rows[rows] - crest
            foam = np.maximum(1 - np.abs(below) / (2.5 + 11 * depth * wind), 0)
            tone = 84 - 46 * depth + 50 * flash + foam * foam * (34 + 120 * wind * depth)
            np.copyto(shade[rows], tone, where=below >= 0)
            shade[rows.stop :] = 84 - 46 * depth + 50 * flash

    def _crest(self, t: float, wave: int, wind: float) -> Field:
        depth = (wave + 1) / WAVES
        base = HORIZON + 4 + (HEIGHT - HORIZON) * depth**1.6 * 0.86
        size = (2 + 20 * depth) * (0.25 + 0.75 * wind)
        long = np.sin(self.x / (34 + 60 * depth) + t * (0.7 + 0.3 * wave) + 2.1 * wave)
        short = np.sin(self.x / (13 + 21 * depth) - t * (1.1 + 0.2 * wave) + 1.3 * wave)
        return np.asarray(base - size * (0.7 * np.abs(long) + 0.3 * short - 0.5), dtype=np.float32)

    def _rain_on(self, shade: Field, t: float, wind: float) -> None:
        if wind < 0.35:
            return
        rows, columns = self.rain
        y = (rows + int(t * 640)) % HEIGHT
        x = (columns - int(t * 190 * wind)) % WIDTH
        shade[y, x] += np.float32(40 * (wind - 0.3))

    def _beam(self, t: float) -> NDArray[np.uint16]:
        """How much of the lamp's light falls on each point, in steps of the ink table."""
        level = np.interp(t, *self.lamp)
        if level <= 0.01:
            return np.zeros((1, 1), np.uint16)
        middle = 1.9 * np.sin(2 * np.pi * self._turned(t))
        beam = np.maximum(1 - np.abs(self.angle - np.float32(middle)) / np.float32(0.30), 0)
        beam *= beam
        beam += np.float32(0.13)
        beam *= self.glow
        beam *= self.window
        beam *= np.float32(1.3 * level * (LIGHTS - 1))
        return np.asarray(np.minimum(beam, LIGHTS - 1), dtype=np.uint16)

    def _turned(self, t: float) -> float:
        """Turns since the lamp's motor was started."""
        started = [at for at in times(self.happens, "lamp-turn") if at <= t]
        return (t - started[0]) / TURN_S if started else 0.0

    def _ship(self, picture: Frame, t: float) -> None:
        """Three lights on the horizon that answer when the lamp is lit again."""
        lit = relit(self.happens, "lamp")
        if not lit or t < lit[-1] + 0.8:
            return
        x = int(150 + (t - lit[-1]) * 5)
        picture[HORIZON - 2 : HORIZON + 2, x - 14 : x + 15] //= 4
        for dx, dy, colour in SHIP_LIGHTS:
            y = HORIZON + dy
            picture[y - 1 : y + 2, x + dx - 1 : x + dx + 2] = colour


def _lamp_levels(happens: tuple[Event, ...]) -> tuple[list[float], list[float]]:
    """The lamp's brightness as knots in time; it goes out with the lens."""
    at, level = [0.0], [0.0]
    for event in happens:
        if event.device != "lamp":
            continue
        fully = 0.0 if event.action == "off" else 1.0
        to = event.to if event.to is not None else fully
        lasts = event.over.s if event.over else 0.15
        at += [event.at.s, event.at.s + lasts]
        level += [level[-1], to]
    return at, level


def _flash(happens: tuple[Event, ...], t: float) -> float:
    since = [t - at for at in times(happens, "lightning") if at <= t]
    return float(np.exp(-since[-1] / 0.12)) if since else 0.0


def _inks(knots: tuple[tuple[int, tuple[int, int, int]], ...]) -> Frame:
    """Red, green, blue for each shade under each step of lamplight: row shade * LIGHTS + step."""
    at = [shade for shade, _ in knots]
    shades = np.arange(SHADES)
    night = np.stack([np.interp(shades, at, [rgb[i] for _, rgb in knots]) for i in range(3)], 1)
    light = np.arange(LIGHTS) / (LIGHTS - 1)
    warm = light[None, :, None] * (38 + 0.8 * shades)[:, None, None] * LANTERN
    table = np.clip(night[:, None, :] + 1.3 * warm, 0, 255).astype(np.uint8)
    return table.reshape(SHADES * LIGHTS, 3)


def _clouds(rng: Generator) -> Field:
    """A sky twice as wide as the window that joins at its ends, 0 to 1, its start said again."""
    shape = (HORIZON, 2 * WIDTH)
    fy = np.fft.fftfreq(shape[0])[:, None] * 2.2
    fx = np.fft.rfftfreq(shape[1])[None, :]
    spectrum = np.fft.rfft2(rng.standard_normal(shape)) / (np.hypot(fy, fx) + 0.004) ** 1.7
    field = np.fft.irfft2(spectrum, shape)
    field = (field - field.min()) / (field.max() - field.min())
    sky = np.asarray(np.clip(2.2 * field - 0.75, 0, 1), dtype=np.float32)
    return np.hstack([sky, sky[:, :WIDTH]])


def _rain(rng: Generator) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of slanted streaks."""
    rows, columns = [], []
    for _ in range(170):
        steps = np.arange(rng.integers(10, 26))
        rows.append(rng.integers(HEIGHT) + steps)
        columns.append(rng.integers(WIDTH) - steps // 3)
    return np.concatenate(rows), np.concatenate(columns)


def _window(x: Field, y: Field) -> Field:
    """The frame: an arched opening with one bar across and two upright, soft at its edges."""
    arch = np.hypot((x - WIDTH / 2) / (WIDTH * 0.49), np.minimum(y - 210, 0) / 205)
    inside = np.clip((1 - arch) * 40, 0, 1) * (y < HEIGHT - 10)
    bars = [np.abs(x - WIDTH * at) for at in (0.34, 0.66)] + [np.abs(y - 118)]
    for bar in bars:
        inside = inside * np.clip((bar - 3.5) / 2, 0.06, 1)
    return np.asarray(np.maximum(inside, 0.03), dtype=np.float32)
