"""Presets made up at random: is it said of every shell whose seams are over twice as long as another plan's?

    python benchmarks/longer_seams.py [--count 300] [--seed 1] [--smallest]

The program asks a quick estimate first whether other plans are worth computing. Here all of them are computed, as far
as their flat pieces, for every shell that is built. Prints one line for each shell: its number, the ratio of its seams
to the shortest other plan that keeps its limits, and "SILENT" if the ratio is over 2 and no finding says so.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from pathlib import Path

from made_up import draw

from shellgen import preset
from shellgen.core.flow import Flow
from shellgen.errors import ShellgenError
from shellgen.pattern.plans._comparison import MUCH_LONGER
from shellgen.pipeline import dome, foam, plans


def ratio(path: Path) -> tuple[float, bool] | None:
    """Own seams over the shortest of another plan (0 if none keeps its limits), and whether a finding names a plan.

    None if the preset or its shape is refused.
    """
    flow = Flow()
    try:
        content = preset.read(path)
        on = dome.ground(content, flow)
        flat = foam.foam(content, flow, on)
        said = any("seams: plan:" in finding.text for finding in plans.compared(content, flow, on, flat).result())
    except ShellgenError:
        return None
    own = sum(seam.design_length for seam in flat.foam.cut.seams)
    others = [other.length for other in plans._others(content) if other.length > 0]
    return (own / min(others) if others else 0.0), said


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1, help="number of the first preset")
    parser.add_argument("--smallest", action="store_true", help="one preset")
    chosen = parser.parse_args()
    built = longer = silent = 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(chosen.seed, chosen.seed + (1 if chosen.smallest else chosen.count)):
            found = ratio(draw(random.Random(number)).write(Path(folder)))
            if found is None:
                continue
            times, said = found
            built, longer = built + 1, longer + (times > MUCH_LONGER)
            silent += times > MUCH_LONGER and not said
            print(f"{number:6} {times:5.2f} {'said' if said else 'SILENT' if times > MUCH_LONGER else ''}", flush=True)
    print(f"{built} shells, {longer} with seams over {MUCH_LONGER:g} times as long, {silent} of them silent")


if __name__ == "__main__":
    main()
