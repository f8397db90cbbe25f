"""The sections in the guide: true to scale, every size written, no words on words, on lines or off the sheet."""

from dataclasses import replace
from itertools import product

import inked
import numpy as np
import pytest
import shapely

from shellgen.canvas import Path
from shellgen.canvas.lettering import box
from shellgen.canvas.rule import Rule
from shellgen.draw import sections
from shellgen.model import SpikeShape
from shellgen.trim import edging, rings

BOTH = (Rule(False), Rule(True))
HORN = SpikeShape("horn", 44.0, 36.0, 42.0, tip_radius=8.0, bend=1.0)
SHAPES = (HORN, SpikeShape("cone", 60.0, 60.0, 20.0, tip_radius=5.0), SpikeShape("stud", 24.0, 24.0, 9.0))
RINGS = [
    rings.Params(thickness=t, width=w, chamfer=c, lies=lies)
    for t, w, c, lies in product((1.0, 5.0, 20.0), (3.0, 8.0, 60.0), (0.0, 2.0), ("upright", "flank"))
]
EDGINGS = [edging.Params(thickness=t, width=w) for t, w in product((2.0, 10.0, 40.0), (5.0, 20.0, 80.0))]


@pytest.fixture(scope="module")
def drawings():
    return [
        *(sections.ring_section(*of) for of in product(RINGS, SHAPES, (3.0, 15.0), BOTH)),
        *(sections.edging_section(*of) for of in product(EDGINGS, (3.0, 10.0, 15.0), BOTH)),
    ]


def filled(drawing):
    """Area and lower left and upper right corner of what is filled, in drawing order."""
    shapes = [shapely.polygons(item.points) for item in drawing.items if isinstance(item, Path) and item.fill]
    return [(shape.area, *np.reshape(shape.bounds, (2, 2))) for shape in shapes if shape.area > 1]


def said(drawing):
    return " ".join(item.text for item in inked.words(drawing))


def test_no_words_lie_on_each_other_or_leave_the_sheet(drawings):
    for drawing in drawings:
        sheet = shapely.box(0, 0, drawing.width, drawing.height)
        boxes = [shapely.polygons(box(text)) for text in inked.words(drawing)]
        assert all(sheet.covers(inked.ink(text)) for text in inked.words(drawing)), said(drawing)
        assert drawing.width == sections.ACROSS and drawing.height < 65
        pairs = shapely.STRtree(boxes).query(boxes, predicate="intersects")
        assert all(a == b for a, b in pairs.T), said(drawing)


def test_no_words_lie_on_an_outline_and_no_line_leaves_the_sheet(drawings):
    for drawing in drawings:
        edges = shapely.MultiLineString([path.points for path in inked.paths(drawing, "cut")])
        for text in inked.words(drawing):
            assert text.text == "spike" or inked.ink(text).distance(edges) > 0.3, (text.text, said(drawing))
        sheet = shapely.box(0, 0, drawing.width, drawing.height)
        for item in drawing.items:
            assert not isinstance(item, Path) or sheet.covers(shapely.linestrings(item.points)), said(drawing)


def test_the_ring_is_drawn_to_scale_with_its_chamfer():
    how = rings.Params(thickness=5.0, width=8.0, chamfer=2.0)
    (foam, low, high), _, (strip, foot, top) = filled(sections.ring_section(how, HORN, 10.0, Rule()))
    scale = (high - low)[1] / 10
    assert (top - foot) / scale == pytest.approx([5.0, 8.0], abs=1e-9)
    assert strip / scale**2 == pytest.approx(5 * 8 - 2 * 2 / 2)
    assert foot[1] == pytest.approx(high[1]) and foam > strip
    # the strip begins where the side of this spike meets the foam: half of its width from the middle
    side = sections._side(HORN)
    assert side[0] == pytest.approx([18.0, 0.0]) and side[-1] == pytest.approx([0.0, side[:, 1].max()], abs=1e-9)


def test_the_stock_is_drawn_to_scale_on_the_middle_of_the_edge():
    how = edging.Params(thickness=8.0, width=20.0)
    (_, low, high), (stock, start, end) = filled(sections.edging_section(how, 12.0, Rule()))
    scale = (high - low)[1] / 12
    assert (end - start) / scale == pytest.approx([8.0, 20.0])
    assert stock / scale**2 == pytest.approx(8 * 20 / 2)
    assert start[0] == pytest.approx(high[0])  # it begins where the foam ends
    assert (high - end)[1] / scale == pytest.approx(-4.0) and (start - low)[1] / scale == pytest.approx(-4.0)


def test_every_size_is_written_in_the_units_of_the_paper():
    how, foam = rings.Params(thickness=6.0, width=9.525, chamfer=2.5), 11.0
    words = said(sections.ring_section(how, HORN, foam, Rule()))
    assert all(size in words for size in ("6 mm thick", "9.5 mm high", "chamfer, 2.5 mm at 45°", "shell, 11 mm"))
    words = said(sections.ring_section(how, HORN, foam, Rule(True)))
    assert all(size in words for size in ("6 mm (1/4 in)", "9.5 mm (3/8 in)", "11 mm (7/16 in)"))
    assert "chamfer" not in said(sections.ring_section(replace(how, chamfer=0.0), HORN, foam, Rule()))
    stock = edging.Params(thickness=10.0, width=20.0)
    words = said(sections.edging_section(stock, foam, Rule()))
    assert all(size in words for size in ("20 mm wide", "10 mm thick", "overhang, 4.5 mm on each side", "shell, 11 mm"))
    assert "foam stands out, 3 mm" in said(sections.edging_section(replace(stock, width=5.0), foam, Rule()))
    assert "overhang" not in said(sections.edging_section(replace(stock, width=foam), foam, Rule()))
