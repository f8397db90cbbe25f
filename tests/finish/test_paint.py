"""Zones and their areas, colours against published figures, coats, and the shade on dome and flat pieces."""

from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
import yaml
from drawn import scene_of, shell

from shellgen.canvas import Drawing
from shellgen.canvas import Path as Line
from shellgen.canvas.paper import PAPERS, Frame
from shellgen.draw import painted_scene
from shellgen.draw import shading as flat
from shellgen.draw.shelf import on_sheets
from shellgen.errors import PresetError
from shellgen.fields import bind, yamltree
from shellgen.finish import paint
from shellgen.finish.paint import coats, colours, figures
from shellgen.finish.paint.shading import CORNER
from shellgen.finish.paint.zones import PALETTE, painted, volume_ml
from shellgen.finish.stencils import build as stencils
from shellgen.geom import loops
from shellgen.geom.isolines import cut_into_bands
from shellgen.geom.occlusion import slot
from shellgen.geom.triangles import areas
from shellgen.model import FoamSheet, Zone
from shellgen.record.paint import paint as paint_entry

ROWS = {r["id"]: r for r in yaml.safe_load((Path(__file__).parents[1] / "published/paint.yaml").read_text("utf-8"))}
GROOVE = (3.0, 3.0)


def said(text):
    """What a preset says under `paint`."""
    return bind.bind(yamltree.parse(text.encode(), file="p.yaml"), paint.Params, file="p.yaml")


@cache
def made(name="puddle-hatchling"):
    """A demo with its paint."""
    of, how = shell(name), paint.Params()
    parts = of.ground.surface, of.ground.layout, of.ground.mesh, of.top.spikes, of.top.masters, of.trim.rings.rings, how
    zones = paint.zoned(
        *parts,
        FoamSheet(of.foam.thickness),
        groove=GROOVE,
        rim=of.trim.edging.length,
        edging=20.0,
        coats=3,
        coverage=10.0,
    )
    shade = paint.shaded(*parts, groove=GROOVE)
    return replace(of, paint=paint.build(zones, shade, kind="oil", shade_ml=2.0, spray_grooves=False))


# ---- colours -------------------------------------------------------------------------------------------------------


def test_ciede2000_agrees_with_its_published_pairs():
    row = ROWS["ciede2000"]
    assert len(row["pairs"]) == row["value"]
    for *six, wanted in row["pairs"]:
        one, other = np.array(six[:3]), np.array(six[3:])
        assert colours.ciede2000(one, other) == pytest.approx(wanted, abs=row["tolerance"])
        assert colours.ciede2000(other, one) == pytest.approx(wanted, abs=row["tolerance"])


@pytest.mark.parametrize("name", [name for name in ROWS if name.startswith("contrast")])
def test_contrast_agrees_with_published_pairs(name):
    row = ROWS[name]
    one, other = colours.read(row["one"]), colours.read(row["other"])
    assert colours.contrast(one, other) == pytest.approx(row["value"], abs=row["tolerance"])
    assert colours.contrast(other, one) == colours.contrast(one, other)


def test_sights():
    """Greys look the same to everyone; red and green of one lightness do not differ for those without such cones."""
    for seen in colours.SIGHTS.values():
        assert seen.sum(axis=1) == pytest.approx(1.0, abs=1e-5)
    red, green = (200, 80, 60), (120, 130, 50)
    full = colours.ciede2000(*(colours.lab(colours.linear(c)) for c in (red, green)))
    least, sight = colours.difference(red, green)
    assert least < full / 2 and sight in ("no red cones", "no green cones")
    assert colours.difference((90, 90, 90), (90, 90, 90))[0] == 0
    white, black = colours.lab(np.ones(3)), colours.lab(np.zeros(3))
    assert white == pytest.approx([100, 0, 0], abs=1e-3) and black == pytest.approx([0, 0, 0], abs=1e-9)


def test_neighbours_in_our_palette_differ_for_every_sight():
    pairs = made().paint.pairs
    assert len(pairs) == 5 and not made().paint.findings
    assert all(pair.difference > paint.ALIKE and pair.contrast > 1.5 for pair in pairs)
    rgb = {zone.name: zone.rgb for zone in made().paint.zones}
    for pair in pairs:
        one, other = (rgb[zone] for zone in pair.zones)
        assert pair.contrast == colours.contrast(one, other)
        assert (pair.difference, pair.sight) == colours.difference(one, other)


