"""Printed pages read back: page sizes by pypdf, ink by rasterising with pymupdf at 300 dpi and measuring in mm."""

import io
import itertools
import xml.etree.ElementTree as ET
from pathlib import Path as File

import numpy as np
import pymupdf
import pypdf
import pytest
import shapely
import yaml
from export_samples import arranged, piece, pieces
from reportlab.pdfbase import pdfmetrics
from scipy.spatial import cKDTree
from svgpathtools import parse_path

from shellgen.canvas import Drawing, Path, Text, lettering, tiling
from shellgen.draw.key import SIGNS
from shellgen.draw.order import ORDER
from shellgen.errors import GeometryError
from shellgen.export import _cover, _ink, _page_marks, pdf, svg
from shellgen.pack.papers import FLIP

ROWS = yaml.safe_load((File(__file__).parents[1] / "published" / "export.yaml").read_text("utf-8"))
PUBLISHED = {row["id"]: row for row in ROWS}
DPI = 300
PIXEL = 25.4 / DPI


@pytest.fixture(scope="module")
def plan() -> tiling.PagePlan:
    return arranged()


@pytest.fixture(scope="module")
def data(plan: tiling.PagePlan) -> bytes:
    return pdf.write_pages(plan, title="Marsh Warden, size M")


@pytest.fixture(scope="module")
def rasters(data: bytes) -> list[np.ndarray]:
    """Darkness 0 to 1 of every page; row 0 at the bottom, so that (row, column) is (y, x) over PIXEL."""
    document = pymupdf.open(stream=data, filetype="pdf")
    pixmaps = [page.get_pixmap(dpi=DPI, colorspace=pymupdf.csGRAY) for page in document]
    return [1 - np.frombuffer(p.samples, np.uint8).reshape(p.height, p.stride)[::-1, : p.width] / 255 for p in pixmaps]


def ink_of(raster: np.ndarray) -> np.ndarray:
    """(n, 2) mm: the centres of the dark pixels."""
    return (np.argwhere(raster >= 0.5)[:, ::-1] + 0.5) * PIXEL


def half_points(profile: np.ndarray) -> tuple[float, float]:
    """First and last crossing of half darkness along a profile, mm, between the centres of pixels."""
    dark = np.flatnonzero(profile >= 0.5)
    a, b = dark[0], dark[-1]
    start = a - (profile[a] - 0.5) / (profile[a] - profile[a - 1]) if a else 0.0
    stop = b + (profile[b] - 0.5) / (profile[b] - profile[b + 1])
    return (start + 0.5) * PIXEL, (stop + 0.5) * PIXEL


def test_pages_have_the_papers_size_and_ask_not_to_be_scaled() -> None:
    for name in ("A4", "A3", "Letter", "Tabloid"):
        for lying in (False, True):
            plan = tiling.arrange(pieces()[-1:], paper=name, landscape=lying)
            reader = pypdf.PdfReader(io.BytesIO(pdf.write_pages(plan)))
            assert len(reader.pages) == len(plan.pages) + 1
            expected = sorted(PUBLISHED[name.lower()]["value"], reverse=lying)
            for page in reader.pages:
                size = np.array(page.mediabox[2:], float) * PUBLISHED["point"]["value"]
                assert size == pytest.approx(expected, abs=PUBLISHED[name.lower()]["tolerance"])
            assert reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_a_plotter_sheet_is_one_page_of_its_own_size() -> None:
    sheet = piece("roll", 600.0, 1400.0)
    reader = pypdf.PdfReader(io.BytesIO(pdf.write(sheet)))
    assert len(reader.pages) == 1
    size = np.array(reader.pages[0].mediabox[2:], float) * PUBLISHED["point"]["value"]
    assert size == pytest.approx((606.0, 1406.0), abs=0.01)
    with pytest.raises(GeometryError, match="5080"):
        pdf.write(Drawing("long", 900.0, 5200.0, sheet.items))


