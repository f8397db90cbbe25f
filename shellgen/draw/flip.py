"""Paper templates that serve twice: draw around the paper, flip it over, draw around it again.

A piece on the midline is printed as its left half, a left and a right piece as the left one, wherever all that is
drawn on them mirrors. Names and numbers on such a sheet are those of both sides: 3/7, L/R-mid-2.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.spatial import KDTree

from shellgen.canvas import Path
from shellgen.core.arrays import Floats
from shellgen.draw import lines as draw_lines
from shellgen.draw.lines import TICK, Tick
from shellgen.model import Spike
from shellgen.pattern.flatmap import Seats
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.wear import Anchor

FLIPPED = np.array([-1.0, 1.0])
SAME = 0.05
"""mm by which two mirror images may differ (chosen: a tenth of the widest line)."""
OTHER = {"L": "L/R", "R": "R/L"}
SIDE = re.compile(r"(?<![A-Za-z/])([LR])(?![A-Za-z/])")


def both(name: str) -> str:
    """The name on the sheet as drawn and on the flipped one: L-mid-2 is L/R-mid-2."""
    return SIDE.sub(lambda found: OTHER[found[1]], name)


def printed_as(name: str) -> str:
    """What the paper of a left or right piece is called that is flipped for the other."""
    return both(SIDE.sub("L", name))


@dataclass(frozen=True, slots=True, eq=False)
class Flip:
    """What a flipped sheet stands for.

    axis    : x of the midline on the flat piece where only its left half is drawn; None for one piece of a pair
    ticks   : the marks, written 3/7 if one is 3 on the sheet as drawn and 7 on the flipped one, 3/ or /7 if it is on
              one of them only
    spikes  : by the name of a spike that of its mirror image
    """

    axis: float | None
    ticks: tuple[Tick, ...]
    spikes: Mapping[str, str]

    def spike(self, name: str) -> str:
        other = self.spikes[name]
        return _pair(name.removeprefix("spike-"), other.removeprefix("spike-"))

    def master(self, name: str, masters: Mapping[str, str]) -> str:
        return _pair(masters[name], masters[self.spikes[name]])

    def half(self, outline: Floats) -> Floats:
        """(n, 2) the part of the outline that is drawn."""
        if self.axis is None:
            return outline
        kept = shapely.Polygon(outline).intersection(self._side())
        return np.asarray(kept.exterior.coords)[:-1]

    def clipped(self, paths: Sequence[Path], outline: Floats) -> list[Path]:
        """The paths as far as they are drawn, with the line to flip on."""
        if self.axis is None:
            return list(paths)
        kept = []
        for path in paths:
            if path.layer == "symmetry":
                continue
            if path.points[:, 0].max() <= self.axis:
                kept.append(path)
                continue
            inside = shapely.line_merge(shapely.LineString(path.line).intersection(self._side()))
            parts = (np.asarray(part.coords) for part in shapely.get_parts(inside) if part.length > SAME)
            kept += [replace(path, points=points, closed=False) for points in parts]
        down = shapely.LineString([(self.axis, outline[:, 1].min()), (self.axis, outline[:, 1].max())])
        fold = shapely.line_merge(down.intersection(shapely.Polygon(outline)))
        kept += [
            Path(np.asarray(part.coords), "symmetry", data={"fold": "yes"})
            for part in shapely.get_parts(fold)
            if part.length > SAME
        ]
        return kept

    def shows(self, at: Floats) -> bool:
        return self.axis is None or bool(at[0] <= self.axis + SAME)

    def moved(self, low: Floats) -> Flip:
        """The same on a sheet with its lower left corner at `low`."""
        ticks = tuple(replace(tick, at=tick.at - low) for tick in self.ticks)
        return replace(self, ticks=ticks, axis=None if self.axis is None else self.axis - float(low[0]))

    def _side(self) -> shapely.Geometry:
        return shapely.box(-1e5, -1e5, self.axis, 1e5)


def _pair(one: str, other: str) -> str:
    if one == other:
        return one
    return both(one) if SIDE.sub(lambda found: "LR"[found[1] == "L"], one) == other else f"{one}/{other}"


def flip_of(
    ground: Ground, foam: Foam, seats: Seats, spikes: tuple[Spike, ...], anchors: tuple[Anchor, ...], index: int
) -> Flip | None:
    """How a piece's paper is flipped; None if something on it does not mirror, or it is the right one of a pair."""
    piece = foam.cut.pieces[index]
    if piece.side == "R" or not 0 <= piece.mirror < len(foam.cut.pieces):
        return None
    here, there = (_lines(ground, foam, seats, spikes, anchors, k) for k in (index, piece.mirror))
    paired = _spikes(seats, index, piece.mirror)
    if paired is None or not _mirrored(here, there):
        return None
    flip = Flip(None if piece.side != "C" else 0.0, _ticks(foam, index, piece.mirror), paired)
    if flip.axis is None:
        return flip
    half = shapely.Polygon(draw_lines.outline(foam, index)).intersection(flip._side())
    shown = tuple(tick for tick in flip.ticks if flip.shows(tick.at))
    return replace(flip, ticks=shown) if isinstance(half, shapely.Polygon) and not half.is_empty else None


