"""Where a search runs: on this machine, or on a cluster that is running already.

The only module that knows the cluster's library, which comes with the extra ``cluster``.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

from nesting.errors import ClusterError

ANSWER_SECONDS = 10.0
"""A scheduler that has not answered by then is not there."""


@contextmanager
def search_workers(
    address: str | None, workers: int | None
) -> Iterator[tuple[Executor | None, int]]:
    """Yield an executor, None for this machine, and on how many processes to search.

    Parameters
    ----------
    address
        Of a cluster's scheduler, or None.
    workers
        As asked for; None or 0 is all there are.
    """
    if address is None:
        yield None, workers or os.cpu_count() or 1
        return
    with cluster_at(address) as (executor, count):
        yield executor, workers or count


@contextmanager
def cluster_at(address: str) -> Iterator[tuple[Executor, int]]:
    """Yield an executor on the cluster whose scheduler is at an address, and its workers' number.

    Every worker must have this package installed, in the same version.

    Raises
    ------
    ClusterError
        If the extra is not installed, no scheduler answers, or it has no workers.
    """
    try:
        from distributed import Client
    except ImportError as error:
        raise ClusterError(
            "a search on a cluster needs one library more: pip install 'salvage-nest[cluster]'"
        ) from error
    try:
        client = Client(address, timeout=ANSWER_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise ClusterError(
            f"no scheduler answers at {address}; start one with 'dask scheduler', and workers "
            "with 'dask worker ADDRESS --nthreads 1', then give the address it prints"
        ) from error
    with client:
        workers = len(client.nthreads())
        if not workers:
            raise ClusterError(
                f"the scheduler at {address} has no workers; start some with "
                f"'dask worker {address} --nthreads 1'"
            )
        yield client.get_executor(), workers
