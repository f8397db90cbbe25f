"""The command `shellgen sizes`: one progress view, the size chart, and what failed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from joblib import cpu_count, parallel_config

from shellgen import pack
from shellgen.cli import terminal
from shellgen.errors import FitError
from shellgen.preset import Preset
from shellgen.sizes import batch, chart
from shellgen.sizes.wearers import Wearer

WORDS = {"built": "built", "kept": "was there already", "failed": "FAILED"}

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

    FitError if the folder cannot be written, or there is no Dask for a cluster.
    """
    for worn in wearers:
        pack.hold(folder / worn.name)
    if not preset.wearer.given:
        say(f"{preset.name} does not say who it was made for (wearer:): it counts as made for whom its dome fits.")

    kept = 0

    def told(size: batch.Size, done: int, of: int, seconds: float) -> None:
        nonlocal kept
        kept += size.state == "kept"
        minutes = seconds / max(done - kept, 1) * (of - done) / 60
        left = f", about {minutes:.0f} min to go" if seconds > 60 and done < of else ""
        say(f"{seconds:6.0f} s  {done} of {of}  {size.name} {WORDS[size.state]}{left}")

    with _workers(workers, cluster, len(wearers)) as place:
        say(f"{len(wearers)} sizes, {place}")
        try:
            sizes = batch.build(preset, wearers, folder, accept_faults=accept_faults, told=told)
        except KeyboardInterrupt as error:
            kept_so_far = "Stopped. What is finished is kept: the same command builds only what is missing."
            raise KeyboardInterrupt(kept_so_far) from error
    chart.write(folder, sizes, design=str(preset.name))
    return sizes


def summary(sizes: tuple[batch.Size, ...], folder: Path) -> str:
    """The size chart, the faults, and what became of every size that failed."""
    failed = [size for size in sizes if size.state == "failed"]
    words = [
        terminal.table(chart.chart(sizes)),
        "",
        f"{len(sizes) - len(failed)} of {len(sizes)} sizes are in {folder}",
    ]
    words += [f"FAULT: {size.name}: {text}" for size in sizes for text in faults(size)]
    words += [f"FAILED: {size.name}: {size.trouble}" for size in failed]
    if failed:
        words.append("The same command again builds only what is missing.")
    return "\n".join(words)


def faults(size: batch.Size) -> tuple[str, ...]:
    """What the checks found wrong in a size that was built."""
    findings = (size.record or {}).get("findings", ())
    return tuple(finding["text"] for finding in findings if finding["level"] == "fault")


@contextmanager
def _workers(workers: int | None, cluster: str | None, most: int) -> Iterator[str]:
    """Has joblib use processes here or a cluster; yields where, in words."""
    if cluster is None:
        count = min(workers or cpu_count(), most)
        with parallel_config(backend="loky", n_jobs=count):
            yield f"{count} at a time"
        return
    try:
        from distributed import Client
    except ImportError as error:
        raise FitError('A cluster needs Dask. Install it: pip install "shellgen[cluster]"') from error
    try:
        client = Client(cluster, timeout=10)
    except (OSError, ValueError) as error:
        raise FitError(
            f"No Dask scheduler answers at {cluster}. Give the address that dask scheduler prints."
        ) from error
    if not client.scheduler_info()["workers"]:
        client.close()
        raise FitError(f"The Dask scheduler at {cluster} has no workers. Start one: dask worker {cluster}")
    with client, parallel_config(backend="dask", n_jobs=workers or -1):
        yield f"on the cluster at {cluster}"
