"""Every figure of a preset at its least and at its most, one at a time: what takes long, and what takes much memory?

    python benchmarks/extremes.py [--match spikes] [--through shell|pack] [--seconds 300] [--megabytes 2048]

Each preset is a small shell with one line changed, built in a process of its own that is ended after so many
seconds of work.
A line is printed for each that is refused, ends in anything but a good result or one clear error, or takes more than
a third of what is allowed; then the slowest and the largest.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import resource
import tempfile
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import Field
from itertools import pairwise
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from smallest import pick

from shellgen import pipeline, preset
from shellgen.core import flow, registry
from shellgen.errors import ShellgenError
from shellgen.fields import params, units
from shellgen.pack import contents

SMALL: dict[str, Any] = {
    "name": "small",
    "dome": {"kind": "plan", "length": 300, "width": 260, "height": 90},
    "mesh": {"edge": pick(30, 40)},
    "plates": {"layout": "turtle", "vertebrals": 3, "pleurals": 2, "marginals": 6},
    "seams": {"plan": "plates"},
    "shape": {"rounds": pick(1, 0)},
    "spikes": [{"plates": ["marginal"], "base_diameter": 20, "height": 30}],
    "nest": {"effort": "quick", "sheets": [{"length": 1000, "width": 1000}]},
}
NEEDED = {"plate": "vertebral-2", "between": [], "length": 1000, "width": 1000}
"""What stands in lines that a section cannot do without."""


def changes() -> Iterator[tuple[str, dict[str, Any]]]:
    """Name and content of every preset that differs from the small one in one line."""
    for where, value in _sections(params.specs(preset.Preset), ()):
        content = json.loads(json.dumps(SMALL))
        _put(content, where, value)
        yield f"{'.'.join(map(str, where))} = {value}", content


def _sections(specs: dict[str, Field], where: tuple[Any, ...], skip: str = "") -> Iterator[tuple[tuple[Any, ...], Any]]:
    for name, field in specs.items():
        spec, here = field.metadata, (*where, name)
        if name == skip:
            continue
        if spec["kind"] == "group":
            yield from _sections(params.specs(spec["of"]), here)
        elif spec["kind"] == "family":
            yield from _sections(params.specs(spec["common"]), here, skip=spec["key"])
            for member in registry.names(spec["package"]):
                own = params.specs(params.own_params(spec["package"], member))
                yield (*here, spec["key"]), member
                yield from _sections(own, (*here, f"{spec['key']}={member}"))
        elif spec["kind"] == "many" and isinstance(spec["of"], type):
            yield from _sections(params.specs(spec["of"]), (*here, 0))
        else:
            yield from ((here, value) for value in _values(spec))


def _values(spec: Any) -> tuple[Any, ...]:
    kind = spec["kind"]
    if kind in units.SCALES or kind in ("number", "count"):
        return spec["low"], spec["high"]
    if kind == "choice":
        return tuple(spec["options"])
    if kind == "member":
        return registry.names(spec["package"])
    return (True, False) if kind == "flag" else ()


def _put(content: Any, where: tuple[Any, ...], value: Any) -> None:
    """Sets what stands at a path; "layout=hexes" sets the key of a family on the way."""
    last = where[-1]
    for step, after in pairwise(where):
        if isinstance(step, str) and "=" in step:
            key, member = step.split("=")
            if content.get(key) != member:
                content.clear()
            content[key] = member
        elif isinstance(step, int):
            content = content[0]
        else:
            content = content.setdefault(step, [{}] if isinstance(after, int) else {})
    content.clear() if last in ("layout", "kind", "plan") else None
    content[last] = value
    if last in ("forward", "outward"):
        content["plate"] = NEEDED["plate"]


def _worked() -> float:
    """Seconds of work of this process and those it started; what else the computer does counts for nothing."""
    both = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(use.ru_utime + use.ru_stime for use in both)


def _build(content: dict[str, Any], through: str, seconds: float, megabytes: int, answer: Connection) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (4 * megabytes * 2**20,) * 2)
    resource.setrlimit(resource.RLIMIT_CPU, (int(seconds),) * 2)
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "small.yaml"
            path.write_text(json.dumps(content), encoding="utf-8")  # JSON is YAML
            read = preset.read(path)
        made = contents.build(read) if through == "pack" else pipeline.shell_of(read, flow.Flow())
        del made
        outcome = "good"
    except ShellgenError as error:
        outcome = f"refused: {error}"
    except Exception as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        outcome = f"FAULT {type(error).__name__}: {error} at {place.filename}:{place.lineno}"
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    answer.send((outcome, _worked(), peak))


def measured(content: dict[str, Any], through: str, seconds: float, megabytes: int) -> tuple[str, float, float]:
    """Outcome, seconds of work and peak megabytes of one build in a process of its own."""
    here, there = multiprocessing.Pipe()
    child = multiprocessing.get_context("fork").Process(
        target=_build, args=(content, through, seconds, megabytes, there)
    )
    child.start()
    there.close()
    try:
        return here.recv()
    except EOFError:
        return f"FAULT no end within {seconds:g} s of work", seconds, 0.0
    finally:
        child.kill()
        child.join()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--match", default=pick("", "nest.kerf = 0"), help="only lines whose name begins so")
    parser.add_argument("--through", choices=("shell", "pack"), default="shell")
    parser.add_argument("--seconds", type=float, default=300)
    parser.add_argument("--megabytes", type=int, default=2048)
    chosen = parser.parse_args()
    found = []
    for name, content in changes():
        if name.startswith(chosen.match):
            outcome, spent, peak = measured(content, chosen.through, chosen.seconds, chosen.megabytes)
            found.append((name, outcome, spent, peak))
            if outcome != "good" or spent > chosen.seconds / 3 or peak > chosen.megabytes / 3:
                print(f"{spent:6.1f} s {peak:6.0f} MB  {name}: {outcome}", flush=True)
    print(*Counter(outcome.split(":")[0] for _, outcome, *_ in found).items())
    for title, column in (("slowest", 2), ("largest", 3)):
        print(
            title,
            *(f"{f[2]:6.1f} s {f[3]:6.0f} MB  {f[0]}" for f in sorted(found, key=lambda f: -f[column])[:12]),
            sep="\n",
        )


if __name__ == "__main__":
    main()
