"""Quantities: every unit against pint 0.25.3, texts as builders write them, whole messages."""

import importlib.metadata
import math
from fractions import Fraction

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from thundersheet.base.unit_table import ANR, CV, DIMENSIONS, KV_PER_CV, QN, SCFM_AIR, Unit
from thundersheet.base.units import (
    METRIC,
    UnitError,
    UnitStyle,
    awg_area_m2,
    quantity_in,
    read_quantity,
    unit_of,
)

# How pint writes those units of ours that it does not write alike.
IN_PINT = {
    "%": "percent", "": "dimensionless", "C": "degC", "F": "degF", "K": "kelvin",
    "l": "liter", "ml": "milliliter", "m3": "m**3", "mm3": "mm**3", "gal": "gallon",
    "qt": "quart", "ft3": "ft**3", "in3": "inch**3", "in": "inch", "thou": "thou",
    "mm2": "mm**2", "cm2": "cm**2", "m2": "m**2", "in2": "inch**2", "ft2": "ft**2",
    "g/cm3": "g/cm**3", "kg/m3": "kg/m**3", "lb/ft3": "lb/ft**3", "kgf/cm2": "kgf/cm**2",
    "ozf": "force_ounce", "gf": "gram_force", "kgf": "kilogram_force", "lbf": "pound_force",
    "N m": "N*m", "N cm": "N*cm", "mN m": "mN*m", "kgf cm": "kgf*cm", "lbf in": "lbf*inch",
    "lbf ft": "lbf*ft", "ozf in": "force_ounce*inch", "ft lbf": "ft*lbf", "in lbf": "inch*lbf",
    "hp": "horsepower", "ohm": "ohm", "mohm": "milliohm", "kohm": "kiloohm", "Mohm": "megaohm",
    "l/min": "liter/min", "l/s": "liter/s", "l/h": "liter/hour", "m3/h": "m**3/hour",
    "m3/min": "m**3/min", "ml/min": "ml/min", "cfm": "ft**3/min", "gal/min": "gallon/min",
    "gal/h": "gallon/hour", "dm3/(s bar)": "dm**3/s/bar", "m3/(s Pa)": "m**3/s/Pa",
    "deg": "degree", "rpm": "rpm", "deg/s": "degree/s", "turn/s": "turn/s", "km/h": "km/hour",
    "ft/min": "ft/min", "in/s": "inch/s", "mph": "mile/hour", "m/s2": "m/s**2",
    "mm/s2": "mm/s**2", "ft/s2": "ft/s**2", "rad/s2": "rad/s**2", "deg/s2": "degree/s**2",
    "turn/s2": "turn/s**2", "/min": "1/min", "/h": "1/hour", "lbf/in": "lbf/inch",
    "N s/m": "N*s/m", "lbf s/in": "lbf*s/inch", "kg m2": "kg*m**2", "kg cm2": "kg*cm**2",
    "g cm2": "g*cm**2", "lb ft2": "lb*ft**2", "lb in2": "lb*inch**2",
    "W/(m2 K)": "W/m**2/K", "lx": "lux", "um": "um", "us": "us", "uA": "uA", "uF": "uF",
    "uH": "uH", "h": "hour", "t": "metric_ton", "kcmil": "kcmil", "mcd": "millicandela",
    "fc": "lumen/ft**2",
}  # fmt: skip
SI_IN_PINT = {
    "m2": "m**2", "m3": "m**3", "N m": "N*m", "m3/s ANR": "m**3/s", "m3/s": "m**3/s",
    "m3/(s Pa)": "m**3/s/Pa", "kg/m3": "kg/m**3", "rad/s2": "rad/s**2", "m/s2": "m/s**2",
    "N s/m": "N*s/m", "kg m2": "kg*m**2", "W/(m2 K)": "W/m**2/K", "": "dimensionless",
    "lx": "lux", "K": "kelvin",
}  # fmt: skip
MEANS = {("acceleration", "g"): "standard_gravity", ("capacitance", "F"): "farad"}
NOT_IN_PINT = {"AWG", "scfm", "Cv", "Kv", "l/min Qn", "dB"}
"""Units that pint lacks or means otherwise; each has a test of its own below."""
NOZZLE_AREA = ("conductance", "mm2")

