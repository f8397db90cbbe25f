"""Random drawings of plates, drawn badly: gaps, overshoots, lines drawn twice, groups moved and turned, whole or half.

Each must give a sound net and mesh, or one error that names a place on the chart. "other plates" is a sound net whose
number of plates differs from that of the diagram it was drawn from; the diagram's own count is not sure where points
are mirror images of each other, so look at these. Run by hand:

    python benchmarks/drawings.py --count 500
"""

from __future__ import annotations

import argparse
import math
import random
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import shapely
from scipy.spatial import Voronoi

from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.draw import chart
from shellgen.errors import PresetError, ShellgenError
from shellgen.export import chart_svg
from shellgen.fields.params import File
from shellgen.geom import equidistant_chart
from shellgen.model import Layout
from shellgen.plates import drawn

GAP = drawn.Params.__dataclass_fields__["gap"].default
CLEAN, DIRTY = 0.2, 0.45
"""Share of the gap by which lines of a drawing miss each other."""


@cache
def surface() -> plan.Dome:
    """The usual dome."""
    return plan.build(plan.Params())


@dataclass(frozen=True, slots=True)
class Scrawl:
    """svg : the file; plates : how many there were before it was drawn badly; wild : whether a line is missing too"""

    svg: bytes
    plates: int
    wild: bool


def scrawl(rng: random.Random) -> Scrawl:
    """A random drawing."""
    whole = rng.random() < 0.3
    base = chart.chart("scrawl", surface(), None, whole=whole)
    rim = equidistant_chart.chart(surface()).outline(361)
    region = shapely.Polygon(rim)
    lines, plates = _net(rng, region)
    wild = rng.random() < 0.15 or not plates
    if wild and plates:
        lines.pop(rng.randrange(len(lines)))
    marred = [again for line in lines for again in _marred(rng, line)]
    if whole:
        marred += [line * (1, -1) for line in marred]
    if rng.random() < 0.3:
        marred.append(rim + rng.uniform(-0.8, 0.8))
    rng.shuffle(marred)

    def page(xy: np.ndarray) -> np.ndarray:
        return np.array([base.crown[0], base.height - base.crown[1]]) + np.column_stack([-xy[:, 1], -xy[:, 0]])

    body = "\n".join(_shape(rng, page(line)) for line in marred)
    text = chart_svg.write(base).decode()
    return Scrawl(text.replace("</svg>", f"<g>{body}</g></svg>").encode(), plates, wild)


def _net(rng: random.Random, region: shapely.Polygon) -> tuple[list[np.ndarray], int]:
    """Borders of the cells around random points with room between them, and the number of plates on both halves; 0
    where some are so narrow or short that closing gaps may change it."""
    x0, _, x1, y1 = region.bounds
    apart, points = rng.uniform(55, 110), list[tuple[float, float]]()
    for _ in range(400):
        point = rng.uniform(x0, x1), rng.uniform(0.0, y1)
        point = (point[0], 0.0) if point[1] < 0.3 * apart else point
        if region.buffer(1).contains(shapely.Point(point)) and all(math.dist(point, p) > apart for p in points):
            points.append(point)
    every = np.array([*points, *((x, -y) for x, y in points if y)])
    far = 4000 * np.array([(1, 0), (-1, 0), (0, 1), (0, -1)])
    ridges = Voronoi(np.concatenate([every, far])).ridge_vertices
    vertices = Voronoi(np.concatenate([every, far])).vertices
    borders = [shapely.LineString(vertices[pair]) for pair in ridges if min(pair) >= 0]
    parts = [part for line in borders for part in shapely.get_parts(line.intersection(region)) if part.length > 0.5]
    parts = [part for part in parts if part.geom_type == "LineString"]
    rim = equidistant_chart.chart(surface()).outline(361)
    whole = shapely.Polygon(np.concatenate([rim, rim[-2:0:-1] * (1, -1)]))
    cells = shapely.voronoi_polygons(shapely.MultiPoint(np.concatenate([every, far])))
    faces = [
        part
        for cell in shapely.get_parts(cells)
        for part in shapely.get_parts(shapely.intersection(cell.buffer(0), whole))
        if part.area > 0
    ]
    narrow = any(2 * shapely.maximum_inscribed_circle(face).length < 12 for face in faces)
    sides = [line.intersection(region).length for line in borders]
    short = any(0.1 < side < 2 * GAP for side in sides)
    return [shapely.get_coordinates(part) for part in parts], 0 if narrow or short else len(faces)


