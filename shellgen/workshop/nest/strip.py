"""Shapes on a strip of fixed height, as short as a fixed amount of search can make it."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Bools, Floats
from shellgen.errors import FitError
from shellgen.workshop.nest._compaction import MANY, Bodies, press

ROTATIONS = {"free": None, "grain": (0.0, 180.0), "quarter": (0.0, 90.0, 180.0, 270.0), "none": (0.0,)}
"""Degrees by which a shape may be turned; None is any angle."""
PLENTY = 0.25
"""Share of all angles at which a shape must fit the strip's height, or it is offered those angles alone. Chosen: the
search draws angles at random and would hardly meet a few."""
SOLVER = Path(__file__).with_name("_solver.py")  # run as a file, which spares it the imports of the package
PRICE, PRICE_TURNING = 150, 600
"""Work for which one layout more is pressed where nothing may turn, and where shapes may: what it takes (chosen)."""
OVERLAP = 1e-5  # of the strip's height: what pressing may leave, far below what the outlines are widened by


@dataclass(frozen=True, slots=True, eq=False)
class StripLayout:
    """poses : (n, 3) x, y and angle (radians) of each shape, turned about its own origin and then moved."""

    length: float
    poses: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "poses", frozen_array(self.poses))


def pack(
    shapes: Sequence[Floats],
    height: float,
    *,
    longest: float = np.inf,
    rotations: str = "free",
    tries: int = 4,
    work: int = 1000,
    seed: int = 1,
    enough: float = 0.0,
    progress: Callable[[float], None] = lambda _: None,
) -> StripLayout:
    """The shortest strip that was found; equal arguments give equal strips, however busy the computer is.

    shapes  : (n, 2) simple polygons, not closed, that may touch but not overlap
    tries   : how often to start again; the best result counts
    work    : how far each try is followed, as counted in `_solver`
    longest : a length that no shape may exceed
    enough  : a length at which to stop searching
    progress : called with the best length so far

    FitError if a shape does not fit the strip at any angle allowed, or the search itself fails.
    """
    if len(shapes) == 1:
        return _alone(shapes[0], height, longest, rotations)
    offered = [_offered(shape, height, longest, rotations) for shape in shapes]
    bodies, best = Bodies.of([shape - shape.mean(axis=0) for shape in shapes]), None
    for k in range(tries):
        found = _tried(bodies, shapes, offered, height, seed=seed + k, work=work, enough=enough)
        if best is None or found.length < best.length:
            best = found
            progress(best.length)
        if best.length <= enough:
            break
    assert best is not None
    return best


def _alone(shape: Floats, height: float, length: float, rotations: str) -> StripLayout:
    """One shape at the angle at which it is shortest."""
    turns = [np.radians(a) for a in _offered(shape, height, length, rotations, listed=True) or ()]
    boxes = [turned(shape, turn) for turn in turns]
    best = min(range(len(turns)), key=lambda k: (np.ptp(boxes[k][:, 0]), k))
    x, y = -boxes[best].min(axis=0)
    return StripLayout(float(np.ptp(boxes[best][:, 0])), np.array([[x, y, turns[best]]]))


def _offered(
    shape: Floats, height: float, length: float, rotations: str, *, listed: bool = False
) -> list[float] | None:
    """Degrees for one shape to choose from; None for any, unless they are to be `listed`."""
    free, degrees = angles(shape, height, length, rotations)
    if not degrees:
        size = np.ptp(shape, axis=0)
        raise FitError(f"a shape of {size[0]:.1f} x {size[1]:.1f} does not fit a strip {height:.1f} high at any angle")
    return None if free and not listed else list(degrees)


def angles(shape: Floats, height: float, length: float, rotations: str) -> tuple[bool, tuple[float, ...]]:
    """Whether a shape may be turned by any angle, and those degrees looked at at which it fits a strip height x length.

    A shape that fits at few angles only is not to be turned freely: it is offered those.
    """
    given = ROTATIONS[rotations]
    corners = np.array(shapely.convex_hull(shapely.MultiPoint(shape)).exterior.coords)
    across = np.degrees(np.arctan2(*np.diff(corners, axis=0).T[::-1]))  # an edge lies level in the least box
    degrees = np.arange(0.0, 360.0, 2.0) if given is None else np.array(given)
    tight = degrees if given is not None else np.concatenate([turn - across for turn in (0, 90, 180, 270)]) % 360
    fits, fits_tight = (_fitting(corners, at, height, length) for at in (degrees, tight))
    found = np.unique(np.concatenate([degrees[fits], tight[fits_tight]]))
    return given is None and bool(fits.mean() >= PLENTY), tuple(found.tolist())


def _fitting(corners: Floats, degrees: Floats, height: float, length: float) -> Bools:
    """(n,) whether a shape turned by each of `degrees` is no higher and longer than this."""
    x, y = turned(corners, np.radians(degrees)[:, None]).transpose(2, 0, 1)
    result: Bools = (np.ptp(y, axis=1) <= height) & (np.ptp(x, axis=1) <= length)
    return result


def turned(points: Floats, angle: float | Floats) -> Floats:
    """Points (n, 2) turned about the origin; angle : radians, or (m, 1) of them for (m, n, 2)."""
    cos, sin = np.cos(angle), np.sin(angle)
    return np.stack([cos * points[:, 0] - sin * points[:, 1], sin * points[:, 0] + cos * points[:, 1]], axis=-1)


def _tried(
    bodies: Bodies, shapes: Sequence[Floats], offered: Sequence[list[float] | None], height: float,
    *, seed: int, work: int, enough: float,
) -> StripLayout:  # fmt: skip
    """One try: an arrangement, pressed together if that leaves no overlap; of a search that is stuck, the more of
    those on the way to it the more work was asked for."""
    parts = [{"shape": s.tolist(), "angles": a} for s, a in zip(shapes, offered, strict=True)]
    task = {"parts": parts, "height": height, "seed": seed, "work": work, "enough": enough}
    layouts = _arranged(task)
    best = layouts[-1]
    if best.length <= enough:
        return best
    turning = np.array([a is None for a in offered])
    origins = np.array([shape.mean(axis=0) for shape in shapes])
    count = 1 if len(shapes) > MANY else 1 + work // (PRICE_TURNING if turning.any() else PRICE)
    for layout in layouts[: -count - 1 : -1]:
        start = _about(layout.poses, origins)
        poses, length = press(bodies, start, height=height, length=layout.length, turning=turning)
        poses = _about(poses, -origins)
        if length < best.length and sound(shapes, poses, height):
            best = StripLayout(length, poses)
    return best


def _about(poses: Floats, origins: Floats) -> Floats:
    """Poses (n, 3) for shapes that are given about other origins (n, 2) of theirs."""
    x, y = origins.T
    cos, sin = np.cos(poses[:, 2]), np.sin(poses[:, 2])
    result: Floats = poses + np.column_stack([cos * x - sin * y, sin * x + cos * y, np.zeros(len(poses))])
    return result


def _arranged(task: Mapping[str, Any]) -> list[StripLayout]:
    """spyrrow's layouts, the shortest last, found in a process that can be stopped."""
    done = subprocess.run(
        [sys.executable, "-P", str(SOLVER)],
        input=json.dumps(task),
        capture_output=True,
        text=True,
        check=False,
    )
    if not done.stdout:
        raise FitError(f"no layout was found for {len(task['parts'])} shapes: {done.stderr.strip()[-200:]}")
    return [
        StripLayout(length, np.array([[x, y, np.radians(angle)] for _, angle, x, y in placed]))
        for length, placed in json.loads(done.stdout)
    ]


def placed(shapes: Sequence[Floats], poses: Floats) -> Iterator[Floats]:
    """The shapes where they lie."""
    for shape, (x, y, angle) in zip(shapes, poses.tolist(), strict=True):
        yield turned(shape, angle) + np.array([x, y])


def sound(shapes: Sequence[Floats], poses: Floats, height: float) -> bool:
    """Whether no shape reaches into another or off the strip by more than OVERLAP."""
    polygons = np.array([shapely.Polygon(p) for p in placed(shapes, poses)])
    shrunk = shapely.buffer(polygons, -OVERLAP * height, join_style="mitre")
    first, second = shapely.STRtree(shrunk).query(shrunk, predicate="intersects")
    x0, y0, _, y1 = shapely.total_bounds(polygons)
    slack = OVERLAP * height
    return bool((first == second).all() and min(x0, y0) > -slack and y1 < height + slack)