UNITS = [
    (dimension, unit)
    for dimension, kind in DIMENSIONS.items()
    for unit in kind.units
    if unit.symbol not in NOT_IN_PINT and (dimension, unit.symbol) != NOZZLE_AREA
]


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def test_the_peer_is_the_pint_that_this_table_was_held_against() -> None:
    assert importlib.metadata.version("pint") >= "0.25"


@pytest.mark.parametrize(
    ("dimension", "unit"), UNITS, ids=lambda each: str(getattr(each, "symbol", each))
)
def test_each_unit_is_as_large_as_pint_says(
    dimension: str, unit: Unit, registry: pint.UnitRegistry
) -> None:
    name = IN_PINT.get(unit.symbol, unit.symbol)
    name = MEANS.get((dimension, unit.symbol), name)
    si = DIMENSIONS[dimension].si
    theirs = registry.Quantity(0.35, name).to(SI_IN_PINT.get(si, si)).magnitude
    ours = read_quantity(f"0.35 {unit.symbol}", dimension)
    assert math.isclose(ours, theirs, rel_tol=2e-9)


@pytest.mark.parametrize(("dimension", "unit"), UNITS)
def test_each_other_spelling_means_the_same_unit(dimension: str, unit: Unit) -> None:
    for spelling in unit.also:
        assert unit_of(f"0.2 {spelling}", dimension) == unit.symbol
        assert read_quantity(f"0.2 {spelling}", dimension) == read_quantity(
            f"0.2 {unit.symbol}", dimension
        )


def test_no_spelling_means_two_units_of_one_dimension() -> None:
    for dimension, kind in DIMENSIONS.items():
        names = [name for unit in kind.units for name in (unit.symbol, *unit.also)]
        assert len(names) == len(set(names)), dimension
        assert not set(names) & set(kind.not_here), dimension


# ASTM B258-18 table 1, diameters in inches to four places.
@pytest.mark.parametrize(
    ("gauge", "inches"),
    [
        ("4/0", 0.4600),
        ("2/0", 0.3648),
        ("1", 0.2893),
        ("12", 0.0808),
        ("18", 0.0403),
        ("36", 0.0050),
    ],
)
def test_american_gauges_have_the_diameters_of_astm_b258(gauge: str, inches: float) -> None:
    area = read_quantity(f"{gauge} AWG", "wire")
    diameter = math.sqrt(4 * area / math.pi) / 0.0254
    assert abs(diameter - inches) < 0.00005
    assert read_quantity(f"AWG {gauge}", "wire") == area


def test_0000_is_the_same_gauge_as_4_0() -> None:
    assert read_quantity("0000 AWG", "wire") == read_quantity("4/0 AWG", "wire")
    assert read_quantity("0 AWG", "wire") == awg_area_m2(0)


def test_an_scfm_is_28_77_litres_of_reference_air_a_minute() -> None:
    # By mass: 28.317 l of 1.2041 kg/m3 (14.696 psia, 68 F, dry; CoolProp 8 gives 1.2046) as
    # litres of 1.185 kg/m3 (ISO 8778).
    assert math.isclose(read_quantity("1 scfm", "flow") * 60_000, 28.77, abs_tol=0.005)
    assert float(SCFM_AIR / ANR) == pytest.approx(1.0161, abs=1e-4)


def test_a_cv_lies_inside_of_what_iec_60534_gives_for_air_valves() -> None:
    # IEC 60534-2-1 for xT of 0.6 to 0.8: 3.6 to 4.2 dm3/(s bar) per Cv.
    assert 3.6e-8 < float(CV) < 4.2e-8
    # Kv = 0.865 Cv (IEC 60534-1): the same valve either way.
    assert read_quantity("0.865 Kv", "conductance") == pytest.approx(
        read_quantity("1 Cv", "conductance"), rel=1e-12
    )
    assert Fraction("0.865") == KV_PER_CV


