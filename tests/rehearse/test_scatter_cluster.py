"""The same study on a Dask cluster of two worker processes on this machine's loopback."""

import sys
from contextlib import contextmanager

import numpy as np
import pytest
from tests.rehearse.scatter_parts import BOOK

from thundersheet.base.finding import Refusal
from thundersheet.book.read import read_text
from thundersheet.plan.plan import make_plan
from thundersheet.rehearse import scatter_workers
from thundersheet.rehearse.scatter_chunk import joined
from thundersheet.rehearse.scatter_draw import CHUNK
from thundersheet.rehearse.scatter_study import study_of
from thundersheet.rehearse.scatter_workers import errors_on

SHOWS = 7 * CHUNK + 20


@pytest.fixture(scope="module")
def one_stroke():
    book = read_text(BOOK)
    return study_of(book, make_plan(book))


@contextmanager
def cluster(workers):
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=":0"
    ) as running:
        yield running.scheduler_address


@pytest.fixture(scope="module")
def two_workers():
    with cluster(2) as address:
        yield address


def test_two_workers_give_the_same_numbers_to_the_last_bit(one_stroke, two_workers):
    here = errors_on("", one_stroke, 6, SHOWS, lambda _: None)
    steps = []
    there = errors_on(two_workers, one_stroke, 6, SHOWS, steps.append)
    assert np.array_equal(joined(there.parts), joined(here.parts), equal_nan=True)
    assert steps[-1] == 1.0
    assert there.where == f"Dask at {two_workers}, 2 workers on 1 machine"


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
    with cluster(0) as address, pytest.raises(Refusal, match="has no workers"):
        errors_on(address, one_stroke, 1, 10, lambda _: None)


def test_a_missing_dask_is_said_in_one_sentence_with_how_to_install_it(one_stroke, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(Refusal, match=r"pip install 'thundersheet\[scatter\]'"):
        errors_on("tcp://127.0.0.1:8786", one_stroke, 1, 10, lambda _: None)
