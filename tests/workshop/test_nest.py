"""Parts on sheets: nothing overlaps, nothing is mirrored, no sheet too many, and the same layout every time."""

import math
import os
import re
import subprocess
import sys
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest
import shapely
import yaml
from shapely.affinity import affine_transform

from shellgen.errors import GeometryError
from shellgen.workshop import nest
from shellgen.workshop.nest import _compaction, strip
from shellgen.workshop.nest._compaction import Bodies, convex_parts, press
from shellgen.workshop.nest.kerf import compensated
from shellgen.workshop.nest.order import tour
from shellgen.workshop.nest.purchase import bound, cheapest, costs

HERE = Path(__file__).parents[1]
PUBLISHED = {row["id"]: row for row in yaml.safe_load((HERE / "published" / "nest.yaml").read_text("utf-8"))}
OPEN = yaml.safe_load((HERE.parent / "benchmarks" / "nesting.yaml").read_text("utf-8"))
BOOT = np.array([[0, 0], [70, 0], [70, 25], [25, 30], [20, 90], [0, 90]], float)


def plate(rng: np.random.Generator, size: float) -> np.ndarray:
    """A wavy outline that looks the same neither turned nor mirrored."""
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    radius = size * (1 + 0.25 * np.sin(3 * turn + rng.uniform(0, 6)) + 0.1 * np.cos(2 * turn))
    return np.column_stack([radius * np.cos(turn), 0.7 * radius * np.sin(turn)]) + rng.uniform(-500, 500, 2)


def plates(count: int = 14, thickness: float = 10.0) -> list[nest.FlatPart]:
    rng = np.random.default_rng(3)
    return [nest.FlatPart(f"p{k}", plate(rng, rng.uniform(25, 60)), thickness) for k in range(count)]


def params(**more: object) -> nest.Params:
    return nest.Params(**{"effort": "quick", "sheets": (nest.Stock(length=300.0, width=200.0),), **more})  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def laid() -> nest.Nest:
    return nest.build(plates(), params(kerf=0.4), thickness=10.0)


def test_parts_keep_their_distance_and_all_are_there(laid: nest.Nest) -> None:
    assert sorted(p.part.name for s in laid.sheets for p in s.placements) == sorted(p.name for p in plates())
    for sheet in laid.sheets:
        shapes = [shapely.Polygon(p.outline) for p in sheet.placements]
        gaps = [a.distance(b) for k, a in enumerate(shapes) for b in shapes[:k]]
        assert min(gaps) >= 3.4 and min(gaps) == pytest.approx(sheet.gap)
        inside = shapely.box(5, 5, 295, 195)
        assert all(inside.buffer(1e-6).contains(shape) for shape in shapes)
        assert sheet.utilisation == pytest.approx(sum(s.area for s in shapes) / (300 * 200))
        assert max(s.bounds[2] for s in shapes) <= sheet.used <= 300
    assert not laid.left_out and {f.level for f in laid.findings} == {"ok"}


def test_no_part_is_mirrored_or_stretched(laid: nest.Nest) -> None:
    for placement in (p for s in laid.sheets for p in s.placements):
        cos, sin = math.cos(placement.angle), math.sin(placement.angle)
        moved = affine_transform(shapely.Polygon(placement.part.outline), (cos, -sin, sin, cos, *placement.shift))
        assert np.abs(shapely.get_coordinates(moved)[:-1] - placement.outline).max() < 1e-9


def test_no_more_than_one_sheet_above_the_bound_by_area(laid: nest.Nest) -> None:
    area = sum(shapely.Polygon(p.outline).area for p in plates())
    assert laid.bound == math.ceil(area / (290 * 190)) == 2
    assert laid.bound <= len(laid.sheets) <= laid.bound + 1


def test_same_input_same_layout_on_a_busy_computer() -> None:
    quiet = nest.build(plates(7), params(), thickness=10.0)
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(os.cpu_count() or 1)]
    try:
        again = nest.build(plates(7), params(), thickness=10.0)
    finally:
        for process in busy:
            process.kill()
            process.wait()
    figures = [[(p.part.name, p.angle, p.shift) for s in n.sheets for p in s.placements] for n in (quiet, again)]
    assert figures[0] == figures[1]


@pytest.mark.parametrize(("rotations", "step"), [("grain", 180), ("quarter", 90), ("none", 360)])
def test_turns_are_those_allowed(rotations: str, step: float) -> None:
    parts = [replace(part, grain=math.radians(30)) for part in plates(5)]
    laid = nest.build(parts, params(rotations=rotations), thickness=10.0)
    for placement in (p for s in laid.sheets for p in s.placements):
        turn = math.degrees(placement.angle + math.radians(30)) / step
        assert turn == pytest.approx(round(turn), abs=1e-6)


