"""How much of everything the shell takes, how that was computed, and what it will weigh.

Amounts are areas, volumes and lengths of this shell times a coverage and a spare factor, each of which the preset may
set. The defaults are customary figures, not truths: weigh, or read the label of, what you use.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.fields import params as field
from shellgen.geom.curves import length
from shellgen.geom.triangles import areas, signed_volume
from shellgen.model import Amount, Cut, Layout, Materials, Pattern, Ring, ShellMesh, Solid, Spike, Zone
from shellgen.model.said import count

VARNISH = "clear varnish"
TAPED = 0.1
"""Metres of tape to hold a hood or a collar: two pieces of 50 mm (common practice, no source)."""
OILY = ("oil", "alkyd")
"""Kinds of paint for shading that are thinned with solvents."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    foam_density: float = field.number(
        100.0, 20, 300, "Of the foam sheet, strips and edging; 30 to 150 is sold (common practice).", "kg/m3"
    )
    clay_wet: float = field.number(0.35, 0.1, 2.0, "Density of foam clay from the tub (common practice).", "g/cm3")
    clay_dry: float = field.number(0.22, 0.05, 2.0, "Density of foam clay once dry; weigh a test cube.", "g/cm3")
    adhesive: float = field.number(150.0, 20, 500, "Contact adhesive on each glued face, wet.", "g/m2")
    adhesive_solids: float = field.ratio(0.2, 0.05, 1.0, "Share of the adhesive that stays when it is dry.")
    primer: float = field.number(110.0, 20, 400, "PVA wood glue in one thin coat, wet (common practice).", "g/m2")
    primer_coats: int = field.count(6, 0, 20, "Thin coats of PVA wood glue under the paint.")
    primer_solids: float = field.ratio(0.45, 0.1, 1.0, "Share of the glue that stays when it is dry.")
    paint: float = field.number(10.0, 2, 40, "What one litre of paint covers in one coat, after losses.", "m2/L")
    paint_coats: int = field.count(3, 1, 12, "Coats of paint, where paint.coats says nothing of a zone.")
    paint_solids: float = field.number(
        0.3, 0.05, 1.5, "What a millilitre of paint or varnish weighs when it is dry.", "g/mL"
    )
    filler: float = field.number(1.0, 0.0, 20, "Gap filler along a metre of seam.", "mL/m")
    oil: float = field.number(0.5, 0.0, 10, "Paint for shading along a metre of groove or of a ring's foot.", "mL/m")
    varnish: float = field.number(
        10.0, 2, 40, "What one litre of clear varnish covers in one coat (common practice, no source).", "m2/L"
    )
    varnish_coats: int = field.count(1, 1, 20, "Coats of clear varnish at the end; oil and alkyd take one more before.")
    thinner: float = field.ratio(
        0.5, 0.0, 5.0, "Thinner over oil or alkyd paint for shading, to thin it (common practice, no source)."
    )
    brush_thinner: float = field.number(
        50.0, 0, 500, "Thinner to clean the brush of oil or alkyd paint (common practice, no source).", "mL"
    )
    spare: float = field.ratio(0.15, 0.0, 1.0, "How much more than computed to buy of what is poured and spread.")


UNCERTAINTY = {"foam": 0.3, "spikes": 0.35, "rings": 0.3, "edging": 0.4, "adhesive": 0.3, "primer": 0.3, "paint": 0.5,
               "varnish": 0.5}  # fmt: skip
"""Relative standard uncertainty of each part's mass. Chosen: a third of the range in which such stuff is sold."""


@dataclass(frozen=True, slots=True, eq=False)
class _Measures:
    """Areas in m2, lengths in m, volumes in cm3."""

    foam_area: float
    outside: float
    seams: float
    joints: float
    grooves: float
    rim: float
    clay_wet: float
    clay_cube: float
    spikes: int
    ready_spikes: int
    spikes_g: float
    ring_strip: float
    rings: float
    painted: float


def build(
    layout: Layout,
    mesh: ShellMesh,
    cut: Cut,
    pattern: Pattern,
    spikes: Sequence[Spike],
    masters: Sequence[Solid],
    rings: Sequence[Ring],
    zones: Sequence[Zone],
    params: Params,
    *,
    thickness: float,
    edging: tuple[float, float],
    shading: str = "oil",
    clay_wet: float,
    clay_dry: float,
    clay_cube: float,
    way: str = "clay",
    printed_g: float = 0.0,
) -> Materials:
    """Amounts and mass of a shell; thickness of its foam in mm. Grooves are all plate lines, seams among them.

    edging  : width and thickness of the bevel stock along the rim, mm; its section is a triangle on the rim's edge
    zones   : what is primed and painted, those that stay bare among them
    shading : kind of paint that the grooves and the feet of the rings are shaded with

    clay_wet, clay_dry : mm3 of clay for all spikes, laid and dried
    clay_cube          : mm3 of clay for a test cube
    way, printed_g     : what the spikes are, as in the preset; what all of them weigh if they are printed

    Spikes that are bought weigh what they would of dry clay, for want of anything better.
    """
    of = {solid.name: solid for solid in masters}
    solids = [of[spike.master] for spike in spikes]
    dry = sum(_balance(solid)[0] for solid in solids) if way == "bought" else clay_dry
    grams = printed_g if way == "printed" else dry / 1000 * params.clay_dry
    ready = len(spikes) if way == "bought" else 0
    m = _measured(
        layout, mesh, cut, pattern, spikes, rings, zones, thickness, (clay_wet, clay_cube), (ready, grams)
    )  # fmt: skip
    amounts = tuple(_amounts(m, zones, params, thickness, shading))
    parts = tuple(_masses(m, zones, params, thickness, edging, shading))
    total = sum(mass for _, mass in parts)
    spread = sqrt(sum((UNCERTAINTY[name] * mass) ** 2 for name, mass in parts))
    return Materials(amounts, total, spread, parts, _centre(mesh, pattern, spikes, solids, dict(parts)))


