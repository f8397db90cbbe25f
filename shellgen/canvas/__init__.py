"""What is drawn, free of any file format: a Drawing in 2-D, a Scene in 3-D, a Table, a Calendar.

`draw/` makes these; `export/` turns them into bytes and knows nothing else of the project.
Units are mm. Drawings have y up; scenes have z up, x to the wearer's head, y to the wearer's left.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, TypeVar, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shellgen.core.arrays import Bytes, Floats, Ints

Kind = TypeVar("Kind", bound=np.generic)
Colour = tuple[int, int, int]  # sRGB, 0 to 255

LAYERS = ("fill", "guide", "symmetry", "seat", "score", "mark", "label", "cut", "trim", "note")
"""Layers by meaning, in drawing order. `cut` is what the knife follows; `trim` is paper only."""


def hexadecimal(colour: Colour) -> str:
    """As HTML and SVG write it: "#92a06e"."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


@overload
def frozen_array(values: ArrayLike) -> Floats: ...
@overload
def frozen_array(values: ArrayLike, dtype: type[Kind]) -> NDArray[Kind]: ...
def frozen_array(values: ArrayLike, dtype: type[np.generic] = np.float64) -> NDArray[Any]:
    """A read-only copy, so that no user of a shared value can change it for the others."""
    array = np.array(values, dtype=dtype)
    array.setflags(write=False)
    return array


def _frozen(array: object) -> bool:
    """Whether it is a frozen array of figures, or a part of one."""
    if not isinstance(array, np.ndarray) or array.dtype != float or array.flags.writeable:
        return False
    return array.base is None or _frozen(array.base)


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """A polyline.

    points : (n, 2) float, mm; the first point is not repeated when `closed`
    layer  : one of LAYERS
    data   : attributes kept by formats that can (SVG writes `data-<key>`)
    fill   : inside colour, only for closed paths; None leaves it empty
    """

    points: Floats
    layer: str
    closed: bool = False
    data: Mapping[str, str] = field(default_factory=dict)
    fill: Colour | None = None

    def __post_init__(self) -> None:
        points = self.points if _frozen(self.points) else frozen_array(self.points)
        finite = np.count_nonzero(np.isfinite(points)) == points.size  # asked of every line: `all` takes twice as long
        if points.ndim != 2 or points.shape[1] != 2 or len(points) < 2 or not finite:
            raise ValueError(f"a path needs at least two finite points, not an array {points.shape}")
        if self.layer not in LAYERS:
            raise ValueError(f"no layer {self.layer!r}")
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "data", {k: str(v) for k, v in self.data.items()})

    @property
    def line(self) -> Floats:
        """(n, 2) the polyline as it is drawn: a closed one ends where it begins."""
        return np.vstack([self.points, self.points[:1]]) if self.closed else self.points


@dataclass(frozen=True, slots=True, eq=False)
class Text:
    """One line of lettering, drawn with a single stroke (see `lettering`).

    at     : (x, y) mm of the anchor on the base line
    height : capital height, mm, from the ISO 3098 series
    angle  : radians, counter-clockwise
    anchor : "start", "middle" or "end"
    """

    text: str
    at: tuple[float, float]
    height: float = 3.5
    angle: float = 0.0
    anchor: str = "start"
    layer: str = "label"
    data: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Drawing:
    """A flat sheet at true size, `width` x `height` mm, origin at the lower left, y up."""

    name: str
    width: float
    height: float
    items: tuple[Path | Text, ...]
    title: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """Colours that change where a value passes a level.

    values  : (n,) float, of the vertices; linear in each triangle
    levels  : ascending
    colours : (levels + 1, 3) uint8, of what lies below the first level, of what lies below the second, ...
    """

    values: Floats
    levels: tuple[float, ...]
    colours: Bytes

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", frozen_array(self.values, float))
        object.__setattr__(self, "colours", frozen_array(self.colours, np.uint8))


@dataclass(frozen=True, slots=True, eq=False)
class ScenePart:
    """One solid or sheet of a scene.

    vertices : (n, 3) float, mm, in the part's own frame
    faces    : (m, 3) int, counter-clockwise seen from outside
    colour   : of the whole part
    zone     : material name, such as "plates", "grooves", "spikes", "rings", "rim", "inside", "wearer"
    face_colours   : (m, 3) uint8 or None
    bands          : or colours with outlines that go through triangles; only pictures show them
    vertex_normals : (n, 3) unit or None: None shades flat
    placements     : (k, 4, 4) rigid transforms, one per copy; None is one copy where it stands
    solid          : whether its faces are the outside of something solid, so that none is ever seen from behind; None
                     leaves that to be found out
    """

    name: str
    vertices: Floats
    faces: Ints
    colour: Colour = (200, 200, 200)
    zone: str = "plates"
    face_colours: Floats | None = None
    vertex_normals: Floats | None = None
    placements: Floats | None = None
    solid: bool | None = None
    bands: Bands | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", frozen_array(self.vertices))
        object.__setattr__(self, "faces", frozen_array(self.faces, int))
        for name, dtype in (("face_colours", np.uint8), ("vertex_normals", float), ("placements", float)):
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, frozen_array(value, dtype))


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Parts in one frame, z up, mm. `lines` are (n, 3) polylines drawn over the parts (plate lines, say)."""

    name: str
    parts: tuple[ScenePart, ...]
    lines: tuple[Floats, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Rows under named columns. A unit stands in the column's name: "length (mm)"."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str | float | int, ...], ...]


@dataclass(frozen=True, slots=True, eq=False)
class CalendarEntry:
    """What happens from `begin` to `end`: two moments by the clock on the wall wherever that hangs, or two days, of
    which the second is no more part of it. `key` identifies it and stays the same when it is moved."""

    key: str
    begin: datetime | date
    end: datetime | date
    title: str
    words: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Calendar:
    """stamp : the moment it counts as written, so that equal calendars are equal files"""

    name: str
    stamp: datetime
    entries: tuple[CalendarEntry, ...]