def test_only_parts_of_one_thickness_share_a_sheet() -> None:
    thin = [replace(part, name=f"thin-{part.name}") for part in plates(4, thickness=5.0)]
    stock = (nest.Stock(length=400.0, width=300.0), nest.Stock(length=300.0, width=300.0, thickness=5.0))
    laid = nest.build([*plates(4), *thin], params(sheets=stock), thickness=10.0)
    assert [{p.part.thickness for p in s.placements} for s in laid.sheets] == [{10.0}, {5.0}]
    alone = nest.build(thin, params(), thickness=10.0)
    assert not alone.sheets and len(alone.left_out) == 4 and "5 mm foam are on no sheet" in alone.findings[0].text


def test_a_part_larger_than_any_sheet_is_named_with_its_size() -> None:
    large = nest.FlatPart("L-long-1", np.array([[0, 0], [600, 0], [600, 50], [0, 50]], float), 10.0)
    laid = nest.build([*plates(3), large], params(), thickness=10.0)
    fault = next(f for f in laid.findings if f.level == "fault")
    assert laid.left_out == ("L-long-1",) and "L-long-1 (600 x 50 mm)" in fault.text and "290 x 190 mm" in fault.text
    length, width = map(float, re.search(r"a sheet of (\d+) x (\d+) mm is large enough", fault.text).groups())
    enough = params(sheets=(nest.Stock(length=length, width=width),))
    assert nest.build([*plates(3), large], enough, thickness=10.0).left_out == (), "what it advises, does"


def test_a_part_that_fits_slantwise_only_is_placed() -> None:
    bar = nest.FlatPart("bar", np.array([[0, 0], [320, 0], [320, 10], [0, 10]], float), 10.0)
    laid = nest.build([bar], params(), thickness=10.0)
    assert laid.left_out == () and laid.sheets[0].edge >= 5
    free, degrees = strip.angles(bar.outline, 190.0, 290.0, "free")
    assert not free and degrees and all(20 < d % 180 < 160 for d in degrees)
    assert nest.build([bar], params(rotations="quarter"), thickness=10.0).left_out == ("bar",)


def test_offcuts_go_first_and_limited_stock_runs_out() -> None:
    stock = (
        nest.Stock(length=400.0, width=300.0, price=9.0),
        nest.Stock(length=300.0, width=200.0, price=0.0, count=1),
    )
    laid = nest.build(plates(4), params(sheets=stock), thickness=10.0)
    assert laid.cost == 0.0 and [s.stock.price for s in laid.sheets] == [0.0]
    few = nest.build(plates(), params(sheets=(nest.Stock(length=300.0, width=200.0, count=1),)), thickness=10.0)
    assert len(few.sheets) == 1 and few.left_out
    (fault,) = (f.text for f in few.findings if f.level == "fault")
    more = int(re.search(r"at least (\d+) more sheet", fault)[1])
    stock = (nest.Stock(length=300.0, width=200.0, count=more),)
    assert nest.build(plates(), params(sheets=stock), thickness=10.0).left_out, "so many more, beside the one"


def test_the_cheapest_sheets_are_those_found_by_trying_all() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        rooms, prices, counts = rng.uniform(1, 9, 3), rng.uniform(1, 9, 3), rng.integers(0, 4, 3)
        area = rng.uniform(1, 20)
        found = cheapest(rooms.tolist(), prices.tolist(), counts.tolist(), area)
        every = np.array(np.meshgrid(*[np.arange(c + 1) for c in counts])).reshape(3, -1).T
        enough = every[every @ rooms >= area]
        if len(enough):
            assert np.array(found) @ rooms >= area - 1e-9
            assert np.array(found) @ prices == pytest.approx((enough @ prices).min(), abs=0.01)
            assert bound(rooms.tolist(), counts.tolist(), area) == enough.sum(axis=1).min()
        else:
            assert found == tuple(counts)


def test_a_sheet_without_a_price_is_valued_by_area() -> None:
    kinds = [nest.Stock(length=100.0, width=100.0, price=2.0), nest.Stock(length=200.0, width=100.0)]
    assert costs(kinds) == (2.0, 4.0)


@pytest.mark.parametrize("name", ["fu", "shapes1"])
def test_open_instances_lie_between_bound_and_a_plain_layout(name: str) -> None:
    task = OPEN[name]
    shapes = [np.array(s[1:], float).reshape(-1, 2) for s in task["shapes"] for _ in range(s[0])]
    area = sum(shapely.Polygon(s).area for s in shapes)
    row = PUBLISHED[f"{name}-bound"]
    assert area == pytest.approx(PUBLISHED[f"{name}-area"]["value"], abs=PUBLISHED[f"{name}-area"]["tolerance"])
    assert area / task["strip"] == pytest.approx(row["value"], abs=row["tolerance"])
    found = strip.pack(shapes, task["strip"], rotations=task["rotations"], tries=1, work=300)
    assert strip.sound(shapes, found.poses, task["strip"])
    assert max(p[:, 0].max() for p in strip.placed(shapes, found.poses)) <= found.length + 1e-3
    # a plain layout is 10 to 20 points less dense than the record (common practice, no source)
    record = area / task["strip"] / PUBLISHED[f"{name}-record"]["value"]
    assert record - 0.20 < area / task["strip"] / found.length < 1.0


