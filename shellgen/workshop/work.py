"""How much there is to do, for the plan."""

from __future__ import annotations

from shellgen.geom.triangles import areas
from shellgen.model import Cut, Layout, Ring, ShellMesh, Spike, Zone
from shellgen.workshop import materials, schedule


def size(
    layout: Layout, mesh: ShellMesh, cut: Cut, spikes: tuple[Spike, ...], rings: tuple[Ring, ...],
    zones: tuple[Zone, ...], *, primer_coats: int, shrinkage: float | None,
) -> schedule.WorkAmounts:  # fmt: skip
    """In the units of the plan. shrinkage : of the clay, None if it is still to be measured"""
    along = materials.lengths(layout, mesh)
    joined = sum(seam.design_length for seam in cut.seams) / 1000
    return schedule.WorkAmounts(
        pieces=len(cut.pieces),
        cut_m=2 * joined + along["rim"],
        score_m=along["plate"],
        seam_m=joined,
        spikes=len(spikes),
        masters=len({spike.master for spike in spikes}),
        ring_m=sum(ring.neutral_length for ring in rings) / 1000,
        rim_m=along["rim"],
        area_m2=float(areas(mesh.points, mesh.faces).sum()) / 1e6,
        primer_coats=primer_coats,
        paint_coats=max(zone.coats for zone in zones),
        test_cube=shrinkage is None,
    )
