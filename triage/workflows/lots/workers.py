"""Parts of a lot scored side by side: in this process, in several, or on a cluster.

Whatever the way, the parts come back in file order with the same numbers. The
shop, and so the posterior, is sent once to each worker and stays there.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from multiprocessing import get_context
from typing import Any

from triage.domain.units.lot import BadRow, LotRow
from triage.errors import ClusterError
from triage.lot_selection.scored_unit import ScoredUnit
from triage.workflows.lots.score import score_rows
from triage.workflows.shop.shop import Shop

Scored = ScoredUnit | BadRow
Scorer = Callable[[Iterable[tuple[LotRow, ...]]], Iterator[list[Scored]]]

# Parts under way for each worker: enough to keep it busy, few enough to hold little.
_AHEAD = 3
# One core a worker: the matrix products of one unit are too small to share out.
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")

_held: Shop | None = None


def lot_scorer(
    shop: Shop, name: str, workers: int = 1, scheduler: str | None = None
) -> AbstractContextManager[Scorer]:
    """What scores parts of a lot, as a context that ends its workers.

    Parameters
    ----------
    name : of the lot's file, for faults.
    workers : processes on this machine. scheduler : address of a Dask scheduler,
        whose workers are used instead.

    Raises
    ------
    ClusterError : Dask is not installed, or nobody answers at the address.
    """
    # A fresh copy: what the shop has worked out so far stays here.
    fresh = replace(shop)
    if scheduler is not None:
        return _on_cluster(fresh, name, scheduler)
    return _in_processes(fresh, name, workers) if workers > 1 else _here(shop, name)


@contextmanager
def _here(shop: Shop, name: str) -> Iterator[Scorer]:
    yield lambda parts: (score_rows(part, shop, name) for part in parts)


@contextmanager
def _in_processes(shop: Shop, name: str, workers: int) -> Iterator[Scorer]:
    before = {variable: os.environ.get(variable) for variable in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))  # read by a child when it starts
    pool = ProcessPoolExecutor(workers, get_context("spawn"), _hold, (shop,))
    try:
        yield lambda parts: _in_order(parts, lambda part: pool.submit(_score_held, part, name), workers)
    finally:
        pool.shutdown(cancel_futures=True)
        for variable, value in before.items():
            if value is None:
                del os.environ[variable]
            else:
                os.environ[variable] = value


@contextmanager
def _on_cluster(shop: Shop, name: str, address: str) -> Iterator[Scorer]:
    try:
        from distributed import Client
    except ImportError as problem:
        raise ClusterError(
            "scoring on a cluster needs Dask: install bench-triage with its extra [cluster]"
        ) from problem
    try:
        client = Client(address, timeout=10)
    except (OSError, TimeoutError, ValueError) as problem:
        raise ClusterError(f"no Dask scheduler responds at {address}: {problem}") from problem
    with client:
        count = max(1, len(client.scheduler_info()["workers"]))
        sent = client.scatter(shop, broadcast=True, hash=False)

        def submit(part: tuple[LotRow, ...]) -> Any:
            return client.submit(score_rows, part, sent, name, pure=False)

        yield lambda parts: _in_order(parts, submit, count)


def _in_order(
    parts: Iterable[tuple[LotRow, ...]], submit: Callable[[tuple[LotRow, ...]], Any], workers: int
) -> Iterator[list[Scored]]:
    """Results in the order of the parts, few of which are under way at a time."""
    ahead: deque[Any] = deque()
    for part in parts:
        ahead.append(submit(part))
        if len(ahead) >= _AHEAD * workers:
            yield ahead.popleft().result()
    while ahead:
        yield ahead.popleft().result()


def _hold(shop: Shop) -> None:
    global _held  # a worker process scores for one shop only
    _held = shop


def _score_held(rows: tuple[LotRow, ...], name: str) -> list[Scored]:
    assert _held is not None
    return score_rows(rows, _held, name)