def test_squares_are_pressed_into_a_row_without_gaps() -> None:
    square = np.array([[-5, -5], [5, -5], [5, 5], [-5, 5]], float)
    poses = np.array([[6.0, 5.5, 0.0], [19.0, 6.0, 0.0], [33.0, 5.2, 0.0]])
    pressed, length = press(Bodies.of([square] * 3), poses, height=11.0, length=40.0, turning=np.zeros(3, bool))
    assert length == pytest.approx(30.0, abs=1e-3) and strip.sound([square] * 3, pressed, 11.0)


def test_pressing_never_lengthens_and_never_overlaps() -> None:
    shapes = [BOOT - BOOT.mean(axis=0)] * 6
    poses = np.array([[60.0 + 100 * k, 60.0, 0.3 * k] for k in range(6)])
    pressed, length = press(Bodies.of(shapes), poses, height=130.0, length=620.0, turning=np.ones(6, bool))
    assert length < 480 and strip.sound(shapes, pressed, 130.0)


def test_many_shapes_are_pressed_as_close_as_few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Squares with gaps between them have one closest layout: a row of columns without any gap."""
    square = 10.0 * np.array([(0, 0), (1, 0), (1, 1), (0, 1)], float)
    poses = np.array([(12.0 * column, 10.0 * row, 0.0) for column in range(12) for row in range(10)])
    lengths = []
    for many in (len(poses) - 1, len(poses)):
        monkeypatch.setattr(_compaction, "MANY", many)
        pressed, length = press(
            Bodies.of([square] * len(poses)), poses, height=100.0, length=150.0, turning=np.zeros(len(poses), bool)
        )
        assert strip.sound([square] * len(poses), pressed, 100.0)
        lengths.append(length)
    assert lengths == pytest.approx([120.0, 120.0], abs=1e-2)


def test_convex_parts_make_up_the_shape() -> None:
    parts = [shapely.Polygon(p) for p in convex_parts(BOOT)]
    assert all(p.convex_hull.area == pytest.approx(p.area) for p in parts)
    assert shapely.union_all(parts).symmetric_difference(shapely.Polygon(BOOT)).area < 1e-6
    assert sum(p.area for p in parts) == pytest.approx(shapely.Polygon(BOOT).area)
    assert len(parts) == 2  # one reflex corner


def test_the_cutting_order_is_nearly_the_shortest() -> None:
    rng = np.random.default_rng(2)
    places = rng.uniform(0, 100, (7, 2))

    def way(order: tuple[int, ...]) -> float:
        points = np.vstack([np.zeros(2), places[list(order)]])
        return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())

    found = tour(places)
    assert sorted(found) == list(range(7))
    assert way(tuple(found)) <= 1.1 * min(way(p) for p in permutations(range(7)))
    assert tour(places[:1]) == [0]


def test_the_cutter_takes_half_its_kerf_outside() -> None:
    (path,) = compensated(BOOT, 0.6)
    cut = shapely.Polygon(path)
    assert cut.exterior.is_ccw
    assert shapely.Polygon(BOOT).exterior.distance(cut.exterior) == pytest.approx(0.3)
    square = compensated(np.array([[0, 0], [10, 0], [10, 10], [0, 10]], float), 1.0)[0]
    assert np.ptp(square, axis=0) == pytest.approx([11, 11]) and len(square) == 4
    assert np.array_equal(np.sort(compensated(BOOT, 0.0)[0], axis=0), np.sort(BOOT, axis=0))


def test_what_no_cutter_can_do_is_refused() -> None:
    with pytest.raises(GeometryError, match=r"-1 mm is not possible\. Use 0 mm or more"):
        compensated(BOOT, -1.0)
    with pytest.raises(GeometryError, match="cannot be cut: Self-intersection"):
        compensated(np.array([[0, 0], [10, 10], [10, 0], [0, 10]], float), 0.2)


def test_a_hole_left_by_a_slit_is_cut_before_the_outline() -> None:
    mouth = [[0, 0], [40, 0], [40, 40], [0, 40], [0, 20.1], [10, 20.1]]
    slit = np.array([*mouth, [12, 26], [16, 20], [12, 14], [10, 19.9], [0, 19.9]])
    hole, outer = compensated(slit, 1.0)
    assert shapely.Polygon(outer).contains(shapely.Polygon(hole)) and shapely.LinearRing(outer).is_ccw
