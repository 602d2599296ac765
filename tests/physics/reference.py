"""The stroke model solved a second time, by scipy, from the equations and not from our kernel.

State: position, speed, and mass and internal energy of each body of air (the kernel has pressure
and mass). DOP853 at rtol 1e-10 with scipy's own events, one `solve_ivp` per phase of motion.
Run as a script it writes `reference_strokes.json` and `reference_wide.json`, which
`test_stroke_reference` and `test_stroke_wide` hold us to.
"""

from __future__ import annotations

import json
import math
import signal
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from thundersheet.physics.gas import Restriction
from thundersheet.physics.stroke import Stroke

R, GAMMA, RHO0, T0, G = 288.0, 1.4, 1.185, 293.15, 9.80665
CV, CP = 720.0, 1008.0
RTOL = 1e-10
MOST_PHASES = 500


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

        # Exact chain: the flow in each part must equal that of the first; unknown pressures are
        # nested one-dimensional roots from the last part backwards.
        def through(i: int, p: float) -> float:
            c, b, m = parts[i]
            if i == len(parts) - 1:
                return c * p * psi(p2 / p, b, m)

            def off(q: float) -> float:
                return c * p * psi(q / p, b, m) - through(i + 1, q)

            if p <= p2 * (1 + 1e-13):
                return 0.0
            return c * p * psi(brentq(off, p2, p, xtol=1e-7, rtol=1e-13) / p, b, m)

        return through(0, p1)


def psi(r: float, b: float, m: float) -> float:
    if r <= b:
        return 1.0
    if r <= 0.995:
        return (1 - ((r - b) / (1 - b)) ** 2) ** m
    return (1 - ((0.995 - b) / (1 - b)) ** 2) ** m * (1 - r) / 0.005


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


def solve_reference(s: Stroke, until_s: float = 30.0) -> dict[str, float | None]:
    """t_start, t_mid, t_full, v_impact, e_impact, air; None where it never comes to that."""
    model = Model(s)
    x, t = model.start(), model.t_sw
    mass = x[2] + (x[6] if model.node_d else 0)
    out: dict[str, float | None] = dict.fromkeys(("start", "mid", "full", "speed", "energy"))
    going = int(np.sign(s.v0_m_s))
    cushioned = s.cushion is None
    # Of a dead volume of a cubic millimetre the last digits count too.
    atol = np.concatenate(([1e-12, 1e-11], np.maximum(1e-10 * x[2:], 1e-20)))

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
            run = solve_ivp(
                lambda t, x, going=going: model.rates(t, x, going),
                (a, b),
                x,
                method="DOP853",
                rtol=RTOL,
                atol=atol,
                events=[event for _, event in events],
                max_step=0.01,
            )
            assert run.success, run.message
            for (name, _), times, states in zip(events, run.t_events, run.y_events, strict=True):
                if name == "mid" and len(times) and out["mid"] is None:
                    out["mid"] = float(times[0])
                elif name != "mid" and len(times) and run.status == 1:
                    hit = name, float(times[-1]), states[-1].copy()
            x, t = run.y[:, -1].copy(), float(run.t[-1])
            if hit:
                break
        if hit is None:
            break
        name, t, x = hit
        if name == "end":
            meq, _ = model.inertia(s.stroke_m)
            out.update(full=t, speed=float(x[1]), energy=float(0.5 * meq * x[1] ** 2))
            break
        if name == "cushion":
            cushioned = True
            _, ve, _, _, _, _ = model.chambers(x)
            model.v0e = s.dead_exhaust_m3
            share = (model.v0e + model.ae * (s.stroke_m - x[0])) / ve
            x[4:6] *= share
            model.e1, model.e2 = Way([triple(s.cushion)], False), None
        elif name == "peace":
            break
        else:
            x[1] = 0.0
            if name == "home":
                x[0] = 0.0
            if name.startswith("release"):
                going = 1 if name == "release up" else -1
            else:
                going = direction(net_at(x), s, x[0])
    else:
        raise TimeoutError("it sticks and slips without end")
    out["air"] = 1000 / RHO0 * float(x[2] + (x[6] if model.node_d else 0) - mass)
    return out


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
        yield event("release up", lambda _, x: net_at(x) - s.breakaway_n, 1)
        yield event("release down", lambda _, x: net_at(x) + s.breakaway_n if x[0] > 0 else 1.0, -1)
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


STORED = Path(__file__).with_name("reference_strokes.json")
STORED_WIDE = Path(__file__).with_name("reference_wide.json")
UNTIL_S = 10.0
PATIENCE_S = 240


def solved(stroke: Stroke) -> dict[str, float | None] | None:
    """The solution, or None where this explicit method is not through within the patience."""
    signal.alarm(PATIENCE_S)
    try:
        return solve_reference(stroke, UNTIL_S)
    except TimeoutError:
        return None
    finally:
        signal.alarm(0)


def give_up(*_: object) -> None:
    raise TimeoutError


def store(cases: dict[str, Stroke], path: Path) -> None:
    found = {name: solved(stroke) for name, stroke in cases.items()}
    lines = (f"  {json.dumps(name)}: {json.dumps(known)}" for name, known in found.items() if known)
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def main() -> None:
    """Solve both tables anew and store them: an hour or two."""
    from cases import table
    from wide import wide_table

    signal.signal(signal.SIGALRM, give_up)
    store(table(), STORED)
    store(wide_table(), STORED_WIDE)


if __name__ == "__main__":
    main()
