"""The zones of the shell: their areas as they are painted, their colours, and the paint that they take."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shellgen.canvas import Colour
from shellgen.core.arrays import Floats
from shellgen.errors import PresetError
from shellgen.fields import params as field
from shellgen.fields.values import either
from shellgen.finish.paint import colours
from shellgen.geom import loops
from shellgen.geom.covering import covered
from shellgen.geom.curves import length
from shellgen.geom.triangles import areas
from shellgen.model import FoamSheet, Layout, Ring, ShellMesh, Solid, Spike, Surface, Zone

ZONES = ("plates", "grooves", "spikes", "rings", "rim", "inside")

PALETTE: dict[str, str] = {
    "moss": "92a06e",
    "reed": "c9b77c",
    "bone": "e6dcc0",
    "clay": "7a4b33",
    "peat": "3d352c",
    "slate": "59625a",
    "mist": "b9c4bd",
    "water": "5f8791",
}
"""Chosen: a marsh in mild light, light and dark in turn so that neighbours differ for every kind of sight."""


@dataclass(frozen=True, slots=True, eq=False)
class Own:
    name: str = field.slug(field.REQUIRED, "What you call the colour.", longest=24)
    hex: str = field.text(field.REQUIRED, "Its six hexadecimal digits in sRGB without the #, such as 92a06e.", 7)

    def __post_init__(self) -> None:
        try:
            colours.read(self.hex)
        except ValueError as error:
            raise PresetError("hex", f'"{self.hex}" is not a colour.', f"Give {error}.") from error


@dataclass(frozen=True, slots=True, eq=False)
class Coats:
    """Coats of paint, zone by zone; what is left out takes materials.paint_coats."""

    plates: int | None = field.count(None, 0, 12, "Coats on the plates.")
    grooves: int | None = field.count(1, 0, 12, "Coats in the grooves: what is painted on the plates runs in too.")
    spikes: int | None = field.count(None, 0, 12, "Coats on the spikes.")
    rings: int | None = field.count(None, 0, 12, "Coats on the rings.")
    rim: int | None = field.count(None, 0, 12, "Coats on the edging.")
    inside: int | None = field.count(0, 0, 12, "Coats on the inside; 0 leaves it bare, to save weight.")


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    """Colours, coats and shading."""

    plates: str = field.text("water", "Colour of the plates: one of the palette's names or of your own.", 24)
    grooves: str = field.text("peat", "Colour of the grooves.", 24)
    spikes: str = field.text("reed", "Colour of the spikes.", 24)
    rings: str = field.text("slate", "Colour of the rings.", 24)
    rim: str = field.text("slate", "Colour of the edging.", 24)
    inside: str = field.text("peat", "Colour of the inside.", 24)
    coats: Coats = field.group(Coats, "How many coats each zone gets.")
    colours: tuple[Own, ...] = field.many(Own, f"Colours of your own, in addition to {', '.join(PALETTE)}.", most=40)
    reach: float = field.length(12.0, 3, 80, "How far the shade fades out from a groove or from the foot of a ring.")
    spray_grooves: bool = field.flag(
        False, "Whether the grooves are sprayed, with a paper mask on every plate, and not painted with a brush."
    )
    brush: float = field.length(6.0, 2, 40, "Width of the brush that shades: no tone is drawn narrower.")
    middle: float = field.ratio(0.15, 0.02, 0.9, "Share of the sky hidden where the middle tone begins.")
    dark: float = field.ratio(0.3, 0.05, 0.95, "Share of the sky hidden where the dark tone begins.")

    def __post_init__(self) -> None:
        known = palette(self)
        for zone in ZONES:
            if getattr(self, zone) not in known:
                problem = f'"{getattr(self, zone)}" is not a colour of the palette.'
                raise PresetError(zone, problem, f"Choose {either(known, rest='shellgen list fields paint colours')}.")
        if self.dark <= self.middle:
            problem = f"{self.dark:g} is not more than middle, {self.middle:g}."
            raise PresetError("dark", problem, "The dark tone begins where more of the sky is hidden.")


def palette(params: Params) -> dict[str, Colour]:
    """Every colour by name, the maker's own last and in place of ours of the same name."""
    return {name: colours.read(code) for name, code in (*PALETTE.items(), *((c.name, c.hex) for c in params.colours))}