def lengths(layout: Layout, mesh: ShellMesh) -> dict[str, float]:
    """m along the outer face of the lines of each kind."""
    along = dict.fromkeys(("plate", "rim", "midline", "seam"), 0.0)
    for line, vertices in zip(layout.lines, mesh.line_vertices, strict=True):
        along[line.kind] += length(mesh.points[vertices]) / 1000
    return along


def _measured(
    layout: Layout, mesh: ShellMesh, cut: Cut, pattern: Pattern, spikes: Sequence[Spike],
    rings: Sequence[Ring], zones: Sequence[Zone], thickness: float, clay: tuple[float, float], made: tuple[int, float],
) -> _Measures:  # fmt: skip
    """clay : mm3 as laid and for a cube; made : number of spikes bought, grams of all spikes"""
    along = lengths(layout, mesh)
    outside = areas(mesh.points, mesh.faces).sum() / 1e6
    seams = sum(seam.design_length for seam in cut.seams) / 1000
    strip = sum(ring.neutral_length for ring in rings) / 1000
    feet = sum(ring.neutral_length * ring.thickness for ring in rings) / 1e6
    feet += sum(_enclosed(spike.base_curve) for spike in spikes) / 1e6
    return _Measures(
        foam_area=sum(flat.area_flat for flat in pattern.flats) / 1e6,
        outside=outside,
        seams=seams,
        joints=2 * ((seams + along["rim"]) * thickness / 1000 + feet),
        grooves=along["plate"],
        rim=along["rim"],
        clay_wet=clay[0] / 1000,
        clay_cube=clay[1] / 1000,
        spikes=len(spikes),
        ready_spikes=made[0],
        spikes_g=made[1],
        ring_strip=strip,
        rings=sum(ring.neutral_length * ring.thickness * ring.width for ring in rings) / 1000,
        painted=sum(zone.area for zone in zones if zone.coats) / 1e6,
    )


def _amounts(m: _Measures, zones: Sequence[Zone], p: Params, thickness: float, shading: str) -> Iterator[Amount]:
    more = 1 + p.spare

    def line(item: str, amount: float, unit: str, how: str, *, step: float) -> Amount:
        buy = ceil(round(amount * more / step, 6)) * step
        return Amount(item, amount, buy, unit, how)

    yield Amount(
        f"foam {thickness:g} mm",
        m.foam_area,
        m.foam_area,
        "m2",
        f"{m.foam_area:.3f} m2 of pieces; sheets by the nesting",
    )
    if m.ring_strip:
        yield line("ring strip", m.ring_strip, "m", f"rings {m.ring_strip:.2f} m", step=0.1)
    yield line("edging", m.rim, "m", f"rim {m.rim:.2f} m", step=0.1)
    if m.clay_wet:
        laid = f"clay as laid {m.clay_wet:.0f} cm3"
        laid = f"({laid} + test cube {m.clay_cube:.0f} cm3)" if m.clay_cube else laid
        how = f"{laid} x {p.clay_wet:g} g/cm3"
        yield line("foam clay", (m.clay_wet + m.clay_cube) * p.clay_wet, "g", how, step=10)
    if m.ready_spikes:
        many = float(m.ready_spikes)
        yield Amount(
            "ready-made spikes", many, many, "pieces", f"{m.ready_spikes} to the measures in tables/spikes.csv"
        )
    how = f"both faces of seams, rim, rings and spikes {m.joints:.4f} m2 x {p.adhesive:g} g/m2"
    yield line("contact adhesive", m.joints * p.adhesive, "g", how, step=5)
    yield line("gap filler", m.seams * p.filler, "mL", f"seams {m.seams:.2f} m x {p.filler:g} mL/m", step=5)
    if p.primer_coats:
        how = f"all that is painted {m.painted:.3f} m2 x {p.primer_coats} coats x {p.primer:g} g/m2"
        yield line("PVA wood glue", m.painted * p.primer_coats * p.primer, "g", how, step=10)
    for colour in dict.fromkeys(zone.colour for zone in zones if zone.coats):
        mine = [zone for zone in zones if zone.coats and zone.colour == colour]
        how = " + ".join(zone.how for zone in mine)
        yield line(f"paint, {colour}", sum(zone.volume_ml for zone in mine), "mL", how, step=5)
    yield from _varnish(m, p, shading)
    how = f"(grooves {m.grooves:.2f} m + feet of rings {m.ring_strip:.2f} m) x {p.oil:g} mL/m"
    shade = (m.grooves + m.ring_strip) * p.oil
    yield line(f"{shading} paint for shading", shade, "mL", how, step=1)
    if shading in OILY:
        how = f"{p.thinner:g} x shading {shade:.1f} mL + {p.brush_thinner:g} mL for the brush"
        yield line("thinner for shading", p.thinner * shade + p.brush_thinner, "mL", how, step=5)
    yield from _brushes(m, zones, p)
    hold = 2 * m.spikes * TAPED
    how = f"both sides of the rings 2 x {m.ring_strip:.2f} m + rim {m.rim:.2f} m"
    how += f" + hoods and collars 2 x {m.spikes} x {TAPED:g} m" if m.spikes else ""
    yield line("masking tape", 2 * m.ring_strip + m.rim + hold, "m", how, step=1)


