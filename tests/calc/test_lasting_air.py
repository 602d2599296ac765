"""How long air lasts: shows, rush, recovery, duty, leaks, sites; against published sums."""

import json
from math import exp, log

import pytest
from tests.conftest import EXAMPLES

from thundersheet.cli import main

PSI_AIR = "atmosphere=14.7psi"


@pytest.fixture
def calc(capsys):
    def run(*words, code=0):
        assert main(["calc", *words, "--json"]) == code
        return {k: v["value"] for k, v in json.loads(capsys.readouterr().out)["results"].items()}

    return run


@pytest.fixture
def said(capsys):
    def run(*words):
        assert main(["calc", *words]) == 2
        return " ".join(capsys.readouterr().err.split())

    return run


def test_a_receiver_gives_as_many_cubic_feet_as_published(calc):
    # Oak Ridge National Laboratory, open compressed-air library, its own tests: 660 gal from 110 to
    # 100 psig give 60.0240096 scf, 760 gal from 150 to 100 give 345.5927825676 (14.7 psi, 7.48
    # gal/ft3): shows of one cubic foot each.
    for volume, high, cubic_feet in (("660gal", "110psi", 60.024), ("760gal", "150psi", 345.593)):
        words = ["shows", f"volume={volume}", f"high={high}", "low=100psi", "per-show=1ft3"]
        assert calc(*words, PSI_AIR)["shows"] == int(cubic_feet)


def test_the_lamp_rooms_tank_without_its_compressor(calc):
    # By hand: 24 l from 8 to 5 bar are 24 * 3/1.01325 = 71.06 l of free air, 32.3 shows of 2.2 l.
    found = calc("shows", "volume=24l", "high=8bar", "low=5bar", "per-show=2.2l", "every=104s")
    assert found["shows"] == int(24 * 3 / 1.01325 / 2.2)
    assert found["left"] == pytest.approx(8e5 - 32 * 2.2 * 101_325 / 24, rel=1e-9)
    assert found["lasts"] == pytest.approx(32 * 104 / 60)


def test_one_hissing_fitting_costs_more_than_the_shows(calc):
    # Scenario of the Lamp Room: 34 shows an hour take 76 l, a fitting that loses 5 l/min 300 l.
    words = ["shows", "volume=24l", "high=8bar", "low=5bar", "per-show=2.2l", "every=104s"]
    assert calc(*words, "leaks=5l/min")["shows"] < 32 / 3


def test_a_receiver_that_bridges_a_peak_is_as_large_as_published(calc):
    # Published: 5 min at 350 cfm with 250 cfm coming, 100 to 60 psig: 183.75 ft3 (V = t (C - S)
    # p_atm/dP, 14.7 psi). As a rush of 5000 small shows; the compressor runs from the first one on.
    found = calc(
        "rush", "shows=5000", "every=60ms", "per-show=0.35ft3", "high=100psi", "low=60psi",
        "cut-in=99.99psi", "delivers=250ft3/min", PSI_AIR,
    )  # fmt: skip
    assert found["tank"] / 0.028316847 == pytest.approx(183.75, rel=3e-3)


def test_a_rush_without_a_compressor_wants_what_its_shows_take(calc):
    # Gas law: 20 * 2.2 l free air = V (8 - 5)/1.01325.
    found = calc("rush", "shows=20", "every=104s", "per-show=2.2l", "high=8bar", "low=5bar")
    assert found["tank"] is None
    assert found["tank_without_compressor"] == pytest.approx(20 * 2.2e-3 * 1.01325 / 3, rel=2e-3)


def test_a_given_tank_is_said_to_be_enough_or_where_it_fails(calc):
    # Gas law: 24 l give 32 such shows, so the 33rd is weak; compressor never starts (cut-in 1 bar).
    words = ["rush", "every=104s", "per-show=2.2l", "high=8bar", "low=5bar", "volume=24l"]
    assert calc(*words, "shows=32")["enough"] is True
    failed = calc(*words, "shows=40")
    assert (failed["enough"], failed["first_weak_show"]) == (False, 33)


def test_recovery_is_volume_times_rise_over_delivery(calc):
    # Reference model, section 4: t = V dP/(p_atm Q) = 24 * 3/(1.01325 * 20 l/min).
    words = ["recovery", "volume=24l", "high=8bar", "from=5bar", "cut-in=6bar"]
    found = calc(*words, "delivers=20l/min")["recovery"]
    assert found == pytest.approx(24 * 3 / (1.01325 * 20), rel=1e-9)
    # With half of every ten minutes allowed, 3.55 min fit; with a quarter it waits for the rest.
    assert calc(*words, "delivers=20l/min", "duty=50%")["recovery"] == pytest.approx(found)
    quarter = calc(*words, "delivers=20l/min", "duty=25%")["recovery"]
    assert quarter == pytest.approx(found - 2.5 + 10.0, rel=1e-6)


