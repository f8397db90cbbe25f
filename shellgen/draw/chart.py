"""The dome laid flat to draw plate lines on: outline, midline, tape lines, the wearer's shoulders and straps.

Which map: a ray from the crown is straight on the chart, in its own direction and at its true length. An equal-area map
was the other choice. Measured on the three demos, rms of the logarithm of the stretch in both directions over the dome
(Airy's and Kavraiskiy's criterion): 0.12, 0.14 and 0.14 for this map, 0.15, 0.16 and 0.17 for the equal-area one; and
the shape of a small circle at the rim: 1.4 to 1.5 times as long as wide here, 1.7 to 1.9 there. So this bends shapes
less, and a ruler on the chart reads what a tape from the crown reads. Its price: near the rim a plate is drawn up to
1.4 times as large as it is. `distortion` says how much, where; the chart says it too.

References: azimuthal projections and their distortion, Snyder, Map Projections, USGS PP 1395, 1987, p. 20 and 191;
the criterion: Canters, Small-scale Map Projection Design, 2002, section 2.2 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import shapely

from shellgen.canvas import Path, Text
from shellgen.canvas.chart import CROWN, Chart, ring
from shellgen.canvas.lettering import wrapped
from shellgen.canvas.rule import INCH, METRIC, Rule
from shellgen.core.arrays import Floats
from shellgen.dome import tapes
from shellgen.draw import fiducials
from shellgen.geom import bezier, equidistant_chart
from shellgen.geom.equidistant_chart import EquidistantChart
from shellgen.geom.patches import polar_grid
from shellgen.model import Layout, Surface
from shellgen.wear.places import WornPlace

EDGE, QUIET = 10.0, 6.0
"""mm from a marker to the edge of the sheet, and to all else (its white border: a module and a half)."""
SIDE = 16.0
"""mm of sheet to the left of the rim, and to the right of it for the tapes."""
LEAST = 120.0
"""mm across: room for two markers and a title."""
WITHIN = 0.02
"""mm by which exported lines may leave the plates' lines."""
SHARES = (0.25, 0.5, 0.75, 1.0)
"""Of the way from crown to rim, at which distortion is shown."""
Items = list[Path | Text]
Page = Callable[[Floats], Floats]
"""From the chart, (n, 2) mm from the crown, to the sheet."""


def chart(
    name: str, surface: Surface, layout: Layout | None, worn: Sequence[WornPlace] = (), *,
    whole: bool = False, rule: Rule = METRIC,
) -> Chart:  # fmt: skip
    """The chart of a dome. layout : whose lines are on it already; whole : both halves"""
    flat = equidistant_chart.chart(surface)
    half = flat.outline(721)
    head, tail, left = half[0, 0], half[-1, 0], half[:, 1].max()
    width = max(LEAST, SIDE + left + (left if whole else 0.0) + SIDE)
    room = EDGE + fiducials.SIDE + QUIET
    crown = np.array([width - SIDE - (left if whole else 0.0), room - tail])
    height = float(np.ceil(head - tail + 2 * room))
    width = float(np.ceil(width))

    def page(xy: Floats) -> Floats:
        return crown + np.column_stack([-xy[:, 1], xy[:, 0]])

    rim = np.concatenate([half, half[-2:0:-1] * (1, -1)]) if whole else half
    guides: Items = [Path(page(rim), "guide", closed=whole), Path(page(half[[0, -1]]), "symmetry")]
    sides = (1, -1) if whole else (1,)
    guides += _tape_lines(surface, flat, page, sides, rule)
    for place in worn:
        guides += _worn(place, flat, page, sides)
    guides += _frame(name, surface, (width, height), crown, rule)
    lines = [] if layout is None else [line for line in layout.lines if line.kind == "plate"]
    shown = [line for line in lines if whole or line.uv[:, 1].min() >= 0]
    return Chart(
        name, f"{name}: chart of the dome", width, height, tuple(guides), page(rim), whole, page(half[[0, -1]]), crown,
        tuple(bezier.through(page(flat.flat(line.uv)), within=WITHIN) for line in shown),
        tuple(_names(layout, flat, page)) if layout else (),
        tuple(
            (page(flat.flat(spot.uv[None]))[0], spot.size, spot.kind)
            for spot in (layout.spots if layout else ()) if whole or spot.uv[1] >= 0
        ),
    )  # fmt: skip


def distortion(surface: Surface) -> tuple[tuple[float, float, float], ...]:
    """For shares of the way from crown to rim: the share, and the least and greatest length on the chart over that on
    the dome, in any direction."""
    flat = equidistant_chart.chart(surface)
    rows = [(share, flat.stretches(polar_grid(np.array([share]), 180))) for share in SHARES]
    return tuple((share, float(found[:, 0].min()), float(found[:, 1].max())) for share, found in rows)


def said(surface: Surface) -> str:
    """The distortion in a sentence."""
    parts = (f"{least:.2f} to {most:.2f} {_where(share)}" for share, least, most in distortion(surface))
    return (
        "A line straight out from the crown is as long on the chart as on the dome. In other directions a length on "
        f"the chart is this many times that on the dome: {', '.join(parts)}."
    )


