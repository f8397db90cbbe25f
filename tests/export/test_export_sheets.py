"""Sheets and tables read back by other readers: an XML parser, svgpathtools, ezdxf, the csv module."""

import csv as reader
import inspect
import io
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path as File

import ezdxf
import numpy as np
import pytest
import yaml
from export_samples import piece
from PIL import Image
from svgpathtools import parse_path

from shellgen.canvas import LAYERS, Drawing, Path, Table, Text
from shellgen.core import registry
from shellgen.export import _ink, csv, dxf, svg

ROWS = yaml.safe_load((File(__file__).parents[1] / "published" / "export.yaml").read_text("utf-8"))
PUBLISHED = {row["id"]: row["value"] for row in ROWS}
SVG = "{http://www.w3.org/2000/svg}"
PIECE = piece("L-crown-1", 333.3337, 241.1119)
FORMATS: dict[str, list[str]] = {}
"""Names of the formats by what they write."""
for _name in registry.names("shellgen.export"):
    _things = inspect.signature(registry.load("shellgen.export", _name).write).parameters.values()
    FORMATS.setdefault(next(iter(_things)).annotation, []).append(_name)


def test_lines_follow_the_published_widths() -> None:
    widths = {layer: pen.width for layer, pen in _ink.PENS.items() if pen.width}
    assert set(_ink.PENS) == set(LAYERS)
    assert set(widths.values()) <= set(PUBLISHED["iso-128-widths"])
    assert widths["cut"] / widths["score"] == PUBLISHED["iso-128-wide-to-narrow"]


def paths(data: bytes) -> list[ET.Element]:
    return list(ET.fromstring(data).iter(f"{SVG}path"))


def test_svg_is_at_true_size_without_transforms() -> None:
    root = ET.fromstring(svg.write(PIECE))
    width, height = (float(re.fullmatch(r"([\d.]+)mm", root.get(k)).group(1)) for k in ("width", "height"))
    assert (width, height) == pytest.approx((PIECE.width, PIECE.height), abs=5e-4)
    assert [float(v) for v in root.get("viewBox").split()] == [0, 0, width, height]
    assert not [e for e in root.iter() if e.get("transform")]
    assert root.find(f"{SVG}title").text == "Piece L-crown-1"


def test_another_renderer_draws_the_sheet_at_true_size() -> None:
    """CairoSVG at ten pixels to the millimetre: size of the sheet, and where on it ink lies, outermost lines."""
    try:
        import cairosvg
    except OSError:
        pytest.skip("needs libcairo2")
    picture = Image.open(io.BytesIO(cairosvg.svg2png(svg.write(PIECE), dpi=254, background_color="white")))
    assert picture.size == pytest.approx((10 * PIECE.width, 10 * PIECE.height), abs=1)
    rows, columns = np.nonzero(np.asarray(picture.convert("L")) < 128)
    drawn = np.concatenate(
        [item.points for _, items in _ink.in_layers(PIECE) for item in items if isinstance(item, Path)]
    )
    low, high = drawn.min(axis=0), drawn.max(axis=0)
    assert [columns.min() / 10, columns.max() / 10] == pytest.approx([low[0], high[0]], abs=0.5)
    assert [PIECE.height - rows.max() / 10, PIECE.height - rows.min() / 10] == pytest.approx([low[1], high[1]], abs=0.5)


def test_svg_has_one_element_per_path_where_it_belongs() -> None:
    found = [p for p in paths(svg.write(PIECE)) if "aria-label" not in p.attrib]
    ours = [item for _, items in _ink.in_layers(PIECE) for item in items if isinstance(item, Path)]
    assert [p.get("class") for p in found] == [item.layer for item in ours]
    for element, item in zip(found, ours, strict=True):
        curve = parse_path(element.get("d"))
        points = np.array([[s.start.real, PIECE.height - s.start.imag] for s in curve])
        expected = item.points if item.closed else item.points[:-1]
        assert np.abs(points - expected).max() <= 0.0006
        assert curve.isclosed() == item.closed
        assert {k[5:]: v for k, v in element.attrib.items() if k.startswith("data-")} == item.data


def test_svg_lettering_is_strokes_that_can_be_searched() -> None:
    words = {p.get("aria-label"): p for p in paths(svg.write(PIECE)) if "aria-label" in p.attrib}
    assert {t.text for t in PIECE.items if isinstance(t, Text)} == set(words)
    label = words["L-crown-1"]
    assert label.get("class") == "label" and label.find(f"{SVG}title").text == "L-crown-1"
    text = next(t for t in PIECE.items if isinstance(t, Text) and t.text == "L-crown-1")
    box = parse_path(label.get("d")).bbox()
    assert box[3] == pytest.approx(PIECE.height - text.at[1], abs=1e-3)
    assert box[3] - box[2] == pytest.approx(text.height, abs=1e-3)


