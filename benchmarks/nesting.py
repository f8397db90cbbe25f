"""How dense are the layouts, beside spyrrow on the same shapes and for the same time, and beside the records?

    python benchmarks/nesting.py [--preset presets/reed-knight.yaml ...] [--effort quick normal thorough]

Our search is measured by the clock first; spyrrow then gets as many whole seconds as that took, rounded up, with its
defaults, one worker and the same seed. Writes a table as Markdown.
"""

from __future__ import annotations

import argparse
import math
import time
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
from shellgen.nest.parts import EFFORT
from shellgen.params import own_params

HERE = Path(__file__).parent
SEED = 1


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


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--preset", type=Path, nargs="*", default=[])
    parser.add_argument("--effort", nargs="*", choices=EFFORT, default=["normal"])
    chosen = parser.parse_args()
    print("| shapes | effort | time s | bound | ours | spyrrow | record | our density | spyrrow | record |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for name, shapes, height, rotations, area, record in instances(chosen.preset):
        for effort in chosen.effort:
            tries, work = EFFORT[effort]
            start = time.perf_counter()
            ours = strip.pack(shapes, height, rotations=rotations, tries=tries, work=work, seed=SEED)
            took = time.perf_counter() - start
            other = theirs(shapes, height, rotations, max(1, math.ceil(took)))
            assert ours.length >= area / height, f"{name} is shorter than its bound"
            assert strip.sound(shapes, ours.poses, height), f"{name} overlaps"
            lengths, dense = (ours.length, other, record), [area / height / x for x in (ours.length, other, record)]
            cells = [f"{x:.4g}" for x in (took, area / height, *lengths)] + [f"{x:.1%}" for x in dense]
            print(f"| {name} | {effort} | {' | '.join(cells)} |".replace("nan%", "").replace("nan", ""), flush=True)


if __name__ == "__main__":
    main()
