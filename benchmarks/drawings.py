"""Random drawings of plates, drawn badly: gaps, overshoots, lines drawn twice or in parts, whole or half, in every way
that SVG has; and drawings with one true fault.

The plates read must be those of the net that was drawn (`planar_nets.py`), each in its place; a fault must be one error
at its place, with a picture that marks it. Run by hand:

    python benchmarks/drawings.py --count 500
"""

from __future__ import annotations

import argparse
import random
import re
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import faults
import numpy as np
import planar_nets
import shapely
import shapely.ops
import svg_hand
from planar_nets import PlanarNet

from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.draw import chart
from shellgen.errors import PresetError, ShellgenError
from shellgen.export import chart_svg
from shellgen.fields.params import File
from shellgen.geom import equidistant_chart
from shellgen.model import Layout
from shellgen.plates import drawn
from shellgen.plates._net import outline

GAP = drawn.Params.__dataclass_fields__["gap"].default
OFF = 2.0 * GAP
"""mm by which the border of a plate may be off: by as much as two ends that were drawn together."""
DOMES = (
    plan.Params(),
    plan.Params(length=380, width=320, height=130, keel=0, flare=0),
    plan.Params(length=750, width=380, height=200),
    plan.Params(length=560, width=440, height=180, taper=-0.35),
)


@cache
def surface(number: int) -> plan.Dome:
    """One of some domes."""
    return plan.build(DOMES[number])


@cache
def base(number: int, whole: bool) -> tuple[chart.Chart, str]:
    """The blank chart of a dome."""
    made = chart.chart("scrawl", surface(number), None, whole=whole)
    return made, chart_svg.write(made).decode()


@dataclass(frozen=True, slots=True, eq=False)
class Scrawl:
    """svg : the file; dome : which; net : what is drawn; fault : what is wrong with it, if anything"""

    svg: bytes
    dome: int
    net: PlanarNet
    fault: faults.Fault | None


def scrawl(rng: random.Random, *, faulty: float = 0.25) -> Scrawl:
    """A random drawing. faulty : the share with a true fault"""
    dome = rng.randrange(len(DOMES))
    rim = equidistant_chart.chart(surface(dome)).outline(361)
    net = planar_nets.net(rng, rim, GAP)
    whole = rng.random() < 0.4
    mirrored = whole and rng.random() < 0.6
    side = -1 if whole and not mirrored and rng.random() < 0.5 else 1
    fault = faults.fault(rng, net, rim, GAP, mirrored=mirrored) if rng.random() < faulty else None
    lines = [line * (1, side) for line in Hand(rng, net).drawn()]
    if mirrored:
        lines += [line * (1, -1) + rng.uniform(-0.2, 0.2) for line in lines]
    if rng.random() < 0.2:
        lines.append(rim * (1, side) + rng.uniform(-0.6, 0.6))
    if fault is not None:
        lines = fault.drawn(lines, side=side, mirrored=mirrored)
    rng.shuffle(lines)
    made, text = base(dome, whole)
    origin = np.array([made.crown[0], made.height - made.crown[1]])
    pages = [origin - line[:, ::-1] for line in lines]
    return Scrawl(svg_hand.page(rng, text, pages).encode(), dome, net, fault)


class Hand:
    """Draws the lines of a net as hands do."""

    def __init__(self, rng: random.Random, net: PlanarNet) -> None:
        self.rng, self.net = rng, net
        at = Counter(planar_nets.key(line[i]) for line in (*net.lines, *net.others) for i in (0, -1))
        self.border = {planar_nets.key(line[i]) for line in net.others for i in (0, -1)}
        self.reach = {spot: self._reach(spot) for spot in at}

    def _reach(self, spot: tuple[float, float]) -> list[float]:
        """How far lines reach beyond a node, in gaps, one after the other: all a little, or one nearly a whole gap."""
        far = self.rng.choice((-0.8, 0.8, self.rng.uniform(-0.8, 0.8)))  # the rest of the gap is for what lies aside
        little = [self.rng.uniform(-0.4, 0.4) for _ in range(9)]
        return self.rng.choice(([0.0] * 9, little, [far, *[0.0] * 8]))

    def drawn(self) -> list[np.ndarray]:
        """All lines, badly."""
        found = list[np.ndarray]()
        for line in self._strokes():
            twice = self.rng.random() < 0.08
            slack = 0.3 if twice else 1.0
            for _ in range(2 if twice else 1):
                found += self._in_parts(self._line(line, slack))
        return found

    def _strokes(self) -> list[np.ndarray]:
        """The lines, some of them drawn on through a node."""
        lines = [line if self.rng.random() < 0.5 else line[::-1] for line in self.net.lines]
        for _ in range(self.rng.choice((0, 0, len(lines)))):
            one, other = (self.rng.randrange(len(lines)) for _ in "ab")
            flat = [not np.abs(lines[i][:, 1]).max() > 0.01 for i in (one, other)]
            ends = planar_nets.key(lines[one][-1]), planar_nets.key(lines[other][0])
            if one != other and ends[0] == ends[1] and flat[0] == flat[1]:
                if planar_nets.key(lines[one][0]) == planar_nets.key(lines[other][-1]):
                    continue
                whole = np.concatenate([lines[one], lines[other][1:]])
                lines = [line for i, line in enumerate(lines) if i not in (one, other)] + [whole]
        return lines

    def _line(self, line: np.ndarray, slack: float) -> np.ndarray:
        rng, line = self.rng, line.copy()
        flat = np.abs(line[:, 1]).max() < 0.01
        for end, inner in ((0, 1), (-1, -2)):
            reach = self.reach[planar_nets.key(line[end])]
            way = line[end] - line[inner]
            line[end] += GAP * slack * reach[0] * way / np.hypot(*way)
            reach.append(reach.pop(0))
        aside = rng.uniform(-0.25, 0.25) * (1 if flat else slack)
        shift = np.array([-(line[-1] - line[0])[1], (line[-1] - line[0])[0]])
        line += aside * shift / max(1e-9, np.hypot(*shift))
        if len(line) > 4 and not flat and rng.random() < 0.3:  # a hand that trembles
            share = np.linspace(0, 1, len(line))[:, None]
            line += 0.2 * np.sin(share * np.pi * rng.randint(1, 6)) * np.array([rng.uniform(-1, 1), rng.uniform(-1, 1)])
        return line

    def _in_parts(self, line: np.ndarray) -> list[np.ndarray]:
        """The line in one or several strokes, that miss or overlap each other."""
        rng, whole = self.rng, shapely.LineString(line)
        if rng.random() > 0.2 or whole.length < 16 * GAP:
            return [line]
        cut, miss = rng.uniform(6 * GAP, whole.length - 6 * GAP), rng.uniform(-0.45, 0.45) * GAP
        pieces = ((0.0, cut - miss), (cut + miss, whole.length))
        return [shapely.get_coordinates(shapely.ops.substring(whole, *piece)) for piece in pieces]


