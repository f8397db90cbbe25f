"""A second process, so that what does not wait for each other is made at the same time."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

from joblib import cpu_count
from joblib.externals.loky import ProcessPoolExecutor
from threadpoolctl import threadpool_limits

IDLE = 300.0
"""Seconds without work after which the process ends by itself, should nobody be there to end it (chosen)."""


@contextmanager
def helper() -> Iterator[Executor | None]:
    """The process, on its way; none where there is but one core."""
    if cpu_count() < 2:
        yield None
        return
    executor = ProcessPoolExecutor(max_workers=1, timeout=IDLE, initializer=_ready)
    executor.submit(_ready)  # starts it at once
    try:
        yield executor
    finally:
        executor.shutdown(wait=False, kill_workers=True)


def _ready() -> None:
    """Has the program loaded, and one thread for all sums: more change their last digits."""
    from shellgen import contents

    threadpool_limits(1)
    assert contents
