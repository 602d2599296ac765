"""Where a study runs: in this process, in some processes here, or on an existing Dask cluster.

In: a study, a seed, how many shows, where (empty: as suits on this machine). Out: the chunks'
errors in order, the same to the last bit wherever they were reckoned. `dask.distributed` is
imported only for a scheduler's address.
"""

from __future__ import annotations

import multiprocessing
import os
import platform
import re
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from time import monotonic
from typing import TYPE_CHECKING, Any

from thundersheet import __version__
from thundersheet.base.finding import Refusal
from thundersheet.physics.bulk import kernel_print
from thundersheet.rehearse.scatter.chunk import run_chunk
from thundersheet.rehearse.scatter.draw import chunks_of
from thundersheet.rehearse.scatter.study import Study

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float64]

EXPLAINS = {
    "SCAT-02": "`--workers` takes a number of processes on this machine, or the address of a Dask "
    "scheduler that runs already: `tcp://host:8786`.",
    "SCAT-03": "The Dask scheduler could not be reached, has no workers, or has gone away. The "
    "study was not finished; nothing was written.",
    "SCAT-04": "A worker could not reckon its share: it has another version of Thundersheet or "
    "none, or it died.",
    "SCAT-05": "Running on a Dask cluster needs a library that most users never need, so it is an "
    "extra of its own.",
}
MOST_PROCESSES = 256
LONG = 8
"""Chunks of whole shows that are worth the start of further processes: some twenty seconds."""
CONNECT_S = 10.0
CLOSE_S = 5.0
POLL_S = 1.0
WAITS_S = 30.0
"""So long a cluster may be without any worker before the study is given up."""

Step = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Done:
    """The errors by chunks, and where they were reckoned."""

    parts: tuple[Table, ...]
    where: str


def errors_on(workers: str, study: Study, seed: int, shows: int, step: Step) -> Done:
    """The errors of so many shows; a Refusal where the workers cannot be had."""
    if not workers:
        workers = str(_usual(study, chunks_of(shows)))
    if workers == "1":
        return _here(study, seed, shows, step)
    if workers.isascii() and workers.isdigit() and 1 <= int(workers) <= MOST_PROCESSES:
        return _in_processes(int(workers), study, seed, shows, step)
    if re.fullmatch(r"(tcp|tls|ucx|ws|wss)://[^\s/]+:\d+/?", workers):
        return _on_cluster(workers, study, seed, shows, step)
    raise Refusal.because(
        "SCAT-02",
        f"`--workers {workers}` is neither a number of processes nor a scheduler's address.",
        f"Write 1 to {MOST_PROCESSES}, or for example `tcp://host:8786`.",
    )


def _usual(study: Study, chunks: int) -> int:
    """One process for what takes seconds; all of the machine's processors for what takes long."""
    if not study.by_events or chunks < LONG:
        return 1
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not every system has it
        return os.cpu_count() or 1


def _here(study: Study, seed: int, shows: int, step: Step) -> Done:
    count, parts = chunks_of(shows), []
    for chunk in range(count):
        parts.append(run_chunk(study, seed, chunk, shows))
        step((chunk + 1) / count)
    return Done(tuple(parts), "one process here")


def print_here() -> str:
    """What a worker must have in common with us: the program's version and the stroke's text."""
    return f"{__version__}-{kernel_print()}"


@dataclass(frozen=True, slots=True)
class Share:
    """What a worker of a cluster sends back."""

    program: str
    """Its own print; the errors are empty where that is not ours."""
    machine: str
    process: int
    errors: Table


def share_of(study: Study, seed: int, chunk: int, shows: int, wanted: str) -> Share:
    """One chunk on a worker, under the print of its own program."""
    import numpy as np

    own = print_here()
    errors = run_chunk(study, seed, chunk, shows) if own == wanted else np.empty(0)
    return Share(own, platform.node(), os.getpid(), errors)


