"""Presets made up at random from what the stages declare, built one after another: what comes of them?

    python benchmarks/generated.py [--count 10000] [--seed 1] [--through layout|mesh|all]

Every preset must give a good result or one clear error; anything else is printed with the preset that caused it.
"""

from __future__ import annotations

import argparse
import random
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import Field
from pathlib import Path
from typing import Any

from shellgen import flow, mesh, params, pipeline, preset, registry, units
from shellgen.errors import ShellgenError

WRITTEN = 0.2  # share of the lines that are written at all; the rest take their defaults
LEFT_OUT = ("name", "print", "paint", "wearer")  # sections whose lines go together in ways of their own
NOT_MADE_UP = ("scan", "girths", "listed", "kept")  # members that need a file, or a list that goes with the dome
PLATES = ("all", "vertebral", "pleural", "marginal", "nuchal", "hex", "vertebral-3")


def preset_text(rng: random.Random) -> str:
    """A preset with any figure between its bounds."""
    return "\n".join(_lines(params.specs(preset.Preset), rng, "")) + "\n"


def _lines(specs: dict[str, Field], rng: random.Random, indent: str, skip: str = "") -> Iterator[str]:
    for name, field in specs.items():
        needed = params.is_required(field)
        if name != skip and name not in LEFT_OUT and (needed or rng.random() < (WRITTEN if indent else 0.8)):
            yield from _line(name, field.metadata, rng, indent)


def _line(name: str, spec: Any, rng: random.Random, indent: str) -> Iterator[str]:
    deeper = indent + "  "
    if spec["kind"] == "group":
        yield f"{indent}{name}:"
        yield from _lines(params.specs(spec["of"]), rng, deeper)
    elif spec["kind"] == "family":
        member = rng.choice([m for m in registry.names(spec["package"]) if m not in NOT_MADE_UP])
        yield f"{indent}{name}:"
        yield f"{deeper}{spec['key']}: {member}"
        yield from _lines(params.specs(spec["common"]), rng, deeper, skip=spec["key"])
        yield from _lines(params.specs(params.own_params(spec["package"], member)), rng, deeper)
    elif spec["kind"] == "many" and isinstance(spec["of"], type):
        yield f"{indent}{name}:"
        for _ in range(rng.randrange(1, 3)):
            item = list(_lines(params.specs(spec["of"]), rng, deeper + "  ")) or [f"{deeper}  profile: cone"]
            yield f"{deeper}- {item[0].strip()}"
            yield from item[1:]
    else:
        one = spec["of"].metadata if spec["kind"] == "many" else spec
        yield f"{indent}{name}: {_value(one, rng)}"


def _value(spec: Any, rng: random.Random) -> str:
    kind = spec["kind"]
    if kind in units.SCALES or kind == "number":
        # a quarter of the figures lie on a bound: that is where things break
        low, high = spec["low"], spec["high"]
        return repr(rng.choice([low, high, *(rng.uniform(low, high) for _ in range(6))]))
    if kind == "count":
        return str(rng.choice([spec["low"], spec["high"], rng.randint(spec["low"], spec["high"])]))
    makers: dict[str, Callable[[], str]] = {
        "choice": lambda: rng.choice(spec["options"]),
        "member": lambda: rng.choice(registry.names(spec["package"])),
        "flag": lambda: rng.choice(("yes", "no")),
        "text": lambda: rng.choice(PLATES),
        "date": lambda: f"20{rng.randrange(10, 99)}-0{rng.randrange(1, 10)}-15",
        "file": lambda: "no-such-scan.stl",
    }
    return makers[kind]()


def build(path: Path, through: str) -> None:
    content = preset.read(path)
    if through == "all":
        from shellgen import contents

        contents.build(content)
        return
    surface = pipeline.asked(content, flow.Flow())[0].value
    layout = registry.load("shellgen.layouts", content.plates.name).build(surface, content.plates.own)
    if through == "mesh":
        mesh.build(surface, layout, content.mesh)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--through", choices=("layout", "mesh", "all"), default="all")
    chosen = parser.parse_args()
    outcomes: Counter[str] = Counter()
    slowest = 0.0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "made-up.yaml"
        for number in range(chosen.seed, chosen.seed + chosen.count):
            path.write_text(preset_text(random.Random(number)), encoding="utf-8")
            start = time.perf_counter()
            try:
                build(path, chosen.through)
                outcomes["good"] += 1
            except ShellgenError as error:
                outcomes[type(error).__name__] += 1
            except Exception as error:
                outcomes[f"FAULT {type(error).__name__}"] += 1
                place = traceback.extract_tb(error.__traceback__)[-1]
                print(
                    f"preset {number}: {type(error).__name__}: {error} at {place.filename}:{place.lineno}", flush=True
                )
            spent = time.perf_counter() - start
            if spent > slowest:
                slowest = spent
                print(f"preset {number}: slowest so far, {spent:.1f} s", flush=True)
    print(*(f"{number:6} {outcome}" for outcome, number in outcomes.most_common()), sep="\n")


if __name__ == "__main__":
    main()
