"""A worker process, so that what does not wait for each other is computed at the same time."""

from __future__ import annotations

import gc
import os
import signal
import threading
import time
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from importlib import import_module
from itertools import count
from typing import Any

from threadpoolctl import threadpool_limits

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # where no worker can be had, all is computed in this process
    from joblib import cpu_count
    from joblib.externals.loky import ProcessPoolExecutor

from shellgen.core.memory import MEMORY

SELDOM = (50_000, 20, 100)
"""How often Python looks for cycles of garbage (`gc.set_threshold`). A build leaves hardly any, and the usual rate
takes a tenth of its time."""


@contextmanager
def started(preload: str) -> Iterator[Worker | None]:
    """The worker, which imports the module `preload` while it starts; None where there is only one core, or no
    shared memory for a second process."""
    usual = gc.get_threshold()
    gc.set_threshold(*SELDOM)
    try:
        with _process(preload) if cpu_count() > 1 else nullcontext() as worker:
            yield worker
    finally:
        gc.set_threshold(*usual)


@contextmanager
def _process(preload: str) -> Iterator[Worker | None]:
    try:
        process = ProcessPoolExecutor(max_workers=1, initializer=_ready, initargs=(os.getpid(), preload))
        with _uninterrupted():
            process.submit(os.getpid)  # starts it at once
    except OSError:  # such as a /dev/shm of a few kB, in some containers
        yield None
        return
    line = Worker(process)
    try:
        yield line
    finally:
        line.shutdown(wait=False, cancel_futures=True)
        process.shutdown(wait=False, kill_workers=True)


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """What is started in here ignores Ctrl-C, which every process of a terminal gets: this one ends the worker."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


class Worker(Executor):
    """Gives the process one task at a time, so that those not yet begun can be cancelled.

    An object that an earlier task was sent is not sent again: to send a finished shell takes longer than some of what
    is computed from it. `forget` lets go of them all.
    """

    def __init__(self, process: Executor) -> None:
        self._process, self._waiting = process, ThreadPoolExecutor(1)
        self._sent: dict[int, tuple[int, Any]] = {}
        self._numbers, self._ended = count(), False

    def submit(self, make: Callable[..., Any], /, *of: Any, **named: Any) -> Future[Any]:
        return self._waiting.submit(self._send, make, of, named)

    def forget(self) -> None:
        self._waiting.submit(self._forget)

    def _forget(self) -> None:
        self._sent, self._ended = {}, True

    def _send(self, make: Callable[..., Any], of: tuple[Any, ...], named: dict[str, Any]) -> Any:
        new = {id(value): (next(self._numbers), value) for value in of if id(value) not in self._sent}
        sent = tuple(_Again(self._sent[id(v)][0]) if id(v) in self._sent else _First(new[id(v)][0], v) for v in of)
        result = self._process.submit(_call, self._ended, make, sent, named).result()
        self._ended = False
        self._sent |= new  # only now is it sure that they arrived; they are held, so that no other takes over their id
        return result

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self._waiting.shutdown(wait, cancel_futures=cancel_futures)


@dataclass(frozen=True, slots=True)
class _First:
    number: int
    value: Any


@dataclass(frozen=True, slots=True)
class _Again:
    """Stands for a value that was sent with this number."""

    number: int


_arrived: dict[int, Any] = {}
"""In the worker only: what it was sent, by number."""


def _call(ended: bool, make: Callable[..., Any], sent: tuple[_First | _Again, ...], named: dict[str, Any]) -> Any:
    """What the function returns. ended : the build before has ended, so what it was sent can go"""
    if ended:
        _arrived.clear()
        MEMORY.sweep()
    _arrived.update({each.number: each.value for each in sent if isinstance(each, _First)})
    return make(*(_arrived[each.number] for each in sent), **named)


def _ready(parent: int, preload: str) -> None:
    """Loads the program, and gives all sums one thread: more change their last digits."""
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    gc.set_threshold(*SELDOM)
    import_module(preload)
    threadpool_limits(1)


def _end_with(parent: int) -> None:
    """Ends this process when the one that started it is gone, even if that was killed."""
    while os.getppid() == parent:
        time.sleep(1)
    os._exit(1)
