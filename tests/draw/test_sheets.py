"""Sheet pictures and machine drawings, read back: every outline closed and in its place, numbers inside their parts."""

import io

import ezdxf
import numpy as np
import pytest
import shapely

from shellgen.canvas import Drawing, Path, Text, lettering
from shellgen.draw.sheets import machine, pictures
from shellgen.export import dxf
from shellgen.workshop import nest

L_SHAPE = np.array([[0, 0], [90, 0], [90, 40], [40, 40], [40, 100], [0, 100]], float)


@pytest.fixture(scope="module")
def laid() -> nest.Nest:
    parts = [nest.FlatPart(f"L-mid-{k}", L_SHAPE * (0.5 + 0.1 * k) - [30 * k, 200], 10.0) for k in range(6)]
    how = nest.Params(effort="quick", sheets=(nest.Stock(length=300.0, width=250.0, name="offcut"),), kerf=0.3)
    return nest.build(parts, how, thickness=10.0)


def template(part: nest.FlatPart) -> Drawing:
    low = part.outline.min(axis=0) - 8
    middle = shapely.Polygon(part.outline).representative_point()
    at = (middle.x - low[0], middle.y - low[1])
    items = (
        Path(part.outline - low, "cut", closed=True),
        Path(part.outline[[0, 1]] - low + [0.0, 5.0], "score"),
        Text(part.name, at, 2.5, anchor="middle"),
    )
    return Drawing(part.name, 200, 200, items)


def test_the_machine_drawing_has_closed_paths_half_a_kerf_outside(laid: nest.Nest) -> None:
    for sheet in laid.sheets:
        drawing = machine(sheet, {p.part.name: template(p.part) for p in sheet.placements}, kerf=0.3)
        file = ezdxf.read(io.StringIO(dxf.write(drawing).decode("utf-8")))
        assert not file.audit().errors
        cuts = [e for e in file.modelspace() if e.dxf.layer == "cut"]
        assert len(cuts) == len(sheet.placements) and all(e.closed for e in cuts)
        for entity, placement in zip(cuts, sheet.placements, strict=True):
            path = shapely.Polygon([(x, y) for x, y, *_ in entity.get_points()])
            part = shapely.Polygon(placement.outline)
            assert path.contains(part) and path.exterior.distance(part.exterior) == pytest.approx(0.15, abs=1e-6)


def test_lines_and_words_lie_where_the_part_lies(laid: nest.Nest) -> None:
    for sheet in laid.sheets:
        drawing = machine(sheet, {p.part.name: template(p.part) for p in sheet.placements}, kerf=0.0)
        assert [item.layer for item in drawing.items[-len(sheet.placements) :]] == ["cut"] * len(sheet.placements)
        for placement in sheet.placements:
            shape = shapely.Polygon(placement.outline)
            (word,) = [t for t in drawing.items if isinstance(t, Text) and t.text == placement.part.name]
            assert shape.contains(shapely.Point(word.at))
        scores = [p for p in drawing.items if isinstance(p, Path) and p.layer == "score"]
        for score, placement in zip(scores, sheet.placements, strict=True):
            edge = shapely.LineString(placement.outline[:2])
            assert edge.distance(shapely.Point(score.points[0])) == pytest.approx(5.0)


def test_pictures_number_every_part_in_order_inside_it(laid: nest.Nest) -> None:
    drawings = pictures(laid)
    assert len(drawings) == len(laid.sheets)
    for drawing, sheet in zip(drawings, laid.sheets, strict=True):
        page = shapely.box(0, 0, drawing.width, drawing.height)
        words = [shapely.MultiLineString(lettering.lay(t)) for t in drawing.items if isinstance(t, Text)]
        assert all(page.contains(word) for word in words)
        assert all(a.distance(b) > 0.5 for k, a in enumerate(words) for b in words[:k])
        parts = [p for p in drawing.items if isinstance(p, Path) and p.layer == "cut"]
        assert [p.data["piece"] for p in parts] == [p.part.name for p in sheet.placements]
        for number, path in enumerate(parts, 1):
            shape = shapely.Polygon(path.points)
            (text,) = [t for t in drawing.items if isinstance(t, Text) and t.text == str(number)]
            assert shape.contains(shapely.Polygon(lettering.box(text)))
