"""The stroke model solved a second time, by scipy, from the equations and not from our kernel.

State: position, speed, and mass and internal energy of each body of air (the kernel has pressure
and mass). DOP853 at rtol 1e-10, or Radau where it is stiff, one `solve_ivp` per phase of motion.
`reference_store` runs it over whole tables and keeps what it found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.integrate import Radau, solve_ivp
from scipy.optimize import brentq

from thundersheet.physics.gas import Restriction
from thundersheet.physics.stroke import Stroke

R, GAMMA, RHO0, T0, G = 288.0, 1.4, 1.185, 293.15, 9.80665
CV, CP = 720.0, 1008.0
RTOL = 1e-10
MOST_PHASES = 20_000


@dataclass
class Way:
    """A path as a function: standardised flow C psi p1 of the pressures at its two ends."""

    parts: list[tuple[float, float, float]]
    exact: bool

    def __post_init__(self) -> None:
        if not self.exact:
            cubes = sum(c**-3 for c, _, _ in self.parts)
            c = cubes ** (-1 / 3)
            b = max(0.0, 1 - c**2 * sum((1 - b) / ci**2 for ci, b, _ in self.parts))
            m = sum(m / ci**3 for ci, _, m in self.parts) / cubes
            self.parts = [(c, b, m)]

    def flow(self, up: float, up_k: float, down: float, down_k: float) -> tuple[float, float]:
        """kg/s (positive from ``up`` to ``down``) and the temperature that it carries."""
        if up >= down:
            return self._forward(self.parts, up, down) * RHO0 * math.sqrt(T0 / up_k), up_k
        back = self._forward(self.parts[::-1], down, up)
        return -back * RHO0 * math.sqrt(T0 / down_k), down_k

    @staticmethod
    def _forward(parts: list[tuple[float, float, float]], p1: float, p2: float) -> float:
        if len(parts) == 1:
            c, b, m = parts[0]
            return c * p1 * psi(p2 / p1, b, m)

        # Exact chain: the flow that leaves p2 behind the last part, each part's law solved for the
        # pressure behind it; the most that passes where some part is choked.
        def behind(flow: float) -> float:
            p = p1
            for c, b, m in parts:
                share = flow / (c * p)
                if share > 1.0:
                    return p2 - p1
                p *= psi_inverse(share, b, m)
            return p - p2

        low, high = 0.0, min(c for c, _, _ in parts) * p1
        if behind(0.0) <= 0.0:
            return 0.0
        if behind(high) > 0.0:
            return high
        return brentq(behind, low, high, xtol=1e-300, rtol=1e-14)


def psi(r: float, b: float, m: float) -> float:
    if r <= b:
        return 1.0
    if r <= 0.995:
        return (1 - ((r - b) / (1 - b)) ** 2) ** m
    return (1 - ((0.995 - b) / (1 - b)) ** 2) ** m * (1 - r) / 0.005


def psi_inverse(share: float, b: float, m: float) -> float:
    """The ratio at which so much of the choked flow passes; b where all of it does."""
    knee = psi(0.995, b, m)
    if share < knee:
        return 1 - 0.005 * share / knee
    return b + (1 - b) * math.sqrt(1 - share ** (1 / m))


def triple(part: Restriction) -> tuple[float, float, float]:
    return part.c_m3_s_pa, part.b, part.m


def tube_triple(tube) -> list[tuple[float, float, float]]:
    if tube is None or tube.length_m == 0:
        return []
    d, length = tube.bore_m, tube.length_m
    c = 0.029 * d**2 / math.sqrt(length / d**1.25 + 510)
    return [(c, 474 * c / d**2, 0.5)]


class Model:
    """The right-hand side for one stroke."""

    def __init__(self, s: Stroke) -> None:
        self.s = s
        bore, rod = math.pi * s.bore_m**2 / 4, math.pi * s.rod_m**2 / 4
        self.ad, self.ae = (bore, bore - rod) if s.extend else (bore - rod, bore)
        self.ab = bore
        exact = s.combination == "chain"
        node = s.tube_model == "node"
        self.dt, self.et = tube_triple(s.drive_tube), tube_triple(s.exhaust_tube)
        if s.quick_exhaust is not None:
            self.et = []
        self.node_d, self.node_e = node and bool(self.dt), node and bool(self.et)
        self.vtd = math.pi / 4 * s.drive_tube.bore_m**2 * s.drive_tube.length_m if self.dt else 0
        self.vte = (
            math.pi / 4 * s.exhaust_tube.bore_m**2 * s.exhaust_tube.length_m if self.et else 0
        )
        dv, de = [triple(p) for p in s.drive_valve], [triple(p) for p in s.drive_end]
        ev, ee = [triple(p) for p in s.exhaust_valve], [triple(p) for p in s.exhaust_end]
        self.d1 = self.d2 = self.e1 = self.e2 = None
        if s.acting != "spring":
            if self.node_d:
                self.d1, self.d2 = Way(dv, exact), Way(self.dt + de, exact)
            else:
                self.d1 = Way(dv + self.dt + de, exact)
        if s.acting != "air":
            if s.quick_exhaust is not None:
                self.e1 = Way([triple(s.quick_exhaust)], exact)
            elif self.node_e:
                self.e1, self.e2 = Way(ev[::-1], exact), Way(ee[::-1] + self.et, exact)
            else:
                self.e1 = Way(ee[::-1] + self.et + ev[::-1], exact)
        self.v0d = s.dead_drive_m3 + (0 if self.node_d else self.vtd)
        self.v0e = s.dead_exhaust_m3 + (0 if self.node_e else self.vte)
        length = s.drive_tube.length_m if s.drive_tube else 0.0
        self.t_sw = s.valve_delay_s + length / math.sqrt(GAMMA * R * s.ambient_k)

    def opening(self, t: float) -> float:
        ramp = self.s.valve_ramp_s
        return 1.0 if ramp == 0 else min(max((t - self.t_sw) / ramp, 0.0), 1.0)

    def inertia(self, y: float) -> tuple[float, float]:
        """Meq and dMeq/dy."""
        s = self.s
        mass = s.rod_mass_kg + s.load_kg * s.linkage.ratio**2
        if s.linkage.lid is None:
            return mass, 0.0
        f, df, _ = self.lid(y)
        j = s.linkage.lid.inertia_kg_m2
        return mass + j * f * f, 2 * j * f * df

    def lid(self, y: float) -> tuple[float, float, float]:
        """dphi/dy and its slope from the angle itself, by trigonometry, and the weight's force."""
        lid, way = self.s.linkage.lid, 1 if self.s.extend else -1
        a, c = lid.hinge_to_pin_m, lid.hinge_to_base_m
        length = math.sqrt(a * a + c * c - 2 * a * c * math.cos(lid.angle_rad)) + way * y
        # Trial stages beyond the stop may break the triangle; such a step is refused or cut.
        cosine = (a * a + c * c - length**2) / (2 * a * c)
        phi = math.acos(min(max(cosine, -1 + 1e-9), 1 - 1e-9))
        f = length / (a * c * math.sin(phi))
        df = (1 - a * c * math.cos(phi) * f * f) / (a * c * math.sin(phi))
        weight = lid.mass_kg * G * lid.reach_m * math.cos(phi + lid.offset_rad) * f * way
        return way * f, df, weight

    def net(self, y: float, pd: float, pe: float) -> float:
        s = self.s
        i = s.linkage.ratio
        sine = math.sin(s.incline_rad)
        resist = i * s.external_n + (s.rod_mass_kg + i * s.load_kg) * G * sine
        resist += s.spring_n + s.spring_n_m * y
        if s.linkage.lid is not None:
            resist += self.lid(y)[2]
        return pd * self.ad - pe * self.ae - s.atmosphere_pa * (self.ad - self.ae) - resist

    def gas(self, x, volume: float, i: int) -> tuple[float, float]:
        """p and T of one body from its mass and energy."""
        m, u = x[i], x[i + 1]
        # A trial stage of the solver may leave the possible for a moment; its step is then refused.
        t = self.s.ambient_k if self.s.isothermal else max(u / (m * CV), 1.0)
        return m * R * t / volume, t

    def chambers(self, x) -> tuple[float, float, float, float, float, float]:
        s, y = self.s, x[0]
        vd, ve = self.v0d + self.ad * y, self.v0e + self.ae * (s.stroke_m - y)
        pd, td = (s.atmosphere_pa, s.ambient_k) if self.d1 is None else self.gas(x, vd, 2)
        pe, te = (s.atmosphere_pa, s.ambient_k) if self.e1 is None else self.gas(x, ve, 4)
        return vd, ve, pd, td, pe, te

    def rates(self, t: float, x, going: int):
        s, y = self.s, x[0]
        v = x[1] if going else 0.0
        _, _, pd, td, pe, te = self.chambers(x)
        out = np.zeros(10)
        sh = self.opening(t)
        tamb, patm, h = s.ambient_k, s.atmosphere_pa, s.heat_w_m2_k
        wall = 2 * math.pi * s.bore_m**2 / 4
        if self.d1 is not None:
            if self.d2 is not None:
                pn, tn = self.gas(x, self.vtd, 6)
                w1, t1 = self.d1.flow(s.supply_pa, tamb, pn, tn)
                w1 *= sh
                w2, t2 = self.d2.flow(pn, tn, pd, td)
                area = math.pi * s.drive_tube.bore_m * s.drive_tube.length_m
                out[6], out[7] = w1 - w2, CP * (w1 * t1 - w2 * t2) + h * area * (tamb - tn)
            else:
                w2, t2 = self.d1.flow(s.supply_pa, tamb, pd, td)
                w2 *= sh
            area = wall + math.pi * s.bore_m * y
            out[2] = w2
            out[3] = CP * w2 * t2 + h * area * (tamb - td) - pd * self.ad * v
        if self.e1 is not None:
            if self.e2 is not None:
                pn, tn = self.gas(x, self.vte, 8)
                w1, t1 = self.e2.flow(pe, te, pn, tn)
                w2, t2 = self.e1.flow(pn, tn, patm, tamb)
                w2 *= sh
                area = math.pi * s.exhaust_tube.bore_m * s.exhaust_tube.length_m
                out[8], out[9] = w1 - w2, CP * (w1 * t1 - w2 * t2) + h * area * (tamb - tn)
            else:
                w1, t1 = self.e1.flow(pe, te, patm, tamb)
                w1 *= sh
            area = wall + math.pi * s.bore_m * (s.stroke_m - y)
            out[4] = -w1
            out[5] = -CP * w1 * t1 + h * area * (tamb - te) + pe * self.ae * v
        if going:
            meq, slope = self.inertia(y)
            friction = going * (
                s.coulomb_n + (s.breakaway_n - s.coulomb_n) * math.exp(-((v / s.stribeck_m_s) ** 2))
            )
            friction += s.viscous_n_s_m * v
            out[0] = v
            out[1] = (self.net(y, pd, pe) - friction - 0.5 * slope * v * v) / meq
        return out

    def start(self):
        s, air = self.s, self.s.first_air
        vd = self.v0d + self.ad * s.y0_m
        ve = self.v0e + self.ae * (s.stroke_m - s.y0_m)
        x = np.zeros(10)
        x[0], x[1] = s.y0_m, s.v0_m_s
        bodies = (
            (2, air.drive_pa, air.drive_k, vd),
            (4, air.exhaust_pa, air.exhaust_k, ve),
            (6, air.drive_tube_pa, air.drive_tube_k, self.vtd),
            (8, air.exhaust_tube_pa, air.exhaust_tube_k, self.vte),
        )
        for i, p, t, volume in bodies:
            x[i] = p * volume / (R * (s.ambient_k if s.isothermal else t))
            x[i + 1] = x[i] * CV * t
        return x


