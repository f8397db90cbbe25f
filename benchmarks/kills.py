"""Writers of packs killed at random instants: is there always one whole pack, the last good one or the new one?

    python benchmarks/kills.py [--writes 300] [--builds 10] [--seed 1]

`--writes` children are killed while they put a pack of forty files in the place of another, `--builds` while they
compute a small shell from its preset. After each the folder is read as a stranger would: its record, and every file
by its SHA-256.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from smallest import HERE, pick

from shellgen import pack
from shellgen.record.files import FileEntry


@dataclass(frozen=True)
class Numbered:
    """A record that says no more than the number of its pack."""

    number: int
    files: tuple[FileEntry, ...] | None = None


def made_up(number: int, *, files: int = 40) -> dict[str, bytes]:
    """Files of a pack that no other number has, 1 to 60 kB each."""
    rng = random.Random(number)
    return {f"sheets-{k % 4}/{number}-{k}.bin": rng.randbytes(rng.randrange(1_000, 60_000)) for k in range(files)}


def whole(folder: Path) -> int:
    """The number of the pack in the folder; AssertionError if anything in it is not as its record says."""
    record = json.loads((folder / pack.RECORD).read_text(encoding="utf-8"))
    stand = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    listed = {item["path"]: item["sha256"] for item in record["files"]}
    assert set(stand) == {*listed, pack.RECORD}, set(stand) ^ {*listed, pack.RECORD}
    assert all(hashlib.sha256(stand[path]).hexdigest() == digest for path, digest in listed.items())
    return record.get("number", -1)


def _killed(write: object, after: float) -> int:
    """A child forked off, killed after some seconds; its exit status, negative if it was killed."""
    child = os.fork()
    if child == 0:
        try:
            write()  # type: ignore[operator]
        finally:
            os._exit(0)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def kill_writes(folder: Path, count: int, *, seed: int = 1, files: int = 40) -> Counter[str]:
    """What became of writes killed at an instant of their own, until `count` were killed before they were done."""
    rng, outcomes = random.Random(seed), Counter[str]()
    start = time.perf_counter()
    pack.write(folder, Numbered(0), made_up(0, files=files))
    pack.write(folder, Numbered(0), made_up(0, files=files))  # over an older one, as the killed ones
    usual, last, number = (time.perf_counter() - start) / 2, 0, 0
    while sum(found for what, found in outcomes.items() if what.startswith("killed")) < count:
        number += 1
        content = made_up(number, files=files)
        ended = _killed(lambda c=content, n=number: pack.write(folder, Numbered(n), c), rng.uniform(0, usual))
        usual *= 1.02 if ended < 0 else 0.8  # as busy as the computer is now
        now = whole(folder)
        assert now in (last, number), f"pack {now} stands where {last} or {number} should"
        outcomes[f"{'killed' if ended < 0 else 'was done'}: {'new' if now == number else 'old'} pack whole"] += 1
        last = now
    pack.write(folder, Numbered(-1), made_up(-1, files=files))
    left = [path.name for path in folder.parent.iterdir()]
    assert left == [folder.name], f"left behind: {left}"
    return outcomes


def kill_builds(folder: Path, count: int, *, seed: int = 1) -> Counter[str]:
    """What became of `count` whole builds, each a process of its own killed at an instant of its own."""
    rng, outcomes = random.Random(seed), Counter[str]()
    path = folder.parent / "small.yaml"
    path.write_bytes((HERE / "small.yaml").read_bytes())
    words = [sys.executable, "-c", "from shellgen.cli import main; main()", "build", str(path), "--out", str(folder)]
    start = time.perf_counter()
    subprocess.run(words, check=True, capture_output=True)
    usual, before = time.perf_counter() - start, (folder / pack.RECORD).read_bytes()
    for _ in range(count):
        with subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as child:
            time.sleep(rng.uniform(0, 1.05 * usual))
            child.kill()
        whole(folder)
        assert (folder / pack.RECORD).read_bytes() == before, "the same preset gave another record"
        outcomes["killed: pack whole" if child.returncode else "was done: pack whole"] += 1
    return outcomes


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--writes", type=int, default=pick(300, 3))
    parser.add_argument("--builds", type=int, default=pick(10, 0))
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    for what, count in ((kill_writes, chosen.writes), (kill_builds, chosen.builds)):
        if not count:
            continue
        with tempfile.TemporaryDirectory() as folder:
            start = time.perf_counter()
            outcomes = what(Path(folder) / "toad", count, seed=chosen.seed)
            print(f"{what.__name__}: {count} in {time.perf_counter() - start:.0f} s", dict(outcomes), flush=True)


if __name__ == "__main__":
    main()