def test_neighbours_alike_are_named():
    zones = [Zone(n, 1e4, 2, 1.0, c, colours.read(h), "") for n, c, h in
             (("plates", "moss", "92a06e"), ("rings", "fern", "8d9c6a"), ("rim", "slate", "59625a"))]  # fmt: skip
    (finding,) = paint.build(zones, made().paint.shading, kind="oil", shade_ml=1.0, spray_grooves=False).findings
    assert finding.level == "caution" and "moss" in finding.text and "fern" in finding.text
    bare = [replace(zones[1], coats=0), zones[0]]
    assert not paint.pairs(bare), "a zone that stays bare has no colour to clash"


# ---- what a preset says --------------------------------------------------------------------------------------------


def test_own_colours():
    how = said('plates: fern\ncolours:\n  - {name: fern, hex: "5b7a4a"}\n  - {name: 112233, hex: 112233}')
    assert how.plates == "fern" and how.colours[1].hex == "112233"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("plates: mos", "plates"),
        ("colours:\n  - {name: fern, hex: 5b7a4}", "six hexadecimal digits"),
        ("colours:\n  - {name: fern, hex: 5b7a4g}", "six hexadecimal digits"),
        ("middle: 0.4\ndark: 0.3", "more than middle"),
        ("coats: {plates: 13}", "0 to 12"),
    ],
)
def test_mistakes_are_named(text, words):
    with pytest.raises(PresetError, match=words):
        said(text)


# ---- areas and amounts ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in ROWS if name.startswith("spreading")])
def test_volume_leaves_the_published_film(name):
    """What is poured out, times its solids, lies on the surface as the dry film of the table."""
    row = ROWS[name]
    film = volume_ml(1e6, 1, row["value"]) * 1000 * row["solids"] / 1e6  # mm on 1 m2
    assert 1000 * film == pytest.approx(row["film_um"], rel=row["tolerance"] / row["value"])


def test_zones_make_up_the_shell():
    of = made()
    found = {zone.name: zone for zone in of.paint.zones}
    assert tuple(found) == ("plates", "grooves", "spikes", "rings", "rim", "inside")
    outside = areas(of.ground.mesh.points, of.ground.mesh.faces).sum()
    mouths = found["grooves"].area * GROOVE[0] / (GROOVE[0] + 2 * GROOVE[1])
    rings = {ring.spike: ring.thickness for ring in of.trim.rings.rings}
    seats = sum(
        polygon(loops.offset(s.base_curve, of.ground.surface.normals(s.seat_uv), rings.get(s.name, 0.0)))
        for s in of.top.spikes
    )
    assert found["plates"].area + mouths + seats == pytest.approx(outside, rel=1e-3)
    for zone in of.paint.zones:
        assert zone.volume_ml == pytest.approx(zone.area / 1e6 * zone.coats / 10 * 1000)
        assert f"{zone.coats} coat" in zone.how and "10 m2/L" in zone.how
    assert found["inside"].coats == 0 and found["inside"].volume_ml == 0


def polygon(curve):
    """Area of a nearly flat closed curve, laid in its own plane by its principal axes."""
    away = curve - curve.mean(axis=0)
    return shapely.Polygon(away @ np.linalg.svd(away, full_matrices=False)[2][:2].T).area


def test_a_bare_dome_has_no_spikes_to_paint():
    of = made()
    parts = of.ground.surface, of.ground.layout, of.ground.mesh
    found = painted(*parts, (), (), (), FoamSheet(6.0), groove=GROOVE, rim=1000.0, edging=20.0)
    assert found["spikes"] == found["rings"] == 0 and found["rim"] == 20000
    more = painted(*parts, (), (), (), FoamSheet(6.0), groove=(6.0, 3.0), rim=1000.0, edging=20.0)
    assert more["grooves"] / found["grooves"] == pytest.approx(12 / 9)
    assert more["plates"] < found["plates"]


def test_coats_name_stencils_that_there_are():
    of = made()
    kinds = {
        mask.kind
        for mask in stencils(of.ground.surface, of.ground.layout, of.top.spikes, of.top.masters, of.trim.rings.rings)
    }
    assert {mask for coat in of.paint.coats for mask in coat.masks} <= kinds
    zones = [coat.zone for coat in of.paint.coats]
    assert zones.index("plates") < zones.index("grooves") < zones.index("rim") and of.paint.coats[-1].title == "Shade"
    assert sum(coat.volume_ml for coat in of.paint.coats[:-1]) == pytest.approx(
        sum(zone.volume_ml for zone in of.paint.zones)
    )
    assert all("Caution" in coat.instruction for coat in of.paint.coats)


