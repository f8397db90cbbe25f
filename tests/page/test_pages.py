"""What a maker reads on the printed pages: on every page of every paper no lettering lies on other lettering, stands on
its head or leaves the sheet."""

from functools import cache

import drawn
import pytest
import shapely

from shellgen.canvas import Text, lettering, tiling
from shellgen.canvas.paper import PagePlan
from shellgen.canvas.reading import overturned
from shellgen.draw import masks, patches, strips, wrap
from shellgen.draw.key import signs_on
from shellgen.draw.order import ORDER
from shellgen.draw.shelf import on_sheets
from shellgen.export import _cover, _page_marks
from shellgen.finish import stencils

PAPER = dict(zip(drawn.DEMOS, ("A4", "A3", "Letter"), strict=True))
KINDS = ("templates", "wrap", "rings", "patches", "masks")
NEAR = 0.2
"""mm between two letterings, at least: less and they run together in print."""
PRINTS = tuple((name, "12", when) for _, name, when in ORDER)
pages = pytest.mark.parametrize(("name", "kind"), [(name, kind) for name in drawn.DEMOS for kind in KINDS])


@cache
def plan(name: str, kind: str) -> PagePlan:
    of, chosen, paper = drawn.shell(name), drawn.demo(name), PAPER[name]
    if kind == "templates":
        return tiling.arrange(drawn.templates_of(drawn.shell(name, "darts")), paper=paper)
    if kind == "wrap":
        found = drawn.lines(name)
        return on_sheets([wrap.wrap_words(found), *wrap.wrap_strips(found), wrap.dial(of.name)], paper=paper)
    if kind == "rings":
        words = strips.ring_words(of.trim.rings, chosen.rings)
        return on_sheets([words, *strips.ring_strips(of.trim.rings, chosen.rings)], paper=paper)
    if kind == "patches":
        return on_sheets([patches.patch_words(of.worn.wear), *patches.patch_sheets(of.worn.wear)], paper=paper)
    found = stencils.build(of.ground.surface, of.ground.layout, of.top.spikes, of.top.masters, of.trim.rings.rings)
    found = stencils.shared(found)
    return on_sheets([masks.mask_words(found), *masks.mask_sheets(found)], paper=paper)


def written(of: PagePlan, page: tuple[int, int]) -> list[tuple[str, shapely.Geometry]]:
    """Every lettering of a page with its strokes, in the page's frame."""
    found = []
    x, y, across, up = of.frame.window
    for placed in of.on(page):
        for text in placed.drawing.items:
            if isinstance(text, Text):
                lines = [placed.move(line) + _page_marks.origin(of.frame, page) for line in lettering.lay(text)]
                seen = shapely.MultiLineString(lines).intersection(shapely.box(x, y, x + across, y + up))
                found += [] if seen.is_empty else [(text.text, seen)]
    furniture = _page_marks.scale(of.frame)
    furniture += _page_marks.foot_line(of.frame, title="A title of middling length", sheet="page 10 of 12")
    return found + lettered([*furniture, *_page_marks.identity(of, page)])


def lettered(items) -> list[tuple[str, shapely.Geometry]]:
    texts = [item for item in items if isinstance(item, Text)]
    return [(text.text, shapely.MultiLineString(lettering.lay(text))) for text in texts if text.text]


def clashes(found: list[tuple[str, shapely.Geometry]]) -> list[tuple[str, str]]:
    strokes = [lines for _, lines in found]
    pairs = shapely.STRtree(strokes).query(strokes, predicate="dwithin", distance=NEAR)
    return [(found[a][0], found[b][0]) for a, b in pairs.T if a < b]


@pages
def test_no_lettering_lies_on_other_lettering_or_leaves_the_page(name, kind):
    of = plan(name, kind)
    sheet = shapely.box(0, 0, *of.frame.paper)
    for page in of.pages:
        found = written(of, page)
        assert not clashes(found), page
        assert all(sheet.covers(lines) for _, lines in found), page


@pages
def test_no_lettering_stands_on_its_head(name, kind):
    for placed in plan(name, kind).placed:
        for text in placed.drawing.items:
            assert not isinstance(text, Text) or not overturned(text.angle + placed.angle), text.text


@pages
def test_the_cover_can_be_read(name, kind):
    of = plan(name, kind)
    front = _cover.Front(signs=signs_on([placed.drawing for placed in of.placed]), prints=PRINTS)
    found = lettered(_cover.cover(of, front, title="The Keeper of the Northern Pond", count="12 A4 pages, 34 pieces"))
    assert not clashes(found)
    assert all(shapely.box(0, 0, *of.frame.paper).covers(lines) for _, lines in found)


def test_words_on_each_other_are_found():
    over = [Text("dart", (0.0, 0.0), 2.5), Text("rim", (2.0, 0.5), 2.5), Text("7", (40.0, 0.0), 2.5)]
    assert clashes(lettered(over)) == [("dart", "rim")]
