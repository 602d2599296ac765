"""The quick sums against published figures, through the command line as a builder types them."""

import json
from math import pi

import pytest
from tests.conftest import EXAMPLES

from thundersheet.calc import SUMS, sum_named
from thundersheet.cli import main


@pytest.fixture
def calc(capsys):
    def run(*words, code=0):
        assert main(["calc", *words, "--json"]) == code
        return json.loads(capsys.readouterr().out)["results"]

    return run


def value(results, name):
    return results[name]["value"]


def test_force_of_an_inch_and_a_half_at_80_psi(calc):
    # 141 lbf: a cylinder maker's force table, as in reference section 7; pi/4 1.5^2 80 = 141.4.
    force = value(calc("cylinder", "bore=1.5in", "pressure=80psi"), "force_out")
    assert force / 4.4482216 == pytest.approx(pi / 4 * 1.5**2 * 80, rel=1e-6)


def test_air_of_a_two_inch_cylinder_that_cycles(calc):
    # 2 in x 4 in, 30 cycles a minute at 80 psi: 2.81 scfm, published example (no rod taken off).
    results = calc("air", "bore=2in", "stroke=4in", "pressure=80psi", "cycles=30/min")
    assert value(results, "free_air_us") == pytest.approx(2.81, abs=0.005)


def test_air_of_the_open_compressed_air_librarys_cylinders(calc):
    # Oak Ridge National Laboratory, open compressed-air library, its own tests: 1.5 x 6 in at
    # 100 psi, 60/min: single 2.8711575255, double with a 0.375 in rod 5.5628677057 scfm. It takes
    # pi/4 as 0.785 and 14.7 psi for the air.
    words = ["air", "bore=1.5in", "stroke=6in", "pressure=100psi", "cycles=60/min"]
    words += ["atmosphere=14.7psi"]
    to_library = 0.785 / (pi / 4)
    single = value(calc(*words, "acting=single"), "free_air_us") * to_library
    double = value(calc(*words, "rod=0.375in"), "free_air_us") * to_library
    assert single == pytest.approx(2.8711575255, rel=1e-4)
    assert double == pytest.approx(5.5628677057, rel=1e-4)


def test_usable_air_of_a_receiver(calc):
    # 660 gal from 110 to 100 psig: 60.0240096038 scf, same library (14.7 psi; 7.48 gal/ft3).
    words = ["tank", "volume=660gal", "high=110psi", "low=100psi", "atmosphere=14.7psi"]
    assert value(calc(*words), "usable_us") == pytest.approx(60.0240096038, rel=1e-3)


@pytest.mark.parametrize(
    ("bore", "psi", "cfm"),
    [("1/8in", 100, 26.0), ("1/4in", 80, 85.7), ("1/32in", 90, 1.48), ("1/8in", 40, 12.4)],
)
def test_orifices_of_the_table_after_moss(calc, bore, psi, cfm):
    # Table after S. A. Moss (1906) as printed by compressed-air handbooks, at 70 F and 14.7 psi.
    words = ["orifice", f"bore={bore}", f"pressure={psi}psi", "atmosphere=14.7psi"]
    found = value(calc(*words, "ambient=70F"), "flow_us")
    assert found == pytest.approx(cfm, rel=0.006)


def test_a_cv_of_one_passes_about_a_thousand_litres(calc):
    # Qn = 1017 l/min ANR per Cv at b = 0.3, reference section 2 (ISO 6358-1 flow law).
    assert value(calc("valve", "flow=1Cv"), "nominal_flow") == pytest.approx(1017, abs=1)


def test_tone_frequencies_are_those_of_q23(calc):
    # ITU-T Q.23 (secondary source): 5 is 770 Hz with 1336 Hz.
    results = calc("tones", "symbol=5")
    assert (value(results, "low"), value(results, "high")) == (770, 1336)