def solve_reference(
    s: Stroke, until_s: float = 30.0, method: str = "DOP853", rtol: float | None = None
) -> dict[str, float | None]:
    """t_start, t_mid, t_full, v_impact, e_impact, air; None where it never comes to that."""
    model = Model(s)
    x, t = model.start(), model.t_sw
    # Radau's corrections and differences need entries of one size: each body of air is counted in
    # fills of a hundredth of the stroke's, or of its first state where that is more.
    scale = np.concatenate(([s.stroke_m, 1.0], np.maximum(x[2:], 1e-30)))
    for i, area in ((2, model.ad), (4, model.ae)):
        least = 0.01 * s.atmosphere_pa * area * s.stroke_m / (R * s.ambient_k)
        scale[i : i + 2] = np.maximum(scale[i : i + 2], (least, least * CV * s.ambient_k))
    solver = Solver(model, scale, method, rtol or RTOL)
    mass = x[2] + (x[6] if model.node_d else 0)
    out: dict[str, float | None] = dict.fromkeys(("start", "mid", "full", "speed", "energy"))
    going = int(np.sign(s.v0_m_s))
    cushioned = s.cushion is None

    def net_at(x) -> float:
        _, _, pd, _, pe, _ = model.chambers(x)
        return model.net(x[0], pd, pe)

    if going == 0:
        going = direction(net_at(x), s, x[0])
    for _ in range(MOST_PHASES):
        if going > 0 and out["start"] is None:
            out["start"] = t
        events = list(watch(model, s, going, cushioned, net_at))
        breaks = [t, until_s]
        ramp_end = model.t_sw + s.valve_ramp_s
        if t < ramp_end:
            breaks.insert(1, ramp_end)
        hit = None
        for a, b in pairwise(breaks):
            found, (t, x) = solver.phase(a, b, x, going, events)
            if "mid" in found and out["mid"] is None:
                out["mid"] = found["mid"][0]
            hit = next((name for name in found if name != "mid"), None)
            if hit:
                break
        if hit is None or hit == "peace":
            break
        if hit == "end":
            meq, _ = model.inertia(s.stroke_m)
            out.update(full=t, speed=float(x[1]), energy=float(0.5 * meq * x[1] ** 2))
            break
        if hit == "cushion":
            cushioned = True
            _, ve, _, _, _, _ = model.chambers(x)
            model.v0e = s.dead_exhaust_m3
            share = (model.v0e + model.ae * (s.stroke_m - x[0])) / ve
            x[4:6] *= share
            model.e1, model.e2 = Way([triple(s.cushion)], False), None
        else:
            x[1] = 0.0
            if hit == "home":
                x[0] = 0.0
            if hit.startswith("release"):
                going = 1 if hit == "release up" else -1
            else:
                going = direction(net_at(x), s, x[0])
    else:
        raise TimeoutError("it sticks and slips without end")
    out["air"] = 1000 / RHO0 * float(x[2] + (x[6] if model.node_d else 0) - mass)
    return out


