"""Tables as plain text, standard streams that may be closed or full, and signals to stop."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shutil
import signal
import sys
import textwrap
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NoReturn

import click

from shellgen.errors import FaultError, ShellgenError

if TYPE_CHECKING:
    from shellgen.canvas import Table

INTERRUPTED, TERMINATED = 130, 143
"""Exit codes after Ctrl-C and SIGTERM: 128 plus the signal's number (POSIX shell, 2.8.2; common practice)."""


UNIT = re.compile(r"(?<=\d) (?=(?:mm3?|in|deg|g|kg|h|N|kPa)\b)")
"""The space before a unit."""


class Terminated(BaseException):
    """SIGTERM arrived. It unwinds like Ctrl-C, so that locks, processes and half-written folders are removed."""


class Unshown(OSError):
    """Standard output cannot be written: the disk is full, or the reader has closed it."""


class _Stream(io.RawIOBase):
    """A standard stream that fails once, with its own error, or never (if `must` is False)."""

    def __init__(self, handle: int, *, must: bool) -> None:
        self._handle, self._must = handle, must

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._handle

    def isatty(self) -> bool:
        return os.isatty(self._handle)

    def write(self, data: Any) -> int:
        try:
            return os.write(self._handle, data)
        except OSError as error:
            if self._must:
                self._must = False  # the rest of the buffer is dropped without a second error
                raise Unshown(error.errno, error.strerror) from error
            return len(data)


def open_streams() -> None:
    """Opens standard streams that the caller closed, and an error stream that never fails: a pack is worth more than
    the lines about its progress.

    Otherwise the next file opened would get the number of a closed stream, and output would go into that file.
    """
    if sys.stderr is not sys.__stderr__ or sys.stdout is not sys.__stdout__:
        return  # another program reads them, such as a test
    while (handle := os.open(os.devnull, os.O_RDWR)) <= 2:
        os.set_inheritable(handle, True)
    os.close(handle)
    if sys.platform != "win32":  # the Windows console has its own encoding
        sys.stdout, sys.stderr = _text(sys.stdout, 1, must=True), _text(sys.stderr, 2, must=False)


def _text(before: Any, handle: int, *, must: bool) -> io.TextIOWrapper:
    encoding = before.encoding if before is not None else "utf-8"
    stream = io.BufferedWriter(_Stream(handle, must=must))
    return io.TextIOWrapper(stream, encoding, "backslashreplace", line_buffering=not must or stream.isatty())


@contextlib.contextmanager
def signals() -> Iterator[None]:
    """SIGTERM raises `Terminated` inside, if this is the main thread."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def stop(*_: object) -> None:
        signal.signal(signal.SIGTERM, signal.SIG_IGN)  # a second signal must not stop the cleanup
        raise Terminated

    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


class Mistake(click.ClickException):
    """A mistake that the user can correct: one line, exit code 2, no traceback."""

    exit_code = 2


class Commands(click.Group):
    """Commands in the order a maker uses them. Errors of the package are shown as mistakes."""

    def main(self, *args: Any, **extra: Any) -> Any:
        open_streams()
        try:
            return super().main(*args, **extra)
        except Unshown as error:  # if the reader has closed the pipe, click ends silently
            click.echo(f"Error: cannot write the output: {error.strerror}", err=True)
            sys.exit(1)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            with signals():
                return super().invoke(ctx)
        except FaultError as error:
            for fault in error.faults:
                click.echo(f"FAULT: {fault}", err=True)
            _end(f"{error} To write it in spite of the faults, add --accept-faults.", 1)
        except ShellgenError as error:
            raise Mistake(f"{error}{_picture(error)}") from error
        except KeyboardInterrupt as error:
            _end(str(error) or "Stopped.", INTERRUPTED)
        except Terminated:
            _end("Ended by the system.", TERMINATED)


def _picture(error: ShellgenError) -> str:
    """Where a picture of the mistake is, if it has one."""
    if getattr(error, "picture", None) is None:
        return ""
    from shellgen.export import _problem  # heavy

    return _problem.shown(error)


def _end(message: str, code: int) -> NoReturn:
    click.echo(message, err=True)
    sys.exit(code)


def print_json(content: Any) -> None:
    click.echo(json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False))


def table(content: Table) -> str:
    """Columns under their names, figures right-aligned, words left-aligned."""
    rows = [[_cell(value) for value in row] for row in (content.columns, *content.rows)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(content.columns))]
    figures = [
        bool(content.rows) and all(isinstance(row[k], int | float) or row[k] == "" for row in content.rows)
        for k in range(len(content.columns))
    ]
    rows.insert(1, ["-" * width for width in widths])
    return "\n".join(_line(row, widths, figures) for row in rows)


def width() -> int:
    """Columns of the terminal, 80 if the output goes elsewhere; at least 40, so that wrapped text can be read."""
    return max(40, shutil.get_terminal_size().columns)


def wrapped(text: str, indent: int = 0) -> list[str]:
    """Text on lines that fit the terminal, never broken between a figure and its unit."""
    space = " " * indent
    lines = textwrap.wrap(UNIT.sub("\xa0", text), width(), initial_indent=space, subsequent_indent=space)
    return [line.replace("\xa0", " ") for line in lines]


def is_person() -> bool:
    """Whether somebody can read questions and answer them."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()


def pairs(rows: Iterable[tuple[str, str]], *, indent: str = "  ", width: int = 0) -> str:
    """Names and what belongs to them, one pair on a line. width : columns to wrap long texts at; 0 never wraps"""
    listed = list(rows)
    left = max((len(name) for name, _ in listed), default=0)
    room, below = max(20, width - len(indent) - left - 2), "\n" + " " * (len(indent) + left + 2)
    shown = ((name, below.join(textwrap.wrap(text, room)) if width else text) for name, text in listed)
    return "\n".join(f"{indent}{name:<{left}}  {text}".rstrip() for name, text in shown)


def record_table(name: str, section: Any) -> Table:
    """A section of a pack's record as a table: one row for each entry, or for each figure."""
    from shellgen.canvas import Table  # brings numpy, which "shellgen --help" can do without

    if isinstance(section, Mapping):
        return Table(name, ("figure", "value"), tuple((key, _flat(value)) for key, value in section.items()))
    if not isinstance(section, Sequence) or isinstance(section, str):
        return Table(name, ("value",), ((_flat(section),),))
    entries = [entry if isinstance(entry, Mapping) else {"value": entry} for entry in section]
    columns = tuple(dict.fromkeys(key for entry in entries for key in entry))
    return Table(name, columns or ("nothing",), tuple(tuple(_flat(e.get(c, "")) for c in columns) for e in entries))


def _flat(value: Any) -> str | float | int:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_flat(inner)}" for key, inner in value.items())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return " ".join(_cell(_flat(inner)) for inner in value)
    return "" if value is None else value


def _cell(value: str | float | int) -> str:
    text = f"{value:.6g}" if isinstance(value, float) else str(value)
    return "".join(c if c.isprintable() else "?" for c in text)


def _line(row: Sequence[str], widths: Sequence[int], figures: Sequence[bool]) -> str:
    cells = (
        f"{text:>{width}}" if right else f"{text:<{width}}"
        for text, width, right in zip(row, widths, figures, strict=True)
    )
    return "  ".join(cells).rstrip()
