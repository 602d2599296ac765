"""The Clockmaker's Window's picture: a clock with its eight bells, drawn frame by frame.

In: the book's events. Out: frames of 640 x 360. The still parts are drawn once; hands, pendulum,
ringing bells and the bird are laid over them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from thundersheet.demo.clockmaker import bell_names
from thundersheet.demo.score import events
from thundersheet.model.book import Book

Frame = NDArray[np.uint8]
Field = NDArray[np.float32]
Canvas = NDArray[np.float32]

WIDTH, HEIGHT = 640, 360
FACE = (320.0, 168.0, 104.0)
"""Middle and radius of the dial."""
WOOD = np.array([46, 29, 17], np.float32)
IVORY = np.array([240, 226, 194], np.float32)
INK = np.array([30, 24, 20], np.float32)
BRASS = np.array([196, 148, 62], np.float32)
SHINE = np.array([255, 226, 140], np.float32)
BIRD = np.array([44, 98, 92], np.float32)
RINGS_S = 0.55
"""How fast a bell's shine fades."""


class ClockPainter:
    """Draws the clock at any instant of one show."""

    def __init__(self, book: Book) -> None:
        happens = events(book)
        self.names = bell_names(book)
        self.strikes = {n: [e.at.s for e in happens if e.device == n] for n in self.names}
        bird = [(e.at.s, e.action == "out") for e in happens if e.kind == "air cylinder"]
        self.bird = bird
        self.y, self.x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
        self.length_s = book.show.length.s
        self.still: Frame = np.clip(self._still(), 0, 255).astype(np.uint8)

    def frame(self, t: float) -> Frame:
        """The picture at `t` seconds."""
        picture = self.still.copy()
        self._pendulum(picture, t)
        for place, name in enumerate(self.names):
            self._ringing(picture, place, name, t)
        self._hands(picture, t)
        self._bird(picture, t)
        awake = self._wakes(t)
        return picture if awake == 1 else (picture * np.float32(awake)).astype(np.uint8)

    def _wakes(self, t: float) -> float:
        """Dim at both ends: the window wakes and goes back to sleep."""
        return float(np.interp(t, [0, 3, self.length_s - 6, self.length_s], [0.35, 1, 1, 0.3]))

    def _still(self) -> Canvas:
        cx, cy, radius = FACE
        grain = 1 + 0.10 * np.sin(self.x / 9 + 2.5 * np.sin(self.y / 47)) * np.sin(self.x / 31)
        glow = 1.5 / (1 + ((self.x - cx) ** 2 + (self.y - cy) ** 2) / 42_000)
        picture: Canvas = np.asarray(WOOD * (grain * glow)[:, :, None], dtype=np.float32)
        away = np.hypot(self.x - cx, self.y - cy)
        _lay(picture, radius + 12 - away, BRASS)
        _lay(picture, radius + 4 - away, INK)
        _lay(picture, radius - away, IVORY * 0.97)
        for hour in range(12):
            angle = np.pi * hour / 6
            deep = 20 if hour % 3 == 0 else 11
            bar = self._segment(angle, radius - 8 - deep, radius - 8, 3.2 if hour % 3 == 0 else 1.8)
            _lay(picture, bar, INK)
        for minute in range(60):
            _lay(picture, self._segment(np.pi * minute / 30, radius - 5, radius - 2, 0.8), INK)
        for place in range(len(self.names)):
            _lay(picture, _bell(self.x, self.y, *self._place(place)), BRASS)
        self._door(picture)
        return picture

    def _segment(self, angle: float, inner: float, outer: float, half: float) -> Field:
        return _bar(self.x, self.y, angle, inner, outer, half)

    def _place(self, place: int) -> tuple[float, float]:
        """The bells hang left and right of the dial, low ones left, rising from lower left."""
        side, rank = divmod(place, 4)
        stagger = 34.0 if rank % 2 else -34.0
        if side == 0:
            return 120 + stagger, 288.0 - 70 * rank
        return WIDTH - 120 - stagger, 78.0 + 70 * rank

    def _ringing(self, picture: Frame, place: int, name: str, t: float) -> None:
        since = [t - at for at in self.strikes[name] if -1e-6 <= t - at < 3]
        if not since:
            return
        shine = float(np.exp(-since[-1] / RINGS_S))
        x, y = self._place(place)
        x += 3.5 * shine * np.sin(2 * np.pi * 6 * since[-1])
        window = _near(x, y, 40)
        part = picture[window].astype(np.float32)
        px, py = self.x[window], self.y[window]
        halo = np.exp(-((px - x) ** 2 + (py - y) ** 2) / 500)[:, :, None]
        part += shine * 70 * halo * (SHINE / 255)
        _lay(part, _bell(px, py, x, y), BRASS + (SHINE - BRASS) * shine)
        picture[window] = np.clip(part, 0, 255)

    def _hands(self, picture: Frame, t: float) -> None:
        """It is a quarter to, and the second hand ticks."""
        whole = np.floor(t + 1e-6)
        settle = min((t - whole) / 0.08, 1.0)
        second = whole - 1 + settle + 0.12 * np.sin(np.pi * min((t - whole) / 0.2, 1))
        cx, cy, radius = FACE
        window = _near(cx, cy, int(radius) - 4)
        part = picture[window].astype(np.float32)
        x, y = self.x[window], self.y[window]
        hands = ((np.pi * (9 + 0.75) / 6, 52, 4.0), (np.pi * (45 + t / 60) / 30, 78, 2.8))
        for angle, long, half in hands:
            _lay(part, _bar(x, y, angle, -14, long, half), INK)
        red = np.array([150, 32, 30], np.float32)
        _lay(part, _bar(x, y, np.pi * second / 30, -20, 88, 1.1), red)
        _lay(part, 6 - np.hypot(x - cx, y - cy), BRASS)
        picture[window] = part

    def _pendulum(self, picture: Frame, t: float) -> None:
        """A full swing takes two seconds; it passes the middle on each tick."""
        angle = 0.13 * np.sin(np.pi * t)
        cx, top, long = FACE[0], 284.0, 44.0
        x, y = cx + 3.2 * long * np.sin(angle), top + long * np.cos(angle)
        window = (slice(272, HEIGHT), slice(250, 390))
        part = picture[window].astype(np.float32)
        px, py = self.x[window], self.y[window]
        _lay(part, 14 - np.hypot(px - x, py - y), BRASS)
        _lay(part, 8 - np.hypot(px - x + 2, py - y + 2), SHINE * 0.9)
        picture[window] = part

    def _door(self, picture: Canvas) -> None:
        house = np.minimum(np.minimum(24 - np.abs(self.x - 320), self.y - 8), 50 - self.y)
        _lay(picture, np.minimum(house + 3, 99), BRASS * 0.7)
        _lay(picture, house, INK)

    def _bird(self, picture: Frame, t: float) -> None:
        """Comes forward out of its door and goes back in."""
        out = [(at, is_out) for at, is_out in self.bird if at - 0.15 <= t]
        if not out:
            return
        at, is_out = out[-1]
        share = float(np.clip((t - at + 0.15) / 0.15, 0, 1))
        size = share if is_out else 1 - share
        if size < 0.05:
            return
        window = _near(320, 30, 46)
        part = picture[window].astype(np.float32)
        px, py = self.x[window] - 320, self.y[window] - 30
        body = 1 - np.hypot(px / (15 * size), (py - 4) / (13 * size))
        head = 1 - np.hypot((px + 8 * size) / (8 * size), (py + 8 * size) / (8 * size))
        beak = np.minimum(6 * size - np.abs(px + 19 * size), 2.2 * size - np.abs(py + 7 * size))
        _lay(part, beak, SHINE)
        _lay(part, body * 12, BIRD)
        _lay(part, head * 8, BIRD * 1.15)
        _lay(part, 1.8 * size - np.hypot(px + 10 * size, py + 9 * size), IVORY)
        picture[window] = part


