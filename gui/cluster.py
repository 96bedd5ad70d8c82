"""Where do thousands of recordings run when one machine is too slow? On Dask's workers.

Every worker must see the recordings under the same path as whoever asks, and have strokewise.
"""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Iterator
from concurrent.futures import Executor

from strokewise.analysis.errors import InputError

CONNECT_S = 10.0
"""A scheduler in the house answers within a second; a wrong address never does."""


@contextlib.contextmanager
def on_cluster(address: str) -> Iterator[Executor]:
    """Lend the workers of a cluster; a worker that dies has its recordings done by another.

    Parameters
    ----------
    address : str
        Of the scheduler, ``tcp://10.0.0.5:8786``.

    Raises
    ------
    InputError
        When Dask's distributed is missing, nothing answers there, or one recording ended worker
        after worker.
    """
    try:
        from distributed import Client, KilledWorker
    except ImportError:
        raise InputError(
            "a cluster needs Dask's distributed: pip install distributed, or leave out --cluster"
        ) from None
    # That a worker died is its own business: what it had is done anew, and nobody need act.
    logging.getLogger("distributed.client").setLevel(logging.ERROR)
    try:
        client = Client(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise InputError(f"no cluster answers at {address}: {error}") from None
    with client:
        try:
            # Nothing is pure here: an answer hangs on a file that may have changed since.
            yield client.get_executor(pure=False)
        except KilledWorker:
            raise InputError(
                f"a recording ended several workers of {address}, one after the other; look at"
                " their memory, and go on with --resume"
            ) from None