@pytest.mark.parametrize(("kind", "rags"), [("oil", True), ("alkyd", True), ("acrylic", False)])
def test_rags_catch_fire_by_themselves_with_drying_oils(kind, rags):
    last = coats.build((), kind=kind, shade_ml=1.0, spray_grooves=False)[-1]
    assert ("fire by themselves" in last.instruction) == rags


@pytest.mark.parametrize("spray", [False, True])
def test_masks_of_plates_are_for_sprayed_grooves_only(spray):
    order = coats.build(made().paint.zones, kind="oil", shade_ml=1.0, spray_grooves=spray)
    assert ("plate" in {kind for coat in order for kind in coat.masks}) == spray
    assert [coat.zone for coat in order].count("grooves") == 2, "painted and shaded"


def test_record_and_list():
    of = made().paint
    record = paint_entry(of)
    assert [z.id for z in record.zones] == [z.name for z in of.zones]
    assert record.zones[0].hex == f"#{PALETTE['water']}"
    assert sum(record.shading.tones.values()) == pytest.approx(1.0, abs=2e-3)
    table = figures.table(of)
    assert len(table.rows) == len(of.coats) and all(len(row) == len(table.columns) for row in table.rows)


# ---- shade ---------------------------------------------------------------------------------------------------------


def test_shade_is_that_of_the_closed_forms():
    of, shading = made(), made().paint.shading
    own = shading.shade[: len(of.ground.mesh.points)]
    lines = zip(of.ground.layout.lines, of.ground.mesh.line_vertices, strict=True)
    on = np.unique(np.concatenate([vertices for line, vertices in lines if line.kind == "plate"]))
    assert (own[on] >= 1 - slot(*GROOVE) - 1e-9).all()
    assert np.array_equal(shading.points[: len(own)], of.ground.mesh.points)
    assert ((shading.shade >= 0) & (shading.shade <= 1)).all() and (shading.openness <= 1).all()
    assert (shading.shade >= 1 - shading.openness - 1e-9).all()
    assert 0 < CORNER < 1 - slot(3.0, 3.0)


def test_shade_is_the_same_on_both_halves():
    of, shading = made(), made().paint.shading
    own = shading.shade[: len(of.ground.mesh.points)]
    assert np.abs(own - own[of.ground.mesh.mirror]).mean() < 0.01


def test_without_spikes_only_grooves_are_shaded():
    of, how = made(), paint.Params(reach=10.0)
    bare = paint.shaded(of.ground.surface, of.ground.layout, of.ground.mesh, (), (), (), how, groove=GROOVE)
    assert (bare.openness == 1).all()
    assert bare.shade.max() == pytest.approx(1 - slot(*GROOVE)) and (bare.shade == 0).mean() > 0.4


def tone_areas(table, faces, levels):
    """mm2 of each tone of a mesh whose last column is the shade."""
    table, faces, tone = cut_into_bands(table, faces, table[:, 3], levels)
    return [areas(table[:, :3], faces)[tone == k].sum() for k in range(len(levels) + 1)]


def test_tones_in_space():
    of = made()
    bare = scene_of(of, painted_scene.zone_colours(of.paint.zones))
    for look in ("painted", "shading"):
        seen = painted_scene.painted_scenes(of.paint, bare, look)[0]
        part = next(p for p in seen.parts if p.zone == "plates")
        palette = {tuple(int(v) for v in c) for c in painted_scene.tone_colours(of.paint.zones, look)}
        assert {tuple(int(v) for v in c) for c in part.bands.colours} == palette
        assert areas(part.vertices, part.faces).sum() == pytest.approx(
            areas(of.ground.mesh.points, of.ground.mesh.faces).sum(), rel=5e-3
        )
        whole = np.hstack([of.paint.shading.points, of.paint.shading.shade[:, None]])
        fine, some = (
            tone_areas(np.hstack([vertices, np.c_[values]]), faces, part.bands.levels)
            for vertices, faces, values in (
                (whole[:, :3], of.paint.shading.faces, whole[:, 3]),
                (part.vertices, part.faces, part.bands.values),
            )
        )
        assert len(part.faces) < 0.8 * len(of.paint.shading.faces)
        assert some == pytest.approx(fine, rel=5e-3)
    greys = [colours.luminance(grey) for grey in painted_scene.GREYS]
    assert all(a > 1.5 * b for a, b in pairwise(greys)), "apart in black and white"


