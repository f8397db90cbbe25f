"""Runs stages, here or in a worker process, and takes from memory what has been computed before."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field, replace
from typing import Any, Generic, ParamSpec, TypeVar, cast

from shellgen.core.memory import MEMORY, MISSING, Memory, key_of
from shellgen.errors import ShellgenError

P = ParamSpec("P")
T = TypeVar("T")


class Pending(Generic[T]):
    """A result that may still be computed by the worker. Not for several threads at once."""

    __slots__ = ("_get", "_result")

    def __init__(self, get: Callable[[], T]) -> None:
        self._get, self._result = get, cast(T, MISSING)

    def result(self) -> T:
        """The result, once it is there. What its computation raised is raised here."""
        if self._result is MISSING:
            self._result = self._get()
        return self._result


@dataclass(frozen=True, slots=True)
class Flow:
    """Runs plain functions as stages. A stage's key is its function and the content of its arguments; what it is called
    on the screen has no part in it.

    show    : called with a stage's name for the screen before it is computed; what it raises ends the run
    worker  : another process, for stages that are started and not waited for
    seconds : time that each stage took, by its name for the screen; `title` is that name, None for small steps
    """

    show: Callable[[str], None] = lambda _: None
    worker: Executor | None = None
    memory: Memory = MEMORY
    seconds: dict[str, float] = field(default_factory=dict)
    title: str | None = None

    def named(self, title: str) -> Flow:
        """The same flow, for a stage with this name on the screen."""
        return replace(self, title=title)

    def run(self, make: Callable[P, T], /, *of: P.args, **named: P.kwargs) -> T:
        """What the function returns for these arguments, computed only if it is not remembered."""
        key = key_of(make, of, named)
        found = self.memory.get(key)
        if found is MISSING:
            return self._here(key, make, of, named)
        return cast(T, found.result() if isinstance(found, Pending) else found)

    def start(self, make: Callable[P, T], /, *of: P.args, **named: P.kwargs) -> Pending[T]:
        """As `run`, but computed by the worker while this process goes on, where there is a worker. What the worker has
        not begun when it is asked for is computed here after all."""
        key = key_of(make, of, named)
        found = self.memory.get(key)
        if isinstance(found, Pending):
            return found
        if found is not MISSING:
            return Pending(lambda: cast(T, found))
        if self.worker is None:
            done = self._here(key, make, of, named)
            return Pending(lambda: done)
        self._announce()
        future: Future[tuple[T, float]] = self.worker.submit(timed, make, *of, **named)  # type: ignore[arg-type]
        return self.memory.put(key, Pending(lambda: self._wait(future, key, make, of, named)))

    def finish(self) -> None:
        """Ends a build: drops what it did not use, in the worker too."""
        self.memory.sweep()
        if self.worker is None:
            return
        from shellgen.core.worker import Worker  # who has no worker does without what starts one

        if isinstance(self.worker, Worker):
            self.worker.forget()

    def _announce(self) -> None:
        if self.title is not None:
            self.show(self.title)

    def _here(self, key: bytes, make: Callable[..., T], of: Any, named: Any) -> T:
        self._announce()
        result, seconds = timed(make, *of, **named)
        self._took(seconds)
        return self.memory.put(key, result)

    def _took(self, seconds: float) -> None:
        if self.title is not None:
            self.seconds[self.title] = seconds

    def _wait(self, future: Future[tuple[T, float]], key: bytes, make: Callable[..., T], of: Any, named: Any) -> T:
        try:
            if not future.cancel():  # begun
                result, seconds = future.result()
                self._took(seconds)
                return result
        except ShellgenError:
            self.memory.drop(key)
            raise
        except Exception:  # noqa: S110 - ended from outside, or could not be sent; our own mistake shows better here
            pass
        try:
            result, seconds = timed(make, *of, **named)
        except BaseException:
            self.memory.drop(key)
            raise
        self._took(seconds)
        return result


def timed(make: Callable[P, T], *of: P.args, **named: P.kwargs) -> tuple[T, float]:
    """What a function returns, and the seconds it took."""
    start = time.perf_counter()
    return make(*of, **named), time.perf_counter() - start
