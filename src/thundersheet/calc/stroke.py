"""When a stroke starts, is half-way and arrives, and how hard: the plan's own stroke model."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from thundersheet.base.shape import Record, choice, flag, number, quantity, span, text
from thundersheet.base.time import Span
from thundersheet.calc._parts import parts_in
from thundersheet.calc._sum import AIR_CAUTION, BREAKAWAY_PA, STARTING_VALUES, Result, Sum
from thundersheet.physics.gas import P_ATM, Restriction, Tube
from thundersheet.physics.solve import solve
from thundersheet.physics.stroke import Air, Landed, Lid, Linkage, Stroke

PARTS = (
    "Instead of the single parts: all of them {}, `0.4 Cv b 0.3, ...`, or in JSON "
    '[{{"C": 2e-8, "b": 0.3, "m": 0.5}}, ...].'
)
NEARLY_NOTHING_M3 = 1e-9
"""A dead volume of nothing is a cubic millimetre: a chamber of no volume has no pressure."""
GUESS = "starting guess, reference model: breakaway as 1-10 psi on the bore, sliding 60 % of it"


@dataclass(frozen=True, kw_only=True)
class Ask(Record):
    """One stroke; lengths, pressures and the rest as you write them in the book."""

    bore_m: float = quantity("length", "Inside diameter of the cylinder.", low=1e-3, example="25mm")
    stroke_m: float = quantity("length", "How far the rod goes.", low=1e-4, example="160mm")
    pressure_pa: float | None = quantity(
        "pressure", "Gauge pressure of the supply; this or `absolute`.",
        default=None, low=0.0, example="2bar",
    )  # fmt: skip
    absolute_pa: float | None = quantity(
        "pressure", "Absolute pressure of the supply.", default=None, low=0.0
    )
    rod_m: float = quantity("length", "Diameter of the rod.", default=0.0, low=0.0)
    way: str = choice(
        "Rod out or back; `extend` and `retract` are the same.",
        ("out", "back", "extend", "retract"),
        default="out",
    )
    acting: str = choice(
        "`double`: air on both sides. `air`: single-acting, the way that air makes. `spring`: its "
        "way back.",
        ("double", "air", "spring"),
        default="double",
    )
    atmosphere_pa: float = quantity(
        "pressure", "Pressure of the open air, absolute.", default=P_ATM, low=3e4
    )
    ambient_k: float = quantity("temperature", "Of air and parts.", default=293.15, low=200.0)

    moves_kg: float = quantity("mass", "What hangs on the linkage.", default=0.0, low=0.0)
    rod_mass_kg: float = quantity(
        "mass", "Piston, rod and what moves with them.", default=0.0, low=0.0
    )
    ratio: float = number("Travel of the load per travel of the rod.", default=1.0, low=0.0)
    incline_rad: float = quantity(
        "angle", "Of the commanded motion above the horizontal; up is 90 deg.", default=0.0
    )
    external_n: float = quantity("force", "At the load, against the motion.", default=0.0)
    spring_n: float = quantity("force", "Spring at the start, against the motion.", default=0.0)
    spring_rate_n_per_m: float = quantity("stiffness", "Its growth with the travel.", default=0.0)
    breakaway_n: float | None = quantity(
        "force", "Friction before it moves; left out: 20 kPa (2.9 psi) on the bore.",
        default=None, low=0.0, estimated=GUESS,
    )  # fmt: skip
    coulomb_n: float | None = quantity(
        "force", "Friction when moving; left out: 60 % of breakaway.",
        default=None, low=0.0, estimated=GUESS,
    )  # fmt: skip
    viscous_n_s_per_m: float = quantity(
        "damping", "Friction that grows with speed.", default=0.0, low=0.0
    )
    stribeck_m_s: float = quantity(
        "speed", "Speed in which breakaway friction fades.", default=0.05, low=1e-6
    )

    valve_delay: Span = span("Until the valve begins to switch.", default=Span.ms(15), low=0.0)
    valve_ramp: Span = span("From then until it is open.", default=Span.ms(0), low=0.0)
    valve_m3_s_pa: float | None = quantity(
        "conductance", "Of the valve, inlet to port; this or `drive valve parts`.",
        default=None, low=1e-12, example="0.4Cv",
    )  # fmt: skip
    valve_b: float = number("Its critical pressure ratio.", default=0.3, low=0.0, high=0.99)
    exhaust_valve_m3_s_pa: float | None = quantity(
        "conductance", "Of the valve, port to exhaust; left out: as inlet.",
        default=None, low=1e-12,
    )  # fmt: skip
    exhaust_valve_b: float | None = number("Its critical ratio.", default=None, low=0.0, high=0.99)
    regulator_m3_s_pa: float | None = quantity(
        "conductance", "Of the regulator (its droop).", default=None, low=1e-12
    )
    regulator_b: float = number("Its critical ratio.", default=0.3, low=0.0, high=0.99)
    muffler_m3_s_pa: float | None = quantity(
        "conductance", "Of a muffler on the exhaust.", default=None, low=1e-12
    )
    muffler_b: float = number("Its critical ratio.", default=0.3, low=0.0, high=0.99)
    meter_in_m3_s_pa: float | None = quantity(
        "conductance", "Flow control on the filling side.", default=None, low=1e-12
    )
    meter_in_b: float = number("Its critical ratio.", default=0.3, low=0.0, high=0.99)
    meter_out_m3_s_pa: float | None = quantity(
        "conductance", "Flow control on the emptying side.", default=None, low=1e-12,
    )  # fmt: skip
    meter_out_b: float = number("Its critical ratio.", default=0.3, low=0.0, high=0.99)
    quick_exhaust_m3_s_pa: float | None = quantity(
        "conductance", "Quick exhaust at the cylinder.", default=None, low=1e-12,
    )  # fmt: skip
    quick_exhaust_b: float = number("Its critical ratio.", default=0.3, low=0.0, high=0.99)
    drive_valve_parts: str = text(PARTS.format("from the supply to the hose"), default="")
    drive_end_parts: str = text(PARTS.format("from the hose to the filling side"), default="")
    exhaust_valve_parts: str = text(PARTS.format("from the hose to the open air"), default="")
    exhaust_end_parts: str = text(PARTS.format("from the emptying side to the hose"), default="")
    quick_exhaust_parts: str = text(PARTS.format("of the quick exhaust (one)"), default="")
    cushion_parts: str = text(PARTS.format("of the cushion (one)"), default="")
    hose_bore_m: float | None = quantity(
        "length", "Inside diameter of the hoses; left out: no hose.", default=None, low=1e-4,
    )  # fmt: skip
    hose_length_m: float = quantity("length", "Length of each hose.", default=0.0, low=0.0)
    exhaust_hose_bore_m: float | None = quantity(
        "length", "The emptying side's, where it differs.", default=None, low=1e-4,
    )  # fmt: skip
    exhaust_hose_length_m: float | None = quantity(
        "length", "The emptying side's, where it differs.", default=None, low=0.0,
    )  # fmt: skip
    tube_model: str = choice(
        "`lumped` to about 1.5 m, `node` beyond; `auto` chooses so.",
        ("auto", "lumped", "node"),
        default="auto",
    )
    parts_in_a_row: str = choice(
        "`series`: the quick rule; `chain`: pressures between the parts solved.",
        ("series", "chain"),
        default="series",
    )
    dead_drive_m3: float | None = quantity(
        "volume", "Dead volume of the filling side, port included; left out: 5 % of the swept one.",
        default=None, low=0.0,
    )  # fmt: skip
    dead_exhaust_m3: float | None = quantity(
        "volume", "The same of the emptying side.", default=None, low=0.0
    )
    cushion_m: float = quantity("length", "Length of an end cushion.", default=0.0, low=0.0)
    cushion_flow_m3_s_pa: float | None = quantity(
        "conductance", "What the cushion lets through.", default=None, low=1e-12,
    )  # fmt: skip
    cushion_b: float = number("Its critical ratio.", default=0.3, low=0.0, high=0.99)
    heat_w_m2k: float = quantity(
        "heat transfer", "Heat to the walls, per area and degree.", default=60.0, low=0.0
    )
    process: str = choice(
        "`walls`: heat passes to the walls; `adiabatic`: none; `isothermal`: all.",
        ("walls", "adiabatic", "isothermal"),
        default="walls",
    )
    vented: bool = flag("First stroke after the air was dumped.", default=False)
    drive_start_pa: float | None = quantity(
        "pressure", "Absolute pressure of the filling side before; left out: open air.",
        default=None, low=0.0,
    )  # fmt: skip
    exhaust_start_pa: float | None = quantity(
        "pressure", "Absolute pressure of the emptying side before; left out: supply.",
        default=None, low=0.0,
    )  # fmt: skip

    lid_base_m: float | None = quantity(
        "length", "Hinged lid: hinge to the cylinder's base pivot.", default=None, low=1e-4,
    )  # fmt: skip
    lid_pin_m: float = quantity("length", "Hinge to the rod's pin.", default=0.1)
    lid_angle_rad: float = quantity("angle", "Between the two, at the start.", default=0.5)
    lid_offset_rad: float = quantity(
        "angle", "Added to it gives the angle of the centre of gravity above the horizontal.",
        default=0.0,
    )  # fmt: skip
    lid_inertia_kg_m2: float = quantity("inertia", "About the hinge.", default=0.0, low=0.0)
    lid_mass_kg: float = quantity("mass", "Of the lid.", default=0.0, low=0.0)
    lid_reach_m: float = quantity("length", "Hinge to the centre of gravity.", default=0.0)


def answer(ask: Ask) -> tuple[Result, ...]:
    """How the stroke lands."""
    landed = solve(stroke_of(ask))
    return (
        Result("t_start", landed.t_start_s, "s"),
        Result("t_mid", landed.t_mid_s, "s"),
        Result("t_full", landed.t_full_s, "s"),
        Result("v_impact", landed.v_impact_m_s, "m/s", "speed"),
        Result("E_impact", landed.e_impact_j, "J", "energy"),
        Result("air_to_full_stroke", landed.air_to_full_stroke_l, "L ANR"),
        Result("air_fill", landed.air_fill_l, "L ANR"),
        Result("peak_drive", landed.peak_drive_pa, "Pa absolute"),
        Result("peak_exhaust", landed.peak_exhaust_pa, "Pa absolute"),
        Result("stalled", _stalled(landed)),
    )


def _stalled(landed: Landed) -> str | None:
    return landed.stalled or None


def stroke_of(ask: Ask) -> Stroke:
    """The question as the stroke model takes it (ValueError for what can't be)."""
    area = pi / 4 * ask.bore_m**2
    breakaway = BREAKAWAY_PA * area if ask.breakaway_n is None else ask.breakaway_n
    supply = _supply(ask)
    drive, exhaust = _tubes(ask)
    quick = _one(ask.quick_exhaust_parts, ask.quick_exhaust_m3_s_pa, ask.quick_exhaust_b)
    longest = max((tube.length_m for tube in (drive, exhaust) if tube), default=0.0)
    node = ask.tube_model == "node" or (ask.tube_model == "auto" and longest > 1.5)
    return Stroke(
        bore_m=ask.bore_m,
        rod_m=ask.rod_m,
        stroke_m=ask.stroke_m,
        extend=ask.way in ("out", "extend"),
        acting=ask.acting,  # type: ignore[arg-type]
        dead_drive_m3=_dead(ask.dead_drive_m3, area * ask.stroke_m),
        dead_exhaust_m3=_dead(ask.dead_exhaust_m3, area * ask.stroke_m),
        supply_pa=supply,
        atmosphere_pa=ask.atmosphere_pa,
        ambient_k=ask.ambient_k,
        heat_w_m2_k=0.0 if ask.process == "adiabatic" else ask.heat_w_m2k,
        isothermal=ask.process == "isothermal",
        valve_delay_s=ask.valve_delay.s,
        valve_ramp_s=ask.valve_ramp.s,
        drive_valve=_drive_valve(ask),
        drive_tube=drive,
        drive_end=parts_in(ask.drive_end_parts) or _parts((ask.meter_in_m3_s_pa, ask.meter_in_b)),
        exhaust_valve=_exhaust_valve(ask),
        exhaust_tube=None if quick else exhaust,
        exhaust_end=parts_in(ask.exhaust_end_parts)
        or _parts((ask.meter_out_m3_s_pa, ask.meter_out_b)),
        quick_exhaust=quick,
        cushion_m=ask.cushion_m,
        cushion=_one(ask.cushion_parts, ask.cushion_flow_m3_s_pa, ask.cushion_b),
        tube_model="node" if node else "lumped",
        combination=ask.parts_in_a_row,  # type: ignore[arg-type]
        rod_mass_kg=ask.rod_mass_kg,
        load_kg=ask.moves_kg,
        linkage=Linkage(ratio=ask.ratio, lid=_lid(ask)),
        incline_rad=ask.incline_rad,
        external_n=ask.external_n,
        spring_n=ask.spring_n,
        spring_n_m=ask.spring_rate_n_per_m,
        breakaway_n=breakaway,
        coulomb_n=0.6 * breakaway if ask.coulomb_n is None else ask.coulomb_n,
        stribeck_m_s=ask.stribeck_m_s,
        viscous_n_s_m=ask.viscous_n_s_per_m,
        vented=ask.vented,
        air=_air(ask, supply),
    )


def _one(parts: str, c: float | None, b: float) -> Restriction | None:
    found = parts_in(parts) or _parts((c, b))
    if len(found) > 1:
        raise ValueError("a quick exhaust and a cushion are one part each")
    return found[0] if found else None


def _parts(*rated: tuple[float | None, float]) -> tuple[Restriction, ...]:
    return tuple(Restriction(c, b) for c, b in rated if c is not None)


def _supply(ask: Ask) -> float:
    """Absolute; exactly one of the two ways of saying it must be there."""
    if (ask.pressure_pa is None) == (ask.absolute_pa is None):
        raise ValueError("give `pressure` (gauge) or `absolute`, one of the two")
    if ask.absolute_pa is not None:
        return ask.absolute_pa
    return (ask.pressure_pa or 0.0) + ask.atmosphere_pa


def _dead(given: float | None, swept: float) -> float:
    return 0.05 * swept if given is None else max(given, NEARLY_NOTHING_M3)


def _drive_valve(ask: Ask) -> tuple[Restriction, ...]:
    parts = parts_in(ask.drive_valve_parts) or _parts(
        (ask.regulator_m3_s_pa, ask.regulator_b), (ask.valve_m3_s_pa, ask.valve_b)
    )
    if not parts and ask.acting != "spring":
        raise ValueError("give the valve's flow, as in `valve=0.4Cv`, or `drive-valve-parts`")
    return parts


def _exhaust_valve(ask: Ask) -> tuple[Restriction, ...]:
    if ask.exhaust_valve_parts or (ask.drive_valve_parts and ask.exhaust_valve_m3_s_pa is None):
        return parts_in(ask.exhaust_valve_parts or ask.drive_valve_parts)
    c = ask.valve_m3_s_pa if ask.exhaust_valve_m3_s_pa is None else ask.exhaust_valve_m3_s_pa
    b = ask.valve_b if ask.exhaust_valve_b is None else ask.exhaust_valve_b
    return _parts((c, b), (ask.muffler_m3_s_pa, ask.muffler_b))


def _tubes(ask: Ask) -> tuple[Tube | None, Tube | None]:
    bore, length = ask.hose_bore_m, ask.hose_length_m
    drive = Tube(bore, length) if bore and length else None
    bore = ask.exhaust_hose_bore_m or bore
    length = length if ask.exhaust_hose_length_m is None else ask.exhaust_hose_length_m
    return drive, Tube(bore, length) if bore and length else None


def _air(ask: Ask, supply: float) -> Air | None:
    if ask.drive_start_pa is None and ask.exhaust_start_pa is None:
        return None
    full = ask.atmosphere_pa if ask.vented else supply
    return Air.at(
        ask.atmosphere_pa if ask.drive_start_pa is None else ask.drive_start_pa,
        full if ask.exhaust_start_pa is None else ask.exhaust_start_pa,
        ask.ambient_k,
    )


def _lid(ask: Ask) -> Lid | None:
    if ask.lid_base_m is None:
        return None
    return Lid(
        hinge_to_base_m=ask.lid_base_m,
        hinge_to_pin_m=ask.lid_pin_m,
        angle_rad=ask.lid_angle_rad,
        offset_rad=ask.lid_offset_rad,
        inertia_kg_m2=ask.lid_inertia_kg_m2,
        mass_kg=ask.lid_mass_kg,
        reach_m=ask.lid_reach_m,
    )


SUM = Sum(
    about=(
        "When a cylinder's stroke starts, is half-way and arrives after its command, how hard it "
        "lands and what air it takes."
    ),
    asks=Ask,
    answer=answer,
    formula=(
        "chambers: dp/dt = (gamma-1)/V (sum cp T mdot + Q) - gamma p/V dV/dt; flow: ISO 6358-1, "
        "mdot = C rho0 p1 sqrt(T0/T1) psi(p2/p1); motion with stick-slip friction"
    ),
    source=(
        "ISO 6358-1/-3 (flow); Richer & Hurmuzlu, ASME J. Dyn. Syst. Meas. Control 122 (2000) "
        "416-425 (chambers); Beater, Pneumatic Drives (hose)"
    ),
    cautions=(AIR_CAUTION, STARTING_VALUES),
    example="bore=25mm stroke=160mm rod=10mm pressure=2bar valve=0.4Cv moves=1.8kg ratio=2 "
    "hose-bore=2.7mm hose-length=1m meter-out=0.03Cv",
    aliases={
        "D": "bore",
        "p_s": "absolute",
        "S": "stroke",
        "d_rod": "rod",
        "M": "rod mass",
        "m_load": "moves",
        "i": "ratio",
        "Fs": "breakaway",
        "Fc": "coulomb",
        "B": "viscous",
        "v_s": "stribeck",
        "F_ext": "external",
        "F_spring0": "spring",
        "k_spring": "spring rate",
        "T_amb": "ambient",
        "p_atm": "atmosphere",
        "V0d": "dead drive",
        "V0e": "dead exhaust",
        "h": "heat",
        "L_c": "cushion",
        "C_c": "cushion flow",
        "b_c": "cushion b",
        "direction": "way",
        "drive_cylinder": "drive end parts",
        "exhaust_cylinder": "exhaust end parts",
        "d": "hose bore",
        "L": "hose length",
    },
)