@pytest.mark.parametrize("brush", [6.0, 16.0])
def test_tones_on_a_flat_piece_can_be_followed_with_a_brush(brush):
    of = made()
    of = replace(of, paint=replace(of.paint, shading=replace(of.paint.shading, brush=brush)))
    edge, radius = shapely.make_valid(shapely.polygons(flat.outline(of.foam, 0))), brush / 2
    standing = flat._occupied(of.foam, of.top.seats, of.trim.rings.rings, 0)
    cut = edge.boundary.union(standing.boundary).buffer(2 * radius + 1)

    def narrow(area):
        """What a brush cannot reach, away from where the piece or a spike cuts the tone off."""
        open_ = area.buffer(-radius + 0.4).buffer(radius + 0.1)  # 0.4: outlines are straightened by up to 0.25
        return area.difference(open_).difference(cut).area

    middle, dark = flat.tone_areas(of.ground.mesh, of.foam, of.paint.shading, 0, standing)
    assert dark.difference(middle).area < 1e-6 and middle.difference(edge.buffer(0.01)).area < 1e-6
    assert middle.area > dark.area
    assert narrow(middle) < 1.0 and narrow(dark) < 1.0
    line = shapely.box(-30, -0.5 * brush + 1, 30, -1).union(middle)
    assert narrow(line) > 1.0, "a line too thin for the brush is found out"


def test_flat_and_curved_tones_agree():
    """The rough area of each tone, triangle by triangle, is as large flat as on the dome but for the stretch."""
    of, shading = made(), made().paint.shading
    flat_area = 0.0
    for index in range(len(of.foam.cut.pieces)):
        plane, faces, values = flat._fine(of.ground.mesh, of.foam, shading, index)
        flat_area += areas(plane, faces)[values[faces].mean(axis=1) >= shading.levels[0]].sum()
    curved = areas(shading.points, shading.faces)[shading.shade[shading.faces].mean(axis=1) >= shading.levels[0]].sum()
    assert flat_area == pytest.approx(curved, rel=0.06)  # the middle of the foam is smaller than its outer face


def test_pieces_are_drawn_smaller_where_that_saves_a_page():
    def about(scale):
        return Drawing(
            "about", 160.0, 30.0, (Line(np.array([(0, 0), (160, 0), (160, 30), (0, 30)]), "guide", closed=True),)
        )

    def box(across, up):
        return np.array([(0.0, 0.0), (across, 0.0), (across, up), (0.0, up)])

    window, how = Frame(PAPERS["A4"], 8.0, 12.0).window[2:], {"paper": "A4"}
    large, low = box(2.9 * window[0], 2.4 * window[0]), box(2.9 * window[0], 1.1 * window[1])
    one = flat.scale_of([large], about, window=window, layout=how)
    assert one in flat.SCALES
    both = flat.scale_of([large, low], about, window=window, layout=how)
    assert both >= one

    def pages(scale):
        parts = [Drawing("", 1.0, 1.0, (Line(edge / scale, "cut", closed=True),)) for edge in (large, low)]
        return len(on_sheets([about(scale), *parts]).pages)

    assert pages(one) == 2 and pages(both) == 1 and one < both <= flat.SMALLER * one


def test_guides_hold_every_piece_and_the_words():
    of, window = made(), Frame(PAPERS["A4"], 8.0, 12.0).window[2:]
    true, small = flat.guides(
        of.name, of.ground, of.foam, of.top.seats, of.top.spikes, of.trim.rings.rings, of.paint, window=window
    )
    names = [f"{piece.name}-shading" for piece in of.foam.cut.pieces]
    assert [d.name for d in true] == names and [d.name for d in small[1:]] == names
    told = " ".join(item.text for item in small[0].items if hasattr(item, "text"))
    for word in ("light", "middle", "dark", "scale 1:", "Caution"):
        assert word in told
    for drawing in (*true, *small):
        points = np.vstack([item.points for item in drawing.items if hasattr(item, "points")])
        assert (points >= -1e-6).all() and (points <= [drawing.width + 1e-6, drawing.height + 1e-6]).all()
        assert all(item.fill for item in drawing.items if hasattr(item, "fill") and item.layer == "fill")
    assert all((np.array([d.width, d.height]) <= window).all() for d in small[1:])
    plan = on_sheets(small)
    assert len(plan.on(plan.pages[0])) > 1, "nothing but the legend on its page"