def test_nominal_flow_of_one_cv_is_about_1017_litres_a_minute() -> None:
    # Qn at 6 to 5 bar gauge through C = 4 dm3/(s bar), b = 0.3 (ISO 6358-1 flow law).
    per_cv = read_quantity("Qn 1017 l/min", "conductance")
    assert per_cv == pytest.approx(read_quantity("1 Cv", "conductance"), rel=2e-4)
    assert float(QN) * 1e-8 == pytest.approx(254.3, abs=0.05)


def test_an_effective_area_is_that_of_an_ideal_nozzle() -> None:
    # Choked flow A p sqrt(gamma/(R T)) (2/(gamma+1))^((gamma+1)/(2(gamma-1))) over rho0 p.
    gamma, gas, kelvin, density = 1.4, 288.0, 293.15, 1.185
    flux = math.sqrt(gamma / (gas * kelvin)) * (2 / (gamma + 1)) ** 3
    assert read_quantity("1 mm2", "conductance") == pytest.approx(flux * 1e-6 / density, rel=4e-3)


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("1 1/16 in", "length", 0.0269875),
        ("1-1/16 in", "length", 0.0269875),
        ("17/16 in", "length", 0.0269875),
        ('1/2"', "length", 0.0127),
        ('1-1/2"', "length", 0.0381),
        ("1½ in", "length", 0.0381),
        ("3 ft 6 in", "length", 1.0668),
        ("3'6\"", "length", 1.0668),
        ("3′6″", "length", 1.0668),
        ("3' 6-1/2\"", "length", 1.0795),
        ("6 ft, 2 in", "length", 1.8796),
        ("-3 ft 6 in", "length", -1.0668),
        (".5 m", "length", 0.5),
        ("2 lb 3 oz", "mass", 0.992233309375),
        ("60 psi", "pressure", 413685.4375901),
        ("60PSI", "pressure", 413685.4375901),
        ("4.5 l/min", "flow", 7.5e-5),
        ("12 C", "temperature", 285.15),
        ("-40 F", "temperature", 233.15),
        ("20 °C", "temperature", 293.15),
        ("20 %", "share", 0.2),
        ("0.2", "share", 0.2),
        ("-12 dBFS", "level", -12.0),
        ("4.7 kΩ", "resistance", 4700.0),
        ("350 µA", "current", 3.5e-4),
        ("0.5 mm²", "wire", 5e-7),
        ("60 per minute", "frequency", 1.0),
        ("1e3 Pa", "pressure", 1000.0),
        ("0", "length", 0.0),
        ("1 min 30 s", "time", 90.0),
    ],
)
def test_texts_as_builders_write_them(text: str, dimension: str, si: float) -> None:
    assert read_quantity(text, dimension) == pytest.approx(si, rel=1e-12)


def test_inch_fractions_are_exact() -> None:
    assert quantity_in("1-1/16 in", "length").exact == Fraction(17, 16) * Fraction(254, 10_000)


@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        ("0,8 A", "current", "`0,8 A` has a decimal comma. Write a point: `0.8 A`."),
        (
            "1,000 mm",
            "length",
            (
                "`1,000 mm` has a comma, which may be a decimal comma or group thousands. Write "
                "`1000 mm` or `1.000 mm`."
            ),
        ),
        (
            "0.8 A",
            "voltage",
            "`0.8 A` is a current, where a voltage is wanted. Known here: V, mV, kV.",
        ),
        (
            "60 psy",
            "pressure",
            (
                "`psy` in `60 psy` is no unit of a pressure. Did you mean `psi`? Known here: bar, "
                "psi, kPa, MPa, mbar, Pa, kgf/cm2."
            ),
        ),
        ("25", "length", "`25` has no unit. Write a length as in `25 mm` or `25 in`."),
        (
            "60 psia",
            "pressure",
            (
                "`60 psia` will not do here: the book wants gauge pressure, as a gauge on the "
                "machine shows it (0 is the open air)."
            ),
        ),
        (
            "4 cfm",
            "flow",
            (
                "`4 cfm` will not do here: cubic feet of which air? Write `scfm` for standard "
                "air (14.696 psia, 68 F), or `l/min` for litres of standard air (ANR: 20 C, 1 bar)."
            ),
        ),
        (
            "1 MA",
            "current",
            "`MA` in `1 MA` is no unit of a current. Did you mean `mA`? Known here: A, mA, uA.",
        ),
        (
            "25",
            "share",
            "`25` is more than the whole, as a share. Write `25 %`, or a number from 0 to 1.",
        ),
        ("1/0 in", "length", "`1/0 in` divides by nothing. Write a fraction such as `1/16`."),
        (
            "long",
            "time",
            (
                "`long` is not a time. Write a number and a unit, as in `2.5 s`. Known here: s, "
                "ms, us, ns, min, h."
            ),
        ),
        ("99 AWG", "wire", "`99 AWG` is no wire gauge. Write 4/0 to 40, as in `18 AWG`."),
    ],
)
def test_messages_say_what_is_wrong_and_what_to_write(
    text: str, dimension: str, message: str
) -> None:
    with pytest.raises(UnitError) as caught:
        read_quantity(text, dimension)
    assert str(caught.value) == message