def test_the_square_measures_100_mm_on_every_page(rasters: list[np.ndarray], plan: tiling.PagePlan) -> None:
    x, y = plan.frame.margin + 5.0, plan.frame.margin + 20.0
    pen = _ink.PENS["note"].width
    for raster in rasters:
        across = raster[int(y / PIXEL), int((x - 3) / PIXEL) :]
        beside = across[: int(104 / PIXEL)]
        start, stop = half_points(beside)
        assert stop - start - pen == pytest.approx(100.0, abs=0.1)
        up = raster[int((y - 0.6) / PIXEL) : int((y + 104) / PIXEL), int(x / PIXEL)]
        start, stop = half_points(up)
        assert stop - start - pen == pytest.approx(100.0, abs=0.1)
        bar = raster[int((y - 9.2) / PIXEL), int((x - 3) / PIXEL) : int((x + 104.5) / PIXEL)]
        start, stop = half_points(bar)
        assert stop - start - pen == pytest.approx(PUBLISHED["four-inches"]["value"], abs=0.1)


def test_the_cover_closes_the_square(rasters: list[np.ndarray], plan: tiling.PagePlan) -> None:
    x, y = plan.frame.margin + 5.0, plan.frame.margin + 20.0
    row = rasters[0][int((y + 15) / PIXEL), int((x - 0.9) / PIXEL) : int((x + 103) / PIXEL)]
    column = rasters[0][int((y - 0.9) / PIXEL) : int((y + 103) / PIXEL), int((x + 15) / PIXEL)]
    for profile in (row, column):
        start, stop = half_points(profile)
        assert stop - start - _ink.PENS["note"].width == pytest.approx(100.0, abs=0.1)


def test_crosses_of_neighbours_coincide(rasters: list[np.ndarray], plan: tiling.PagePlan) -> None:
    joints = _page_marks.Joints(plan)
    assert joints.crosses
    for pair, spots in joints.crosses.items():
        for spot in spots:
            found = []
            for page in pair:
                raster, centre = rasters[1 + plan.pages.index(page)], spot + _page_marks.origin(plan.frame, page)
                size = int(5 / PIXEL)
                row, column = (int(v / PIXEL) for v in centre[::-1])
                patch = raster[row - size : row + size, column - size : column + size]
                assert patch.sum() * PIXEL**2 > 0.25 * 2 * _page_marks._ARM  # there is a cross at all
                rows, columns = np.indices(patch.shape)
                weight = patch.sum()
                middle = np.array([(columns * patch).sum(), (rows * patch).sum()]) / weight + 0.5 - size
                found.append((middle + np.array([column, row])) * PIXEL - _page_marks.origin(plan.frame, page))
            assert found[0] == pytest.approx(found[1], abs=0.1)
            assert np.hypot(*(found[0] - spot)) < 0.1


def svg_points(drawing: Drawing) -> np.ndarray:
    """Points of the outline as an SVG reader sees them, y up, mm."""
    out = []
    for element in ET.fromstring(svg.write(drawing)).iter("{http://www.w3.org/2000/svg}path"):
        if element.get("class") == "cut":
            out += [s.point(t) for s in parse_path(element.get("d")) for t in (0, 0.25, 0.5, 0.75)]
    return np.column_stack([np.real(out), drawing.height - np.imag(out)])


def test_a_piece_reassembled_from_its_tiles_agrees_with_its_svg(
    rasters: list[np.ndarray], plan: tiling.PagePlan
) -> None:
    inks = {page: cKDTree(ink_of(raster)) for page, raster in zip(plan.pages, rasters[1:], strict=True)}
    x, y, across, up = plan.frame.window
    for placed in plan.placed:
        points = placed.move(svg_points(placed.drawing))
        shown = np.zeros(len(points), bool)
        for page in placed.tiles:
            here = points + _page_marks.origin(plan.frame, page)
            inside = ((here >= (x + 0.3, y + 0.3)) & (here <= (x + across - 0.3, y + up - 0.3))).all(axis=1)
            gaps, _ = inks[page].query(here[inside])
            assert gaps.max() <= 0.2, placed.drawing.name  # wherever two tiles both show it, both are right
            shown |= inside
        assert shown.mean() > 0.98  # the rest lies on the very edge of a window, where half the line is clipped