class Stiff(Radau):
    """scipy's Radau; of its Newton steps it asks no more than the last digits can give."""

    def __init__(self, *args, **options) -> None:
        super().__init__(*args, **options)
        self.newton_tol = 1e-2


@dataclass
class Solver:
    """scipy's solve_ivp on the scaled state, each event found again on a step that ends there."""

    model: Model
    scale: np.ndarray
    method: str
    rtol: float

    def phase(self, a: float, b: float, x: np.ndarray, going: int, events):
        """Until ``b`` or an event: what was met, with time and state, and time and state then."""

        def rates(t, q):
            return self.model.rates(t, q * self.scale, going) / self.scale

        at_rest = x[:2].copy() if going == 0 else None

        def matrix(t, q):
            out = np.empty((10, 10))
            for i in range(10):
                step = np.zeros(10)
                step[i] = 1e-7 * max(abs(q[i]), 1e-6)
                out[:, i] = (rates(t, q + step) - rates(t, q - step)) / (2 * step[i])
            return out

        stiff = self.method == "Radau"
        more = {"jac": matrix, "method": Stiff} if stiff else {"method": self.method}
        more |= {"rtol": self.rtol, "atol": 0.01 * self.rtol}

        def marked(event):
            def scaled(t, q):
                state = q * self.scale
                if at_rest is not None:
                    state[:2] = at_rest
                return event(t, state)

            scaled.terminal, scaled.direction = event.terminal, event.direction
            return scaled

        marks = [marked(event) for _, event in events]
        run = solve_ivp(rates, (a, b), x / self.scale, events=marks, max_step=0.01, **more)
        assert run.success, run.message

        def sharp(mark, t):
            """Where ``mark`` is zero: by a solution that ends there, not by one looked up."""
            i = max(int(np.searchsorted(run.t, t)) - 1, 0)
            if t <= run.t[i]:
                return t, None
            begin, at, ahead = run.t[i], t, run.t[min(i + 1, len(run.t) - 1)] - run.t[i]
            for _ in range(12):
                q = solve_ivp(rates, (begin, at), run.y[:, i], **more).y[:, -1]
                value = mark(at, q)
                rise = (mark(at + 1e-7, q + 1e-7 * rates(at, q)) - value) / 1e-7
                off = min(max(-value / rise if rise else 0.0, 0.5 * (begin - at)), ahead)
                if abs(off) < 1e-13:
                    break
                at += off
            return at, q

        found = {}
        end = float(run.t[-1]), run.y[:, -1] * self.scale
        for (name, _), mark, times in zip(events, marks, run.t_events, strict=True):
            if not len(times) or (name != "mid" and run.status != 1):
                continue
            t = float(times[0] if name == "mid" else times[-1])
            q = None
            if stiff and name != "peace":
                t, q = sharp(mark, t)
            found[name] = (float(t), q)
            if name != "mid":
                end = float(t), (end[1] if q is None else q * self.scale)
        if at_rest is not None:
            # What solves systems of equations leaves a last digit where nothing moves.
            end[1][:2] = at_rest
        return found, end


