"""A second process, so that what does not wait for each other is made at the same time."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

from joblib import cpu_count
from joblib.externals.loky import ProcessPoolExecutor
from threadpoolctl import threadpool_limits


@contextmanager
def helper() -> Iterator[Executor | None]:
    """The process, on its way; none where there is but one core."""
    if cpu_count() < 2:
        yield None
        return
    executor = ProcessPoolExecutor(max_workers=1, initializer=_ready, initargs=(os.getpid(),))
    executor.submit(os.getpid)  # starts it at once
    try:
        yield executor
    finally:
        executor.shutdown(wait=False, kill_workers=True)


def _ready(parent: int) -> None:
    """Has the program loaded, and one thread for all sums: more change their last digits."""
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    from shellgen import contents

    threadpool_limits(1)
    assert contents


def _end_with(parent: int) -> None:
    """Ends this process when the one that started it is gone, even if that was killed."""
    while os.getppid() == parent:
        time.sleep(1)
    os._exit(1)