def test_a_compressor_weaker_than_its_leak_never_comes_back(calc):
    words = ["recovery", "volume=24l", "high=8bar", "from=5bar", "cut-in=6bar", "delivers=5l/min"]
    found = calc(*words, "leaks=20l/min")
    assert (found["recovery"], found["comes_back"]) == (None, False)


def test_duty_is_the_share_of_demand_in_delivery(calc):
    # Continuity over a cycle: what comes while it runs is all that goes: duty = demand/FAD.
    found = calc(
        "duty", "volume=24l", "high=8bar", "cut-in=6bar", "delivers=20l/min", "per-show=4l",
        "every=1min", "duty=60%",
    )  # fmt: skip
    assert found["duty"] == pytest.approx(100 * 4 / 20, rel=1e-6)
    # Off: 24 * 2/1.01325 l at 4 l/min; on: the same at 16.
    assert found["off"] == pytest.approx(24 * 2 / 1.01325 / 4, rel=1e-6)
    assert found["on"] == pytest.approx(24 * 2 / 1.01325 / 16, rel=1e-6)
    assert found["worst_ten_minutes"] == pytest.approx(10 * found["on"], rel=1e-6)
    assert found["enough"] is True


def test_a_compressor_that_never_rests_is_not_enough(calc):
    words = ["duty", "volume=24l", "high=8bar", "cut-in=6bar", "delivers=20l/min", "duty=60%"]
    found = calc(*words, "per-show=25l", "every=1min")
    assert (found["duty"], found["enough"], found["on"]) == (100.0, False, None)


def test_a_leak_alone_follows_the_choked_blow_down(calc):
    # Reference model, section 4: t = V/(R T rho0 C) ln(p1/p2), so p falls as exp(-t/tau); here by
    # a leak of 5 l/min free air at 8 bar, tau = V p1/(p_atm Q).
    found = calc("leak", "volume=24l", "high=8bar", "low=5bar", "leaks=5l/min", "night=1h")
    tau_h = 24 * 9.01325 / (1.01325 * 5) / 60
    assert found["alone_down_in"] == pytest.approx(tau_h * log(9.01325 / 6.01325), rel=1e-9)
    lost = 24 / 1.01325 * 9.01325 * (1 - exp(-1 / tau_h))
    assert found["lost"] == pytest.approx(lost, rel=2e-3)
    assert found["energy"] is None


def test_a_measured_leak_down_loses_what_was_measured(calc):
    found = calc(
        "leak", "volume=24l", "high=8bar", "low=7.5bar", "loses=0.5bar", "within=10min",
        "night=10min",
    )  # fmt: skip
    assert found["lost"] == pytest.approx(24 * 0.5 / 1.01325, rel=1e-9)
    assert found["alone_down_in"] == pytest.approx(10 / 60, rel=1e-9)


def test_what_a_leak_takes_the_compressor_brings_and_the_meter_counts(calc):
    # Continuity: over a night of whole cycles, running time = lost/delivery; energy = kW times h.
    words = ["leak", "volume=24l", "high=8bar", "cut-in=6bar", "delivers=60l/min", "leaks=5l/min"]
    found = calc(*words, "night=120h", "power=1.5kW", "per-show=2.2l")
    assert found["compressor_runs"] == pytest.approx(found["lost"] / 60, rel=0.01)
    assert found["energy"] == pytest.approx(1.5 * found["compressor_runs"] / 60, rel=1e-9)
    assert found["as_shows"] == pytest.approx(found["lost"] / 2.2)
    by_share = calc(*words, "night=120h", "specific-power=8")["energy"]
    assert by_share == pytest.approx(8 * found["lost"] / 1000 / 60, rel=1e-9)


def test_a_book_answers_with_its_own_air(calc, example_book):
    found = calc("shows", f"book={example_book}")
    larger = calc("shows", f"book={example_book}", "volume=48l")
    assert 0 < found["shows"] < larger["shows"]
    assert found["per_show"] == pytest.approx(larger["per_show"])


