"""Printed parts of card, read from the PDF with a reader that is not ours, and laid on the flat pieces of the foam."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pymupdf
import shapely
from shapely.ops import substring

MM = 25.4 / 72
TAB = 225 / 255
"""Grey of a tab."""
GRID = 0.002
"""mm: a PDF has its points to about a thousandth."""
NEAR = 0.02
MARGIN = 5.0
"""mm of the narrowest margin of a demo."""

Lines = list[np.ndarray]


@dataclass(frozen=True, slots=True, eq=False)
class Flat:
    """A flat piece at full size, y up. sides : seam or None, and (n, 2) line in the order of the outline, which is
    counter-clockwise; marks : seam, number and place of each"""

    name: str
    sides: Sequence[tuple[str | None, np.ndarray]]
    marks: Sequence[tuple[str, int, np.ndarray]]

    @property
    def outline(self) -> np.ndarray:
        return np.vstack([line[:-1] for _, line in self.sides])


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A page, mm, y up. parts : what cuts and folds enclose, without the tabs"""

    size: tuple[float, float]
    folds: Lines
    ticks: Lines
    tabs: list[shapely.Polygon]
    parts: list[shapely.Polygon]


def sheets(data: bytes) -> list[Sheet]:
    """Its pages."""
    return [_sheet(page) for page in pymupdf.open(stream=data, filetype="pdf")]


def _sheet(page: pymupdf.Page) -> Sheet:
    cuts, folds, ticks, tabs = Lines(), Lines(), Lines(), list[shapely.Polygon]()
    for of in page.get_drawings():
        if {item[0] for item in of["items"]} != {"l"}:
            continue
        line = np.array([of["items"][0][1], *(item[2] for item in of["items"])]) * MM
        line[:, 1] = page.rect.height * MM - line[:, 1]
        wide, colour = round((of["width"] or 0.0) * MM, 2), of["color"] or (0.0, 0.0, 0.0)
        if of["type"] == "f":
            tabs += [shapely.Polygon(line)] if abs(of["fill"][0] - TAB) < 1e-3 else []
        elif of["dashes"] != "[] 0" and colour[0] > 0.8:
            folds.append(line)
        elif wide == 0.5 and max(colour) == 0:
            cuts.append(line)
        elif wide == 0.35 and colour[2] > 0.6:
            ticks.append(line)
    whole = shapely.union_all([shapely.LineString(line) for line in (*cuts, *folds)], grid_size=GRID)
    faces = shapely.get_parts(shapely.polygonize([whole]))
    grey = shapely.union_all(tabs)
    parts = [shapely.Polygon(f.exterior) for f in faces if not grey.contains(f.representative_point())]
    return Sheet((page.rect.width * MM, page.rect.height * MM), folds, ticks, tabs, parts)


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """A flat piece on a page: `move` takes points of the piece at the scale to the page."""

    flat: Flat
    sheet: Sheet
    part: shapely.Polygon
    turn: complex
    shift: complex
    scale: int

    def move(self, points: np.ndarray) -> np.ndarray:
        moved = (points[:, 0] + 1j * points[:, 1]) / self.scale * self.turn + self.shift
        return np.column_stack([moved.real, moved.imag])

    def edge(self, side: int) -> shapely.LineString:
        """The part of the printed outline that is this side."""
        ring = shapely.orient_polygons(self.part).exterior
        ends = shapely.points(self.move(self.flat.sides[side][1][[0, -1]]))
        assert ring.distance(ends[0]) < NEAR and ring.distance(ends[1]) < NEAR, self.flat.name
        start, stop = (ring.project(end) for end in ends)
        if stop > start:
            return substring(ring, start, stop)
        tail, head = substring(ring, start, ring.length), substring(ring, 0.0, stop)
        return shapely.LineString([*tail.coords, *head.coords[1:]])

    def folded(self, side: int) -> float:
        """mm of the side on which tabs hang."""
        edge = self.edge(side).buffer(NEAR)
        return sum(float(np.hypot(*np.diff(fold, axis=0).T).sum()) for fold in self.sheet.folds
                   if edge.covers(shapely.LineString(fold)))  # fmt: skip

    def marks(self, side: int) -> dict[int, float]:
        """The marks that are printed on a side, by their number: mm from its beginning."""
        edge, found = self.edge(side), {}
        starts = shapely.MultiPoint([tick[0] for tick in self.sheet.ticks])
        for seam, number, at in self.flat.marks:
            here = shapely.Point(self.move(at[None])[0])
            if seam == self.flat.sides[side][0] and edge.distance(here) < NEAR and starts.distance(here) < NEAR:
                found[number] = edge.project(here)
        return found


