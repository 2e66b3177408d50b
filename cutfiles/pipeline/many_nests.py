"""Many nests at once: in processes of this machine, or on a cluster."""

from __future__ import annotations

import importlib
import logging
import multiprocessing
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, ProcessPoolExecutor, wait
from contextlib import contextmanager, suppress
from multiprocessing.synchronize import Event
from typing import Any, Final, Protocol

from cutfiles.errors import JobError
from cutfiles.pipeline.nest_task import NestResult, NestTask, nest_task

_POLL_SECONDS: Final = 0.2

ANSWER_SECONDS: Final = 5
"""So long an address may take to answer."""

_LATE: Final = 5.0
_LATE_SECONDS: Final = 60.0
"""A cluster that gives nothing for so many times the time of a nest, and this, is given up."""

Stop = Callable[[], bool]


class Nests(Protocol):
    """Where nests are made."""

    workers: int

    def results(
        self, tasks: Sequence[NestTask], stop: Stop
    ) -> Iterator[tuple[int, NestResult | None]]:
        """The number of every task and its result, as they come; once stopped, no more than what
        comes at once."""
        ...


class ProcessNests:
    """Nests in processes of this machine."""

    def __init__(self, workers: int) -> None:
        self.workers = workers
        context = multiprocessing.get_context("spawn")
        self._stop = context.Event()
        self._context = context
        self._pool = self._new_pool()

    def _new_pool(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            self.workers, self._context, initializer=_begin, initargs=(self._stop,)
        )

    def results(
        self, tasks: Sequence[NestTask], stop: Stop
    ) -> Iterator[tuple[int, NestResult | None]]:
        """As `Nests` says. A process that dies is replaced, and its nests are made again; those
        that it takes down a second time are made here."""
        left = dict(enumerate(tasks))
        for _ in range(2):
            try:
                for number, result in self._once(left, stop):
                    del left[number]
                    yield number, result
            except BrokenExecutor:
                self._pool.shutdown(wait=False)
                self._pool = self._new_pool()
                continue
            return
        for number, task in left.items():
            if not stop():
                yield number, nest_task(task, stop)

    def _once(
        self, tasks: dict[int, NestTask], stop: Stop
    ) -> Iterator[tuple[int, NestResult | None]]:
        waiting = {self._pool.submit(_nest, task): number for number, task in tasks.items()}
        while waiting:
            done, _ = wait(waiting, timeout=_POLL_SECONDS, return_when=FIRST_COMPLETED)
            if stop() and not self._stop.is_set():
                self._stop.set()  # what runs ends with its best, and is taken
                for future in list(waiting):
                    if future.cancel():
                        del waiting[future]
            for future in sorted(done & waiting.keys(), key=lambda one: waiting[one]):
                yield waiting.pop(future), future.result()

    def close(self) -> None:
        """End the processes."""
        self._stop.set()
        self._pool.shutdown(wait=True, cancel_futures=True)
        del self._stop, self._pool  # with their semaphores: a run that ends at once leaves none


_STOP: list[Event] = []
"""In a process of its own: what says that its nest is to end."""


def _begin(stop: Event) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which says stop
    _STOP.append(stop)


def _nest(task: NestTask) -> NestResult | None:
    return nest_task(task, _STOP[0].is_set)


class ClusterNests:
    """Nests on a cluster of Dask. What a worker that ends had begun is given to another."""

    def __init__(self, client: Any, workers: int) -> None:
        self._client, self.workers = client, workers

    def results(
        self, tasks: Sequence[NestTask], stop: Stop
    ) -> Iterator[tuple[int, NestResult | None]]:
        """As `Nests` says; what the cluster fails at is made here."""
        futures = {
            self._client.submit(nest_task, task, pure=False, retries=3): number
            for number, task in enumerate(tasks)
        }
        left = dict(enumerate(tasks))
        heard = time.monotonic()
        patience = _LATE_SECONDS + _LATE * max((task.seconds for task in tasks), default=0.0)
        while futures and not stop() and time.monotonic() - heard < patience:
            time.sleep(_POLL_SECONDS)
            for future in [one for one in futures if one.done()]:
                number = futures.pop(future)
                heard = time.monotonic()
                if future.status == "finished":
                    del left[number]
                    yield number, future.result()
        with suppress(Exception):  # a cluster that is gone has nothing to cancel
            self._client.cancel(list(futures), force=True)
        for number, task in left.items():
            if not stop():
                yield number, nest_task(task, stop)

    def close(self) -> None:
        """Leave the cluster, which goes on."""
        with suppress(Exception):
            self._client.close(timeout=1)


def cluster_nests(address: str) -> ClusterNests:
    """The cluster whose scheduler has that address.

    Raises
    ------
    JobError
        If Dask is not installed, or nobody answers, or there is no worker.
    """
    try:
        distributed = importlib.import_module("distributed")
    except ImportError:
        text = "--cluster: needs distributed, which is not installed: pip install cutfiles[cluster]"
        raise JobError.of("no-cluster", text) from None
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        client = distributed.Client(address, timeout=ANSWER_SECONDS, set_as_default=False)
        workers = sum(client.nthreads().values())
    except (OSError, ValueError, RuntimeError, TypeError) as error:
        text = (
            f"--cluster: {address!r}: no scheduler answered within {ANSWER_SECONDS} s "
            f"({type(error).__name__}): start one with dask scheduler, and give the address that "
            "it shows, such as tcp://127.0.0.1:8786; or leave --cluster out"
        )
        raise JobError.of("no-cluster", text) from None
    if not workers:
        client.close(timeout=1)
        text = f"--cluster: {address!r}: has no worker: start one with dask worker {address}"
        raise JobError.of("no-cluster", text)
    return ClusterNests(client, workers)


@contextmanager
def nests_on(workers: int, cluster: str | None) -> Iterator[Nests]:
    """Where to nest: a cluster, where an address is given, or so many processes here."""
    place = ProcessNests(workers) if cluster is None else cluster_nests(cluster)
    try:
        yield place
    finally:
        place.close()