def test_a_page_shows_nothing_but_its_pieces_and_its_furniture(
    rasters: list[np.ndarray], plan: tiling.PagePlan
) -> None:
    joints = _page_marks.Joints(plan)
    for page, raster in list(zip(plan.pages, rasters[1:], strict=True))[:4]:
        move = _page_marks.origin(plan.frame, page)
        lines = [p.move(line) + move for p in plan.on(page) for i in p.drawing.items for line in _ink.lines(i)]
        lines += [line for i in furniture(plan, page, joints) for line in _ink.lines(i)]
        known = [np.linspace(a, b, 2 + int(10 * np.hypot(*(b - a)))) for k in lines for a, b in itertools.pairwise(k)]
        clean = raster.copy()
        clean[map_box(plan)] = 0  # the filled field of the map
        gaps, _ = cKDTree(np.vstack(known)).query(ink_of(clean))
        assert gaps.max() <= 0.5 + 0.2  # half of the widest pen, that of lettering 10 mm high, and two pixels


def map_box(plan: tiling.PagePlan) -> tuple[slice, slice]:
    x = plan.frame.margin + _page_marks._CORNER[0] + _page_marks.FOUR_INCHES
    return slice(0, int((plan.frame.margin + 25) / PIXEL)), slice(int(x / PIXEL), int((x + 40) / PIXEL))


def furniture(plan: tiling.PagePlan, page: tuple[int, int], joints: _page_marks.Joints) -> list[Path | Text]:
    items = joints.on(page)
    items += _page_marks.scale(plan.frame)
    sheet = f"page {plan.pages.index(page) + 2} of {len(plan.pages) + 1}"
    items += _page_marks.foot_line(plan.frame, title="Marsh Warden, size M", sheet=sheet)
    return items + _page_marks.identity(plan, page)


@pytest.mark.parametrize(("paper", "lying"), [("Letter", False), ((210.0, 230.0), False), ((205.0, 205.0), False)])
def test_crosses_keep_off_each_other_where_four_pages_meet(paper: str, lying: bool) -> None:
    plan = arranged(paper, lying)
    joints = _page_marks.Joints(plan)
    spots = np.vstack(list(joints.crosses.values()))
    apart = np.linalg.norm(spots[:, None] - spots, axis=2)[np.triu_indices(len(spots), 1)]
    assert len(spots) >= 8 and apart.min() > 2 * _page_marks._ARM


def crowded(items: list[Path | Text]) -> list[str]:
    """Texts that touch another text or a line."""
    texts = [i for i in items if isinstance(i, Text)]
    words = [shapely.MultiLineString([*lettering.lay(t)]).buffer(lettering.pen(t.height) / 2) for t in texts]
    lines = [shapely.LineString(line).buffer(0.2) for i in items if isinstance(i, Path) for line in _ink.lines(i)]
    tree, out = shapely.STRtree(words), []
    for a, b in tree.query(words, predicate="dwithin", distance=0.6).T:
        out += [f"{texts[a].text!r} touches {texts[b].text!r}"] if a < b else []
    for a, b in tree.query(lines, predicate="dwithin", distance=0.4).T:
        out.append(f"{texts[b].text!r} touches a line near {lines[a].bounds}")
    return out


PAGES = [("A4", False), ("A4", True), ("Letter", False), ("Letter", True), ("A3", None), ((200.0, 900.0), False)]


@pytest.mark.parametrize(("paper", "lying"), PAGES)
def test_furniture_keeps_off_the_pieces_the_margins_and_itself(paper: str, lying: bool) -> None:
    plan = arranged(paper, lying)
    joints = _page_marks.Joints(plan)
    sheet = shapely.box(0, 0, *plan.frame.paper).buffer(-plan.frame.margin + 0.2)
    for page in plan.pages:
        items, move = furniture(plan, page, joints), _page_marks.origin(plan.frame, page)
        lines = shapely.MultiLineString([line for i in items for line in _ink.lines(i)])
        window = shapely.box(*plan.frame.window[:2], *np.add(plan.frame.window[:2], plan.frame.window[2:]))
        ink = shapely.union_all(
            [
                shapely.LineString(p.move(line) + move)
                for p in plan.on(page)
                for i in p.drawing.items
                for line in _ink.lines(i)
            ]
        )
        assert lines.distance(ink.intersection(window)) > 0.9
        assert lines.within(sheet)
        assert not crowded(items)


