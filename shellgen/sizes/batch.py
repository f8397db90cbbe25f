"""Builds one design for many wearers in parallel. A stopped run can continue, and a failed size stops no other.

Every size is computed by itself on one thread, so its bytes do not depend on the number of workers or their order.
Workers return the finished files, and only this process writes: a cluster needs no shared disk.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path

from joblib import Parallel, delayed
from threadpoolctl import threadpool_limits

import shellgen
from shellgen import pack
from shellgen.errors import FaultError, ShellgenError
from shellgen.pack import contents
from shellgen.pack.contents import Pack
from shellgen.preset import Preset
from shellgen.preset.digest import trace
from shellgen.record import Record
from shellgen.record.files import ChangedEntry, GradedEntry
from shellgen.record.plain import typed
from shellgen.sizes.grade import Design, changes, design, grade
from shellgen.sizes.wearers import Wearer
from shellgen.wear import wearer


@dataclass(frozen=True, slots=True, eq=False)
class Size:
    """One wearer's size.

    state   : "built", "kept" (its pack was complete already) or "failed"
    changed : (field, in the design, in this size)
    record  : of the pack; empty if it failed
    trouble : why it failed
    """

    name: str
    state: str
    changed: tuple[tuple[str, str, str], ...] = ()
    record: Record | None = None
    trouble: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class _Made:
    """What a worker returns."""

    size: Size
    files: Mapping[str, bytes]


LOST = "its worker process, or the connection to it, was lost, for example because memory ran out"

Make = Callable[[Preset], Pack]

Report = Callable[[Size, int, int, float], None]
"""Called with a finished size, the number finished, the number of all, and the seconds since the start."""


def build(
    preset: Preset,
    wearers: Sequence[Wearer],
    folder: Path,
    *,
    workers: int | None = None,
    accept_faults: bool = False,
    report: Report = lambda *_: None,
    make: Make | None = None,
) -> tuple[Size, ...]:
    """The sizes in the wearers' order, each with its pack in a folder of its name inside `folder`.

    workers       : how many at a time; if None, the setting of `joblib.parallel_config`
    accept_faults : as for `contents.build`
    make          : the pack of a preset, called by the workers; `contents.build` if None

    A size with a complete pack from the same inputs is not built again. A failure is reported and stops no other size;
    an interruption loses only the sizes being computed.
    """
    make = make or partial(contents.build, accept_faults=accept_faults)
    keys = {one.name: fingerprint(preset, one, accept_faults=accept_faults) for one in wearers}
    done = {one.name: size for one in wearers if (size := _kept(folder / one.name, one.name, keys[one.name]))}
    left = [one for one in wearers if one.name not in done]
    start = time.perf_counter()
    for count, size in enumerate(done.values(), 1):
        report(size, count, len(wearers), 0.0)

    def finish(size: Size) -> None:
        done[size.name] = size
        report(size, len(done), len(wearers), time.perf_counter() - start)

    try:
        for made in _made(preset, left, keys, workers, make) if left else ():
            finish(_written(made, folder))
    except Exception as error:
        if not _lost(error):
            raise
        for one in left:
            if one.name not in done:
                finish(Size(one.name, "failed", trouble=LOST))
    return tuple(done[one.name] for one in wearers)


def _lost(error: Exception) -> bool:
    """Whether workers were lost: local processes, those of a cluster, or the connection to them."""
    return isinstance(error, BrokenProcessPool | CancelledError) or type(error).__module__.startswith("distributed")


def _made(
    preset: Preset, left: Sequence[Wearer], keys: Mapping[str, str], workers: int | None, make: Make
) -> Iterator[_Made]:
    """The results of the workers, in the order in which they finish."""
    with threadpool_limits(1):
        of = design(preset)
    jobs = (delayed(_make)(of, one, keys[one.name], make) for one in left)
    made: Iterator[_Made] = Parallel(
        n_jobs=workers, return_as="generator_unordered", batch_size=1, pre_dispatch="2*n_jobs"
    )(jobs)
    return made


def _make(of: Design, one: Wearer, key: str, make: Make) -> _Made:
    """One size. Any error is reported for this size only."""
    changed: tuple[tuple[str, str, str], ...] = ()
    try:
        with threadpool_limits(1):
            graded = grade(of, one.name, one.measures)
            changed = changes(of.preset, graded)
            made = make(graded)
    except FaultError as error:
        return _Made(Size(one.name, "failed", changed, trouble=" ".join((str(error), *error.faults))), {})
    except ShellgenError as error:
        return _Made(Size(one.name, "failed", changed, trouble=str(error)), {})
    except Exception as error:  # a bug at one size must not stop the others
        return _Made(Size(one.name, "failed", changed, trouble=f"{type(error).__name__}: {error}"), {})
    rows = tuple(ChangedEntry(field, before, after) for field, before, after in changed)
    figures = replace(made.record, graded=GradedEntry(str(of.preset.name), key, rows))
    return _Made(Size(one.name, "built", changed, figures), dict(made.files))


def _written(made: _Made, folder: Path) -> Size:
    size = made.size
    if size.record is None:
        return size
    try:
        pack.write(folder / size.name, size.record, made.files)
    except ShellgenError as error:
        return Size(size.name, "failed", size.changed, trouble=str(error))
    return size


def fingerprint(preset: Preset, one: Wearer, *, accept_faults: bool) -> str:
    """Digest of all inputs of a size: the design, the wearer, whether faults are accepted, and the program.

    It is stored in the pack, so it must not include private measures: there are few enough to try them all.
    """
    nobody = replace(preset, wearer=wearer.Params(group=preset.wearer.group))
    whose = (trace(of) for of in (preset.wearer, one.measures))
    parts = (repr(nobody), one.name, *whose, str(accept_faults), _program())
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


@cache
def _program() -> str:
    """Version and source of the program."""
    digest = hashlib.sha256(shellgen.__version__.encode())
    root = Path(__file__).parent.parent
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def _kept(folder: Path, name: str, key: str) -> Size | None:
    """The size in a folder, if it has the same inputs and none of its files has changed."""
    try:
        figures = typed(Record, json.loads((folder / pack.RECORD).read_text("utf-8")))
        if figures.graded is None or figures.graded.inputs != key or figures.files is None:
            return None
        for file in figures.files:
            if hashlib.sha256((folder / file.path).read_bytes()).hexdigest() != file.sha256:
                return None
    except (OSError, ValueError):  # no pack, or one of another version of the program
        return None
    changed = tuple((row.field, row.design, row.size) for row in figures.graded.changed)
    return Size(name, "kept", changed, figures)