def _in_processes(workers: int, study: Study, seed: int, shows: int, step: Step) -> Done:
    count = chunks_of(shows)
    # Spawned, not forked: numpy's and numba's threads do not survive a fork.
    spawned = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(min(workers, count), mp_context=spawned, initializer=_deaf)
    parts: dict[int, Table] = {}
    try:
        jobs: dict[Future[Table], int] = {
            pool.submit(run_chunk, study, seed, chunk, shows): chunk for chunk in range(count)
        }
        for job in as_completed(jobs):
            parts[jobs[job]] = job.result()
            step(len(parts) / count)
    except BrokenProcessPool as error:
        raise Refusal.because(
            "SCAT-04",
            "A worker process on this machine died before it had finished.",
            "Is there memory enough? Try fewer with `--workers`.",
        ) from error
    finally:
        # Interrupted or not: what has not begun is dropped, what runs ends within its chunk.
        pool.shutdown(wait=True, cancel_futures=True)
    return Done(tuple(parts[chunk] for chunk in range(count)), f"{workers} processes here")


def _deaf() -> None:
    """Let an interruption from the terminal be heard by the first process alone, which tells us."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _on_cluster(address: str, study: Study, seed: int, shows: int, step: Step) -> Done:
    count, wanted = chunks_of(shows), print_here()
    with _client(address) as client:
        if not _workers(client):
            raise _lost(address, "has no workers")
        sent = client.scatter(study, broadcast=True, hash=False)
        jobs = {
            client.submit(share_of, sent, seed, chunk, shows, wanted, pure=False): chunk
            for chunk in range(count)
        }
        parts: dict[int, Share] = {}
        for job in _finished(client, jobs, address):
            parts[jobs[job]] = _result(job, wanted)
            step(len(parts) / count)
    processes = {(share.machine, share.process) for share in parts.values()}
    where = (
        f"Dask at {address}, {_counted(len(processes), 'worker')} on "
        f"{_counted(len({machine for machine, _ in processes}), 'machine')}"
    )
    return Done(tuple(parts[chunk].errors for chunk in range(count)), where)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" + ("" if count == 1 else "s")


@contextmanager
def _client(address: str) -> Iterator[Any]:
    """A connection to a running scheduler; what was asked of it is dropped at the end."""
    try:
        connect = _distributed().Client
    except ImportError as error:
        raise Refusal.because(
            "SCAT-05",
            "Running on a Dask cluster needs `dask.distributed`, which is not installed here.",
            "Install it with `pip install 'thundersheet[scatter]'`.",
        ) from error
    try:
        client = connect(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise _lost(address, "does not answer") from error
    try:
        with client.as_current():
            yield client
    finally:
        client.close(timeout=CLOSE_S)


def _distributed() -> Any:
    return import_module("distributed")


def _workers(client: Any) -> list[dict[str, Any]]:
    return list(client.scheduler_info(n_workers=-1)["workers"].values())


def _finished(client: Any, jobs: dict[Any, int], address: str) -> Iterator[Any]:
    """The jobs as they are done; a Refusal where the cluster has gone away meanwhile."""
    wait = _distributed().wait
    waiting, last = set(jobs), monotonic()
    while waiting:
        try:
            found = wait(waiting, timeout=POLL_S, return_when="FIRST_COMPLETED")
        except TimeoutError:
            if client.status != "running":
                raise _lost(address, "has gone away") from None
            if _workers(client):
                last = monotonic()
            elif monotonic() - last > WAITS_S:
                raise _lost(address, "has lost all its workers") from None
            continue
        except CancelledError as error:
            raise _lost(address, "has gone away") from error
        yield from found.done
        waiting = set(found.not_done)


def _result(job: Any, wanted: str) -> Share:
    if job.status != "finished":
        why = job.exception() if job.status == "error" else job.status
        raise Refusal.because(
            "SCAT-04",
            f"A worker of the cluster failed: {type(why).__name__}: {why}."[:300],
            "The workers need this version of Thundersheet, in the same Python.",
        )
    share: Share = job.result()
    if share.program != wanted:
        raise Refusal.because(
            "SCAT-04",
            f"A worker of the cluster runs Thundersheet {share.program}, this is {wanted}.",
            "Install the same version on all, or the numbers would not be the same.",
        )
    return share


def _lost(address: str, what: str) -> Refusal:
    return Refusal.because(
        "SCAT-03",
        f"The Dask scheduler at {address} {what}.",
        "Start it with `dask scheduler` and `dask worker ADDRESS`, or leave `--workers` out.",
    )