@pytest.mark.parametrize(("paper", "lying"), PAGES)
@pytest.mark.parametrize("title", ["Marsh Warden, size M", "A very long title for a very small shell " * 4, "x"])
def test_the_cover_is_not_crowded(paper: str, lying: bool, title: str) -> None:
    plan = arranged(paper, lying)
    use = f"{_cover.USE} {FLIP}"  # the longest
    signs = tuple(sign for name, sign in SIGNS.items() if name not in ("guide", "trim"))  # not on templates
    front = _cover.Front(use, signs=signs, prints=tuple((name, "12", when) for _, name, when in ORDER))
    count = "9 A4 pages, 13 pieces, 2 of them over several pages"
    items = _cover.cover(plan, front, title=title, count=count)
    items += _page_marks.scale(plan.frame, square=True)
    items += _page_marks.foot_line(plan.frame, title=title, sheet="page 1 of 9")
    maps = {p.drawing.name for p in plan.placed}  # names on the small map may lie on the lines of the pages
    assert not [c for c in crowded(items) if not any(f"'{name}'" in c for name in maps)]
    lines = shapely.MultiLineString([line for i in items for line in _ink.lines(i)])
    assert lines.within(shapely.box(0, 0, *plan.frame.paper).buffer(-plan.frame.margin + 0.3))
    shown = " ".join(i.text for i in items if isinstance(i, Text))
    assert all(f"{sign.name}: {sign.brief}" in shown for sign in signs)
    assert all(name in shown for _, name, _ in ORDER)


def test_names_can_be_searched_for(data: bytes, plan: tiling.PagePlan) -> None:
    reader = pypdf.PdfReader(io.BytesIO(data))
    for page, sheet in zip(plan.pages, reader.pages[1:], strict=True):
        text = sheet.extract_text()
        assert all(p.drawing.name in text for p in plan.on(page))
    assert reader.metadata.title == "Marsh Warden, size M"


def test_words_that_do_not_show_stay_on_the_page_and_hold_the_instructions() -> None:
    said = "Cut the strips out and lay them on the foam, as many times as each strip says, one after the other. " * 4
    slip = Drawing(
        "about", 90.0, 40.0, (Path([(1, 1), (89, 1), (89, 39)], "cut"), Text(said, (4, 20), 0.2, layer="note"))
    )
    reader = pypdf.PdfReader(io.BytesIO(pdf.write_pages(tiling.arrange([slip]), faults=[said * 2])))
    for page in reader.pages:
        spots: list[tuple[float, float, float]] = []

        def seen(text, cm, tm, font, size, found=spots):  # as pypdf calls it
            if text.strip():
                found.append(
                    (cm[0] * tm[4] + cm[4], cm[3] * tm[5] + cm[5], cm[0] * pdfmetrics.stringWidth(text, "Helvetica", 1))
                )

        assert " ".join(page.extract_text(visitor_text=seen).split()).count("as many times as each strip says") >= 4
        x, y, wide = np.array(spots).T * 25.4 / 72
        across, up = (float(side) * 25.4 / 72 for side in page.mediabox[2:])
        assert x.min() > 9 and y.min() > 9 and (x + wide).max() < across - 5 and y.max() < up - 9


def test_a_piece_is_stored_once(data: bytes, plan: tiling.PagePlan) -> None:
    document = pymupdf.open(stream=data, filetype="pdf")
    forms = {x[0] for page in document for x in page.get_xobjects()}
    assert len(forms) == len(plan.placed)


def test_equal_plans_give_equal_bytes(data: bytes) -> None:
    assert pdf.write_pages(arranged(), title="Marsh Warden, size M") == data
    assert pdf.write(pieces()[0]) == pdf.write(pieces()[0])
