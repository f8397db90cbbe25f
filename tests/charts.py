"""Charts written and read again, for tests of drawings."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import numpy as np
import shapely
from scipy.spatial import cKDTree

from shellgen.core import registry
from shellgen.dome.surfaces import plan
from shellgen.draw import chart
from shellgen.export import chart_svg
from shellgen.fields.params import File
from shellgen.model import Layout, Surface
from shellgen.plates import drawn

FOLDER = Path(tempfile.mkdtemp(prefix="charts-"))


@cache
def dome() -> plan.Dome:
    return plan.build(plan.Params())


def named(svg: bytes | str, name: str = "lines.svg") -> File:
    """A file with this content."""
    data = svg.encode() if isinstance(svg, str) else svg
    path = Path(tempfile.mkdtemp(dir=FOLDER)) / name
    path.write_bytes(data)
    return File(name, path, "")


def params(layout: str, surface: Surface) -> object:
    """Usual figures of a layout; for a drawn one the chart of a turtle, with its lines."""
    if layout == "drawn":
        turtle = registry.load("shellgen.plates", "turtle")
        made = turtle.build(surface, turtle.Params())
        return drawn.Params(file=named(chart_svg.write(chart.chart("again", surface, made))))
    return registry.load("shellgen.plates", layout).Params()


@cache
def blank(*, whole: bool = False) -> str:
    """The chart of the usual dome without lines."""
    return chart_svg.write(chart.chart("blank", dome(), None, whole=whole)).decode()


def drawing(body: str, *, whole: bool = False, more: str = "") -> str:
    """The blank chart with shapes in mm from the crown, x to the head and y to the left."""
    made = chart.chart("blank", dome(), None, whole=whole)
    x, y = made.crown[0], made.height - made.crown[1]
    move = f"matrix(0 -1 -1 0 {x} {y})"
    return blank(whole=whole).replace("</svg>", f'<g id="mine" transform="{move}">{body}</g>{more}</svg>')


def read(body: str, *, whole: bool = False, more: str = "", **how: object) -> Layout:
    """The plates between shapes on the usual dome."""
    return drawn.build(dome(), drawn.Params(file=named(drawing(body, whole=whole, more=more)), **how))


def apart(surface: Surface, one: Layout, other: Layout) -> float:
    """Hausdorff distance of the lines of plates and rim on the dome, mm."""
    clouds = []
    for layout in (one, other):
        lines = [line.uv for line in layout.lines if line.kind in ("plate", "rim")]
        fine = shapely.segmentize([shapely.LineString(uv) for uv in lines], 2e-4)
        clouds.append(surface.points(np.concatenate([shapely.get_coordinates(line) for line in fine])))
    return max(float(cKDTree(a).query(b)[0].max()) for a, b in (clouds, clouds[::-1]))