def _bar(x: Field, y: Field, angle: float, inner: float, outer: float, half: float) -> Field:
    """How far inside a bar that points from the dial's middle each point is."""
    cx, cy, _ = FACE
    along = (x - cx) * np.sin(angle) - (y - cy) * np.cos(angle)
    across = np.abs((x - cx) * np.cos(angle) + (y - cy) * np.sin(angle))
    ends = np.minimum(along - inner, outer - along)
    return np.asarray(np.minimum(ends, half - across), dtype=np.float32)


def _bell(x: Field, y: Field, cx: float, cy: float) -> Field:
    """How far inside a bell's outline each point is: a dome that flares to its lip."""
    down = (y - cy + 18) / 34
    half = 7 + 9 * np.clip(down, 0, 1) ** 0.5 + 6 * np.clip(down, 0, 1) ** 6
    body = np.minimum(np.minimum(half - np.abs(x - cx), y - cy + 18), cy + 16 - y)
    clapper = 4 - np.hypot(x - cx, y - cy - 19)
    ring = 4 - np.hypot(x - cx, y - cy + 20)
    return np.asarray(np.maximum(np.maximum(body, clapper), ring), dtype=np.float32)


def _lay(picture: Canvas, inside: Field, colour: NDArray[np.float32]) -> None:
    """Paint where `inside` is positive, its edge one pixel soft."""
    cover = np.clip(inside + 0.5, 0, 1)[:, :, None]
    picture += cover * (colour - picture)


def _near(x: float, y: float, reach: int) -> tuple[slice, slice]:
    top, left = max(int(y) - reach, 0), max(int(x) - reach, 0)
    return slice(top, int(y) + reach), slice(left, int(x) + reach)
