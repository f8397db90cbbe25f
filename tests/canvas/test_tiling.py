"""Pieces on pages: nothing overlaps, nothing that fits is split, no page is empty."""

from pathlib import Path as File

import numpy as np
import pytest
import shapely
import yaml
from export_samples import arranged, piece, pieces
from shapely.affinity import affine_transform

from shellgen.canvas import Drawing, Path, tiling
from shellgen.canvas.paper import PAPERS, label
from shellgen.errors import FitError, GeometryError

ROWS = yaml.safe_load((File(__file__).parents[1] / "published" / "export.yaml").read_text("utf-8"))
PUBLISHED = {row["id"]: row for row in ROWS}


def random_pieces(seed: int) -> tuple[Drawing, ...]:
    rng = np.random.default_rng(seed)
    sizes = rng.uniform((30, 30), (430, 330), (9, 2))
    return tuple(piece(f"p{k}", *size) for k, size in enumerate(sizes))


@pytest.fixture(
    scope="module", params=[("A4", None), ("A4", True), ("Letter", False), ("A3", None), ((430.0, 250.0), None)]
)
def plan(request: pytest.FixtureRequest) -> tiling.PagePlan:
    paper, landscape = request.param
    return arranged(paper, landscape)


def check(plan: tiling.PagePlan) -> None:
    outlines = [p.outline for p in plan.placed]
    tree = shapely.STRtree(outlines)
    first, second = tree.query(outlines, predicate="dwithin", distance=tiling._GAP - 0.5 * tiling._CELL)
    assert np.array_equal(first, second), "two pieces overlap or are too close to cut"
    for placed in plan.placed:
        cos, sin = np.cos(placed.angle), np.sin(placed.angle)
        moved = affine_transform(tiling.outline(placed.drawing), (cos, -sin, sin, cos, *placed.shift))
        assert moved.hausdorff_distance(placed.outline) < 1e-6
        printed = shapely.union_all([shapely.box(*plan.frame.tile(*tile)) for tile in placed.tiles])
        assert moved.difference(printed.buffer(1e-6)).is_empty, "a part of a piece is printed nowhere"
    assert set(plan.pages) == {tile for p in plan.placed for tile in p.tiles}
    assert all(plan.on(page) for page in plan.pages)
    assert min(p[0] for p in plan.pages) == min(p[1] for p in plan.pages) == 0


def could_fit(drawing: Drawing, plan: tiling.PagePlan) -> bool:
    (x0, y0, x1, y1), (_, _, across, up) = tiling.outline(drawing).bounds, plan.frame.window
    return sorted((x1 - x0, y1 - y0)) <= sorted((across, up)) and max(x1 - x0, y1 - y0) <= max(across, up)


def test_pieces_lie_clear_of_each_other_and_wholly_on_their_pages(plan: tiling.PagePlan) -> None:
    check(plan)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_random_pieces_keep_the_same_laws(seed: int) -> None:
    check(tiling.arrange(random_pieces(seed)))


def test_a_piece_that_fits_a_page_is_never_split(plan: tiling.PagePlan) -> None:
    for placed in plan.placed:
        if could_fit(placed.drawing, plan):
            assert len(placed.tiles) == 1, placed.drawing.name


def test_few_pages_are_used() -> None:
    for paper, most in (("A4", 8), ("A3", 4)):
        assert len(arranged(paper).pages) <= most  # counts by hand: large pieces 4, rims two a page
    one = piece("small", 60, 40)
    many = tuple(Drawing(f"s{k}", one.width, one.height, one.items) for k in range(10))
    assert len(tiling.arrange(many).pages) == 1  # 10 of 66 x 46 mm in 2 columns and 5 rows of a window 185 x 257


def test_a_half_is_closed_by_the_line_that_it_is_flipped_on() -> None:
    """Its inside is paper too: no other piece lies there, and no page in its middle is missing."""
    edge = np.array([(600.0, 0.0), (0.0, 0.0), (0.0, 900.0), (600.0, 900.0)])
    fold = np.array([(600.0, 1e-9), (600.0, 900.0 - 1e-9)])
    half = Drawing("half", 600, 900, (Path(edge, "cut"), Path(fold, "symmetry", data={"fold": "yes"})))
    assert tiling.outline(half).area == pytest.approx(600 * 900, rel=0.01)
    split = tiling.arrange([half])
    rows, columns = (1 + max(page[k] for page in split.pages) for k in (0, 1))
    assert len(split.pages) == rows * columns >= 9
    check(tiling.arrange([half, piece("small", 60, 40)]))


def test_papers_are_the_published_sizes() -> None:
    for row in ("a4", "a3", "letter", "tabloid"):
        assert PAPERS[row.capitalize()] == pytest.approx(PUBLISHED[row]["value"], abs=PUBLISHED[row]["tolerance"])


def test_landscape_takes_whichever_needs_fewer_pages() -> None:
    counts = {lying: len(arranged("A4", lying).pages) for lying in (None, False, True)}
    assert counts[None] == min(counts.values())


def test_page_names_count_rows_in_letters() -> None:
    assert [label(p) for p in ((0, 0), (1, 2), (25, 0), (26, 1), (51, 0), (52, 0))] == [
        "A1",
        "B3",
        "Z1",
        "AA2",
        "AZ1",
        "BA1",
    ]


def test_a_plan_repeats() -> None:
    first, second = arranged(), tiling.arrange(pieces())
    assert first.pages == second.pages
    assert [(p.angle, p.shift) for p in first.placed] == [(p.angle, p.shift) for p in second.placed]


def test_what_cannot_be_printed_is_refused() -> None:
    for bad in ({"paper": "A9"}, {"paper": (90.0, 400.0)}, {"margin": -1.0}, {"overlap": 90.0}):
        with pytest.raises(GeometryError):
            tiling.arrange(pieces(), **bad)
    with pytest.raises(FitError):
        tiling.arrange(())
    with pytest.raises(GeometryError, match="empty"):
        tiling.arrange((Drawing("void", 10, 10, ()),))
