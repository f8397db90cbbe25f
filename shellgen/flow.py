"""Runs stages one after the other and remembers what has not changed."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

Progress = Callable[[str], None]
Finished = Callable[[str, Any], None]


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """A stage's result and the fingerprint of all it was made from."""

    value: Any
    key: str


@dataclass(slots=True)
class Flow:
    """Runs stages, and takes a result from memory when nothing it was made from has changed.

    Only results of the latest run are kept, so memory stays that of one shell.

    progress : called with a stage's name before it is run; what it raises ends the run, and loses nothing kept
    finished : called with a stage's name and its result after it was run
    """

    progress: Progress = lambda _: None
    finished: Finished = lambda *_: None
    seconds: dict[str, float] = field(default_factory=dict)
    _kept: dict[str, Made] = field(default_factory=dict)

    def run(self, stage: str, make: Callable[..., Any], *sources: Any, **named: Any) -> Made:
        """`make` called with the sources, those that are Made unwrapped. Other sources count by their repr."""
        parts = [_fingerprint(source) for source in sources]
        parts += [f"{name}={_fingerprint(source)}" for name, source in named.items()]
        key = hashlib.sha256("\0".join([stage, *parts]).encode()).hexdigest()
        kept = self._kept.get(stage)
        if kept is None or kept.key != key:
            self.progress(stage)
            start = time.perf_counter()
            value = make(*map(_value, sources), **{name: _value(source) for name, source in named.items()})
            kept = Made(value, key)
            self.seconds[stage] = time.perf_counter() - start
            self._kept[stage] = kept
            self.finished(stage, value)
        return kept

    def latest(self, stage: str) -> Any:
        """The result of a stage as last run."""
        return self._kept[stage].value


def _fingerprint(source: Any) -> str:
    return source.key if isinstance(source, Made) else repr(source)


def _value(source: Any) -> Any:
    return source.value if isinstance(source, Made) else source
