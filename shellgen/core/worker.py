"""A second process, so that what does not wait for each other is made at the same time."""

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
from typing import Any

from threadpoolctl import threadpool_limits

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # where no second process can be had, all is made in this one; nobody need know
    from joblib import cpu_count
    from joblib.externals.loky import ProcessPoolExecutor

SELDOM = (50_000, 20, 100)
"""How often Python looks for rings of objects that nothing holds (`gc.set_threshold`). A build makes hardly any, and to
look through all that a shell is made of as often as is usual takes a tenth of its time."""


@contextmanager
def helper() -> Iterator[Executor | None]:
    """The process, on its way; none where there is but one core, or no room for what two of them share."""
    usual = gc.get_threshold()
    gc.set_threshold(*SELDOM)
    try:
        with _other() if cpu_count() > 1 else nullcontext() as other:
            yield other
    finally:
        gc.set_threshold(*usual)


@contextmanager
def _other() -> Iterator[Executor | None]:
    try:
        process = ProcessPoolExecutor(max_workers=1, initializer=_ready, initargs=(os.getpid(),))
        with _uninterrupted():
            process.submit(os.getpid)  # starts it at once
    except OSError:  # such as a /dev/shm of a few kB, in some containers
        yield None
        return
    line = _Line(process)
    try:
        yield line
    finally:
        line.shutdown(wait=False, cancel_futures=True)
        process.shutdown(wait=False, kill_workers=True)


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """What is started in here ignores Ctrl-C, which every process of a terminal gets: the first one ends it."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


class _Line(Executor):
    """Gives a process one thing at a time, so that whatever has not been begun can still be called off.

    What is the very same object as at the time before is not sent again: to send a finished shell takes longer than
    some of what is made of it.
    """

    def __init__(self, process: Executor) -> None:
        self._process, self._waiting = process, ThreadPoolExecutor(1)
        self._before: tuple[Any, ...] = ()

    def submit(self, make: Callable[..., Any], /, *of: Any, **named: Any) -> Future[Any]:
        return self._waiting.submit(self._made, make, of, named)

    def _made(self, make: Callable[..., Any], of: tuple[Any, ...], named: dict[str, Any]) -> Any:
        before, self._before = self._before, ()
        known = {id(value): _Again(place) for place, value in enumerate(before)}
        result = self._process.submit(_call, make, tuple(known.get(id(v), v) for v in of), named).result()
        self._before = of  # only now is it sure to have arrived
        return result

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self._waiting.shutdown(wait, cancel_futures=cancel_futures)


@dataclass(frozen=True, slots=True)
class _Again:
    """Stands for what came in this place the time before."""

    place: int


_arrived: tuple[Any, ...] = ()  # in the other process only


def _call(make: Callable[..., Any], sent: tuple[Any, ...], named: dict[str, Any]) -> Any:
    global _arrived
    _arrived = tuple(_arrived[v.place] if isinstance(v, _Again) else v for v in sent)
    return make(*_arrived, **named)


def _ready(parent: int) -> None:
    """Has the program loaded, and one thread for all sums: more change their last digits."""
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    gc.set_threshold(*SELDOM)
    from shellgen.pack import contents

    threadpool_limits(1)
    assert contents


def _end_with(parent: int) -> None:
    """Ends this process when the one that started it is gone, even if that was killed."""
    while os.getppid() == parent:
        time.sleep(1)
    os._exit(1)