def _lines(
    ground: Ground, foam: Foam, seats: Seats, spikes: tuple[Spike, ...], anchors: tuple[Anchor, ...], index: int
) -> list[Path]:
    zero = np.zeros(2)
    return [
        *draw_lines.cut_paths(foam, index, zero),
        *draw_lines.score_paths(ground, foam, index, zero),
        *draw_lines.seat_paths(seats, index, zero),
        *draw_lines.turning_paths(ground.mesh, foam, seats, spikes, index, zero),
        *draw_lines.junction_paths(foam, index, zero),
        *draw_lines.anchor_paths(ground, foam, anchors, index, zero),
    ]


def _mirrored(here: Sequence[Path], there: Sequence[Path]) -> bool:
    """Whether two drawings are mirror images in the line x = 0, layer by layer."""
    for layer in {path.layer for path in (*here, *there)}:
        one = shapely.MultiLineString([path.line for path in here if path.layer == layer])
        other = shapely.MultiLineString([path.line * FLIPPED for path in there if path.layer == layer])
        if one.is_empty or other.is_empty or shapely.hausdorff_distance(one, other) > SAME:
            return False
    return True


def _ticks(foam: Foam, index: int, mirror: int) -> tuple[Tick, ...]:
    """The ticks of a piece, and those that only its mirror image has: the marks of a seam across the midline are not
    even, so they do not mirror."""
    zero = np.zeros(2)
    here = draw_lines.ticks(foam, index, zero)
    there = [replace(t, at=t.at * FLIPPED, inward=t.inward * FLIPPED) for t in draw_lines.ticks(foam, mirror, zero)]
    if not here or not there:
        return tuple(here)
    apart, found = KDTree([_tip(tick) for tick in there]).query([_tip(tick) for tick in here])
    twins = {k: other for k, (gap, other) in enumerate(zip(apart, found.tolist(), strict=True)) if gap <= SAME}
    alone = (replace(tick, written=f"/{tick.number}") for k, tick in enumerate(there) if k not in twins.values())
    own = (
        replace(tick, written=_pair(tick.written, there[twins[k]].written) if k in twins else f"{tick.number}/")
        for k, tick in enumerate(here)
    )
    return (*own, *alone)


def _tip(tick: Tick) -> Floats:
    return np.asarray(tick.at + TICK * tick.inward)


def _spikes(seats: Seats, index: int, mirror: int) -> dict[str, str] | None:
    here, there = seats[index], seats[mirror]
    found = _matched(np.array([p.mean(axis=0) for _, p in here]), np.array([p.mean(axis=0) for _, p in there]))
    return None if found is None else {name: there[k][0] for (name, _), k in zip(here, found, strict=True)}


def _matched(here: Floats, there: Floats) -> list[int] | None:
    """For each point (n, 2) the other one that is its mirror image in x = 0; None if they do not pair off."""
    if len(here) != len(there):
        return None
    if not len(here):
        return []
    apart, found = KDTree(there * FLIPPED).query(here)
    return found.tolist() if apart.max() <= SAME and len(set(found.tolist())) == len(here) else None
