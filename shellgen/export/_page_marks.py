"""Page marks, printed on every page around the pieces: scale, page name, map, names, and joints to its neighbours.

Nothing here touches a line of a piece: the scale, map and names have the margins, and joints give way to the ink.
Items are in the page's own frame: mm from its lower left corner.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from shellgen.canvas import Path, Text, lettering
from shellgen.canvas.paper import FOOT, Frame, PagePlan, label
from shellgen.core.arrays import Floats, Geometries
from shellgen.export import _ink

Items = list[Path | Text]
Page = tuple[int, int]

SQUARE, FOUR_INCHES = 100.0, 101.6
BLOCK = 1.2  # mm, width of a rule's blocks (chosen)
SMALL = 2.5  # mm, the least lettering on a page: read at arm's length
_ARM, _CLEAR = 4.0, 2.0  # mm: arm of a cross; how far page marks keep from ink (chosen)
_CORNER = (5.0, FOOT - 4.0)  # of the square, from the corner of the margins
_MAP = (26.0, 17.6)


class Joints:
    """Where pages meet: trim lines and crosses, worked out once on the plane so that neighbours agree exactly."""

    def __init__(self, plan: PagePlan) -> None:
        self.plan = plan
        pairs = [(p, q) for p in plan.pages for q in ((p[0], p[1] + 1), (p[0] + 1, p[1])) if plan.joined(p, q)]
        self.seams = {pair: plan.seam(*pair) for pair in pairs}
        self.ink = shapely.STRtree(_lines(plan, list(self.seams.values())) if pairs else [])
        self.crosses: dict[tuple[Page, Page], Floats] = {}
        for pair, line in self.seams.items():
            self.crosses[pair] = self._crosses(line)
        self.trims = {pair: list(_parts(self._clear(line), 2.0)) for pair, line in self.seams.items()}

    def _crosses(self, seam: Floats) -> Floats:
        """(2, 2) two places on a seam, as far apart as the ink allows."""
        length = np.hypot(*(seam[1] - seam[0]))
        share = np.arange(_ARM + _CLEAR, length - _ARM - _CLEAR, 1.0)[:, None] / length
        spots = seam[0] + share * (seam[1] - seam[0])
        gaps = self._gap(spots)
        good = spots[gaps >= _ARM + _CLEAR]
        return np.asarray(good[[0, -1]] if len(good) > 1 else spots[np.sort(np.argsort(-gaps, kind="stable")[:2])])

    def _gap(self, spots: Floats) -> Floats:
        """Distance of each spot to the nearest ink, and to the arms of the crosses there are."""
        found, gaps = self.ink.query_nearest(shapely.points(spots), return_distance=True, all_matches=False)
        out = np.full(len(spots), np.inf)
        out[found[0]] = gaps
        for others in self.crosses.values():
            apart = np.linalg.norm(spots[:, None] - others, axis=2).min(axis=1)
            out = np.minimum(out, apart - 2 * _ARM)
        return out

    def _clear(self, seam: Floats) -> shapely.Geometry:
        """What of a seam keeps clear of the ink and of the crosses."""
        line = shapely.LineString(seam)
        near = self.ink.geometries[self.ink.query(line, "dwithin", _CLEAR)]
        kept = line.difference(shapely.union_all(shapely.buffer(near, _CLEAR / 2)))
        return kept.difference(shapely.MultiPoint(np.vstack(list(self.crosses.values()))).buffer(_ARM + 1))

    def on(self, page: Page) -> Items:
        """The joints of one page, clear of its ink."""
        frame, items = self.plan.frame, Items()
        for pair in self.seams:
            if page in pair:
                items += [Path(_on_page(frame, page, p), "trim") for p in self.trims[pair]]
                for spot in _on_page(frame, page, self.crosses[pair]):
                    items += cross(spot)
        return items


def _lines(plan: PagePlan, seams: Sequence[Floats]) -> Geometries:
    """The lines of every piece on the plane, as geometries, that come so near a seam that it matters."""
    lines = [[line for item in p.drawing.items for line in _ink.lines(item)] for p in plan.placed]
    points = np.vstack([p.move(np.concatenate(own)) for p, own in zip(plan.placed, lines, strict=True)])
    counts = np.array([len(line) for own in lines for line in own])
    start = np.cumsum(counts) - counts
    low, high = np.minimum.reduceat(points, start), np.maximum.reduceat(points, start)
    reach = _ARM + 2 * _CLEAR
    near = [(low <= seam.max(axis=0) + reach) & (high >= seam.min(axis=0) - reach) for seam in seams]
    kept = np.any([other.all(axis=1) for other in near], axis=0)
    points, counts = points[np.repeat(kept, counts)], counts[kept]
    found: Geometries = shapely.linestrings(points, indices=np.repeat(np.arange(len(counts)), counts))
    return found


def cross(at: Floats) -> Items:
    """A registration cross: two lines and a ring."""
    t = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ring = at + _ARM / 2 * np.column_stack([np.cos(t), np.sin(t)])
    arms = [np.array([at - d, at + d]) for d in np.diag((_ARM, _ARM))]
    return [*(Path(a, "note") for a in arms), Path(ring, "note", closed=True)]


def _on_page(frame: Frame, page: Page, points: Floats) -> Floats:
    return points + origin(frame, page)


def origin(frame: Frame, page: Page) -> Floats:
    """Where the plane's origin lies on a page: add it to a point of the plane."""
    x, y, _, _ = frame.tile(*page)
    return np.array(frame.window[:2]) - (x, y)


