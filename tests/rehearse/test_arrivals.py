"""Guests of an evening: how they gather, and how long they wait, against queueing theory."""

from __future__ import annotations

from itertools import pairwise
from math import exp, factorial

import numpy as np
import pytest

from thundersheet.base.finding import Refusal
from thundersheet.book.new import new_book
from thundersheet.book.read import read_text
from thundersheet.rehearse.arrivals import Party, fixed, gather, poisson
from thundersheet.rehearse.arrivals_read import Hours, read_arrivals, read_hours

SERVICE = 100.0


def mean_wait(per_hour: float, per_show: int, hours: float, seed: int) -> float:
    """The mean wait of the guests of a very long evening."""
    until = hours * 3600.0
    parties = poisson(per_hour, until, seed)
    return gather(parties, per_show=per_show, service_s=SERVICE, until_s=until).queue.mean_wait_s


@pytest.mark.parametrize("load", [0.3, 0.6, 0.8])
def test_groups_of_one_wait_as_pollaczek_and_khinchine_say(load):
    # M/D/1: Wq = rho s / (2 (1 - rho)) (Pollaczek-Khinchine; Kleinrock, Queueing Systems I, 1975,
    # eq. 5.63 with no variance of service).
    theory = load * SERVICE / (2.0 * (1.0 - load))
    found = np.mean([mean_wait(3600.0 * load / SERVICE, 1, 1000.0, seed) for seed in range(3)])
    assert found == pytest.approx(theory, rel=0.08)


def bulk_wait(load: float, room: int) -> float:
    """M/D^[1,K]/1: served as soon as one waits, up to K at a time; the mean wait, numerically.

    The embedded chain counts those left behind when a show begins: next = max(0, left + arrived -
    K), from an empty line after the first guest to come. Its stationary law by linear algebra; the
    time-mean of the line by renewal reward, and from that the wait by Little's law (Chaudhry and
    Templeton, A First Course in Bulk Queues, 1983, has the same chain).
    """
    rate = load * room / SERVICE
    size = 400
    mean = rate * SERVICE
    come = np.array([exp(-mean) * mean**k / factorial(k) for k in range(120)])
    chain = np.zeros((size, size))
    for left in range(size):
        for arrived, share in enumerate(come):
            waiting = left + arrived
            then = max(0, waiting - room)  # nobody: the next guest is served as he comes
            chain[left, min(then, size - 1)] += share
    law = np.linalg.lstsq(
        np.vstack([chain.T - np.eye(size), np.ones(size)]),
        np.append(np.zeros(size), 1.0),
        rcond=None,
    )[0]
    # Over one cycle, from start to start: the line's integral and the cycle's length.
    area = float(law @ (np.arange(size) * SERVICE)) + rate * SERVICE**2 / 2.0
    idle = float(law[0]) * come[0] / rate
    line = area / (SERVICE + idle)
    return line / rate


@pytest.mark.parametrize(("load", "room"), [(0.5, 6), (0.8, 6), (0.7, 2)])
def test_groups_wait_as_a_bulk_queue_s_embedded_chain_says(load, room):
    theory = bulk_wait(load, room)
    per_hour = 3600.0 * load * room / SERVICE
    found = np.mean([mean_wait(per_hour, room, 300.0, seed) for seed in range(3)])
    assert found == pytest.approx(theory, rel=0.06)


def test_the_bulk_chain_itself_agrees_with_m_d_1():
    assert bulk_wait(0.6, 1) == pytest.approx(0.6 * SERVICE / 0.8, rel=1e-6)


def test_arrivals_at_random_are_a_poisson_stream():
    # Of a Poisson stream the counts of equal stretches have their mean as variance.
    parties = poisson(60.0, 360_000.0, 3)
    counts = np.bincount([int(each.at_s // 600.0) for each in parties])
    assert counts.mean() == pytest.approx(10.0, rel=0.05)
    assert counts.var() == pytest.approx(10.0, rel=0.15)


def test_the_same_seed_brings_the_same_guests_and_another_does_not():
    assert poisson(60.0, 7200.0, 5) == poisson(60.0, 7200.0, 5)
    assert poisson(60.0, 7200.0, 5) != poisson(60.0, 7200.0, 6)


def test_no_two_shows_overlap_and_nobody_is_lost():
    parties = poisson(200.0, 10_800.0, 2)
    found = gather(parties, per_show=6, service_s=104.0, until_s=10_800.0)
    assert all(b.at_s - a.at_s >= 104.0 - 1e-9 for a, b in pairwise(found.starts))
    queue = found.queue
    assert queue.came == len(parties) == queue.played + queue.left_waiting
    assert queue.played == sum(start.guests for start in found.starts)
    assert max(start.guests for start in found.starts) <= 6


def test_a_party_that_fits_is_not_torn_apart_and_one_that_does_not_is():
    together = gather(
        [Party(0.0, 1), Party(1.0, 4), Party(2.0, 4)], per_show=6, service_s=100.0, until_s=1e4
    )
    assert [start.guests for start in together.starts] == [1, 4, 4]
    apart = gather([Party(0.0, 14)], per_show=6, service_s=100.0, until_s=1e4)
    assert [start.guests for start in apart.starts] == [6, 6, 2]


def test_guests_who_come_evenly_and_slowly_never_wait():
    found = gather(fixed(120.0, 3600.0), per_show=1, service_s=104.0, until_s=3600.0)
    assert len(found.starts) == 30
    assert found.queue.longest_wait_s == 0.0


def test_a_pressed_start_plays_whenever_the_prop_is_ready():
    found = gather([Party(50.0)], per_show=6, service_s=100.0, until_s=1000.0, pressed=True)
    assert [start.at_s for start in found.starts] == [100.0 * k for k in range(10)]
    assert [start.guests for start in found.starts] == [0, 1, *[0] * 8]


HOURS = Hours(19 * 3600.0, 22 * 3600.0)


def test_a_file_of_clock_times_is_read_with_heading_comments_and_parties(tmp_path):
    file = tmp_path / "came.csv"
    file.write_text("time,guests\n19:03,4\n# a lull\n19:05:30\n21:59;2\n23:10\n")
    found = read_arrivals(str(file), HOURS, 1)
    assert found == (Party(180.0, 4), Party(330.0), Party(10_740.0, 2))


def test_an_evening_past_midnight_counts_on(tmp_path):
    file = tmp_path / "came.txt"
    file.write_text("23:30\n0:15\n")
    hours = read_hours(read_text(new_book("x")), "23:00", "1:00")
    assert [each.at_s for each in read_arrivals(str(file), hours, 1)] == [1800.0, 4500.0]


def test_a_line_that_is_no_time_is_refused_with_its_number(tmp_path):
    file = tmp_path / "came.txt"
    file.write_text("19:03\nsoon\n19:04, many\n")
    with pytest.raises(Refusal) as refused:
        read_arrivals(str(file), HOURS, 1)
    assert [f.place.line for f in refused.value.findings] == [2, 3]
    assert {f.code for f in refused.value.findings} == {"EVENING-02"}


@pytest.mark.parametrize("text", ["poisson:0/h", "fixed:0 s", "poisson:often", "poisson:60/h of 0"])
def test_arrivals_that_say_no_time_are_refused(text):
    with pytest.raises(Refusal) as refused:
        read_arrivals(text, HOURS, 1)
    assert refused.value.findings[0].code == "EVENING-01"


def test_an_evening_without_time_is_refused():
    with pytest.raises(Refusal) as refused:
        read_hours(read_text(new_book("x")), "19:00", "19:00")
    assert refused.value.findings[0].code == "EVENING-03"
