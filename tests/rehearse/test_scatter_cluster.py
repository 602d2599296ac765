"""The same study on a Dask cluster of two worker processes on this machine's loopback."""

import os
import signal
import sys

import numpy as np
import pytest
from tests.rehearse.scatter_parts import BOOK

from thundersheet.base.finding import Refusal
from thundersheet.book.read import read_text
from thundersheet.plan.plan import make_plan
from thundersheet.rehearse.scatter import workers as scatter_workers
from thundersheet.rehearse.scatter.chunk import joined
from thundersheet.rehearse.scatter.draw import CHUNK
from thundersheet.rehearse.scatter.study import study_of
from thundersheet.rehearse.scatter.workers import errors_on

SHOWS = 7 * CHUNK + 20


@pytest.fixture(scope="module")
def one_stroke():
    book = read_text(BOOK)
    return study_of(book, make_plan(book))


def running(workers):
    from distributed import LocalCluster

    return LocalCluster(
        n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=":0"
    )


@pytest.fixture(scope="module")
def two_workers():
    with running(2) as cluster:
        yield cluster.scheduler_address


def test_two_workers_give_the_same_numbers_to_the_last_bit(one_stroke, two_workers):
    here = errors_on("", one_stroke, 6, SHOWS, lambda _: None)
    steps = []
    there = errors_on(two_workers, one_stroke, 6, SHOWS, steps.append)
    assert np.array_equal(joined(there.parts), joined(here.parts), equal_nan=True)
    assert steps[-1] == 1.0
    assert there.where == f"Dask at {two_workers}, 2 workers on 1 machine"


def test_a_worker_that_dies_is_made_up_for_by_the_others(one_stroke):
    here = errors_on("", one_stroke, 7, SHOWS, lambda _: None)
    with running(2) as cluster:
        first = next(iter(cluster.workers.values()))
        killed = []

        def kill(_):
            if not killed:
                killed.append(first.pid)
                os.kill(first.pid, signal.SIGKILL)

        there = errors_on(cluster.scheduler_address, one_stroke, 7, SHOWS, kill)
    assert killed
    assert np.array_equal(joined(there.parts), joined(here.parts), equal_nan=True)


def test_a_cluster_that_goes_away_under_way_is_said(one_stroke):
    with running(1) as cluster, pytest.raises(Refusal, match="SCAT-03"):
        errors_on(cluster.scheduler_address, one_stroke, 7, 400 * CHUNK, lambda _: cluster.close())


def test_a_worker_with_another_program_is_refused(one_stroke, two_workers, monkeypatch):
    monkeypatch.setattr(scatter_workers, "print_here", lambda: "0.0.1-of-another-machine")
    with pytest.raises(Refusal, match=r"runs Thundersheet .*Install the same version"):
        errors_on(two_workers, one_stroke, 1, 10, lambda _: None)


def test_a_scheduler_that_does_not_answer_is_said(one_stroke, monkeypatch):
    monkeypatch.setattr(scatter_workers, "CONNECT_S", 0.5)
    # RFC 863's discard port: nothing listens there on a test machine.
    with pytest.raises(Refusal, match=r"tcp://127.0.0.1:9 does not answer.*SCAT-03"):
        errors_on("tcp://127.0.0.1:9", one_stroke, 1, 10, lambda _: None)


def test_a_cluster_without_workers_is_said(one_stroke):
    with running(0) as cluster, pytest.raises(Refusal, match="has no workers"):
        errors_on(cluster.scheduler_address, one_stroke, 1, 10, lambda _: None)


def test_a_missing_dask_is_said_in_one_sentence_with_how_to_install_it(one_stroke, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(Refusal, match=r"pip install 'thundersheet\[scatter\]'"):
        errors_on("tcp://127.0.0.1:8786", one_stroke, 1, 10, lambda _: None)
