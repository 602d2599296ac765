"""Bodies of air with cylinders and a jet on them, solved by scipy from the equations of the model.

Written from the reference model's sections 2, 3 and 4 and from nothing of ours: state is mass and
internal energy of each body of air, position and speed of each piston. DOP853 at rtol 1e-10, one
`solve_ivp` between events, which scipy locates.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, pi, sqrt

import numpy as np
from scipy.integrate import solve_ivp

R, GAMMA, RHO0, T0 = 288.0, 1.4, 1.185, 293.15
CV, CP = 720.0, 1008.0
P_ATM = 101_325.0
RTOL = 1e-10


def flow_law(up: float, up_k: float, down: float, c: float, b: float) -> float:
    """ISO 6358-1, linear above 0.995."""
    ratio = down / up
    if ratio <= b:
        share = 1.0
    elif ratio <= 0.995:
        share = sqrt(1.0 - ((ratio - b) / (1.0 - b)) ** 2)
    else:
        share = sqrt(1.0 - ((0.995 - b) / (1.0 - b)) ** 2) * (1.0 - ratio) / 0.005
    return c * RHO0 * up * sqrt(T0 / up_k) * share


def stream(pa: float, ka: float, pb: float, kb: float, c: float, b: float) -> tuple[float, float]:
    """kg/s from a to b, and W that it carries."""
    if pa >= pb:
        w = flow_law(pa, ka, pb, c, b)
        return w, CP * ka * w
    w = flow_law(pb, kb, pa, c, b)
    return -w, -CP * kb * w


def row(*parts: tuple[float, float]) -> tuple[float, float]:
    """Parts in a row: 1/C^3 = sum 1/C^3, b = 1 - C^2 sum (1-b)/C^2."""
    c = sum(c**-3 for c, _ in parts) ** (-1 / 3)
    return c, max(0.0, 1.0 - c * c * sum((1.0 - b) / c_**2 for c_, b in parts))


def tube(bore: float, length: float) -> tuple[float, float]:
    c = 0.029 * bore**2 / sqrt(length / bore**1.25 + 510)
    return c, 474 * c / bore**2


@dataclass
class Volume:
    """A tank or a manifold."""

    volume: float
    pa: float
    kelvin: float
    heat: float = 0.0
    isothermal: bool = False
    leak: float = 0.0
    fed_by: int = -1
    c: float = 0.0
    b: float = 0.0
    most: float = 1e99
    drop: float = 0.0


@dataclass
class Piston:
    """A double-acting cylinder whose valve switches at ``at``, seen in its commanded direction."""

    on: int
    at: float
    stroke: float
    area_d: float
    area_e: float
    bore: float
    dead_d: float
    dead_e: float
    valve: tuple[float, float]
    hose: tuple[float, float]
    out: tuple[float, float] | None
    node: bool
    mass: float
    fs: float
    fc: float
    viscous: float
    ramp: float
    pd: float
    pe: float
    load: float = 0.0
    heat: float = 60.0
    start: float | None = None
    mid: float | None = None
    full: float | None = None
    speed: float | None = None
    air: float = 0.0
    took_before: float = 0.0
    going: int = field(default=0)

    def __post_init__(self) -> None:
        self.tube_volume = pi / 4 * self.hose[0] ** 2 * self.hose[1]
        hose = tube(*self.hose)
        meter = (self.out,) if self.out else ()
        if self.node:
            self.drive, self.drive_end = row(self.valve), row(hose)
            self.exhaust, self.exhaust_end = row(self.valve), row(hose, *meter)
        else:
            self.drive, self.exhaust = row(self.valve, hose), row(self.valve, hose, *meter)
        self.wall = pi / 2 * self.bore**2


class Plant:
    """Volumes, pistons, a jet that opens at a time; integrated together."""

    def __init__(self, volumes, pistons, jet=None, ambient=T0, fill=None):
        self.volumes, self.pistons, self.jet, self.ambient = volumes, pistons, jet, ambient
        self.fill = fill
        self.size = 2 * len(volumes)

    def first(self):
        x = []
        for v in self.volumes:
            m = v.pa * v.volume / (R * v.kelvin)
            x += [m, m * CV * v.kelvin]
        for p in self.pistons:
            extra = 0.0 if p.node else p.tube_volume
            for pa, volume in (
                (p.pd, p.dead_d + extra),
                (p.pe, p.dead_e + extra + p.area_e * p.stroke),
                (p.pd, p.tube_volume),
                (p.pe, p.tube_volume),
            ):
                m = pa * volume / (R * self.ambient)
                x += [m, m * CV * self.ambient]
            x += [0.0, 0.0, 0.0]
        return np.array(x)

    def standing(self, x, i):
        v = self.volumes[i]
        m, u = x[2 * i], x[2 * i + 1]
        kelvin = self.ambient if v.isothermal else u / (m * CV)
        return m * R * kelvin / v.volume, kelvin

    def gas(self, m, u, volume):
        return (GAMMA - 1) * u / volume, u / (m * CV)

    def chambers(self, x, i):
        p, at = self.pistons[i], self.size + 11 * i
        extra = 0.0 if p.node else p.tube_volume
        y = x[at + 8]
        vd = p.dead_d + extra + p.area_d * y
        ve = p.dead_e + extra + p.area_e * (p.stroke - y)
        return (*self.gas(x[at], x[at + 1], vd), *self.gas(x[at + 2], x[at + 3], ve))

    def net(self, x, i):
        p = self.pistons[i]
        pd, _, pe, _ = self.chambers(x, i)
        return pd * p.area_d - pe * p.area_e - P_ATM * (p.area_d - p.area_e) - p.load

    def rates(self, t, x, switched):
        out = np.zeros_like(x)
        stand = [self.standing(x, i) for i in range(len(self.volumes))]

        def leave(i, w, h):
            v = self.volumes[i]
            out[2 * i] -= w
            out[2 * i + 1] -= CV * self.ambient * w if v.isothermal else h

        for i, v in enumerate(self.volumes):
            pa, kelvin = stand[i]
            if v.leak:
                w = v.leak * RHO0 * pa * sqrt(T0 / kelvin)
                leave(i, w, CP * kelvin * w)
            if not v.isothermal:
                out[2 * i + 1] += v.heat * (self.ambient - kelvin)
            if v.fed_by >= 0:
                up, up_k = stand[v.fed_by]
                w, h = stream(min(v.most, up - v.drop), up_k, pa, kelvin, v.c, v.b)
                leave(v.fed_by, w, h)
                leave(i, -w, -h)
        if self.fill:
            leave(0, -self.fill, -CP * T0 * self.fill)
        if self.jet and switched[-1]:
            i, _, c, b = self.jet
            w, h = stream(*stand[i], P_ATM, self.ambient, c, b)
            leave(i, w, h)
        for i, p in enumerate(self.pistons):
            self.piston_rates(t, x, i, stand[p.on], switched[i], out, leave)
        return out

    def piston_rates(self, t, x, i, supply, switched, out, leave):
        """Rates of one piston; before its valve switches it stands with the exhaust side filled."""
        p, at = self.pistons[i], self.size + 11 * i
        y, v = x[at + 8], x[at + 9] if p.going else 0.0
        pd, kd, pe, ke = self.chambers(x, i)
        outside = (P_ATM, self.ambient)
        opening = 1.0
        if switched and p.ramp:
            opening = min((t - p.at) / p.ramp, 1.0)
        ends = (supply, outside) if switched else (outside, supply)
        sides = (
            (0, ends[0], pd, kd, p.drive, y, p.area_d * v),
            (1, ends[1], pe, ke, p.exhaust, p.stroke - y, -p.area_e * v),
        )
        for e, end, pa, kelvin, way, depth, swept in sides:
            c, n = at + 2 * e, at + 4 + 2 * e
            way = self.way(p, e, switched)
            if p.node:
                pn, kn = self.gas(x[n], x[n + 1], p.tube_volume)
                w, h = (opening * q for q in stream(*end, pn, kn, *way[0]))
                w2, h2 = stream(pn, kn, pa, kelvin, *way[1])
                area = pi * p.hose[0] * p.hose[1]
                out[n] += w - w2
                out[n + 1] += h - h2 + p.heat * area * (self.ambient - kn)
            else:
                w, h = (opening * q for q in stream(*end, pa, kelvin, *way[0]))
                w2, h2 = w, h
            out[c] += w2
            area = p.wall + pi * p.bore * depth
            out[c + 1] += h2 + p.heat * area * (self.ambient - kelvin) - pa * swept
            if end is supply:
                leave(p.on, w, h)
                out[at + 10] += w
        if p.going:
            friction = p.going * (p.fc + (p.fs - p.fc) * exp(-((v / 0.05) ** 2))) + p.viscous * v
            out[at + 8] = v
            out[at + 9] = (self.net(x, i) - friction) / p.mass

    def way(self, p, e, switched):
        """Free flow into the exhaust side before the switching: a flow control has a check."""
        if p.node:
            meter = e == 1 and switched
            return (p.exhaust if meter else p.drive, p.exhaust_end if meter else p.drive_end)
        return (p.exhaust if e == 1 and switched else p.drive,)

    def solve(self, until):
        """Fill in when each piston starts, passes its middle and lands; the state at the end."""
        t, x = 0.0, self.first()
        marks = sorted({p.at for p in self.pistons} | {p.at + p.ramp for p in self.pistons})
        if self.jet:
            marks.append(self.jet[1])
        marks = [*sorted(m for m in set(marks) if 0 < m < until), until]
        while t < until - 1e-12:
            switched = [t >= p.at - 1e-12 for p in self.pistons]
            switched.append(bool(self.jet) and t >= self.jet[1] - 1e-12)
            for i, p in enumerate(self.pistons):
                if abs(t - p.at) < 1e-12:
                    p.took_before = float(x[self.size + 11 * i + 10])
            end = next(m for m in marks if m > t + 1e-12)
            events = list(self.events(switched))
            run = solve_ivp(
                self.rates,
                (t, end),
                x,
                method="DOP853",
                rtol=RTOL,
                atol=1e-13 + 1e-11 * np.abs(x),
                max_step=0.01,
                events=[e for _, e in events],
                args=(switched,),
            )
            assert run.success, run.message
            t, x = float(run.t[-1]), run.y[:, -1].copy()
            for (what, _), times, states in zip(events, run.t_events, run.y_events, strict=True):
                if len(times):
                    what(float(times[-1]), states[-1], x)
        for i, p in enumerate(self.pistons):
            p.air = 1000 / RHO0 * (float(x[self.size + 11 * i + 10]) - p.took_before)
        return x

    def events(self, switched):
        for i, p in enumerate(self.pistons):
            at = self.size + 11 * i

            def sets_off(t, *_, p=p):
                p.going, p.start = 1, t

            def passes(t, *_, p=p):
                p.mid = p.mid or t

            def lands(t, state, x, p=p, at=at):
                p.full, p.speed, p.going = t, float(state[at + 9]), 0
                x[at + 8], x[at + 9] = p.stroke, 0.0

            if not switched[i] or p.full:
                continue
            if not p.going:

                def off(_t, x, *_, i=i, p=p):
                    return self.net(x, i) - p.fs

                off.terminal, off.direction = True, 1
                yield sets_off, off
                continue
            if not p.mid:

                def mid(_t, x, *_, p=p, at=at):
                    return x[at + 8] - p.stroke / 2

                mid.terminal, mid.direction = False, 1
                yield passes, mid

            def end(_t, x, *_, p=p, at=at):
                return x[at + 8] - p.stroke

            end.terminal, end.direction = True, 1
            yield lands, end
