"""The errors that a user can see. Each says where, what is wrong and what to do."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any


def printable(text: str) -> str:
    """`text`, with characters that move a terminal's cursor or reverse its writing spelled out."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


class ShellgenError(Exception):
    """Base of every error that the user can correct. The command line prints it without a traceback."""


class PresetError(ShellgenError):
    """A preset that cannot be read or holds a value that is not allowed.

    The message reads "pond.yaml:3: dome.length: "5 m" is too large. Give 120 mm to 1200 mm."

    where   : dotted path of the field ("dome.length"), or "" for the file as a whole
    problem : a sentence that names what the user wrote and what is wrong with it
    remedy  : a sentence that says what to write or to do instead
    hint    : one more sentence, where it helps
    picture : a path and the drawing that shows there what is meant, which is written where the error is shown
    """

    def __init__(
        self, where: str, problem: str, remedy: str, *,
        file: str = "", line: int = 0, hint: str = "", picture: tuple[Any, Any] | None = None,
    ) -> None:  # fmt: skip
        self.where, self.problem, self.remedy = where, problem, remedy
        self.file, self.line, self.hint, self.picture = file, line, hint, picture
        shown = printable(file)
        place = f"{shown}:{line}: " if file and line else f"{shown}: " if file else ""
        field = f"{where}: " if where else ""
        super().__init__(f"{place}{field}{' '.join(filter(None, (problem, remedy, hint)))}")

    def worded(self, said: Callable[[str], str]) -> PresetError:
        """The same error, each sentence as `said` words it."""
        words = said(self.problem), said(self.remedy)
        where = self.where, *words
        return PresetError(*where, file=self.file, line=self.line, hint=said(self.hint), picture=self.picture)

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickled whole, so that an error raised in the worker process keeps all its parts."""
        again = partial(type(self), file=self.file, line=self.line, hint=self.hint, picture=self.picture)
        return again, (self.where, self.problem, self.remedy)


class GeometryError(ShellgenError):
    """A shape that cannot be computed from the figures of the preset."""


class FitError(ShellgenError):
    """Parts that are sound but do not fit together: a piece larger than the sheet, a spike off its plate."""


class FaultError(ShellgenError):
    """A shell that can be computed but should not be built, because the checks found faults in it.

    faults : their texts
    """

    def __init__(self, message: str, faults: tuple[str, ...]) -> None:
        super().__init__(message)
        self.faults = faults

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (str(self), self.faults)
