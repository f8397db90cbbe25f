"""What is written under place reaches the spikes, and what follows from where they stand: grooves, seams and masks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from placed import RING, SMALL, at, shell

from shellgen import preset
from shellgen.core.flow import Flow
from shellgen.finish import stencils
from shellgen.finish.paint import zones
from shellgen.geom import covering
from shellgen.geom.patches import area
from shellgen.model import FoamSheet
from shellgen.pipeline import dome
from shellgen.pipeline.spikes import placed
from shellgen.share import plain
from shellgen.spikes import place, solids
from shellgen.trim import beneath, rings

HEAD = "name: toad\nmesh: {edge: 36}\ndome: {length: 500, width: 400, height: 160}\nspikes:\n"
STUD = "profile: stud, base_diameter: 16, height: 8, tip_radius: 8, ring: no, size_at_rim: 1"


def spikes_of(text: str, folder):
    path = folder / "toad.yaml"
    path.write_text(text, encoding="utf-8")
    of = preset.read(path)
    made, _ = placed(of, Flow(), dome.ground(of, Flow()))
    return of, made


@pytest.mark.parametrize(
    "line, count",
    [
        ("place: {at: line, count: 7}", 7),
        ("place: {at: line, along: rim, away: 45, count: 12}", 12),
        ("place: {at: line, along: vertebral / pleural, count: 5}", 10),
        ("place: corners, plates: vertebral-2", 6),
        ("by_hand: [{forward: 5 cm, outward: 3 in}, {forward: -10}]", 3),
    ],
)
def test_a_preset_reaches_the_spikes_and_reads_back_the_same_when_shared(line, count, tmp_path):
    of, made = spikes_of(f"{HEAD}  - {{{STUD}, clearance: -20, {line}}}\n", tmp_path)
    assert len(made) == count
    (tmp_path / "again").mkdir()
    _, same = spikes_of(plain.text(of), tmp_path / "again")
    assert [s.name for s in same] == [s.name for s in made]
    assert np.array([s.uv for s in same]) == pytest.approx(np.array([s.uv for s in made]), abs=1e-9)


def test_a_curve_covers_as_much_of_a_line_as_is_inside_it():
    turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    circle = 20 * np.column_stack([np.cos(turn), np.sin(turn), 0 * turn])
    across = np.column_stack([np.linspace(-90, 90, 61), np.full(61, 12.0), np.zeros(61)])
    up = np.array([0.0, 0.0, 1.0])
    beside = across + 30 * np.array([0.0, 1.0, 0.0])
    assert covering.covered([across, beside], circle, up) == pytest.approx([32.0, 0.0], abs=0.01)
    assert covering.covered([across[[0, -1]]], circle, up) == pytest.approx([32.0], abs=0.01), "of long steps too"


@pytest.fixture(scope="module")
def cornered():
    """Spikes at the corners of a turtle: surface, layout, mesh, spikes, rings."""
    surface, net, grid = shell()
    group = replace(SMALL, place=at("corners"), ring=True, size_at_rim=1.0, sizes=1)
    made, _ = place.build(surface, grid, net, (group,), ring_thickness=RING)
    return surface, net, grid, made, rings.build(surface, made, rings.Params(thickness=RING))


def test_what_spikes_stand_over_is_said_once_for_lines_and_once_for_seams(cornered):
    surface, net, grid, made, _ = cornered
    line = next(k for k, one in enumerate(net.lines) if one.kind == "plate")
    found = beneath.build(surface, net, grid, made, (line,), ring_thickness=RING)
    ends = {tuple(net.nodes[n]) for n in (net.lines[line].start, net.lines[line].end)}
    assert set(found.of) == {spike.name for spike in made}
    assert all("plate line" in over for over in found.of.values())
    assert {s.name for s in made if tuple(s.uv) in ends} == {n for n, over in found.of.items() if "seam" in over}
    assert [f.level for f in found.findings] == ["caution", "caution"]
    alone, _ = place.build(surface, grid, net, (replace(SMALL, plates=("vertebral",)),), ring_thickness=RING)
    assert beneath.build(surface, net, grid, alone, (line,), ring_thickness=RING).of == {}


def test_grooves_are_not_painted_under_spikes(cornered):
    """Three lines or more meet in the middle of each foot: so many radii of it are covered."""
    surface, net, grid, made, trims = cornered
    casts = solids.masters(surface, made, glue_line=0.0)
    given = (surface, net, grid)
    how = {"groove": (3.0, 2.0), "rim": 1000.0, "edging": 20.0}
    masters = [cast.solid for cast in casts]
    bare = zones.painted(*given, (), (), (), FoamSheet(10.0, 0.5), **how)
    full = zones.painted(*given, made, masters, trims.rings, FoamSheet(10.0, 0.5), **how)
    lines = [k for one in net.lines if one.kind == "plate" for k in (one.start, one.end)]
    radii = [sum(n == k for k in lines) * (s.base_diameter / 2 + RING) for s in made
             for n in [int(np.abs(net.nodes - s.uv).max(axis=1).argmin())]]  # fmt: skip
    assert (bare["grooves"] - full["grooves"]) / 7.0 == pytest.approx(sum(radii), rel=0.06)


def test_masks_of_all_plates_make_room_for_a_spike_on_their_corner(cornered):
    """Together they cover the dome without the feet; a plate laid flat about its middle is larger by up to 2 %."""
    surface, net, _, made, trims = cornered
    masks = stencils._sheets.plates(surface, net, made, {ring.spike: ring for ring in trims.rings})
    paper = sum(shapely.Polygon(m.outline, m.holes).area for m in masks)
    feet = sum(np.pi * (s.base_diameter / 2 + RING) ** 2 for s in made)
    assert paper == pytest.approx(area(surface) - feet, rel=0.02)
    assert feet > 0.05 * area(surface), "so that it would show"