def test_svg_holds_hostile_text() -> None:
    nasty = "</title><script>alert(1)</script> & \"'\x00\x0b]]>"
    line = Path([[0, 0], [1, 1]], "cut", data={"seam": nasty})
    data = svg.write(Drawing(nasty, 20, 20, (line, Text(nasty, (1, 1)))))
    root = ET.fromstring(data)
    clean = nasty.replace("\x00", "\ufffd").replace("\x0b", "\ufffd")
    assert root.find(f"{SVG}title").text == clean
    assert not list(root.iter(f"{SVG}script"))
    assert clean in [p.get("data-seam") for p in paths(data)]
    with pytest.raises(ValueError, match="attribute"):
        svg.write(Drawing("d", 20, 20, (Path([[0, 0], [1, 1]], "cut", data={'x" onload="': "1"}),)))


def test_svg_styles_every_layer_and_fills_only_what_is_filled() -> None:
    square = [[0, 0], [9, 0], [9, 9]]
    sheet = Drawing("d", 20, 20, (Path(square, "fill", True, fill=(1, 130, 255)), Path(square, "cut", True)))
    data = svg.write(sheet)
    assert [p.get("style") for p in paths(data)] == ["fill:#0182ff", None]
    assert ET.fromstring(data).get("fill") == "none"
    style = ET.fromstring(data).find(f"{SVG}defs/{SVG}style").text
    assert all(f".{layer}{{" in style for layer in LAYERS)


def read_dxf(data: bytes) -> ezdxf.document.Drawing:
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


def test_dxf_passes_the_audit_and_is_in_millimetres() -> None:
    document = read_dxf(dxf.write(PIECE))
    auditor = document.audit()
    assert not auditor.errors and not auditor.fixes
    assert document.dxfversion == "AC1024"  # R2010
    assert document.header["$INSUNITS"] == PUBLISHED["dxf-millimetres"]
    assert document.header["$MEASUREMENT"] == 1


def test_dxf_outline_and_layers_are_the_drawings() -> None:
    document = read_dxf(dxf.write(PIECE))
    lines = list(document.modelspace())
    assert {e.dxftype() for e in lines} == {"LWPOLYLINE"}
    for layer, items in _ink.in_layers(PIECE):
        ours = [
            (line, isinstance(i, Path) and i.closed)
            for i in items
            for line in ([i.points] if isinstance(i, Path) else _ink.lines(i))
        ]
        theirs = [e for e in lines if e.dxf.layer == layer]
        for (line, closed), entity in zip(ours, theirs, strict=True):
            assert entity.closed == closed
            assert np.abs(np.array(entity.get_points("xy")) - line).max() < 1e-9
        assert document.layers.get(layer).rgb == _ink.PENS[layer].colour or _ink.PENS[layer].colour == (0, 0, 0)
        assert document.layers.get(layer).dxf.lineweight == round(100 * _ink.PENS[layer].width)


def test_csv_reads_back_and_cannot_run_formulas() -> None:
    text = ("=1+1", "+1", "-2 mm", "@SUM(A1)", "\tx", 'a "b", c', "line\nbreak", "Ærø × 3")
    table = Table("t", ("what", "length (mm)"), tuple((t, -1.5 * k) for k, t in enumerate(text)))
    data = csv.write(table)
    assert data.count(b"\r\n") == 9
    rows = list(reader.reader(io.StringIO(data.decode("utf-8"), newline="")))
    assert rows[0] == ["what", "length (mm)"]
    for (cell, number), original, k in zip(rows[1:], text, range(8), strict=True):
        assert cell[0] not in "=+-@\t\r"
        assert cell.removeprefix("'") == original
        assert float(number) == -1.5 * k
    with pytest.raises(ValueError, match="columns"):
        csv.write(Table("t", ("a", "b"), (("x",),)))


@pytest.mark.parametrize("name", FORMATS["Drawing"])
def test_equal_sheets_give_equal_bytes(name: str) -> None:
    write = registry.load("shellgen.export", name).write
    assert write(PIECE) == write(piece("L-crown-1", 333.3337, 241.1119))


def test_every_format_is_a_module_that_takes_one_thing_and_returns_bytes() -> None:
    assert "svg" in FORMATS["Drawing"] and "csv" in FORMATS["Table"]
    for name in registry.names("shellgen.export"):
        signature = inspect.signature(registry.load("shellgen.export", name).write)
        kinds = [p.kind for p in signature.parameters.values()]
        assert kinds[0] is inspect.Parameter.POSITIONAL_OR_KEYWORD
        assert all(kind is inspect.Parameter.KEYWORD_ONLY for kind in kinds[1:]), f"{name}: options are keyword-only"
        assert signature.return_annotation == "bytes"


def test_dxf_does_not_depend_on_the_order_of_sets() -> None:
    program = "import sys; from shellgen.export import dxf; import export_samples as e\n"
    program += "sys.stdout.buffer.write(dxf.write(e.piece('L-rim-1', 90.0, 60.0)))"
    folder = str(File(__file__).parents[1])
    made = {
        subprocess.run(
            [sys.executable, "-c", program],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": folder},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("0", "3", "7")
    }
    assert len(made) == 1 and len(made.pop()) > 1000