def test_the_stroke_of_the_reference_case(calc):
    # Reference section 8: 1.5 x 6 in, 80 psi, Cv 0.75, 3 m of 4.3 mm hose, 5 kg, meter-out, valve
    # 20 ms: starts at 63, hits at 299 ms, 0.67 m/s (prototype). Its flow control and friction are
    # not printed; the sum must agree with what the stroke tests found for them.
    words = ["stroke", "bore=1.5in", "stroke=6in", "pressure=80psi", "valve=0.75Cv", "moves=5kg"]
    words += ["hose-bore=4.3mm", "hose-length=3m", "valve-delay=20ms", "meter-out=0.1Cv"]
    results = calc(*words)
    start, full = value(results, "t_start"), value(results, "t_full")
    assert 0.03 < start < 0.1
    assert start < value(results, "t_mid") < full
    vented = calc(*words, "vented=yes")
    assert value(vented, "t_full") < 0.6 * full
    assert value(vented, "E_impact") > 4 * value(results, "E_impact")


def test_a_json_file_of_bare_si_numbers_gives_the_same(calc, tmp_path):
    case = {"bore": 0.0381, "stroke": 0.1524, "pressure": 551_580.58, "valve": 3e-8, "moves": 2.0}
    path = tmp_path / "case.json"
    path.write_text(json.dumps({**case, "valve_delay": 0.02}))
    typed = ["stroke", "bore=1.5in", "stroke=6in", "pressure=80psi", "valve=0.75Cv"]
    typed.append("moves=2kg")
    from_file = value(calc("stroke", "--input", str(path)), "t_full")
    assert from_file == pytest.approx(value(calc(*typed, "valve-delay=20ms"), "t_full"), rel=1e-6)


@pytest.mark.parametrize("name", SUMS)
def test_every_sum_runs_its_own_example_and_names_its_source(name, capsys, monkeypatch):
    monkeypatch.chdir(EXAMPLES)  # where site.yaml is
    found = sum_named(name)
    assert main(["calc", name, *found.example.split(), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["results"]
    assert document["formula"]
    assert document["source"]
    assert document["cautions"]


@pytest.mark.parametrize("name", SUMS)
def test_every_sum_alone_tells_what_it_takes(name, capsys):
    assert main(["calc", name]) == 0
    said = capsys.readouterr().out
    assert "example:" in said
    assert "what it is" in said


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["strok"], "There is no sum `strok`. Did you mean `stroke`?"),
        (
            ["cylinder", "bor=1in", "pressure=80psi"],
            "there is no input `bor`. Did you mean `bore`?",
        ),
        (["cylinder", "bore=1in"], "missing: pressure."),
        (["cylinder", "bore=80psi", "pressure=80psi"], "bore: "),
        (["cylinder", "bore=25mm", "pressure=2bar", "rod=30mm"], "the rod is as thick as the bore"),
        (["cylinder", "bore"], "`bore` is no key=value."),
        (["cylinder", "--input", "no-such.json"], "no-such.json cannot be read"),
    ],
)
def test_wrong_input_is_said_in_a_sentence(words, says, capsys):
    assert main(["calc", *words]) == 2
    said = capsys.readouterr().err
    assert says in said
    assert "Traceback" not in said


def test_all_wrong_inputs_are_said_at_once(capsys):
    assert main(["calc", "cylinder", "bor=1in", "rod=2 psi", "acting=tripple"]) == 2
    said = capsys.readouterr().err
    assert "4 things stand in the way" in said


def test_parts_in_a_row_may_be_given_with_the_letters_of_iso_6358(calc, tmp_path):
    # One part, said as a list in SI, and as the single valve: the same stroke to the last digit.
    case = {"D": 0.025, "S": 0.1, "p_s": 501_325.0, "m_load": 1.0, "V0d": 0, "direction": "extend"}
    case["drive_valve_parts"] = [{"C": 1.6e-8, "b": 0.3, "m": 0.5}]
    path = tmp_path / "case.json"
    path.write_text(json.dumps(case))
    words = ["bore=25mm", "stroke=100mm", "pressure=4bar", "moves=1kg", "dead-drive=0"]
    typed = calc("stroke", *words, "valve=0.4Cv")
    assert calc("stroke", "--input", str(path)) == typed
    assert calc("stroke", *words, "drive-valve-parts=1.6 dm3/(s bar) b 0.3 m 0.5") == typed


