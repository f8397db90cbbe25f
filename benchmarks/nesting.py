"""How dense are the layouts, beside spyrrow on the same shapes with the same work, and beside the records?

    python benchmarks/nesting.py [--preset presets/reed-knight.yaml ...] [--seconds 2 5 | --effort normal] [--seeds 1 2]

spyrrow runs first, for whole seconds by the clock, with its defaults, one worker and a seed. Ours, with the same seed,
then does the most work that takes no more of the processor than spyrrow had, its own start and its pressing counted in:
on a busy computer the clock would favour one or the other. Writes a table as Markdown.
"""

from __future__ import annotations

import argparse
import math
import resource
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import shapely
import spyrrow
import yaml
from numpy.typing import NDArray
from smallest import pick

from shellgen import pipeline, preset
from shellgen.core.flow import Flow
from shellgen.fields.params import own_params
from shellgen.workshop import nest
from shellgen.workshop.nest import strip
from shellgen.workshop.nest.fill import _body
from shellgen.workshop.nest.parts import EFFORT

HERE = Path(__file__).parent
LEAST, MOST, TRIES = 50, pick(1600, 100), pick(7, 1)
"""Our work is sought between so much and so much a second, halving its logarithm TRIES times: to within 3 %."""


def instances(files: list[Path]) -> Iterator[tuple[str, list[NDArray], float, str, float, float]]:
    """(name, shapes, strip, rotations, area, record or nan)"""
    for name, task in yaml.safe_load((HERE / "nesting.yaml").read_text("utf-8")).items():
        shapes = [np.array(s[1:], float).reshape(-1, 2) for s in task["shapes"] for _ in range(s[0])]
        assert math.isclose(sum(shapely.Polygon(s).area for s in shapes), task["area"]), name
        yield name, shapes, task["strip"], task["rotations"], task["area"], task["record"]
    for file in files:
        chosen = preset.read(file)
        own = own_params("shellgen.pattern.plans", "plates")
        apart = replace(chosen, seams=replace(chosen.seams, name="plates", own=own() if own else None))
        shell = pipeline.shell_of(apart, Flow())
        parts = nest.pieces(shell.foam.cut, shell.foam.pattern, shell.foam.thickness)
        shapes = [_body(part, nest.Params()).shape for part in parts]
        yield (
            f"{file.stem}, {len(parts)} plates",
            shapes,
            500.0,
            "free",
            sum(shapely.Polygon(s).area for s in shapes),
            math.nan,
        )


def theirs(shapes: list[NDArray], height: float, rotations: str, seed: int, seconds: int) -> float:
    angles = strip.ROTATIONS[rotations]
    items = [
        spyrrow.Item(str(k), [tuple(p) for p in shape.tolist()], 1, None if angles is None else list(angles))
        for k, shape in enumerate(shapes)
    ]
    config = spyrrow.StripPackingConfig(total_computation_time=seconds, num_workers=1, seed=seed)
    return float(spyrrow.StripPackingInstance("", height, items).solve(config).width)


def processor() -> float:
    """Seconds of the processor so far, of this process and of those it has waited for."""
    return sum(sum(resource.getrusage(who)[:2]) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))


def ours(
    shapes: list[NDArray], height: float, rotations: str, seed: int, budget: float
) -> tuple[float, strip.StripLayout]:
    """Seconds taken and the strip, with the most work tried that stays within the budget, or the least tried."""
    low, high = LEAST * budget, MOST * budget
    best: tuple[float, strip.StripLayout] | None = None
    for _ in range(TRIES):
        work = math.sqrt(low * high)
        start = processor()
        found = strip.pack(shapes, height, rotations=rotations, tries=1, work=int(work), seed=seed)
        took = processor() - start
        assert strip.sound(shapes, found.poses, height)
        low, high = (work, high) if took <= budget else (low, work)
        if took <= budget or best is None or best[0] > budget:
            best = took, found
    assert best is not None
    return best


def at_effort(shapes: list[NDArray], height: float, rotations: str, seed: int, effort: str) -> tuple[float, ...]:
    """Seconds and length of spyrrow's and of ours; spyrrow has the fewest whole seconds by the clock that give it as
    much of the processor, unless it ends by itself."""
    tries, work = nest.parts.effort(nest.Params(rotations=rotations, effort=effort))
    start = processor()
    found = strip.pack(shapes, height, rotations=rotations, tries=tries, work=work, seed=seed)
    took = processor() - start
    assert strip.sound(shapes, found.poses, height)
    for seconds in range(math.ceil(took), 4 * math.ceil(took) + 1):
        start = processor()
        other = theirs(shapes, height, rotations, seed, seconds)
        budget = processor() - start
        if budget >= took:
            break
    return budget, took, other, found.length


def in_time(shapes: list[NDArray], height: float, rotations: str, seed: int, seconds: int) -> tuple[float, ...]:
    """Seconds and length of spyrrow's and of ours in the same time."""
    start = processor()
    other = theirs(shapes, height, rotations, seed, seconds)
    budget = processor() - start
    took, found = ours(shapes, height, rotations, seed, budget)
    return budget, took, other, found.length


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--preset", type=Path, nargs="*", default=[])
    parser.add_argument(
        "--only", nargs="*", default=pick([""], ["shapes0"]), help="sets whose name begins with one of these"
    )
    parser.add_argument("--seconds", type=int, nargs="*", default=pick([2, 5], [1]))
    parser.add_argument("--effort", choices=EFFORT, nargs="*", default=[], help="instead of seconds")
    parser.add_argument("--seeds", type=int, nargs="*", default=pick([1, 2, 3], [1]))
    chosen = parser.parse_args()
    print("| shapes | seed | spyrrow s | ours s | spyrrow | ours | record | spyrrow's density | ours | more |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for name, shapes, height, rotations, area, record in instances(chosen.preset):
        if not name.startswith(tuple(chosen.only)):
            continue
        for much, seed in product(chosen.effort or chosen.seconds, chosen.seeds):
            run = at_effort if chosen.effort else in_time
            figures = run(shapes, height, rotations, seed, much)
            bound = area / height
            other, dense = bound / figures[2], bound / figures[3]
            assert dense <= 1, f"{name} is shorter than its bound"
            cells = [*(f"{x:.4g}" for x in figures), "" if math.isnan(record) else f"{record:.4g}"]
            cells += [f"{other:.1%}", f"{dense:.1%}", f"{100 * (dense - other):+.2f}"]
            print(f"| {name} | {seed} | {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
