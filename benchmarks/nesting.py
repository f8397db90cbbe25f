"""How dense are the layouts, beside spyrrow on the same shapes with the same work, and beside the records?

    python benchmarks/nesting.py [--preset presets/reed-knight.yaml ...] [--seconds 2 5]

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
from pathlib import Path

import numpy as np
import shapely
import spyrrow
import yaml
from numpy.typing import NDArray

from shellgen import nest, pipeline, preset
from shellgen.flow import Flow
from shellgen.nest import strip
from shellgen.nest.fill import _body
from shellgen.params import own_params

HERE = Path(__file__).parent
SEED = 1
MORE = 1.2
"""Factor by which our work is raised from try to try, as long as it takes no more of the processor than spyrrow had."""


def instances(files: list[Path]) -> Iterator[tuple[str, list[NDArray], float, str, float, float]]:
    """(name, shapes, strip, rotations, area, record or nan)"""
    for name, task in yaml.safe_load((HERE / "nesting.yaml").read_text("utf-8")).items():
        shapes = [np.array(s[1:], float).reshape(-1, 2) for s in task["shapes"] for _ in range(s[0])]
        assert math.isclose(sum(shapely.Polygon(s).area for s in shapes), task["area"]), name
        yield name, shapes, task["strip"], task["rotations"], task["area"], task["record"]
    for file in files:
        chosen = preset.read(file)
        own = own_params("shellgen.plans", "plates")
        apart = replace(chosen, seams=replace(chosen.seams, name="plates", own=own() if own else None))
        shell = pipeline.shell_of(apart, Flow()).value
        parts = nest.pieces(shell.cut, shell.pattern, shell.thickness)
        shapes = [_body(part, nest.Params()).shape for part in parts]
        yield (
            f"{file.stem}, {len(parts)} plates",
            shapes,
            500.0,
            "free",
            sum(shapely.Polygon(s).area for s in shapes),
            math.nan,
        )


def theirs(shapes: list[NDArray], height: float, rotations: str, seconds: int) -> float:
    angles = strip.ROTATIONS[rotations]
    items = [
        spyrrow.Item(str(k), [tuple(p) for p in shape.tolist()], 1, None if angles is None else list(angles))
        for k, shape in enumerate(shapes)
    ]
    config = spyrrow.StripPackingConfig(total_computation_time=seconds, num_workers=1, seed=SEED)
    return float(spyrrow.StripPackingInstance("", height, items).solve(config).width)


def processor() -> float:
    """Seconds of the processor so far, of this process and of those it has waited for."""
    return sum(sum(resource.getrusage(who)[:2]) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))


def ours(shapes: list[NDArray], height: float, rotations: str, budget: float) -> tuple[float, strip.Strip]:
    """Seconds taken and the strip, with the most work that stays within the budget; least work if none does."""
    work, best = 50.0, None
    while True:
        start = processor()
        found = strip.pack(shapes, height, rotations=rotations, tries=1, work=int(work), seed=SEED)
        took = processor() - start
        assert strip.sound(shapes, found.poses, height)
        if best is not None and (took > budget or work > 1e5):
            return best
        best, work = (took, found), work * MORE


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--preset", type=Path, nargs="*", default=[])
    parser.add_argument("--seconds", type=int, nargs="*", default=[2, 5])
    chosen = parser.parse_args()
    print("| shapes | spyrrow s | ours s | bound | ours | spyrrow | record | our density | spyrrow | record |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for name, shapes, height, rotations, area, record in instances(chosen.preset):
        for seconds in chosen.seconds:
            start = processor()
            other = theirs(shapes, height, rotations, seconds)
            budget = processor() - start
            took, found = ours(shapes, height, rotations, budget)
            assert found.length >= area / height, f"{name} is shorter than its bound"
            lengths, dense = (found.length, other, record), [area / height / x for x in (found.length, other, record)]
            cells = [f"{x:.4g}" for x in (budget, took, area / height, *lengths)] + [f"{x:.1%}" for x in dense]
            print(f"| {name} | {' | '.join(cells)} |".replace("nan%", "").replace("nan", ""), flush=True)


if __name__ == "__main__":
    main()