def _varnish(m: _Measures, p: Params, shading: str) -> Iterator[Amount]:
    """Oil and alkyd paint are laid on a coat of varnish, so that their thinner does not lift the paint below."""
    coats = p.varnish_coats + (shading in OILY)
    how = f"all that is painted {m.painted:.3f} m2 x {count(coats, 'coat')} / {p.varnish:g} m2/L"
    if m.painted:
        volume = _varnish_ml(m, p, shading)
        yield Amount(VARNISH, volume, 5.0 * ceil(round(volume * (1 + p.spare) / 5, 6)), "mL", how)


def _varnish_ml(m: _Measures, p: Params, shading: str) -> float:
    return 1000 * m.painted * (p.varnish_coats + (shading in OILY)) / p.varnish


def _brushes(m: _Measures, zones: Sequence[Zone], p: Params) -> Iterator[Amount]:
    """Glue ruins a brush; one for each colour and each stuff saves cleaning while the last coat dries."""
    glued = [name for name, there in (("seams", m.seams), ("edging", m.rim), ("spikes", m.clay_wet),
             ("rings", m.ring_strip)) if there]  # fmt: skip
    colours = dict.fromkeys(zone.colour for zone in zones if zone.coats)
    for use, number, how in (
        ("glue", len(glued), f"one for each gluing: {', '.join(glued)}"),
        ("primer", int(p.primer_coats > 0), "one for all coats"),
        ("paint", len(colours), f"one for each colour: {', '.join(colours)}; an airbrush does instead"),
        ("varnish", int(m.painted > 0), "one for all coats"),
        ("shading", 1, "a narrow one for the grooves"),
    ):
        if number:
            yield Amount(f"brush for {use}", number, number, "pieces", how)


def _masses(
    m: _Measures, zones: Sequence[Zone], p: Params, thickness: float, edging: tuple[float, float], shading: str
) -> Iterator[tuple[str, float]]:
    bevel = edging[0] * edging[1] / 2 / 1e6  # m2
    yield "foam", m.foam_area * thickness * p.foam_density
    yield "spikes", m.spikes_g
    yield "rings", m.rings * p.foam_density / 1000
    yield "edging", m.rim * bevel * p.foam_density * 1000
    yield "adhesive", m.joints * p.adhesive * p.adhesive_solids
    yield "primer", m.painted * p.primer_coats * p.primer * p.primer_solids
    yield "paint", sum(zone.volume_ml for zone in zones) * p.paint_solids
    yield "varnish", _varnish_ml(m, p, shading) * p.paint_solids


def _centre(
    mesh: ShellMesh, pattern: Pattern, spikes: Sequence[Spike], solids: Sequence[Solid], masses: dict[str, float]
) -> Floats:
    """(3,) centre of mass, spikes apart from all else, which is spread over the mid surface."""
    mid = mesh.offset(pattern.mid_offset)
    sheet = np.average(mid[mesh.faces].mean(axis=1), axis=0, weights=areas(mid, mesh.faces))
    rest = sum(masses.values()) - masses["spikes"]
    if not solids:
        return sheet
    weights, centres = zip(*map(_balance, solids), strict=True)
    places = np.array(
        [spike.frame[:3, :3] @ at + spike.frame[:3, 3] for spike, at in zip(spikes, centres, strict=True)]
    )
    clay = np.average(places, axis=0, weights=np.array(weights))
    return (rest * sheet + masses["spikes"] * clay) / (rest + masses["spikes"])


@remembered
def _balance(solid: Solid) -> tuple[float, Floats]:
    """Volume, and (3,) centre, of a closed mesh, by its signed tetrahedra from the origin."""
    corners = solid.vertices[solid.faces]
    volumes = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    centre = (corners.sum(axis=1) / 4 * volumes[:, None]).sum(axis=0) / volumes.sum()
    return signed_volume(solid.vertices, solid.faces), centre


def _enclosed(curve: Floats) -> float:
    """Area, mm2, that a closed curve (n, 3) spans, seen from where it looks largest."""
    return float(np.linalg.norm(np.cross(curve, np.roll(curve, -1, axis=0)).sum(axis=0)) / 2)