def test_a_case_in_the_reference_models_letters_is_the_stroke_of_the_physics(calc, tmp_path):
    # Section 3 of the reference model with every letter of it; section 8's base case, tubes as
    # nodes, rod drawn back.
    valve = {"C": 3e-8, "b": 0.3, "m": 0.5}
    case = {
        "D": 0.0381, "d_rod": 0.0111125, "S": 0.1524, "direction": "retract", "p_s": 652_905.58344,
        "p_atm": 101_325, "T_amb": 293.15, "V0d": 8e-6, "V0e": 8e-6, "valve_delay": 0.02,
        "valve_ramp": 0.005, "drive_valve": [valve], "exhaust_valve": [valve],
        "exhaust_cylinder": [{"C": 1e-8, "b": 0.3}], "drive_cylinder": [], "d": 0.0043, "L": 3.0,
        "tube_model": "node", "M": 0, "m_load": 5, "i": 1, "Fs": 40, "Fc": 24, "B": 30,
        "v_s": 0.05, "h": 60, "incline": 0, "F_ext": 0, "vented": False,
    }  # fmt: skip
    path = tmp_path / "case.json"
    path.write_text(json.dumps(case))
    found = calc("stroke", "--input", str(path))
    # tests/physics/reference.py: scipy's DOP853 at rtol 1e-10.
    assert value(found, "t_start") == pytest.approx(0.0585179267, abs=1e-4)
    assert value(found, "t_full") == pytest.approx(0.3361041696, abs=1e-4)
    assert value(found, "v_impact") == pytest.approx(0.633253777, rel=2e-3)
    assert value(found, "air_to_full_stroke") == pytest.approx(1.1209395833, rel=5e-4)
    path.write_text(json.dumps(case | {"quick_exhaust": {"C": 8e-8, "b": 0.3, "m": 0.5}}))
    quick = calc("stroke", "--input", str(path))
    assert value(quick, "t_full") == pytest.approx(0.1234202433, abs=1e-4)


def test_two_like_parts_in_a_row_let_through_what_the_series_rule_says(calc):
    # ISO 6358-3 as in reference section 2: C of two alike is C/2^(1/3), b = 1 - 2^(1/3) (1 - b).
    words = ["stroke", "bore=25mm", "stroke=100mm", "pressure=4bar", "moves=1kg"]
    two = calc(*words, "drive-valve-parts=0.4 Cv b 0.3, 0.4 Cv b 0.3", "exhaust-valve=1Cv")
    c, b = 0.4 / 2 ** (1 / 3), 1 - 2 ** (1 / 3) * 0.7
    one = calc(*words, f"valve={c} Cv", f"valve-b={b}", "exhaust-valve=1Cv", "exhaust-valve-b=0.3")
    assert value(two, "t_full") == pytest.approx(value(one, "t_full"), rel=1e-6)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["moves=1kg", "valve=0.4Cv"], "give `pressure` (gauge) or `absolute`, one of the two"),
        (["moves=1kg", "pressure=4bar"], "give the valve's flow"),
        (["pressure=4bar", "drive-valve-parts=[{}]", "moves=1kg"], "a part is a number"),
        (["pressure=4bar", "drive-valve-parts=[", "moves=1kg"], "Expecting value"),
    ],
)
def test_a_stroke_that_is_not_said_whole_is_asked_for(words, says, capsys):
    assert main(["calc", "stroke", "bore=25mm", "stroke=100mm", *words]) == 2
    assert says in capsys.readouterr().err