def laid(made: Scrawl, folder: Path) -> Layout:
    """The plates of a drawing on its dome, with its mesh made."""
    path = folder / "scrawl.svg"
    path.write_bytes(made.svg)
    layout = drawn.build(surface(made.dome), drawn.Params(file=File(path.name, path, "")))
    mesh.build(surface(made.dome), layout, mesh.Params(edge=25.0))
    return layout


def differences(made: Scrawl, layout: Layout) -> list[str]:
    """What is other than in the net that was drawn."""
    flat = equidistant_chart.chart(surface(made.dome))
    half = range(len(layout.cells) // 2)
    read = [shapely.Polygon(flat.flat(outline(layout.cells[i], layout.lines))).buffer(0) for i in half]
    central = [layout.plates[layout.cell_plate[i]].side == "C" for i in half]
    found = [] if len(layout.plates) == made.net.plates else [f"{len(layout.plates)} plates for {made.net.plates}"]
    for cell, both in zip(made.net.cells, made.net.central, strict=True):
        spot = tuple(np.round(shapely.get_coordinates(cell.representative_point())[0]).tolist())
        best = int(np.argmax(shapely.area(shapely.intersection(cell, read))))
        off = shapely.hausdorff_distance(cell.exterior, read[best].exterior, densify=0.02)
        if off > OFF:
            found.append(f"the plate at {spot} is off by {off:.1f} mm")
        if central[best] != both:
            found.append(f"the plate at {spot} is {'not ' * both}cut by the midline")
    return found


def outcome(seed: int, folder: Path, *, faulty: float = 0.25) -> tuple[str, str]:
    """What comes of one, in a word or two, and the words of an error or of what is wrong."""
    made = scrawl(random.Random(seed), faulty=faulty)
    try:
        layout = laid(made, folder)
    except PresetError as error:
        return _refusal(made, error), str(error)
    except ShellgenError as error:
        return "REFUSED WITHOUT A PLACE", str(error)
    if made.fault is not None:
        return "FAULT NOT SEEN", f"{made.fault.kind} at {made.fault.spots[0].round()}"
    wrong = differences(made, layout)
    return ("OTHER PLATES", "; ".join(wrong[:3])) if wrong else ("good", "")


def _refusal(made: Scrawl, error: PresetError) -> str:
    spot = re.search(r"(?:(\d+) mm (ahead|behind)|level).*?(?:(\d+) mm (left|right)|on the midline)", str(error))
    if spot is None or error.picture is None or "\n" in str(error).strip():
        return "REFUSED WITHOUT A PLACE"
    at = np.array([int(spot[1] or 0) * (-1 if spot[2] == "behind" else 1), float(spot[3] or 0)])
    rings = [item for item in error.picture[1].items if getattr(item, "layer", "") == "score"]
    if made.fault is None:
        return "REFUSED"
    near = min(np.hypot(*(np.abs(wrong * (0, 1)) + wrong * (1, 0) - at)) for wrong in made.fault.spots)
    return "refused in place" if near < made.fault.within and len(rings) == 3 else "REFUSED ELSEWHERE"


def main() -> None:
    """Prints how many came out how, and every one that did not come out as it should, in capitals."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--smallest", action="store_true")
    parser.add_argument("--all", action="store_true", help="print the errors that are as they should be too")
    asked = parser.parse_args()
    counts, start = Counter[str](), time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(asked.first, asked.first + (3 if asked.smallest else asked.count)):
            kind, words = outcome(seed, Path(folder))
            counts[kind] += 1
            if kind.isupper() or (asked.all and words):
                print(f"{seed}: {kind}: {words}", flush=True)
    print(dict(counts), f"{time.process_time() - start:.1f} s of work")


if __name__ == "__main__":
    main()
