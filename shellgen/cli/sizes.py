"""The command `shellgen sizes`: progress, size chart and failures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from joblib import cpu_count, parallel_config

from shellgen import pack
from shellgen.cli import terminal
from shellgen.errors import FitError
from shellgen.model.said import count
from shellgen.preset import Preset
from shellgen.sizes import batch, chart
from shellgen.sizes.wearers import Wearer

WORDS = {"built": "built", "kept": "already complete", "failed": "FAILED"}

Say = Callable[[str], None]


def run(
    preset: Preset,
    wearers: tuple[Wearer, ...],
    folder: Path,
    *,
    workers: int | None = None,
    cluster: str | None = None,
    accept_faults: bool = False,
    say: Say = print,
) -> tuple[batch.Size, ...]:
    """Builds all sizes and writes the chart. `cluster` is the address of a Dask scheduler.

    FitError if the folder cannot be written or Dask is not installed.
    """
    for worn in wearers:
        pack.check_folder(folder / worn.name)
    if not preset.wearer.given:
        say(f"{preset.name} has no wearer: section, so it counts as made for a person whom its dome fits.")

    kept = 0

    def report(size: batch.Size, done: int, of: int, seconds: float) -> None:
        nonlocal kept
        kept += size.state == "kept"
        minutes = seconds / max(done - kept, 1) * (of - done) / 60
        left = f", about {minutes:.0f} min to go" if seconds > 60 and done < of else ""
        say(f"{seconds:6.0f} s  {done} of {of}  {size.name} {WORDS[size.state]}{left}")

    with _workers(workers, cluster, len(wearers)) as place:
        say(f"{count(len(wearers), 'size')}, {place}")
        try:
            sizes = batch.build(preset, wearers, folder, accept_faults=accept_faults, report=report)
        except KeyboardInterrupt as error:
            kept_so_far = "Stopped. Finished sizes are complete. The same command builds only the missing ones."
            raise KeyboardInterrupt(kept_so_far) from error
    chart.write(folder, sizes, design=str(preset.name))
    return sizes


def summary(sizes: tuple[batch.Size, ...], folder: Path) -> str:
    """The size chart, the faults, and the reason for every failure."""
    failed = [size for size in sizes if size.state == "failed"]
    words = [
        terminal.table(chart.chart(sizes)),
        "",
        f"{len(sizes) - len(failed)} of {count(len(sizes), 'size')} built in {folder}",
    ]
    words += [f"FAULT: {size.name}: {text}" for size in sizes for text in faults(size)]
    words += [f"FAILED: {size.name}: {size.trouble}" for size in failed]
    if failed:
        words.append("Run the same command again to build only the missing sizes.")
    return "\n".join(words)


def faults(size: batch.Size) -> tuple[str, ...]:
    """What the checks found wrong in a size that was built."""
    findings = size.record.findings if size.record else ()
    return tuple(finding.text for finding in findings if finding.level == "fault")


@contextmanager
def _workers(workers: int | None, cluster: str | None, most: int) -> Iterator[str]:
    """Lets joblib use local processes or a cluster; yields which, in words."""
    if cluster is None:
        at_once = min(workers or cpu_count(), most)
        with parallel_config(backend="loky", n_jobs=at_once):
            yield f"{at_once} at a time"
        return
    try:
        from distributed import Client
    except ImportError as error:
        raise FitError('A cluster needs Dask. Install it: pip install "shellgen[cluster]"') from error
    try:
        client = Client(cluster, timeout=10)  # type: ignore[no-untyped-call]  # untyped in Dask
    except (OSError, ValueError) as error:
        raise FitError(
            f"No Dask scheduler answers at {cluster}. Give the address that dask scheduler prints."
        ) from error
    if not client.scheduler_info()["workers"]:
        client.close()  # type: ignore[no-untyped-call]  # likewise
        raise FitError(f"The Dask scheduler at {cluster} has no workers. Start one: dask worker {cluster}")
    with client, parallel_config(backend="dask", n_jobs=workers or -1):
        yield f"on the cluster at {cluster}"