@given(st.text(max_size=30), st.sampled_from(sorted(DIMENSIONS)))
@example("1e99 m", "length")
@example("9" * 70 + " m", "length")
@example("² in", "length")
@example("1 2/3/4 in", "length")
def test_any_text_is_a_quantity_or_a_unit_error(text: str, dimension: str) -> None:
    try:
        value = read_quantity(text, dimension)
    except UnitError:
        return
    assert math.isfinite(value)


@given(
    st.sampled_from([(d, u.symbol) for d, u in UNITS if u.symbol]),
    st.integers(1, 9999),
)
def test_what_is_shown_in_a_builders_unit_reads_as_it_was(
    which: tuple[str, str], number: int
) -> None:
    dimension, symbol = which
    value = read_quantity(f"{number} {symbol}", dimension)
    shown = UnitStyle({dimension: symbol}).show(value, dimension)
    assert read_quantity(shown, dimension) == pytest.approx(value, rel=5e-4)


@pytest.mark.parametrize(
    ("value", "dimension", "units", "shown"),
    [
        (413685.4375901, "pressure", {"pressure": "psi"}, "60 psi"),
        (0.0269875, "length", {"length": "in"}, "1-1/16 in"),
        (0.0127, "length", {"length": "in"}, "1/2 in"),
        (-0.0127, "length", {"length": "in"}, "-1/2 in"),
        (0.0508, "length", {"length": "in"}, "2 in"),
        (0.027, "length", {"length": "in"}, "1.063 in"),
        (0.027, "length", {}, "27 mm"),
        (1.2, "length", {}, "1.2 m"),
        (200_000.0, "pressure", {}, "2 bar"),
        (0.012, "current", {"current": "A"}, "0.012 A"),
        (6.5, "current", {"current": "mA"}, "6500 mA"),
        (65.0, "current", {"current": "mA"}, "65 A"),
        (8.23e-7, "wire", {"wire": "AWG"}, "18 AWG"),
        (293.15, "temperature", {}, "20 C"),
        (0.2, "share", {}, "20 %"),
        (6e-9, "conductance", {"conductance": "Cv"}, "0.15 Cv"),
        (math.pi / 6, "angle", {}, "30 deg"),
        (math.inf, "force", {}, "inf N"),
    ],
)
def test_values_are_shown_in_the_builders_own_units(
    value: float, dimension: str, units: dict[str, str], shown: str
) -> None:
    assert UnitStyle(units).show(value, dimension) == shown


def test_every_dimension_can_be_shown_without_a_style() -> None:
    for dimension in DIMENSIONS:
        assert METRIC.show(1.0, dimension)
        assert METRIC.show(0.0, dimension)


def test_who_writes_inches_reads_pounds_and_who_does_not_reads_newtons():
    inches = UnitStyle.of({"length": "in"})
    assert inches.show(44.482, "force") == "10 lbf"
    assert inches.show(1.35582, "energy") == "1 ft lbf"
    assert UnitStyle.of({"pressure": "bar"}).show(44.482, "force") == "44.48 N"
    assert UnitStyle.of({"length": "in", "force": "N"}).show(10.0, "force") == "10 N"
