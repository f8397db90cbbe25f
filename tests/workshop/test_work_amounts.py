"""How much there is to do on the odd shell, against sums of our own."""

from __future__ import annotations

import numpy as np
import odd
import pytest
import trimesh

from shellgen.finish import stencils
from shellgen.workshop import work


def long(points) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def test_amounts_of_work_are_those_of_the_shell():
    shell, given = odd.built()
    amounts = work.size(**{name: value for stage, name, value in given if stage == "workshop.work.size"})
    ground, made = shell.ground, odd.read().making
    along = {kind: sum(long(ground.surface.points(line.uv)) for line in ground.layout.lines if line.kind == kind)
             for kind in ("plate", "rim")}  # fmt: skip
    joined = sum(seam.design_length for seam in shell.foam.cut.seams)
    assert amounts.score_m == pytest.approx(along["plate"] / 1000, rel=2e-3)
    assert amounts.rim_m == pytest.approx(along["rim"] / 1000, rel=2e-3)
    assert amounts.seam_m == pytest.approx(joined / 1000)
    assert amounts.cut_m == pytest.approx((2 * joined + along["rim"]) / 1000, rel=2e-3)
    assert amounts.ring_m == pytest.approx(sum(ring.neutral_length for ring in shell.trim.rings.rings) / 1000)
    assert amounts.area_m2 == pytest.approx(trimesh.Trimesh(ground.mesh.points, ground.mesh.faces).area / 1e6)
    assert (amounts.pieces, amounts.spikes) == (len(shell.foam.cut.pieces), len(shell.top.spikes))
    assert amounts.masters == len({spike.master for spike in shell.top.spikes})
    assert (amounts.infill, amounts.flow) == (made.printer.infill, made.printer.flow)
    assert amounts.bed == (made.printer.bed_x, made.printer.bed_y)
    assert amounts.primer_coats == odd.read().materials.primer_coats
    masks = stencils.build(ground.surface, ground.layout, shell.top.spikes, shell.top.masters, shell.trim.rings.rings)
    bands, plates = (sum(mask.kind == kind for mask in masks) for kind in ("band", "plate"))
    assert amounts.masks == 2 * amounts.spikes + bands + plates, "a hood and a collar for each spike"
    cut = sum(strap.count for strap in shell.worn.wear.straps if strap.cut)
    assert amounts.straps == (cut or len(shell.worn.wear.anchors)) > 0
    figures = [amounts.score_m, amounts.rim_m, amounts.seam_m, amounts.cut_m, amounts.ring_m, amounts.area_m2]
    assert len(set(np.round(figures, 6))) == len(figures), "or one could stand for another"