def find(flat: Flat, scale: int, pages: Sequence[Sheet]) -> Found:
    """The part on the pages that is this piece, by its shape."""
    bare = shapely.Polygon(flat.outline / scale)
    best, off = None, np.inf
    for sheet in pages:
        for part in sheet.parts:
            if abs(part.area / bare.area - 1) < 3e-3:
                turn, shift, far = _laid(bare, part)
                if far < off:
                    best, off = Found(flat, sheet, part, turn, shift, scale), far
    assert best is not None and off < NEAR, f"{flat.name} at 1:{scale} is not on the pages ({off})"
    return best


def _laid(shape: shapely.Polygon, on: shapely.Polygon) -> tuple[complex, complex, float]:
    """The turn and shift that lay one outline on another, and by how much they then differ at most.

    References: P. Besl and N. McKay, A method for registration of 3-D shapes (1992); in the plane, from many starts.
    """
    points = shapely.get_coordinates(shapely.segmentize(shape.exterior, shape.length / 200)) @ np.array([1, 1j])
    middle, to = (complex(*area.centroid.coords[0]) for area in (shape, on))

    def moved(turn: complex, shift: complex) -> np.ndarray:
        here = points * turn + shift
        return shapely.points(here.real, here.imag)

    starts = [np.exp(2j * np.pi * k / 45) for k in range(45)]
    turn = min(starts, key=lambda t: shapely.distance(on.exterior, moved(t, to - middle * t)).mean())
    shift = to - middle * turn
    for _ in range(40):
        nearest = shapely.line_interpolate_point(
            on.exterior, shapely.line_locate_point(on.exterior, moved(turn, shift))
        )
        target = shapely.get_coordinates(nearest) @ np.array([1, 1j])
        a, b = points - points.mean(), target - target.mean()
        turn = np.vdot(a, b)
        turn = turn / abs(turn)
        shift = target.mean() - points.mean() * turn
    return turn, shift, float(shapely.distance(on.exterior, moved(turn, shift)).max())


def check(pages: Sequence[Sheet]) -> None:
    """No tab or part overlaps another, and none leaves its page."""
    for sheet in pages:
        inside = shapely.box(0, 0, *sheet.size).buffer(0.01 - MARGIN)
        shapes = [*sheet.parts, *sheet.tabs]
        assert all(inside.covers(shape) for shape in shapes)
        tree = shapely.STRtree(shapes)
        for one, other in tree.query(np.array(shapes, object)).T:
            if one < other:
                assert shapes[one].intersection(shapes[other]).area < 0.02, "rounding along a fold at most"


def check_seams(found: Sequence[Found]) -> set[str]:
    """Both edges of every seam are equally long and as long as on the template, have tabs on one of them at most, and
    agree in the places of their marks, both ends among them. The seams without tabs."""
    seams: dict[str, list[tuple[Found, int]]] = {}
    for of in found:
        for k, (seam, _) in enumerate(of.flat.sides):
            if seam is not None:
                seams.setdefault(seam, []).append((of, k))
    taped = set()
    for seam, ((one, k), (other, m)) in seams.items():
        long = one.edge(k).length
        assert abs(long - other.edge(m).length) < 0.1, seam
        for of, side in ((one, k), (other, m)):
            full = np.hypot(*np.diff(of.flat.sides[side][1], axis=0).T).sum()
            assert abs(of.edge(side).length - full / of.scale) < 0.1, seam
        folds = one.folded(k), other.folded(m)
        assert min(folds) == 0, f"{seam} has tabs on both edges"
        taped |= set() if max(folds) else {seam}
        here, there = one.marks(k), other.marks(m)
        assert here.keys() == there.keys()
        assert max(abs(at + there[number] - long) for number, at in here.items()) < 0.1, seam
        ends = [number for number, at in here.items() if min(at, long - at) < NEAR]
        assert len(ends) == 2, f"both ends of {seam} are marked"
    return taped
