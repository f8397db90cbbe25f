"""Results remembered by a function and the content of its arguments, so that a small change is a small computation."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from functools import wraps
from threading import Lock
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from shellgen.core.content import digest

P = ParamSpec("P")
R = TypeVar("R")
T = TypeVar("T")
Many = Callable[Concatenate[Sequence[T], P], R]
Key = Hashable

MISSING = object()


BUILDS = 3
"""Results that the latest so many builds did not use are dropped: who undoes an edit gets them back at once."""


class Memory:
    """Results by key, with the number of the build that last asked for each. Threads may use it at the same time."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._results: dict[Key, Any] = {}
        self._asked: dict[Key, int] = {}
        self._build = 0

    def get(self, key: Key) -> Any:
        """The result, or MISSING."""
        with self._lock:
            found = self._results.get(key, MISSING)
            if found is not MISSING:
                self._asked[key] = self._build
            return found

    def put(self, key: Key, result: T) -> T:
        """Stores a result, and returns the one that is stored: the first, if two threads computed it."""
        with self._lock:
            self._asked[key] = self._build
            return cast(T, self._results.setdefault(key, result))

    def drop(self, key: Key) -> None:
        with self._lock:
            self._results.pop(key, None)

    def sweep(self) -> None:
        """Ends a build."""
        with self._lock:
            self._build += 1
            self._asked = {key: asked for key, asked in self._asked.items() if self._build - asked <= BUILDS}
            self._results = {key: found for key, found in self._results.items() if key in self._asked}

    def clear(self) -> None:
        with self._lock:
            self._results, self._asked = {}, {}


MEMORY = Memory()
"""Of this process."""


def key_of(make: Callable[..., Any], of: tuple[Any, ...], named: dict[str, Any]) -> bytes:
    """Stands for a call. TypeError where a function or an argument has no content (see `digest`)."""
    return digest((make, of, named))


def remembered(make: Callable[P, R]) -> Callable[P, R]:
    """Has the results of a pure function remembered by the content of its arguments. What it raises is not kept."""
    own = object()

    @wraps(make)
    def recalled(*of: P.args, **named: P.kwargs) -> R:
        key = (own, digest((of, named)))
        found = MEMORY.get(key)
        return cast(R, found) if found is not MISSING else MEMORY.put(key, make(*of, **named))

    return recalled


def remembered_each(key_of_one: Callable[[T], Hashable]) -> Callable[[Many[T, P, Iterable[R]]], Many[T, P, list[R]]]:
    """The same for a function that makes many small things at once, one from each of a sequence: those that are new are
    made together. Each goes by `key_of_one`, which may be equal for two only where the same is made of them: to digest
    so little would cost more than it saves. The further arguments go by their content."""

    def around(make: Many[T, P, Iterable[R]]) -> Many[T, P, list[R]]:
        own = object()

        @wraps(make)
        def recalled(of: Sequence[T], /, *rest: P.args, **named: P.kwargs) -> list[R]:
            also = digest((rest, named))
            asked = [(own, key_of_one(one), also) for one in of]
            known = {key: found for key in set(asked) if (found := MEMORY.get(key)) is not MISSING}
            new = {key: one for key, one in zip(asked, of, strict=True) if key not in known}
            if new:
                made = make(list(new.values()), *rest, **named)
                known.update({key: MEMORY.put(key, one) for key, one in zip(new, made, strict=True)})
            return [known[key] for key in asked]

        return recalled

    return around
