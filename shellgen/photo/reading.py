"""From a photo of a chart to the lines drawn on it, in mm on the sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.canvas import Path
from shellgen.canvas.chart import Chart
from shellgen.core.arrays import Floats
from shellgen.draw.fiducials import DICTIONARY
from shellgen.photo import picture, rectify
from shellgen.photo.ink import Mask, ink, no_line
from shellgen.photo.picture import UnreadPhoto
from shellgen.photo.rectify import FlatSheet, MarkedSheet
from shellgen.photo.strokes import Strokes, explained, strokes

AROUND = 1.0
"""mm around a marker that count as printed."""
SLACK = 1.2
"""mm by which ink may lie off the strokes that were read."""
LOST = 0.04
"""Share of the ink that may lie further off."""
ROUND, LARGEST = 0.8, 150.0
"""A ring is a place for a spike if it has this share of a circle's area for its length, and is at most so wide, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class PenLines:
    """What a pen has drawn, mm from the upper left corner of the sheet, y down.

    lines : (n, 2) points of each; dots : middle and mm across of each ring; pen : its width, mm
    """

    lines: tuple[Floats, ...]
    dots: tuple[tuple[Floats, float], ...]
    pen: float


def read(data: bytes, *charts: Chart) -> tuple[Chart, PenLines]:
    """The chart that is on a photo, of those that it may be, and the lines drawn on it.

    UnreadPhoto, with what to do, if there is any doubt about them.
    """
    seen = rectify.markers(picture.grey(data), DICTIONARY)
    chart, lens = min(((c, rectify.fitted(seen, sheet_of(c))) for c in charts), key=lambda pair: pair[1].misfit)
    return chart, _drawn(rectify.flat(seen, lens, sheet_of(chart)), sheet_of(chart))


def _drawn(flat: FlatSheet, sheet: MarkedSheet) -> PenLines:
    printed, black = _markers(flat, sheet)
    mask = ink(flat, printed, black)
    if not mask.any():
        raise UnreadPhoto("no line is seen on it. Draw with a dark felt pen, 1 mm or wider")
    found = strokes(mask)
    lost, at = explained(mask, found, SLACK * flat.detail)
    if lost > LOST and at is not None:
        raise UnreadPhoto(no_line(*(np.array(at) / flat.detail)))
    return _in_mm(found, flat)


def sheet_of(chart: Chart) -> MarkedSheet:
    squares = {i.data["marker"]: i.points for i in chart.guides if isinstance(i, Path) and "marker" in i.data}
    upright = np.array([squares[str(number)][::-1] for number in range(4)])
    return MarkedSheet(chart.width, chart.height, np.array([0.0, chart.height]) + upright * (1, -1))


def _markers(flat: FlatSheet, sheet: MarkedSheet) -> tuple[Mask, Mask]:
    """Where markers are, with some room; and their black borders, less a module's third."""
    printed, black = np.zeros(flat.image.shape, bool), np.zeros(flat.image.shape, bool)
    edge = max(2, round(AROUND * flat.detail))
    printed[:edge], printed[-edge:], printed[:, :edge], printed[:, -edge:] = True, True, True, True
    for corners in sheet.markers:
        low, high = corners.min(axis=0), corners.max(axis=0)
        module = float(high[0] - low[0]) / 6
        printed[_box(low - AROUND, high + AROUND, flat.detail)] = True
        left = np.array([low[0] + module * 0.3, low[1] + module]), np.array([low[0] + module * 0.7, high[1] - module])
        black[_box(*left, flat.detail)] = True
    return printed, black


def _box(low: Floats, high: Floats, detail: float) -> tuple[slice, slice]:
    (x0, y0), (x1, y1) = np.maximum(np.round(low * detail), 0).astype(int), np.round(high * detail).astype(int)
    return slice(int(y0), max(int(y1), int(y0) + 1)), slice(int(x0), max(int(x1), int(x0) + 1))


def _in_mm(found: Strokes, flat: FlatSheet) -> PenLines:
    lines, dots = [line / flat.detail for line in found.lines], []
    for ring in found.rings:
        points = ring / flat.detail
        edges = np.roll(points, -1, axis=0) - points
        around = float(np.linalg.norm(edges, axis=1).sum())
        area = 0.5 * abs(float((points[:, 0] * edges[:, 1] - points[:, 1] * edges[:, 0]).sum()))
        across = 2 * float(np.sqrt(area / np.pi))
        if 4 * np.pi * area > ROUND * around**2 and across < LARGEST:
            dots.append((points.mean(axis=0), across))
        else:
            lines.append(np.concatenate([points, points[:1]]))
    return PenLines(tuple(lines), tuple(dots), found.width / flat.detail)