def test_a_book_without_a_tank_takes_one_that_is_typed(calc, said, tmp_path):
    from tests.rehearse.scatter_parts import BOOK

    path = tmp_path / "book.yaml"
    path.write_text(BOOK)
    assert "has no tank" in said("shows", f"book={path}")
    found = calc("shows", f"book={path}", "volume=24l", "high=8bar")
    # Its regulator is set to 4 bar, so that is what its shows need: the gas law gives the rest.
    free = 24 * (8 - 4) / 1.01325
    assert found["shows"] == int(free / found["per_show"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["shows", "volume=24l", "high=8bar"], "`per-show` is needed"),
        (["shows", "volume=24l", "high=8bar", "per-show=2l"], "`low` is needed"),
        (["shows", "volume=24l", "high=5bar", "low=8bar", "per-show=2l"], "below `high`"),
        (["recovery", "volume=24l", "high=8bar", "from=5bar"], "nothing fills this tank"),
        (["duty", "volume=24l", "high=8bar", "delivers=20l/min"], "`cut-in` is needed"),
        (["leak", "volume=24l", "high=8bar"], "say the leak"),
        (["leak", "volume=24l", "high=8bar", "loses=1bar"], "has both"),
        (["rush", "high=8bar", "low=3bar", "per-show=2l"], "`every` is needed"),
    ],
)
def test_what_is_missing_is_said_with_what_to_write(said, words, says):
    assert says in said(*words)


SITE = """\
site: 1
name: the old pier
air:
  compressor: {delivers: DELIVERS, at: 8 bar, cut in: 6 bar, cut out: 8 bar, duty: 100 %}
  tank: 24 l
lasts: 3 h
books:
  - {book: one.yaml, shows per hour: 60, needs: 5 bar}
  - {book: one.yaml, shows per hour: 30, needs: 3 bar}
"""


@pytest.fixture
def site(tmp_path):
    from tests.rehearse.scatter_parts import BOOK

    (tmp_path / "one.yaml").write_text(BOOK)

    def write(delivers, text=SITE):
        path = tmp_path / "site.yaml"
        path.write_text(text.replace("DELIVERS", delivers))
        return path

    return write


def test_two_books_take_what_both_take(calc, site):
    enough = calc("site", f"file={site('60 l/min')}")
    assert (enough["enough"], enough["first_weak_show"]) == (True, None)
    # Continuity: what its shows take over three hours came, or is missing in the tank at the end.
    taken, fallen = enough["shows_take"] * 180, 8e5 - enough["at_the_end"]
    came = 60 * 180 * enough["compressor_runs"] / 100
    assert came + fallen * 24 / 101_325 == pytest.approx(taken, rel=0.01)


def test_the_first_weak_show_of_a_site_is_the_one_by_hand(calc, site):
    # Nothing comes: n shows of each minute and every other minute leave 8 bar less their air; the
    # first book needs 7 bar.
    text = SITE.replace("needs: 5 bar", "needs: 7 bar")
    found = calc("site", f"file={site('6 ml/min', text)}")
    drop = found["shows_take"] / 1.5 * 1.01325 / 24  # bar a show; 1.5 shows a minute in all
    pressure, minute = 8.0, 0
    while True:
        pressure -= drop  # the first book is first in each minute
        if pressure < 7.0:
            break
        pressure -= drop * (minute % 2 == 0)
        minute += 1
    assert found["enough"] is False
    assert found["first_weak_show"] == f"One stroke, show {minute + 1}"
    assert found["weak_after"] == pytest.approx(minute)


def test_the_four_examples_are_enough_for_by_one_compressor(calc):
    # Continuity: the compressor brings what shows and leaks take, less what the tank has fallen by.
    found = calc("site", f"file={EXAMPLES / 'site.yaml'}")
    assert found["enough"] is True
    takes = found["shows_take"] + found["leaks_take"]
    fallen = 100 * (8e5 - found["at_the_end"]) / 101_325 / 180
    # From 45 l/min at 8 bar to 60 at 6, as warm as it is sucked in.
    assert 45 <= (takes - fallen) / (found["compressor_runs"] / 100) <= 60
    assert found["worst_ten_minutes"] <= found["allowed"] + 1e-6


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("tank: 24 l", "tonk: 24 l"), "site.yaml:5:3: `tonk` is no key of `air` of a site"),
        (("site: 1", "site: 2"), "reads version 1"),
        (("site: 1\n", ""), "There is no site in this file"),
        (("one.yaml", "two.yaml"), "The book `two.yaml` cannot be used"),
        (("lasts: 3 h", "lasts: 3 parsecs"), "no unit of a time"),
    ],
)
def test_a_site_is_read_as_strictly_as_a_book(said, site, change, says):
    assert says in said("site", f"file={site('60 l/min', SITE.replace(*change))}")


def test_a_site_without_books_is_refused(said, site):
    text = SITE[: SITE.index("books:")] + "books: []\n"
    assert "names no books" in said("site", f"file={site('60 l/min', text)}")
