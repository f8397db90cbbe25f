"""Made-up presets whose shape is refused: does another seam plan, or a finer mesh, give pieces after all?

    python benchmarks/refusals.py [--refusals 300] [--seed 1]

Presets are computed as far as their flat pieces until so many were refused. One that is refused there is tried again
with every other plan and with finer meshes; where any of these gives pieces under the same stretch limit, that is
printed. A refusal that the asked plan itself must give (a fixed number of gores, sheets too small for one piece) is
printed with its text, so that a reader can see whether it names a plan that works.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from generated import hurry, patience
from made_up import draw

from shellgen import preset
from shellgen.core import registry
from shellgen.core.flow import Flow
from shellgen.errors import FitError, GeometryError, PresetError, ShellgenError
from shellgen.fields.params import Chosen
from shellgen.model import Pattern
from shellgen.pattern import flatten, marks
from shellgen.pipeline import dome, foam

SHAPE = ("dome", "mesh", "plates", "foam", "seams", "flatten", "nest", "marks")  # sections that pieces follow from
FINER = (0.7, 0.5)
LONG = 300.0  # seconds of processor for one try
SLACK = 1.01  # stretch over its limit that no finding speaks of


def laid(content: preset.Preset) -> tuple[Pattern, float]:
    """The flat pieces, and their largest stretch over its limit."""
    flow = Flow()
    on = dome.ground(content, flow)
    parts, sheet = foam.cut(content, flow, on), dome.foam_of(content)
    shares = marks.along(parts, on.mesh, sheet.mid_offset, content.marks)
    pattern = flatten.build(on.mesh, parts, content.flatten, sheet, intervals=shares)
    most = max(max(flat.stretch[:, 1].max() - 1, 1 - flat.stretch[:, 0].min()) for flat in pattern.flats)
    return pattern, float(most) / content.seams.common.stretch_limit


def others(content: preset.Preset) -> Iterator[tuple[str, preset.Preset]]:
    """The preset with other plans, then with finer meshes."""
    for plan in ("gores", "petals", "least", "plates"):
        own = registry.load("shellgen.pattern.plans", plan).Params()
        yield plan, replace(content, seams=Chosen(plan, own, content.seams.common))
    for factor in FINER:
        edge = max(factor * content.mesh.edge, 2.0)
        yield f"edge {edge:.1f}", replace(content, mesh=replace(content.mesh, edge=edge))


def overturned(content: preset.Preset) -> list[str]:
    """What gives pieces within the stretch limit where the preset gives none."""
    found = []
    for name, other in others(content):
        try:
            with patience(LONG):
                _, load = laid(other)
        except ShellgenError:
            continue
        except Exception as error:
            found.append(f"{name}: {type(error).__name__} {error}")
            continue
        if load <= SLACK:
            found.append(name)
    return found


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--refusals", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1, help="number of the first preset")
    asked = parser.parse_args()
    hurry()
    outcomes: Counter[str] = Counter()
    number = asked.seed
    with tempfile.TemporaryDirectory() as folder:
        while outcomes["refused"] < asked.refusals:
            for outcome in tried(number, Path(folder)):
                outcomes[outcome] += 1
            number += 1
    print(f"presets {asked.seed} to {number - 1}")
    print(*(f"{number:6} {outcome}" for outcome, number in outcomes.most_common()), sep="\n")


def tried(number: int, folder: Path) -> tuple[str, ...]:
    """What came of one preset; a refusal is printed."""
    try:
        content = preset.read(draw(random.Random(number), only=SHAPE).write(folder))
        with patience(LONG):
            _, load = laid(content)
    except PresetError:
        return ("refused as a preset",)
    except (FitError, GeometryError) as error:
        by = overturned(content)
        print(f"{number} [{content.seams.name}] {error}\n    overturned by: {', '.join(by) or 'none'}", flush=True)
        return ("refused", type(error).__name__, *["overturned"] * bool(by))
    except Exception as error:
        print(f"{number} {type(error).__name__}: {error}", flush=True)
        return (type(error).__name__,)
    return ("pieces" if load <= SLACK else "pieces over the limit",)


if __name__ == "__main__":
    main()
