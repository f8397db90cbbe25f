"""Builds one design for many wearers: side by side, taken up again where it was broken off, one failure on its own.

Every size is computed by itself on one thread, so its bytes depend on neither the number of workers nor their order.
Workers hand the finished files back, and this process alone writes: a cluster needs no common disk.
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

    state   : "built", "kept" (its pack was there and complete) or "failed"
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
    """What a worker hands back."""

    size: Size
    files: Mapping[str, bytes]


LOST = "its worker, or the way to it, was lost from outside, as when memory runs out"

Make = Callable[[Preset], Pack]

Told = Callable[[Size, int, int, float], None]
"""Called with a size that is done, how many are, of how many, and the seconds since the first was begun."""


def build(
    preset: Preset,
    wearers: Sequence[Wearer],
    folder: Path,
    *,
    workers: int | None = None,
    accept_faults: bool = False,
    told: Told = lambda *_: None,
    make: Make | None = None,
) -> tuple[Size, ...]:
    """The sizes in the wearers' order, each with its pack in a folder of its name inside `folder`.

    workers       : how many at a time; as many as `joblib.parallel_config` says if None
    accept_faults : as for `contents.build`
    make          : the pack of a preset, called by the workers; `contents.build` if None

    A size whose complete pack from the same inputs is there is left as it is. One that fails says why and stops none
    of the others; an interruption loses only those that were being computed.
    """
    make = make or partial(contents.build, accept_faults=accept_faults)
    keys = {one.name: fingerprint(preset, one, accept_faults=accept_faults) for one in wearers}
    done = {one.name: size for one in wearers if (size := _kept(folder / one.name, one.name, keys[one.name]))}
    left = [one for one in wearers if one.name not in done]
    start = time.perf_counter()
    for count, size in enumerate(done.values(), 1):
        told(size, count, len(wearers), 0.0)

    def finish(size: Size) -> None:
        done[size.name] = size
        told(size, len(done), len(wearers), time.perf_counter() - start)

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
    """Whether it was the workers that were lost: processes here, or those of a cluster, or the way to them."""
    return isinstance(error, BrokenProcessPool | CancelledError) or type(error).__module__.startswith("distributed")


def _made(
    preset: Preset, left: Sequence[Wearer], keys: Mapping[str, str], workers: int | None, make: Make
) -> Iterator[_Made]:
    """What the workers make, as it comes."""
    with threadpool_limits(1):
        of = design(preset)
    jobs = (delayed(_make)(of, one, keys[one.name], make) for one in left)
    return Parallel(n_jobs=workers, return_as="generator_unordered", batch_size=1, pre_dispatch="2*n_jobs")(jobs)


def _make(of: Design, one: Wearer, key: str, make: Make) -> _Made:
    """One size. Whatever goes wrong is this size's own trouble."""
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
    except Exception as error:  # a mistake of ours at one size must not cost the others
        return _Made(Size(one.name, "failed", changed, trouble=f"{type(error).__name__}: {error}"), {})
    told = tuple(ChangedEntry(field, before, after) for field, before, after in changed)
    figures = replace(made.record, graded=GradedEntry(str(of.preset.name), key, told))
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
    """Of all that a size is made from: the design, the wearer, what faults may be in it, and the program.

    It stands in the pack. A digest of private measures would tell them: there are few enough to try them all.
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
    """The size in a folder, if it was made from the same inputs and every file of it is as written."""
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