def _parts(lines: shapely.Geometry, least: float) -> Iterator[Floats]:
    for part in shapely.get_parts(lines):
        if part.length >= least:
            yield np.array(part.coords)


def scale(frame: Frame, *, square: bool = False) -> Items:
    """A rule of 100 mm up and across and one of 4 in, in the margins: blocks, so that no one takes them for a line to
    cut. square : closed to a square, where no piece is"""
    x, y = frame.margin + _CORNER[0], frame.margin + _CORNER[1]
    items = Items([note([(x, y + SQUARE), (x, y), (x + SQUARE, y)])])
    if square:
        items.append(note([(x, y + SQUARE), (x + SQUARE, y + SQUARE), (x + SQUARE, y)]))
    bar, inch = y - 9.2, FOUR_INCHES / 4
    for d in range(10, 100, 20):
        items += [_block(x + d, y, 10, -BLOCK), _block(x, y + d, -BLOCK, 10)]
    items += [_block(x + k * inch, bar, inch, -BLOCK) for k in (1, 3)]
    items.append(note([(x, bar), (x + FOUR_INCHES, bar)]))
    items.append(Text("100 mm", (x + SQUARE / 2, y - 5.4), SMALL, anchor="middle", layer="note"))
    items.append(Text("100 mm", (x - 2.4, y + SQUARE / 2), SMALL, np.pi / 2, "middle", "note"))
    return [*items, Text("4 in", (x, bar - 5.2), SMALL, layer="note")]


def _block(x: float, y: float, across: float, up: float) -> Path:
    """Every other step of a rule."""
    corners = np.array([(x, y), (x + across, y), (x + across, y + up), (x, y + up)])
    return Path(corners, "note", closed=True, fill=_ink.GREY)


def note(points: list[tuple[float, float]]) -> Path:
    return Path(np.array(points), "note")


def foot_line(frame: Frame, *, title: str, sheet: str, true_size: bool = True) -> Items:
    """Title and number of the sheet ("page 3 of 9") along the foot, and how to print it at true size."""
    left, right, low = frame.margin + _CORNER[0], frame.paper[0] - frame.margin, frame.margin + 0.8
    how = "print at 100 %, do not fit to page"
    words = shorten(
        "  ·  ".join(text for text in (title, how if true_size else "not at true size") if text),
        right - left - lettering.width(sheet, SMALL) - 5,
    )
    return [
        Text(words, (left, low), SMALL, layer="note"),
        Text(sheet, (right, low), SMALL, anchor="end", layer="note"),
    ]


def identity(plan: PagePlan, page: Page) -> Items:
    """Name of the page, the pieces on it, and if any is split its place on the map and how it joins its neighbours."""
    frame, name = plan.frame, label(page)
    right, low, bar = frame.paper[0] - frame.margin, frame.margin, frame.margin + _CORNER[0] + FOUR_INCHES
    items = Items([Text(name, (right, low + 9.0), 10.0, anchor="end", layer="note")])
    joins = _joins(plan, page)
    if joins:
        items.append(Text(joins, (bar, low + 5.6), SMALL, anchor="end", layer="note"))
    if plan.split:  # where nothing is joined, a map shows nothing
        items += page_map(plan, (bar + 6, low + 4.6), _MAP, current=page)
    names, x = ", ".join(p.drawing.name for p in plan.on(page)), bar + 6 + _MAP[0] + 4
    for k, line in enumerate(wrap(names, right - 3 - lettering.width(name, 10.0) - x, SMALL, most=4)):
        items.append(Text(line, (x, low + 18.5 - 4.4 * k), SMALL, layer="note"))
    return items


def _joins(plan: PagePlan, page: Page) -> str:
    """Which edges to trim: the left and the top one, where a piece goes on."""
    sides = (("left", (page[0], page[1] - 1)), ("top", (page[0] - 1, page[1])))
    words = [f"trim {side}, lay on {label(other)}" for side, other in sides if plan.joined(page, other)]
    return "; ".join(words)


def page_map(plan: PagePlan, at: tuple[float, float], room: tuple[float, float], *, current: Page) -> Items:
    """The pages as they lie; the current one filled."""
    rows, columns = (max(p[k] for p in plan.pages) + 1 for k in (0, 1))
    across, up = plan.frame.paper
    unit = min(room[0] / (columns * across), room[1] / (rows * up))
    items: Items = []
    for row, column in plan.pages:
        x, y = at[0] + column * across * unit, at[1] + room[1] - (row + 1) * up * unit
        box = np.array([(0.06, 0.06), (0.94, 0.06), (0.94, 0.94), (0.06, 0.94)]) * (across * unit, up * unit) + (x, y)
        items.append(Path(box, "note", closed=True, fill=_ink.GREY if (row, column) == current else None))
    return items


def wrap(text: str, across: float, height: float, *, most: int = 99) -> list[str]:
    """Lines of at most `across` mm; what does not go into `most` lines is cut off with an ellipsis."""
    lines = lettering.wrapped(text, across, height)
    if len(lines) > most:
        lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
    return [shorten(line, across, height) for line in lines]


def shorten(text: str, across: float, height: float = SMALL) -> str:
    while text and lettering.width(text, height) > across:
        text = text[:-2].rstrip(" ,·…") + "…" if len(text) > 2 else ""
    return text
