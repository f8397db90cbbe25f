"""Ribs from a point, against counts of animals and against what was asked for."""

from __future__ import annotations

from collections import Counter

import measures
import numpy as np
import pytest
import sourced

from shellgen.dome.surfaces import plan
from shellgen.errors import PresetError
from shellgen.plates import rays

ROWS = sourced.rows("layouts")
ORIGINS = ("tail", "neck", "crown")


@pytest.fixture(scope="module", params=measures.DOMES)
def surface(request):
    return plan.build(measures.DOMES[request.param])


@pytest.mark.parametrize("origin", ORIGINS)
@pytest.mark.parametrize("ribs", [6, 7])
def test_there_are_as_many_ribs_as_asked(surface, origin, ribs):
    layout = rays.build(surface, rays.Params(origin=origin, ribs=ribs))
    ears = 0 if origin == "crown" else ROWS["scallop ears"]["value"]
    assert Counter(plate.kind for plate in layout.plates) == Counter({"hub": 1, "rib": ribs, "ear": ears})
    assert len(layout.plates) == rays.expected(rays.Params(origin=origin, ribs=ribs), 0.0)


@pytest.mark.parametrize("origin", ORIGINS)
def test_every_plate_touches_the_hub_the_rim_and_its_two_neighbours(surface, origin):
    layout = rays.build(surface, rays.Params(origin=origin, ribs=9))
    hub = next(k for k, plate in enumerate(layout.plates) if plate.kind == "hub")
    assert len(layout.plates[hub].neighbours) == len(layout.plates) - 1
    for plate in layout.plates:
        if plate.kind != "hub":
            assert hub in plate.neighbours and len(plate.neighbours) == (2 if plate.kind == "ear" else 3)
            assert any(layout.lines[i].kind == "rim" for cell in plate.cells for i, _ in layout.cells[cell])


def test_an_odd_number_of_ribs_has_one_on_the_midline():
    surface = plan.build(plan.Params())
    for ribs in (8, 9):
        layout = rays.build(surface, rays.Params(ribs=ribs))
        central = [plate for plate in layout.plates if plate.side == "C" and plate.kind == "rib"]
        assert len(central) == ribs % 2


def test_a_great_scallop_can_be_made_and_the_most_of_its_genus():
    for name, hub in (("scallop ribs fewest", 0.3), ("scallop ribs most", 0.35), ("scallop genus ribs most", 0.6)):
        ribs = ROWS[name]["value"]
        layout = rays.build(plan.build(plan.Params()), rays.Params(ribs=ribs, hub=hub))
        assert sum(plate.kind == "rib" for plate in layout.plates) == ribs


def test_ribs_of_a_round_dome_are_equal_sectors():
    """From the crown of a hemisphere they are lunes: the area of each is that of the zone over their number, and the
    hub's that of a cap, 2 pi R h (Archimedes, On the Sphere and Cylinder)."""
    surface, ribs, hub = plan.build(measures.HEMISPHERE), 12, 0.3
    layout = rays.build(surface, rays.Params(origin="crown", ribs=ribs, hub=hub))
    areas = measures.plate_areas(surface, layout)
    cap = 2 * np.pi * 250**2 * (1 - np.cos(hub * np.pi / 2))
    rib = (2 * np.pi * 250**2 - cap) / ribs
    for plate, found in zip(layout.plates, areas, strict=True):
        assert found == pytest.approx(cap if plate.kind == "hub" else rib, rel=1e-3)


def test_ribs_are_of_equal_width_at_the_rim(surface):
    layout = rays.build(surface, rays.Params(ribs=8))
    wide = {}
    for line in layout.lines:
        if line.kind == "rim":
            plate = layout.plates[layout.cell_plate[max(line.left, line.right)]]
            wide.setdefault(plate.name, []).append(measures.line_length(surface, line))
    ribs = [sum(parts) for name, parts in wide.items() if name.startswith("rib")]
    assert len(ribs) == 8 and max(ribs) < 1.01 * min(ribs)


def test_the_tail_is_the_neck_turned_round():
    """On a dome that is alike at both ends."""
    surface = plan.build(measures.DOMES["hemisphere"])
    found = []
    for origin, turned in (("tail", -1), ("neck", 1)):
        layout = rays.build(surface, rays.Params(origin=origin))
        found.append({frozenset(map(tuple, np.round(x.uv[[0, -1]] * (turned, 1), 9) + 0.0)) for x in layout.lines})
    assert found[0] == found[1]


def test_ribs_that_are_too_narrow_are_refused_with_what_to_change():
    with pytest.raises(PresetError, match=r"plates.ribs: 40 ribs make [\w-]+ \d\.\d mm wide .* Use fewer ribs"):
        rays.build(plan.build(plan.Params()), rays.Params(ribs=40, hub=0.1))
