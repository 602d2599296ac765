"""The units of every dimension: one table, read by units.py and held against pint in the tests.

A factor turns a number in the unit into SI: exact where the unit is defined exactly. The first
unit of a dimension that fits a value is how a metric builder sees it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

INCH = Fraction(254, 10_000)
FOOT = 12 * INCH
POUND = Fraction("0.45359237")
G = Fraction("9.80665")
LBF = POUND * G
GALLON = 231 * INCH**3
PI = Fraction(3.141592653589793)
"""The double nearest to pi: as good as any float that comes out."""

ANR = Fraction("1.185")
"""kg/m3 of air at 20 C, 100 kPa, 65 % humidity (ISO 8778): what standard litres are of."""
SCFM_AIR = Fraction("1.2041")
"""kg/m3 of dry air at 14.696 psia and 68 F: what US standard cubic feet are of."""
CV = Fraction(4, 10**8)
"""m3/(s Pa) for a Cv of 1 (IEC 60534-2-1 gives 3.6e-8 to 4.2e-8 for xT of 0.6 to 0.8)."""
KV_PER_CV = Fraction("0.865")
QN = Fraction(60 * 7 * (1 - ((6 / 7 - 0.3) / 0.7) ** 2) ** 0.5) * 10**8
"""l/min ANR from 7 to 6 bar absolute through 1 m3/(s Pa) at b = 0.3 (ISO 6358-1 flow law)."""
NOZZLE = Fraction("0.199") / 10**8
"""m3/(s Pa) for an effective area of 1 mm2: choked flow of an ideal nozzle."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: SI value = number * factor + offset."""

    symbol: str
    factor: Fraction
    also: tuple[str, ...] = ()
    offset: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """One kind of quantity and its units."""

    a: str
    """With its article, for messages: `a length`."""
    si: str
    units: tuple[Unit, ...]
    metric: tuple[str, ...]
    """Symbols in which METRIC shows it, the largest first; the first that gives 1 or more."""
    bare: bool = False
    """Whether a number alone is enough."""
    joins: bool = False
    """Whether units may follow one another: `3 ft 6 in`."""
    not_here: Mapping[str, str] = field(default_factory=dict)
    """Units that look right but are not, and what to say."""


def _u(symbol: str, factor: Fraction | int | str, *also: str, offset: str = "0") -> Unit:
    return Unit(symbol, Fraction(factor), also, Fraction(offset))


def _frac(top: Fraction | int, bottom: Fraction | int) -> Fraction:
    return Fraction(top) / Fraction(bottom)


_ABSOLUTE = "the book wants gauge pressure, as a gauge on the machine shows it (0 is the open air)"
_WHICH_CFM = (
    "cubic feet of which air? Write `scfm` for standard air (14.696 psia, 68 F), or `l/min` for "
    "litres of standard air (ANR: 20 C, 1 bar)"
)
_WHICH_NORMAL = (
    "a normal litre is 0 C to some and 20 C to others; write `l/min` for ANR litres (20 C, 1 bar)"
)

_LITRES = (
    _u("l", "0.001", "L", "litre", "litres", "liter", "liters", "dm3"),
    _u("ml", "1e-6", "mL", "cm3", "cc"),
    _u("m3", 1, "m^3"),
    _u("mm3", "1e-9"),
    _u("gal", GALLON, "gallon", "gallons", "US gal", "USgal"),
    _u("qt", GALLON / 4, "quart", "quarts"),
    _u("ft3", FOOT**3, "cu ft", "cuft", "cf", "cubic feet", "cubic foot"),
    _u("in3", INCH**3, "cu in", "cuin", "cubic inch", "cubic inches"),
)

DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension(
        a="a length",
        si="m",
        units=(
            _u("mm", "0.001", "millimetre", "millimetres", "millimeter", "millimeters", "MM"),
            _u("in", INCH, '"', "''", "in.", "inch", "inches"),
            _u("cm", "0.01"),
            _u("m", 1, "metre", "metres", "meter", "meters"),
            _u("km", 1000),
            _u("um", "1e-6", "micron", "microns"),
            _u("ft", FOOT, "'", "ft.", "foot", "feet"),
            _u("yd", 3 * FOOT, "yard", "yards"),
            _u("thou", INCH / 1000, "mil", "mils"),
        ),
        metric=("m", "mm"),
        joins=True,
    ),
    "area": Dimension(
        a="an area",
        si="m2",
        units=(
            _u("mm2", "1e-6", "sq mm", "mm^2"),
            _u("cm2", "1e-4", "sq cm", "cm^2"),
            _u("m2", 1, "sq m", "m^2", "square metres", "square meters"),
            _u("in2", INCH**2, "sq in", "in^2", "square inches", "square inch"),
            _u("ft2", FOOT**2, "sq ft", "ft^2", "square feet", "square foot"),
        ),
        metric=("m2", "cm2", "mm2"),
    ),
    "wire": Dimension(
        a="a wire's cross-section",
        si="m2",
        units=(
            _u("mm2", "1e-6", "sq mm", "mm^2"),
            _u("AWG", 0, "awg", "ga", "gauge"),  # reckoned by awg_area_m2: not a factor
            _u("kcmil", _frac(PI, 4) * (INCH / 1000) ** 2 * 1000, "MCM"),
        ),
        metric=("mm2",),
    ),
    "volume": Dimension(a="a volume", si="m3", units=_LITRES, metric=("m3", "l", "ml")),
    "mass": Dimension(
        a="a mass",
        si="kg",
        units=(
            _u("kg", 1, "kilo", "kilos", "kilogram", "kilograms"),
            _u("lb", POUND, "lbs", "lb.", "lbs.", "lbm", "pound", "pounds", "#"),
            _u("g", "0.001", "gram", "grams"),
            _u("t", 1000, "tonne", "tonnes"),
            _u("oz", POUND / 16, "ounce", "ounces", "oz."),
        ),
        metric=("kg", "g"),
        joins=True,
        not_here={"mg": "a milligram is too little to matter here; write grams, `g`"},
    ),
    "density": Dimension(
        a="a density",
        si="kg/m3",
        units=(
            _u("kg/m3", 1, "kg/m^3"),
            _u("g/cm3", 1000, "g/cc", "kg/l", "kg/dm3"),
            _u("lb/ft3", POUND / FOOT**3, "pcf", "lb/cu ft"),
        ),
        metric=("kg/m3",),
    ),
    "pressure": Dimension(
        a="a pressure",
        si="Pa",
        units=(
            _u("bar", 10**5, "barg", "bar g", "bar(g)", "bars"),
            _u("psi", LBF / INCH**2, "psig", "psi g", "lb/in2", "lbf/in2"),
            _u("kPa", 1000, "kpa"),
            _u("MPa", 10**6),
            _u("mbar", 100, "hPa"),
            _u("Pa", 1),
            _u("kgf/cm2", G * 10**4, "kg/cm2"),
        ),
        metric=("bar", "mbar", "Pa"),
        not_here=dict.fromkeys(
            ("psia", "psi a", "psi abs", "bara", "bar a", "bar(a)", "bar abs", "kPa abs", "kPa a"),
            _ABSOLUTE,
        ),
    ),
    "temperature": Dimension(
        a="a temperature",
        si="K",
        units=(
            _u("C", 1, "°C", "degC", "deg C", "celsius", offset="273.15"),
            _u("F", "5/9", "°F", "degF", "deg F", "fahrenheit", offset=str(Fraction(45967, 180))),
            _u("K", 1, "kelvin"),
        ),
        metric=("C",),
        not_here={"deg": "degrees of which scale? Write `20 C` or `68 F`"},
    ),
    "force": Dimension(
        a="a force",
        si="N",
        units=(
            _u("N", 1, "newton", "newtons"),
            _u("kN", 1000),
            _u("lbf", LBF, "lb", "lbs", "pounds"),
            _u("ozf", LBF / 16, "oz"),
            _u("kgf", G, "kp"),
            _u("gf", G / 1000),
        ),
        metric=("N",),
        not_here={"kg": "a mass is no force; if a scale shows it, write `kgf`"},
    ),
    "torque": Dimension(
        a="a torque",
        si="N m",
        units=(
            _u("N m", 1, "Nm"),
            _u("N cm", "0.01", "Ncm"),
            _u("mN m", "0.001", "mNm"),
            _u("kgf cm", G / 100, "kg cm"),  # as makers of hobby servos write it
            _u("lbf in", LBF * INCH, "in lb", "in lbf", "lb in"),
            _u("lbf ft", LBF * FOOT, "ft lb", "ft lbf", "lb ft"),
            _u("ozf in", LBF / 16 * INCH, "oz in", "in oz", "ozin"),
        ),
        metric=("N m",),
    ),
    "energy": Dimension(
        a="an energy",
        si="J",
        units=(
            _u("J", 1, "joule", "joules", "N m", "Nm", "W s"),
            _u("mJ", "0.001"),
            _u("kJ", 1000),
            _u("Wh", 3600, "W h"),
            _u("kWh", 3_600_000, "kW h"),
            _u("ft lbf", LBF * FOOT, "ft lb", "lbf ft", "lb ft"),
            _u("in lbf", LBF * INCH, "in lb", "lbf in", "lb in"),
        ),
        metric=("J", "mJ"),
    ),
    "power": Dimension(
        a="a power",
        si="W",
        units=(
            _u("W", 1, "watt", "watts", "VA"),
            _u("mW", "0.001"),
            _u("kW", 1000),
            _u("hp", 550 * FOOT * LBF, "HP", "horsepower"),
        ),
        metric=("kW", "W", "mW"),
    ),
    "voltage": Dimension(
        a="a voltage",
        si="V",
        units=(
            _u("V", 1, "volt", "volts", "V DC", "VDC", "V AC", "VAC", "Vdc", "Vac"),
            _u("mV", "0.001"),
            _u("kV", 1000),
        ),
        metric=("V", "mV"),
    ),
    "current": Dimension(
        a="a current",
        si="A",
        units=(
            _u("A", 1, "amp", "amps", "ampere", "amperes", "A DC", "ADC"),
            _u("mA", "0.001", "milliamp", "milliamps"),
            _u("uA", "1e-6"),
        ),
        metric=("A", "mA", "uA"),
    ),
    "resistance": Dimension(
        a="a resistance",
        si="ohm",
        units=(
            _u("ohm", 1, "ohms", "R"),
            _u("mohm", "0.001", "milliohm", "milliohms"),
            _u("kohm", 1000, "k", "kilohm", "kilohms"),
            _u("Mohm", 10**6, "megohm"),
        ),
        metric=("kohm", "ohm", "mohm"),
    ),
    "inductance": Dimension(
        a="an inductance",
        si="H",
        units=(_u("H", 1, "henry"), _u("mH", "0.001"), _u("uH", "1e-6")),
        metric=("H", "mH", "uH"),
    ),
    "capacitance": Dimension(
        a="a capacitance",
        si="F",
        units=(_u("F", 1, "farad"), _u("uF", "1e-6"), _u("nF", "1e-9"), _u("pF", "1e-12")),
        metric=("F", "uF", "nF"),
    ),
    "flow": Dimension(
        a="a flow of standard air",
        si="m3/s ANR",
        units=(
            _u("l/min", _frac(1, 60_000), "L/min", "lpm", "l/min ANR", "L/min ANR", "LPM"),
            _u("l/s", "0.001", "L/s", "l/s ANR"),
            _u("m3/h", _frac(1, 3600), "m3/h ANR"),
            _u("m3/min", _frac(1, 60), "m3/min ANR"),
            _u("scfm", FOOT**3 / 60 * SCFM_AIR / ANR, "SCFM"),
        ),
        metric=("l/min",),
        not_here={
            "cfm": _WHICH_CFM,
            "CFM": _WHICH_CFM,
            "ft3/min": _WHICH_CFM,
            "Nl/min": _WHICH_NORMAL,
            "NL/min": _WHICH_NORMAL,
            "Nm3/h": _WHICH_NORMAL,
        },
    ),
    "volume flow": Dimension(
        a="a volume flow",
        si="m3/s",
        units=(
            _u("l/min", _frac(1, 60_000), "L/min", "lpm", "LPM"),
            _u("l/s", "0.001", "L/s"),
            _u("l/h", _frac(1, 3_600_000), "L/h"),
            _u("m3/h", _frac(1, 3600)),
            _u("m3/min", _frac(1, 60)),
            _u("ml/min", _frac(1, 60_000_000), "mL/min"),
            _u("cfm", FOOT**3 / 60, "CFM", "ft3/min"),
            _u("gal/min", GALLON / 60, "gpm", "GPM"),
            _u("gal/h", GALLON / 3600, "gph", "GPH"),
        ),
        metric=("l/min", "ml/min"),
        not_here=dict.fromkeys(
            ("scfm", "SCFM"),
            "here the volume counts as it is sucked in or pumped, not as standard air: write `cfm`",
        ),
    ),
    "conductance": Dimension(
        a="a flow coefficient",
        si="m3/(s Pa)",
        units=(
            _u("dm3/(s bar)", "1e-8", "l/(s bar)", "L/(s bar)", "l/s/bar", "dm3/s/bar"),
            _u("Cv", CV),
            _u("Kv", CV / KV_PER_CV),
            _u("l/min Qn", 1 / QN, "L/min Qn", "Qn"),
            _u("mm2", NOZZLE, "mm2 S", "mm^2"),
            _u("m3/(s Pa)", 1),
        ),
        metric=("dm3/(s bar)",),
        not_here=dict.fromkeys(
            ("l/min", "L/min"),
            "a flow depends on the pressures; if it is the nominal flow (6 to 5 bar gauge), write "
            "`Qn 250 l/min`",
        ),
    ),
    "share": Dimension(
        a="a share",
        si="",
        units=(_u("%", "0.01", "percent", "per cent", "pct"), _u("", 1)),
        metric=("%",),
        bare=True,
    ),
    "level": Dimension(
        a="a level",
        si="dB",
        units=(_u("dB", 1, "dBFS", "db", "dB FS"),),
        metric=("dB",),
    ),
    "angle": Dimension(
        a="an angle",
        si="rad",
        units=(
            _u("deg", PI / 180, "°", "degree", "degrees"),
            _u("rad", 1, "radian", "radians"),
            _u("turn", 2 * PI, "turns", "rev", "revs"),
        ),
        metric=("deg",),
    ),
    "angular speed": Dimension(
        a="an angular speed",
        si="rad/s",
        units=(
            _u("rpm", 2 * PI / 60, "rev/min", "r/min", "turns/min", "turn/min"),
            _u("deg/s", PI / 180, "°/s", "degrees/s"),
            _u("rad/s", 1),
            _u("turn/s", 2 * PI, "turns/s", "rev/s", "rps"),
        ),
        metric=("rpm",),
    ),
    "speed": Dimension(
        a="a speed",
        si="m/s",
        units=(
            _u("m/s", 1),
            _u("mm/s", "0.001"),
            _u("cm/s", "0.01"),
            _u("m/min", _frac(1, 60)),
            _u("km/h", _frac(1000, 3600), "kph", "kmh"),
            _u("ft/s", FOOT, "fps"),
            _u("ft/min", FOOT / 60, "fpm"),
            _u("in/s", INCH, "ips"),
            _u("mph", 5280 * FOOT / 3600, "MPH"),
        ),
        metric=("m/s", "mm/s"),
    ),
    "acceleration": Dimension(
        a="an acceleration",
        si="m/s2",
        units=(
            _u("m/s2", 1, "m/s^2"),
            _u("mm/s2", "0.001"),
            _u("g", G, "gn"),
            _u("ft/s2", FOOT, "ft/s^2"),
        ),
        metric=("m/s2",),
    ),
    "angular acceleration": Dimension(
        a="an angular acceleration",
        si="rad/s2",
        units=(_u("rad/s2", 1), _u("deg/s2", PI / 180, "°/s2"), _u("turn/s2", 2 * PI, "rev/s2")),
        metric=("deg/s2",),
    ),
    "frequency": Dimension(
        a="a frequency",
        si="Hz",
        units=(
            _u("Hz", 1, "/s", "per second", "1/s", "a second"),
            _u("kHz", 1000),
            _u("MHz", 10**6),
            _u("/min", _frac(1, 60), "per minute", "1/min", "bpm", "a minute"),
            _u("/h", _frac(1, 3600), "per hour", "1/h", "an hour"),
        ),
        metric=("kHz", "Hz", "/min"),
    ),
    "stiffness": Dimension(
        a="a spring rate",
        si="N/m",
        units=(
            _u("N/mm", 1000),
            _u("N/cm", 100),
            _u("N/m", 1),
            _u("lbf/in", LBF / INCH, "lb/in"),
            _u("lbf/ft", LBF / FOOT, "lb/ft"),
        ),
        metric=("N/mm", "N/m"),
    ),
    "damping": Dimension(
        a="a damping",
        si="N s/m",
        units=(_u("N s/m", 1, "Ns/m", "N/(m/s)"), _u("lbf s/in", LBF / INCH, "lb s/in")),
        metric=("N s/m",),
    ),
    "inertia": Dimension(
        a="a moment of inertia",
        si="kg m2",
        units=(
            _u("kg m2", 1, "kgm2", "kg m^2"),
            _u("kg cm2", "1e-4", "kgcm2"),
            _u("g cm2", "1e-7", "gcm2"),
            _u("lb ft2", POUND * FOOT**2),
            _u("lb in2", POUND * INCH**2),
        ),
        metric=("kg m2", "kg cm2", "g cm2"),
    ),
    "heat transfer": Dimension(
        a="a heat transfer coefficient",
        si="W/(m2 K)",
        units=(_u("W/(m2 K)", 1, "W/m2K", "W/m2/K"),),
        metric=("W/(m2 K)",),
    ),
    "luminous flux": Dimension(
        a="a luminous flux", si="lm", units=(_u("lm", 1, "lumen", "lumens"),), metric=("lm",)
    ),
    "luminous intensity": Dimension(
        a="a luminous intensity",
        si="cd",
        units=(_u("cd", 1, "candela"), _u("mcd", "0.001")),
        metric=("cd", "mcd"),
    ),
    "illuminance": Dimension(
        a="an illuminance",
        si="lx",
        units=(_u("lx", 1, "lux"), _u("fc", 1 / FOOT**2, "footcandle", "footcandles")),
        metric=("lx",),
    ),
    "time": Dimension(
        a="a time",
        si="s",
        units=(
            _u("s", 1, "sec", "secs", "second", "seconds"),
            _u("ms", "0.001", "msec", "millisecond", "milliseconds"),
            _u("us", "1e-6", "microsecond", "microseconds"),
            _u("ns", "1e-9"),
            _u("min", 60, "minute", "minutes", "mins"),
            _u("h", 3600, "hour", "hours", "hr", "hrs"),
        ),
        metric=("s", "ms"),
        joins=True,
    ),
}
"""By the name that a field's ``quantity(...)`` gives."""