def hair(s: Stroke) -> float:
    """Breakaway and a hair more: a piston let go at the very force would stop by rounding again."""
    return s.breakaway_n * (1 + 1e-10) + 1e-10


def direction(net: float, s: Stroke, y: float) -> int:
    if net > s.breakaway_n:
        return 1
    return -1 if net < -s.breakaway_n and y > 0 else 0


def watch(model, s, going, cushioned, net_at):
    """The events of a phase with their names; all but ``mid`` end it."""

    def event(name, function, way, terminal=True):
        function.terminal, function.direction = terminal, way
        return name, function

    if going == 0:
        yield event("release up", lambda _, x: net_at(x) - hair(s), 1)
        yield event("release down", lambda _, x: net_at(x) + hair(s) if x[0] > 0 else 1.0, -1)
        final = (
            model.net,
            s.supply_pa if model.d1 else s.atmosphere_pa,
            s.atmosphere_pa,
        )

        def peace(t, x):
            rate = model.rates(t, x, 0)
            still = max(abs(rate[2:])) / max(x[2], x[4]) < 1e-6
            return -1.0 if still and final[0](x[0], *final[1:]) <= s.breakaway_n else 1.0

        yield event("peace", peace, -1)
        return
    yield event("stop", lambda _, x: x[1], -going)
    yield event("mid", lambda _, x: x[0] - s.stroke_m / 2, 1, False)
    if going > 0:
        yield event("end", lambda _, x: x[0] - s.stroke_m, 1)
        if not cushioned:
            yield event("cushion", lambda _, x: x[0] - (s.stroke_m - s.cushion_m), 1)
    else:
        yield event("home", lambda _, x: x[0], -1)
