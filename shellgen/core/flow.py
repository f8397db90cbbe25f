"""Runs stages one after the other and remembers what has not changed."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from shellgen.errors import ShellgenError

Progress = Callable[[str], None]
Finished = Callable[[str, Any], None]


class Made:
    """A stage's result, which may still be in the making, and the fingerprint of all it was made from."""

    __slots__ = ("_result", "key")

    def __init__(self, result: Callable[[], Any], key: str) -> None:
        self._result, self.key = result, key

    @property
    def value(self) -> Any:
        """The result, waited for where it is being made beside; what its making raised is raised here."""
        return self._result()


@dataclass(slots=True)
class Flow:
    """Runs stages, and takes a result from memory when nothing it was made from has changed.

    Only results of the latest run are kept, so memory stays that of one shell.

    progress : called with a stage's name before it is run; what it raises ends the run, and loses nothing kept
    finished : called with a stage's name and its result after it was run here
    beside   : another process, for stages that are started and not waited for
    """

    progress: Progress = lambda _: None
    finished: Finished = lambda *_: None
    beside: Executor | None = None
    seconds: dict[str, float] = field(default_factory=dict)
    _kept: dict[str, Made] = field(default_factory=dict)

    def run(self, stage: str, make: Callable[..., Any], *sources: Any, **named: Any) -> Made:
        """`make` called with the sources, those that are Made unwrapped. Other sources count by their repr."""
        return self._made(stage, self._here, make, sources, named)

    def start(self, stage: str, make: Callable[..., Any], *sources: Any, **named: Any) -> Made:
        """As `run`, but made beside what follows where there is a process for it. What has not been begun there when it
        is asked for is made here after all."""
        return self._made(stage, self._here if self.beside is None else self._there, make, sources, named)

    def _made(self, stage: str, way: Callable[..., Callable[[], Any]], make: Any, sources: Any, named: Any) -> Made:
        parts = [_fingerprint(source) for source in sources]
        parts += [f"{name}={_fingerprint(source)}" for name, source in named.items()]
        key = hashlib.sha256("\0".join([stage, *parts]).encode()).hexdigest()
        kept = self._kept.get(stage)
        if kept is None or kept.key != key:
            self.progress(stage)
            values = {name: _value(source) for name, source in named.items()}
            kept = self._kept[stage] = Made(way(stage, make, [_value(source) for source in sources], values), key)
            if way == self._here:
                self.finished(stage, kept.value)  # who is told may ask for the latest of any stage, this one too
        return kept

    def _here(self, stage: str, make: Callable[..., Any], sources: Any, named: Any) -> Callable[[], Any]:
        value, self.seconds[stage] = timed(make, *sources, **named)
        return lambda: value

    def _there(self, stage: str, make: Callable[..., Any], sources: Any, named: Any) -> Callable[[], Any]:
        assert self.beside is not None
        future = self.beside.submit(timed, make, *sources, **named)

        def here() -> Any:
            return self._here(stage, make, sources, named)()

        def result() -> Any:
            if future.cancel():  # not begun
                return here()
            try:
                value, self.seconds[stage] = future.result()
            except ShellgenError:
                raise
            except Exception:  # ended from outside, or could not be sent; a mistake of ours shows better from here
                return here()
            return value

        return cache(result)

    def latest(self, stage: str) -> Any:
        """The result of a stage as last run."""
        return self._kept[stage].value


def timed(make: Callable[..., Any], *sources: Any, **named: Any) -> tuple[Any, float]:
    """What is made, and the seconds it took."""
    start = time.perf_counter()
    return make(*sources, **named), time.perf_counter() - start


def _fingerprint(source: Any) -> str:
    return source.key if isinstance(source, Made) else repr(source)


def _value(source: Any) -> Any:
    return source.value if isinstance(source, Made) else source
