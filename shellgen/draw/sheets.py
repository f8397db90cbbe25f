"""Every sheet of foam: a picture with the cutting order, and the drawing for a cutting machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import fit
from shellgen.canvas.reading import stood
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.arrays import Floats
from shellgen.draw.placing import Room
from shellgen.model.said import count
from shellgen.workshop.nest import FlatPart, Nest, Placement, Sheet
from shellgen.workshop.nest.kerf import compensated

PAGE = (297.0, 210.0)  # ISO 216 A4, landscape
BORDER, HEAD, SCALE_STEP = 12.0, 26.0, 0.5
NUMBERS, NAMES = (5.0, 3.5, 2.5), (3.5, 2.5, 1.8)  # ISO 3098
FOAM = (236, 240, 241)
FINE = 0.2  # mm on the page: finer detail of an outline is not drawn


def machine(sheet: Sheet, templates: Mapping[str, Drawing], *, kerf: float, rule: Rule = METRIC) -> Drawing:
    """One full-size sheet for a plotter, laser or router: lines and lettering first, then the outlines in order.

    templates : the printed drawing of each part by its name; a part without one has only its outline
    kerf      : width of the cut, mm; the closed path runs half of that outside each outline
    """
    inner: list[Path | Text] = []
    cuts: list[Path | Text] = []
    for number, placement in enumerate(sheet.placements, 1):
        name = placement.part.name
        if name in templates:
            inner += _carried(templates[name], placement)
        for path in compensated(placement.part.outline, kerf):
            data = {"piece": name, "order": str(number)}
            cuts.append(Path(placement.moved(path), "cut", closed=True, data=data))
    title = f"{sheet.name}: {sheet.stock}, {sheet.thickness:g} mm foam, cutter path for a kerf of {kerf:g} mm"
    return Drawing(sheet.name, sheet.stock.length, sheet.stock.width, (*inner, *cuts), rule.both(title))


def _carried(template: Drawing, placement: Placement) -> list[Path | Text]:
    """The template without its outline, moved to the place of the part."""
    edge = np.vstack([item.points for item in template.items if isinstance(item, Path) and item.layer == "cut"])
    back = placement.part.outline.min(axis=0) - edge.min(axis=0)
    moved: list[Path | Text] = []
    for item in stood(template.items, placement.angle):
        if isinstance(item, Text):
            x, y = placement.moved(np.array([item.at]) + back)[0]
            moved.append(replace(item, at=(float(x), float(y)), angle=item.angle + placement.angle))
        elif item.layer != "cut":
            moved.append(replace(item, points=placement.moved(item.points + back)))
    return moved


def picture(sheet: Sheet, *, of: int, rule: Rule = METRIC) -> Drawing:
    """One sheet on an A4 page, its parts numbered in the order in which they are cut; `of` sheets in all."""
    room = np.array(PAGE) - 2 * BORDER - [0.0, HEAD]
    size = np.array([sheet.stock.length, sheet.stock.width])
    scale = max(1.0, float(np.ceil((size / room).max() / SCALE_STEP) * SCALE_STEP))
    corner = BORDER + np.array([(room[0] - size[0] / scale) / 2, room[1] - size[1] / scale])
    items: list[Path | Text] = [
        Path(_box(np.zeros(2), size) / scale + corner, "note", closed=True, data={"sheet": sheet.name}),
        Path(_box(np.zeros(2), np.array([sheet.used, size[1]])) / scale + corner, "guide", closed=True),
    ]
    shown = [_simple(p.outline / scale + corner) for p in sheet.placements]
    for number, (placement, points) in enumerate(zip(sheet.placements, shown, strict=True), 1):
        data = {"piece": placement.part.name, "order": str(number)}
        items += [Path(points, "fill", closed=True, fill=FOAM), Path(points, "cut", closed=True, data=data)]
        items += _named(number, placement.part, points)
    items += _offcut(sheet, size, scale, corner, rule)
    return Drawing(
        f"{sheet.name}-order", *PAGE, (*items, *_head(sheet, of, scale, rule)), f"{sheet.name}: cutting order"
    )


def _simple(points: Floats) -> Floats:
    return np.array(shapely.Polygon(points).simplify(FINE).exterior.coords)[:-1]


def _box(low: Floats, high: Floats) -> Floats:
    return np.array([low, [high[0], low[1]], high, [low[0], high[1]]], float)


def _named(number: int, part: FlatPart, points: Floats) -> list[Text]:
    """The number as large as fits, and the name under it if there is room."""
    room = Room(points, [])
    centre = shapely.get_coordinates(shapely.point_on_surface(shapely.Polygon(points)))[0]
    spots = room.spots(centre, step=1.0, most=400)
    if not len(spots):
        return []
    words = list(room.place([str(number)], NUMBERS, spots))
    below = centre - [0.0, 6.0]
    return words + list(room.place([part.name], NAMES, room.spots(below, step=1.0, most=600)))


def _offcut(sheet: Sheet, size: Floats, scale: float, corner: Floats, rule: Rule) -> list[Text]:
    """The size of the unused part of the sheet, written on it."""
    left = size[0] - sheet.used
    room = Room(_box(np.array([sheet.used, 0.0]), size) / scale + corner, []) if left > 1 else None
    if room is None:
        return []
    centre = np.array([sheet.used + left / 2, size[1] / 2]) / scale + corner
    lines = ["unused", rule.both(f"{left:.0f} x {size[1]:.0f} mm")]
    across = room.place(lines, NAMES, np.array([centre]))
    return list(across or room.place([" ".join(lines)], NAMES, np.array([centre]), np.pi / 2))


def _head(sheet: Sheet, of: int, scale: float, rule: Rule) -> list[Text]:
    number = f"sheet {sheet.name.rsplit('-', 1)[-1]} of {of}"
    top = PAGE[1] - BORDER
    what = rule.both(f"{number}: {sheet.stock}, {sheet.thickness:g} mm foam, textured side up")
    lines = (
        (what, fit(what, PAGE[0] - 2 * BORDER, most=5.0) or NAMES[-1]),
        (
            f"{count(len(sheet.placements), 'part')}, {sheet.utilisation:.0%} of the sheet, scale 1:{scale:g}. "
            "Cut in the order of the numbers. On each part, do marks and lines first and the outline last.",
            3.5,
        ),
    )
    return [
        Text(text, (BORDER, top - 5.0 - 8.0 * k), height, layer="note") for k, (text, height) in enumerate(lines)
    ] + [
        Text(
            "Cut away from your hand with a new blade. Open the windows if you use a hot cutter.",
            (BORDER, top - 20.0),
            2.5,
            layer="note",
        )
    ]


def pictures(nest: Nest, *, rule: Rule = METRIC) -> Sequence[Drawing]:
    """The picture of every sheet."""
    return [picture(sheet, of=len(nest.sheets), rule=rule) for sheet in nest.sheets]