def _where(share: float) -> str:
    return "at the rim" if share == 1 else f"at {share:.0%} of the way from crown to rim"


def _tape_lines(
    surface: Surface, flat: EquidistantChart, page: Page, sides: Sequence[int], rule: Rule
) -> Iterator[Path | Text]:
    """Girths and lengths with what a tape reads there."""
    step = 2 * INCH if rule.inches else 50.0
    unit = INCH if rule.inches else 1.0
    for line in tapes.girths(surface, step):
        for side in sides:
            drawn = page(flat.flat(line.uv) * (1, side))
            yield Path(drawn, "guide", data={"girth": f"{line.tape:g}"})
        end = page(flat.flat(line.uv))[-1] - (4.0, 0.0)
        yield Text(_figure(line.length / unit), (float(end[0]), float(end[1]) - 1.25), 2.5, anchor="end", layer="note")
        start = page(flat.flat(line.uv[:1]))[0]
        yield Text(_figure(abs(line.tape) / unit), (float(start[0]) + 1.5, float(start[1]) + 0.8), 2.5, layer="note")
    for line in tapes.lengths(surface, step):
        for side in sides:
            drawn = page(flat.flat(line.uv) * (1, side))
            yield Path(drawn, "guide", data={"length": f"{line.tape:g}"})
            at = drawn[np.abs(line.uv[:, 0]).argmin()]
            yield Text(_figure(line.tape / unit), (float(at[0]) + 1.0, float(at[1]) + 0.8), 2.5, layer="note")


def _figure(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0") if value < 30 else f"{value:.0f}"


def _worn(place: WornPlace, flat: EquidistantChart, page: Page, sides: Sequence[int]) -> Iterator[Path | Text]:
    """A cross in a ring where the harness holds, with its name."""
    for side in sides:
        at = page(flat.flat(place.uv[None]) * (1, side))[0]
        yield Path(ring(at, 8.0), "seat", closed=True)
        yield from (Path(np.array([at - d, at + d]), "seat") for d in np.diag((6.0, 6.0)))
        yield Text(place.name, (float(at[0]) + 5.5, float(at[1]) - 4.5), 2.5, layer="note")


def _frame(name: str, surface: Surface, size: tuple[float, float], crown: Floats, rule: Rule) -> Iterator[Path | Text]:
    """Markers, the crown, head and tail, title and instructions."""
    width, height = size
    left, right, low, high = EDGE, width - EDGE - fiducials.SIDE, EDGE, height - EDGE - fiducials.SIDE
    for number, corner in enumerate(((left, high), (right, high), (right, low), (left, low))):
        yield from fiducials.marker(number, *corner)
    yield Path(ring(crown, CROWN), "guide", closed=True)
    yield Text("crown", (float(crown[0]) - 4.5, float(crown[1]) - 5.5), 3.5, anchor="end", layer="note")
    x = EDGE + fiducials.SIDE + QUIET
    room = width - 2 * x
    unit = "inches" if rule.inches else "mm"
    top = [f"{name}: chart of the dome, head up", f"Figures are {unit} of tape on the built dome."]
    low_words = [
        "Along the midline: from the crown. Off it: from the midline. At the rim: from midline to rim.",
        said(surface),
    ]
    for words, y in ((top, height - EDGE - 5.0), (low_words, EDGE + fiducials.SIDE - 3.0)):
        for line in (part for text in words for part in wrapped(text, room, 2.5)):
            yield Text(line, (x, y), 2.5, layer="note")
            y -= 4.0
    yield Text("head", (float(crown[0]) + 1.5, height - EDGE - fiducials.SIDE - 4.5), 3.5, anchor="end", layer="note")
    yield Text("tail", (float(crown[0]) + 1.5, EDGE + fiducials.SIDE + 1.5), 3.5, anchor="end", layer="note")


def _names(layout: Layout, flat: EquidistantChart, page: Page) -> Iterator[tuple[str, Floats]]:
    """What each plate of the left half is called, at a place well inside it."""
    for plate in layout.plates:
        if plate.side == "R":
            continue
        uv = np.concatenate([layout.lines[i].uv[::turn][:-1] for i, turn in layout.cells[plate.cells[0]]])
        shape = shapely.Polygon(flat.flat(uv))
        if plate.side == "C":
            shape = shapely.union_all([shape, shapely.transform(shape, lambda p: p * (1, -1))], grid_size=1e-6)
        spot = shapely.get_coordinates(shapely.maximum_inscribed_circle(shape, tolerance=1.0))[:1]
        if plate.side == "C":
            spot = spot * (1, 0)
            if not shape.contains(shapely.Point(spot[0])):
                run = shapely.intersection(shape, shapely.LineString([(shape.bounds[0], 0), (shape.bounds[2], 0)]))
                spot = shapely.get_coordinates(shapely.centroid(run))
        number = plate.name.removeprefix(plate.kind).removeprefix(f"-{plate.side}").replace("-", " ")
        yield f"{plate.kind}{number}", page(spot)[0]
