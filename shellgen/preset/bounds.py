"""How much work a preset needs, estimated from its figures before it starts.

Every figure of a preset has its own bounds; these limits are for several figures together: a fine mesh on a large
dome, many spikes on many plates. More would take hours, or more memory than a small computer has, and is refused with
the figure, the limit and what to change.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, inf, prod, sqrt

from shellgen.core import registry
from shellgen.errors import PresetError
from shellgen.geom.patches import area
from shellgen.model import Surface
from shellgen.preset import Preset
from shellgen.spikes import spots

TRIANGLES = 40_000
"""Chosen: 31,000 take 103 s of work and 323 MB up to the finished shell, 12,000 take 45 s and 268 MB (measured)."""
PLATES = 400
"""Chosen: a maker draws and burns every line by hand; three hundred take weeks of evenings."""
SPIKES = 400
"""Chosen: each is cast, fitted and glued by hand."""
MASTERS = 60
"""Chosen: each is a solid to print, with its mould."""
SHEETS = 150
"""Chosen: more sheets than a workshop can lay out."""

FEWER = "Use fewer in a row, on fewer plates, or farther apart."


@dataclass(frozen=True, slots=True, eq=False)
class Load:
    """A number of things, with its limit.

    where : the field that has most to do with it
    remedy : what to write there instead, as a sentence
    """

    where: str
    what: str
    figure: float
    limit: int
    remedy: str


def check_loads(preset: Preset, surface: Surface) -> tuple[Load, ...]:
    """The loads of the preset. PresetError for the first above its limit."""
    found = tuple(loads(preset, surface))
    for load in found:
        if load.figure > load.limit:
            count = f"{load.figure:.0f} {load.what}" if load.figure < inf else f"no end of {load.what}"
            problem = f"This comes to {count}."
            raise PresetError(load.where, problem, f"There may be up to {load.limit}.", hint=load.remedy)
    return found


def loads(preset: Preset, surface: Surface) -> Iterator[Load]:
    """Everything that grows with several figures together."""
    dome = area(surface)
    plates = _plates(preset, dome)
    yield Load("plates", "plates", plates, PLATES, "Use larger or fewer plates.")
    finest = ceil(10 * sqrt(dome / TRIANGLES * 4 / sqrt(3))) / 10
    yield Load("mesh.edge", "triangles", _triangles(dome, preset.mesh.edge), TRIANGLES, f"Use {finest:g} mm or more.")
    each = [spots.placing(group).expected(group, plates, dome) for group in preset.spikes]
    rows = [of for group, of in zip(preset.spikes, each, strict=True) if spots.serves_plates(group)]
    most = plates * max((group.in_row for group in preset.spikes), default=0)  # a plate is served by one group
    yield Load("spikes", "spikes", min(sum(rows), most) + sum(each) - sum(rows), SPIKES, FEWER)
    masters = sum(min(group.sizes, of) for group, of in zip(preset.spikes, each, strict=True))
    yield Load("spikes", "sizes of spikes", masters, MASTERS, "Use fewer sizes, or fewer groups.")
    yield Load("nest.sheets", "sheets", _sheets(preset, dome), SHEETS, "Use larger sheets, or a smaller margin.")


def _triangles(dome: float, edge: float) -> float:
    """The number of equilateral triangles that cover the dome; meshes without narrow plates were within 7 % of it."""
    return dome * 4 / sqrt(3) / edge**2


def _plates(preset: Preset, dome: float) -> float:
    """The layout's own estimate from its figures and the dome's area, mm2."""
    plates: float = registry.load("shellgen.plates", preset.plates.name).expected(preset.plates.own, dome)
    return plates


def _sheets(preset: Preset, dome: float) -> float:
    """The fewest sheets of foam, of the largest size without a count."""
    how, thickness = preset.nest, preset.foam.thickness
    rooms = [
        prod(sheet.room(how.margin))
        for sheet in how.sheets
        if sheet.thickness in (None, thickness) and sheet.count is None
    ]
    if not rooms:
        return 0.0  # a fixed number: nesting reports itself if they are too few
    return dome / max(rooms) if max(rooms) else inf
