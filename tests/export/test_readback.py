"""Reading back: right files pass, and each kind of wrong file is caught by as much as it is wrong."""

from __future__ import annotations

import io
import math
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
from drawn import shell, templates_of
from svgpathtools import parse_path

from shellgen.canvas import Drawing, Path, tiling
from shellgen.errors import GeometryError
from shellgen.export import dxf, pdf, svg
from shellgen.pack import readback


@pytest.fixture(scope="module")
def sheets():
    return list(templates_of(shell("puddle-hatchling"))[:8])


def stretched(sheet: Drawing, by: float) -> Drawing:
    """The sheet with one point of its outline moved aside."""
    items = list(sheet.items)
    at = next(k for k, item in enumerate(items) if isinstance(item, Path) and item.layer == "cut")
    points = np.array(items[at].points)
    points[1, 0] += by
    items[at] = replace(items[at], points=points)
    return replace(sheet, items=tuple(items))


def test_right_files_agree_to_their_own_rounding(sheets):
    for sheet in sheets:
        assert readback.svg(svg.write(sheet), sheet) <= 0.001
        assert readback.dxf(dxf.write(sheet), sheet) <= 1e-9
    plan = tiling.arrange(sheets)
    found = readback.pdf(pdf.write_pages(plan, title="(Hatchling) \\ q 1 0 0 cm"), plan)
    assert found.most <= 0.001


def test_pages_not_at_true_size_have_nothing_to_measure(sheets):
    """Neither a cover nor a square; and a caller that takes them for pages at true size gets an error."""
    plan = tiling.arrange(sheets)
    data = pdf.write_pages(plan, use=None)
    assert readback.pdf(data, plan, true_size=False).most <= 0.001
    assert readback.pdf(data, plan).most == math.inf
    assert readback.pdf(pdf.write_pages(plan), plan, true_size=False).most == math.inf


def test_a_point_out_of_place_is_found_as_far_as_it_is(sheets):
    sheet = sheets[0]
    assert readback.svg(svg.write(stretched(sheet, 0.3)), sheet) == pytest.approx(0.3, abs=0.002)
    assert readback.dxf(dxf.write(stretched(sheet, 0.3)), sheet) == pytest.approx(0.3, abs=1e-6)
    plan = tiling.arrange(sheets[:1])
    wrong = replace(plan, placed=(replace(plan.placed[0], drawing=stretched(sheet, 0.3)),))
    assert readback.pdf(pdf.write_pages(wrong), plan).lines == pytest.approx(0.3, abs=0.002)


def test_a_missing_line_a_scale_and_a_unit_are_found(sheets):
    sheet = sheets[0]
    fewer = replace(sheet, items=sheet.items[1:])
    assert readback.svg(svg.write(fewer), sheet) == readback.dxf(dxf.write(fewer), sheet) == math.inf
    data = svg.write(sheet)
    width = f'width="{sheet.width:.3f}'.rstrip("0").encode()
    assert width in data
    assert readback.svg(data.replace(width, f'width="{sheet.width + 5:.3f}'.encode()), sheet) == pytest.approx(
        5, abs=0.01
    )
    assert readback.svg(data.replace(b"<path ", b'<path transform="scale(2)" ', 1), sheet) == math.inf
    inches = ezdxf.read(io.StringIO(dxf.write(sheet).decode()))
    inches.header["$INSUNITS"] = 1
    out = io.StringIO()
    inches.write(out)
    assert readback.dxf(out.getvalue().encode(), sheet) == math.inf
    with pytest.raises(GeometryError, match=r"templates/x.svg differs by 0.300 mm"):
        readback.checked("templates/x.svg", 0.3)
    assert readback.checked("x", 0.001) == 0.001


def test_a_piece_out_of_place_and_a_wrong_paper_are_found(sheets):
    plan = tiling.arrange(sheets[:3])
    data = pdf.write_pages(plan)
    moved = replace(plan.placed[1], shift=(plan.placed[1].shift[0] + 0.7, plan.placed[1].shift[1]))
    shifted = replace(plan, placed=(plan.placed[0], moved, plan.placed[2]))
    assert readback.pdf(data, shifted).placing == pytest.approx(0.7, abs=0.001)
    letter = replace(plan, frame=replace(plan.frame, paper=(215.9, 279.4)))
    assert readback.pdf(data, letter).size == pytest.approx(297 - 279.4, abs=0.01)


def test_other_readers_find_the_same_lines(sheets):
    """svgpathtools and ezdxf, which the read-back does not use, see the outline where it sees it."""
    sheet = sheets[3]
    wanted = [line for layer, line in readback.drawn(sheet) if layer == "cut"]
    document = ezdxf.read(io.StringIO(dxf.write(sheet).decode()))
    assert not document.audit().errors
    theirs = [np.array(e.get_points("xy")) for e in document.modelspace().query('LWPOLYLINE[layer=="cut"]')]
    assert max(np.abs(a - b).max() for a, b in zip(theirs, wanted, strict=True)) < 1e-9
    import xml.etree.ElementTree as ET

    root = ET.fromstring(svg.write(sheet))
    cuts = [p.get("d") for p in root.iter("{http://www.w3.org/2000/svg}path") if p.get("class") == "cut"]
    for trace, line in zip(cuts, wanted, strict=True):
        curve = parse_path(trace)
        points = np.array([[s.start.real, sheet.height - s.start.imag] for s in curve])
        assert np.abs(points - line[:-1]).max() < 0.001
