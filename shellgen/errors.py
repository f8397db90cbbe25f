"""The errors a user may see. Each says where, what was found and what is allowed."""

from __future__ import annotations

from functools import partial
from typing import Any


def printable(text: str) -> str:
    """`text` with what could move a terminal's cursor or turn its writing spelled out."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


class ShellgenError(Exception):
    """Base of every error that is the user's to mend. The command line prints it without a traceback."""


class PresetError(ShellgenError):
    """A preset that cannot be read or holds a value that is not allowed.

    where   : dotted path of the field ("dome.length"), or "" for the file as a whole
    found   : what stands there, as the user wrote it
    allowed : what may stand there, in words
    """

    def __init__(self, where: str, found: str, allowed: str, *, file: str = "", line: int = 0, hint: str = "") -> None:
        self.where, self.found, self.allowed = where, found, allowed
        self.file, self.line, self.hint = file, line, hint
        shown = printable(file)
        place = f"{shown}:{line}: " if file and line else f"{shown}: " if file else ""
        field = f"{where}: " if where else ""
        tail = f" ({hint})" if hint else ""
        super().__init__(f"{place}{field}found {found}; allowed: {allowed}{tail}")

    def __reduce__(self) -> tuple[Any, ...]:
        """So that one raised in another process arrives whole."""
        again = partial(type(self), file=self.file, line=self.line, hint=self.hint)
        return again, (self.where, self.found, self.allowed)


class GeometryError(ShellgenError):
    """A shape that cannot be made from the figures asked for."""


class FitError(ShellgenError):
    """Parts that are each sound but do not go together: a piece larger than the sheet, a spike off its plate."""


class FaultError(ShellgenError):
    """A shell that can be computed but should not be built: the checks found faults in it.

    faults : their texts
    """

    def __init__(self, message: str, faults: tuple[str, ...]) -> None:
        super().__init__(message)
        self.faults = faults

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (str(self), self.faults)