def build(
    surface: Surface, layout: Layout, mesh: ShellMesh, spikes: Sequence[Spike], masters: Sequence[Solid],
    rings: Sequence[Ring], params: Params, foam: FoamSheet, *, groove: tuple[float, float], rim: float, edging: float,
    coats: int, coverage: float,
) -> tuple[Zone, ...]:  # fmt: skip
    """Zones with their areas and paint.

    groove : width and depth; rim : length round it; edging : width of its face, mm
    coats  : where the preset says nothing of a zone; coverage : m2/L of one coat
    """
    found = painted(surface, layout, mesh, spikes, masters, rings, foam, groove=groove, rim=rim, edging=edging)
    return tuple(_zone(name, area, params, coats, coverage) for name, area in found.items() if area > 0)


def _zone(name: str, area: float, params: Params, usual: int, coverage: float) -> Zone:
    own = getattr(params.coats, name)
    coats, colour = (usual if own is None else own), getattr(params, name)
    volume = volume_ml(area, coats, coverage)
    how = f"{name} {area / 1e6:.3f} m2 x {coats} {'coat' if coats == 1 else 'coats'} / {coverage:g} m2/L"
    return Zone(name, area, coats, volume, colour, palette(params)[colour], how)


def volume_ml(area: float, coats: int, coverage: float) -> float:
    """mL of paint on `area` mm2 at `coverage` m2/L in one coat.

    References: spreading rate in m2/L = 10 x (volume solids in %) / (dry film in um) x the share that lands: paint
    makers' tables.
    """
    return area / 1e6 * coats / coverage * 1000


def painted(
    surface: Surface, layout: Layout, mesh: ShellMesh, spikes: Sequence[Spike], masters: Sequence[Solid],
    rings: Sequence[Ring], foam: FoamSheet, *, groove: tuple[float, float], rim: float, edging: float,
) -> Mapping[str, float]:  # fmt: skip
    """mm2 of each zone. Plates, mouths of the grooves and seats make up the outer face; a groove is painted on its
    floor and both sides as far as no spike stands on it, a spike down to its ring or foot, the edging on its face."""
    of_ring, solid = {ring.spike: ring for ring in rings}, {s.name: areas(s.vertices, s.faces).sum() for s in masters}
    lines = [mesh.points[v] for line, v in zip(layout.lines, mesh.line_vertices, strict=True) if line.kind == "plate"]
    along, seat, side, strip = sum(map(length, lines)), 0.0, 0.0, 0.0
    for spike in spikes:
        base, ring, up = spike.base_curve, of_ring.get(spike.name), surface.normals(spike.seat_uv)
        side += solid[spike.master] - _inside(base)
        foot = base if ring is None else loops.offset(base, up, ring.thickness)
        along -= float(covered(lines, foot, up.mean(axis=0)).sum())
        if ring is None:
            seat += _inside(base)
            continue
        seat += _inside(foot)
        side -= loops.length(base) * ring.width
        strip += loops.length(foot) * ring.width + _inside(foot) - _inside(base)
    outside = float(areas(mesh.points, mesh.faces).sum())
    width, depth = groove
    return {
        "plates": outside - along * width - seat,
        "grooves": along * (width + 2 * depth),
        "spikes": max(float(side), 0.0),
        "rings": float(strip),
        "rim": rim * edging,
        "inside": float(areas(mesh.offset(foam.inner_offset), mesh.faces).sum()),
    }


def _inside(curve: Floats) -> float:
    """Area that a closed curve encloses, seen from where it is largest: half the length of its area vector."""
    away = curve - curve.mean(axis=0)
    return float(np.linalg.norm(np.cross(away, np.roll(away, -1, axis=0)).sum(axis=0)) / 2)
