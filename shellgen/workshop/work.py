"""How much there is to do, for the plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from shellgen.finish.stencils import bands_along
from shellgen.geom.triangles import areas
from shellgen.model import Cut, Layout, Ring, ShellMesh, Spike, Zone
from shellgen.spikes import making
from shellgen.spikes.printing import PrintedPart
from shellgen.wear import Wear
from shellgen.workshop import materials, schedule


def size(
    layout: Layout, mesh: ShellMesh, cut: Cut, spikes: tuple[Spike, ...], rings: tuple[Ring, ...],
    zones: tuple[Zone, ...], whole: tuple[PrintedPart, ...], moulds: tuple[PrintedPart, ...], made: making.Params,
    hung: Wear, *, primer_coats: int, varnish_coats: int, spray_grooves: bool,
) -> schedule.WorkAmounts:  # fmt: skip
    """In the units of the plan. whole, moulds : parts that can be printed; made : how the spikes are made
    spray_grooves : with a mask on every plate
    """
    along = materials.lengths(layout, mesh)
    joined = sum(seam.design_length for seam in cut.seams) / 1000
    many = Counter(spike.master for spike in spikes)
    return schedule.WorkAmounts(
        pieces=len(cut.pieces),
        cut_m=2 * joined + along["rim"],
        score_m=along["plate"],
        seam_m=joined,
        spikes=len(spikes),
        masters=len(many),
        ring_m=sum(ring.neutral_length for ring in rings) / 1000,
        rim_m=along["rim"],
        area_m2=float(areas(mesh.points, mesh.faces).sum()) / 1e6,
        primer_coats=primer_coats,
        coats=tuple((zone.name, zone.coats) for zone in zones),
        masks=_masks(zones, len(spikes), along["rim"], len(layout.plates) if spray_grooves else 0),
        varnish_coats=varnish_coats,
        straps=sum(strap.count for strap in hung.straps if strap.cut) or len(hung.anchors),
        trial=hung.trial,
        test_cube=made.shrinkage is None,
        way=made.way,
        moulds=made.moulds,
        prints=tuple(_part(part, copies=many[part.serves]) for part in (*whole, *moulds)),
        infill=made.printer.infill,
        flow=made.printer.flow,
        bed=(made.printer.bed_x, made.printer.bed_y),
    )


def _masks(zones: Sequence[Zone], spikes: int, rim_m: float, plates: int) -> int:
    """Hoods and collars, one for each spike; masks of plates; bands on both sides."""
    painted = {zone.name for zone in zones if zone.coats}
    bands = 2 * bands_along(500 * rim_m) if "rim" in painted else 0
    hoods = spikes if "plates" in painted else 0
    collars = spikes if painted & {"rings", "spikes"} else 0
    return hoods + collars + bands + (plates if "grooves" in painted else 0)


def _part(part: PrintedPart, *, copies: int) -> schedule.ToPrint:
    """copies : 0 of a part of a mould"""
    across, along = np.ptp(part.solid.vertices[:, :2], axis=0)
    return schedule.ToPrint(part.role != "master", copies, part.walls, part.volume, float(across), float(along))


def printed_grams(parts: Sequence[PrintedPart]) -> float:
    """Of all spikes, where they are printed."""
    return sum(part.copies * part.plastic_g for part in parts)