def _marred(rng: random.Random, line: np.ndarray) -> list[np.ndarray]:
    """The line as a hand draws it, perhaps twice."""
    result = []
    middle = np.abs(line[:, 1]).max() < 1e-6  # there the chart has a line to trace
    bend = 0.0 if middle else rng.uniform(-0.02, 0.02)
    for _ in range(2 if rng.random() < 0.08 else 1):
        a, b = line
        way = (b - a) / np.hypot(*(b - a))
        share = np.linspace(0, 1, max(2, int(np.hypot(*(b - a)) / 8)))[:, None]
        bow = np.array([-way[1], way[0]]) * bend * np.hypot(*(b - a))
        drawn_line = a + share * (b - a) + 4 * share * (1 - share) * bow
        reach = [rng.choice((0.0, rng.uniform(-DIRTY, DIRTY), rng.uniform(-CLEAN, CLEAN))) * GAP for _ in "ab"]
        drawn_line[0] -= way * reach[0]
        drawn_line[-1] += way * reach[1]
        result.append(drawn_line + np.array([rng.gauss(0, 0.15), rng.gauss(0, 0.15)]))
    return result


def _shape(rng: random.Random, line: np.ndarray) -> str:
    """The line as one of many kinds of shape, in a group that is moved, turned or scaled."""
    angle, scale = rng.choice((0.0, rng.uniform(-180, 180))), rng.choice((1.0, rng.uniform(0.2, 5.0)))
    x, y = rng.uniform(-300, 300), rng.uniform(-300, 300)
    turn = np.radians(angle)
    back = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) / scale
    own = (line - (x, y)) @ back.T
    points = " ".join(f"{px:.4f},{py:.4f}" for px, py in own)
    step = np.diff(own, axis=0)
    kinds = [
        f'<polyline points="{points}" />',
        f'<path d="M{points}" />',
        f'<path d="M{own[0, 0]:.4f} {own[0, 1]:.4f}' + "".join(f"l{dx:.4f} {dy:.4f}" for dx, dy in step) + '" />',
        f'<path d="M{own[0, 0]:.4f} {own[0, 1]:.4f}'
        + "".join(f"Q{(a + b)[0] / 2:.4f} {(a + b)[1] / 2:.4f} {b[0]:.4f} {b[1]:.4f}" for a, b in pairwise(own))
        + '" />',
    ]
    move = f"translate({x} {y}) rotate({angle}) scale({scale})"
    return f'<g transform="{move}" id="g{rng.randrange(10**9)}">{rng.choice(kinds)}</g>'


def laid(svg: bytes, folder: Path) -> Layout:
    """The plates of a drawing on the usual dome, with its mesh made."""
    path = folder / "scrawl.svg"
    path.write_bytes(svg)
    layout = drawn.build(surface(), drawn.Params(file=File(path.name, path, "")))
    mesh.build(surface(), layout, mesh.Params(edge=25.0))
    return layout


def outcome(seed: int, folder: Path) -> tuple[str, str]:
    """What comes of one: good, other number of plates, refused, or a failure; and the words of a refusal."""
    made = scrawl(random.Random(seed))
    try:
        layout = laid(made.svg, folder)
    except PresetError as error:
        return ("refused" if "on the chart" in str(error) and error.picture else "refused without a place"), str(error)
    except ShellgenError as error:
        return "refused without a place", str(error)
    if made.wild or len(layout.plates) == made.plates:
        return "good", ""
    return "other plates", f"{len(layout.plates)} for {made.plates}"


def main() -> None:
    """Prints how many came out how."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--smallest", action="store_true")
    asked = parser.parse_args()
    counts, start = Counter[str](), time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(asked.first, asked.first + (3 if asked.smallest else asked.count)):
            kind, words = outcome(seed, Path(folder))
            counts[kind] += 1
            if words:
                print(f"{seed}: {kind}: {words}")
    print(dict(counts), f"{time.process_time() - start:.1f} s of work")


if __name__ == "__main__":
    main()
