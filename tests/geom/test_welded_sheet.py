"""Where a sheet comes to rest does not depend on the way it was led there."""

import numpy as np
import polar

from shellgen.geom import welded_sheet
from shellgen.model import FoamSheet
from shellgen.pattern import flatten, proof, seams


def test_pressure_let_off_on_a_thinned_sheet_leads_to_the_same_rest(monkeypatch):
    """Both come to rest where no vertex moves by the last stage's precision any more."""
    rings = [(0.35, []), (0.7, [3, 9, 15, 21]), (1.0, [5, 10, 14, 19])]
    layout, mesh = polar.shell(polar.bowl(560, 460, 180), rings, around=24, steps=4)
    cut = seams.cut(mesh, layout, [i for i, line in enumerate(layout.lines) if line.kind == "plate"], mid_offset=-5.0)
    shares = [(0.0, 0.4, 0.7, 1.0)] * len(cut.seams)
    pattern = flatten.build(mesh, cut, flatten.Params(), FoamSheet(10.0), intervals=shares)
    places = []
    for wide in (10**9, 150):
        monkeypatch.setattr(welded_sheet, "WIDE", wide)
        places.append(proof.glue(mesh, cut, pattern, proof.Params(), thickness=10.0).points)
    assert np.abs(places[1] - places[0]).max() < welded_sheet.FINE
    assert not np.array_equal(*places)
