"""What a pack's key figures come to, computed a second way from the preset: on a preset that has every figure at a
value of its own, and on the demos. A value that arrives in another's place changes one of them.

Sources: parallel surfaces (Steiner, do Carmo section 3.5): A(h) = A + h M + h2 K, K the total curvature. Gauss-Bonnet:
a closed curve grows by 2 pi - K per mm that it is moved outward in its surface, K the curvature inside it. A body at
rest: the forces on it add up to nothing (any statics text).
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from datetime import datetime
from math import ceil, cos, hypot, pi, radians, sin

import numpy as np
import odd
import pytest
import trimesh

from shellgen import preset
from shellgen.finish import scores
from shellgen.model import FoamSheet
from shellgen.pipeline import findings
from shellgen.record import record
from shellgen.record.plain import plain
from shellgen.workshop import schedule

G = 9.80665
"""m/s2, ISO 80000-3."""
KINDS = ("length", "angle", "ratio", "number", "count", "mass")
AT_DEFAULT = {
    "dome": "its members have figures of their own",
    "plates": "as the dome",
    "wear": "the other harnesses hold a shell in fewer postures",
    "spikes.by_hand": "not together with in_row",
    "spikes.place": "its members have figures of their own: see test_placings",
    "spikes.ring": "without rings there is nothing to measure",
    "making.way": "printed or bought spikes take no clay: see test_ways",
    "schedule.prefer": "worked early, a shell is ready long before the day",
}
EQUAL = {frozenset({"foam.thickness", "nest.sheets.thickness"}): "a sheet of another foam would hold no piece"}


def name_of(figure):
    return f"{figure.section}.{figure.name}".strip(".")


# ---- the odd preset ------------------------------------------------------------------------------------------------


def test_no_figure_of_the_odd_preset_is_its_default():
    same = {name_of(f) for f in odd.figures(odd.read()) if f.value == f.usual}
    assert same == set(AT_DEFAULT), "give a new field a value in tests/odd_presets"


@pytest.mark.parametrize("kind", KINDS)
def test_no_two_figures_of_a_kind_are_equal(kind):
    found = [f for f in odd.figures(odd.read()) if f.kind == kind]
    times = Counter(f.value for f in found)
    equal = {frozenset(name_of(f) for f in found if f.value == value) for value, n in times.items() if n > 1}
    assert equal <= set(EQUAL)


def expected():
    """Every plain value that a stage is given, from the preset's text or a sum of its own."""
    p, shell = odd.read(), odd.built()[0]
    stretch, thickness = 0.064, 7.0
    shade = 0.62 * sum(_groove_and_feet(shell, p)) / 1000  # rings as on a flat plate
    wet = sum(trimesh.Trimesh(s.vertices, s.faces).volume for s in _each(shell)) / (1 - 0.053) ** 3
    return {
        "spikes.place.build": {"ring_thickness": 4.1, "tip_floor": 4.7, "base_agreement": 0.35},
        "trim.beneath.build": {"ring_thickness": 4.1},
        "spikes.solids.masters": {"glue_line": 0.13},
        "pipeline.spikes._ring_stock": {"lost": 0.0},  # butt joints lose nothing
        "finish.paint.zones.build": {
            "groove": (3.9, 2.7), "rim": shell.trim.edging.length, "edging": 2 * hypot(19 / 2, 12), "coats": 12,
            "coverage": 8.6,
        },
        "finish.paint.shading.build": {"groove": (3.9, 2.7)},
        "pattern.seams.cut": {"mid_offset": -0.61 * thickness},
        "pattern.marks.along": {"mid_offset": -0.61 * thickness},
        "pipeline.foam._corrected": {"stretch_limit": stretch},
        "pipeline.foam._bevels": {"formed": False},
        "pattern.proof.rest.form": {"thickness": thickness, "limits": (stretch, stretch)},
        "pattern.proof.rest.flawless": {"thickness": thickness},
        "pattern.proof.judge": {"limits": (stretch, stretch)},
        "pattern.checks.build": {"stretch_limit": stretch, "sheet": (907.0, 703.0), "least_neck": 11.0},
        "pipeline.workshop._nested": {"thickness": thickness},
        "workshop.work.size": {"primer_coats": 13, "varnish_coats": 19, "spray_grooves": True},
        "workshop.materials.build": {
            "thickness": thickness, "edging": (19.0, 12.0), "shading": "alkyd", "clay_wet": wet,
            "clay_dry": wet * (1 - 0.053) ** 3, "clay_cube": 0.0, "way": "clay", "printed_g": 0.0,
        },
        "wear.build": {
            "neck": shell.worn.fit.neck, "back": shell.worn.fit.back, "adhesive": 139.0, "assumed": False, "said": True,
        },
        "finish.paint.build": {
            "kind": "alkyd", "shade_ml": pytest.approx(shade, rel=1e-3), "spray_grooves": True,
        },
        "workshop.buying.build": {"spare": 0.12},
    }  # fmt: skip


def test_every_plain_value_arrives_as_it_stands_in_the_preset():
    wanted, heard = expected(), {}
    for stage, name, value in odd.built()[1]:
        if odd.plain(value) and name != "cut_lines":
            heard.setdefault(stage, {})[name] = value
    assert heard.keys() == wanted.keys()
    for stage, given in heard.items():
        assert given == {
            name: pytest.approx(value, rel=1e-9) if isinstance(value, int | float | tuple) else value
            for name, value in wanted[stage].items()
        }, stage


def test_the_foam_arrives_with_its_own_thickness_and_neutral_axis():
    given = [value for _, _, value in odd.built()[1] if isinstance(value, FoamSheet)]
    assert len(given) >= 5 and set(given) == {FoamSheet(7.0, 0.39)}
    assert (FoamSheet(7.0, 0.39).inner_offset, FoamSheet(7.0, 0.39).middle_offset) == (-7.0, -3.5)


def _each(shell):
    """The solid of every spike."""
    of = {solid.name: solid for solid in shell.top.masters}
    return [of[spike.master] for spike in shell.top.spikes]


def _around(points):
    return float(np.linalg.norm(np.diff(points, axis=0, append=points[:1]), axis=1).sum())


def _groove_and_feet(shell, p):
    """mm of groove, and of ring strip by its inner length."""
    mesh = shell.ground.mesh
    along = sum(
        np.linalg.norm(np.diff(mesh.points[chain], axis=0), axis=1).sum()
        for line, chain in zip(shell.ground.layout.lines, mesh.line_vertices, strict=True)
        if line.kind == "plate"
    )
    return along, sum(_around(s.base_curve) + 2 * pi * p.rings.neutral * p.rings.thickness for s in shell.top.spikes)


# ---- the odd preset and the demos ----------------------------------------------------------------------------------


@pytest.fixture(params=("odd-newt", "marsh-warden", "puddle-hatchling", "reed-knight"))
def made(request, packs):
    """A preset and its record."""
    if request.param == "odd-newt":
        return odd.read(), json.loads(json.dumps(plain(record(odd.built()[0]))))
    return preset.read(odd.PATH.parents[2] / "presets" / f"{request.param}.yaml"), packs(request.param)[1]


def test_there_is_no_fault_and_the_shell_hangs_in_every_posture(made):
    p, of = made
    how = p.wear.common
    assert [f["text"] for f in of["findings"] if f["level"] == "fault"] == []
    cases = of["wear"]["cases"]
    assert [c["name"] for c in cases if not c["held"]] == []
    found = [(c["forward_deg"], c["sideways_deg"], c["factor"]) for c in cases]
    lean, sway = np.degrees([how.lean, how.sway])
    wanted = [(0, 0, 1), (lean, 0, 1), (0, sway, 1), (0, -sway, 1), (0, 0, how.walk), (0, 0, how.jump)]
    assert found == [pytest.approx(case, abs=0.06) for case in wanted]


def test_straps_pull_in_proportion_to_the_weight(made):
    """Least work is quadratic: all forces grow as the load does. The record rounds pulls to 0.01 N."""
    p, of = made
    cases = {c["name"]: c for c in of["wear"]["cases"]}
    still = np.array([*cases["standing"]["pulls_n"], cases["standing"]["back_n"]])
    for name, factor in (("walking", p.wear.common.walk), ("jumping", p.wear.common.jump)):
        pulled = [*cases[name]["pulls_n"], cases[name]["back_n"]]
        assert pulled == pytest.approx(factor * still, abs=0.01 * (factor + 1))
    heavier = of["mass_g"] + 2 * of["mass_uncertainty_g"]  # one shell in forty is heavier
    assert of["wear"]["load_n"] == pytest.approx(heavier / 1000 * G, abs=0.01)


def test_masses_are_amounts_by_their_densities(made):
    p, of = made
    m, parts = p.materials, of["mass_parts_g"]
    flat = sum(piece["area_flat_mm2"] for piece in of["pieces"])
    strip = sum(s["ring_length_mm"] or 0 for s in of["spikes"])
    zones = {zone["id"]: zone for zone in of["paint"]["zones"]}
    painted = sum(zone["area_mm2"] for zone in zones.values() if zone["coats"]) / 1e6
    volume = sum(zone["volume_ml"] for zone in zones.values())
    coats = m.varnish_coats + (p.schedule.shading != "acrylic")
    assert parts == pytest.approx(
        {
            "foam": flat * p.foam.thickness * m.foam_density / 1e6,
            "spikes": of["clay_cm3"]["dry"] * m.clay_dry,
            "rings": strip * p.rings.thickness * p.rings.width * m.foam_density / 1e6,
            "edging": of["dome"]["rim_length_mm"] * p.edging.width * p.edging.thickness / 2 * m.foam_density / 1e6,
            "adhesive": _glued(p, of) * m.adhesive * m.adhesive_solids,
            "primer": painted * m.primer_coats * m.primer * m.primer_solids,
            "paint": volume * m.paint_solids,
            "varnish": 1000 * painted * coats / m.varnish * m.paint_solids,
        },
        rel=0.005,
        abs=0.06,
    )
    assert of["mass_g"] == pytest.approx(sum(parts.values()), abs=0.4)
    wet = of["clay_cm3"]["dry"] / (1 - (p.making.shrinkage or 0)) ** 3
    assert of["clay_cm3"]["wet"] == pytest.approx(wet, rel=0.01)


def _glued(p, of):
    """m2 of both faces of seams, rim, rings and the feet of spikes, taken as circles or, of a wider base, ellipses."""
    seams = sum(join["length_mm"] for join in of["joins"])
    feet = sum((s["ring_length_mm"] or 0) * p.rings.thickness for s in of["spikes"])
    feet += sum(s["base_curve_length_mm"] ** 2 / (4 * pi) for s in of["spikes"])
    return 2 * ((seams + of["dome"]["rim_length_mm"]) * p.foam.thickness + feet) / 1e6


def test_paint_is_area_by_coats_over_coverage(made):
    p, of = made
    for zone in of["paint"]["zones"]:
        own = getattr(p.paint.coats, zone["id"])
        assert zone["coats"] == (p.materials.paint_coats if own is None else own), zone["id"]
        volume = zone["area_mm2"] * zone["coats"] / p.materials.paint / 1000
        assert zone["volume_ml"] == pytest.approx(volume, abs=0.06), zone["id"]
        assert zone["colour"] == getattr(p.paint, zone["id"])


def test_zones_are_as_large_as_the_dome_leaves_them(made):
    p, of = made
    area = {zone["id"]: zone["area_mm2"] for zone in of["paint"]["zones"]}
    width, depth = scores.groove(p.scores, p.foam.thickness)
    along = area["grooves"] / (width + 2 * depth)
    outset = p.rings.thickness
    feet = sum(
        (s["base_curve_length_mm"] + (2 * pi * outset if s["ring_length_mm"] else 0)) ** 2 / (4 * pi)
        for s in of["spikes"]
    )
    left = of["dome"]["area_mm2"] - along * p.scores.width - feet
    assert area["plates"] == pytest.approx(left, rel=0.004)
    assert area["rim"] == pytest.approx(
        of["edging"]["length_mm"] * 2 * hypot(p.edging.width / 2, p.edging.thickness), abs=0.1
    )
    assert area["inside"] == pytest.approx(_area_at(of, p, p.foam.thickness), rel=0.002)


def _area_at(of, p, depth):
    """mm2 of the dome `depth` under its outer face, from two of its parallel faces and its total curvature."""
    outer, mid, curvature = (
        of["dome"]["area_mm2"],
        of["dome"]["mid_surface"]["area_mm2"],
        of["dome"]["total_curvature_rad"],
    )
    step = (1 - p.flatten.neutral_axis) * p.foam.thickness
    mean = (outer - mid + step**2 * curvature) / step
    return outer - depth * mean + depth**2 * curvature


def test_rings_and_edging_are_as_long_as_the_curves_they_follow(made):
    """On a flat plate a ring is pi (d + 2 k t) long; here d is the base curve's length over pi."""
    p, of = made
    for spike in of["spikes"]:
        if spike["ring_length_mm"] is not None:
            lap = p.rings.scarf * p.rings.thickness if p.rings.joint == "scarf" else 0.0
            around = spike["base_curve_length_mm"] + 2 * pi * p.rings.neutral * p.rings.thickness
            assert around * 0.985 <= spike["ring_length_mm"] <= (around + lap) * 1.015, spike["id"]
            assert spike["ring_thickness_mm"] == p.rings.thickness
    dome, step = of["dome"], (1 - p.flatten.neutral_axis) * p.foam.thickness
    slope = (dome["rim_length_mm"] - dome["mid_surface"]["rim_length_mm"]) / step
    edge = dome["rim_length_mm"] - slope * p.foam.thickness / 2
    outward = p.edging.neutral * p.edging.thickness
    assert of["edging"]["length_mm"] == pytest.approx(
        edge + (2 * pi - dome["total_curvature_rad"]) * outward, rel=0.002
    )
    assert sum(piece["length_mm"] for piece in of["edging"]["pieces"]) == pytest.approx(of["edging"]["length_mm"])


def test_stock_holds_its_pieces_and_saw_cuts(made):
    p, of = made
    sizes = {piece["id"]: piece["length_mm"] for piece in of["edging"]["pieces"]}
    for name, how, lengths in (("edging_stock", p.edging, sizes), ("ring_stock", p.rings, _strips(of))):
        assert of[name]["stock_mm"] == how.stock
        assert sorted(n for one in of[name]["lengths"] for n in one["pieces"]) == sorted(lengths)
        lap = how.scarf * how.thickness if name == "ring_stock" and how.joint == "scarf" else 0.0
        for one in of[name]["lengths"]:
            used = sum(lengths[n] for n in one["pieces"]) + how.kerf * (len(one["pieces"]) - 1)
            assert used + one["left_mm"] == pytest.approx(how.stock - lap, abs=0.01)


def _strips(of):
    return {s["id"]: s["ring_cut_mm"] for s in of["spikes"] if s["ring_cut_mm"] is not None}


def test_costs_and_packs_add_up(made):
    p, of = made
    lines = {line["item"]: line for line in of["materials"]}
    terms = {item.item: item for item in p.prices.items}
    for item, line in lines.items():
        if line["price"] is not None:
            assert line["cost"] == pytest.approx(line["packs"] * line["price"])
        if line["unit"] in ("g", "mL"):
            own = terms[item].spare if item in terms else None
            spare = p.materials.spare if own is None else own
            assert line["spare"] == spare and line["packs"] == ceil(line["amount"] * (1 + spare) / line["pack"] - 1e-6)
    costs = [line["cost"] for line in lines.values() if line["cost"] is not None]
    assert of["cost"]["total"] == (pytest.approx(sum(costs)) if costs else None)
    assert lines["foam clay"]["amount"] == pytest.approx(
        (of["clay_cm3"]["wet"] + (64 if p.making.shrinkage is None else 0)) * p.materials.clay_wet, rel=0.01
    )
    patches = sum(np.prod(a["patch_mm"]) for a in of["wear"]["anchors"]) / 1e6
    glue = (_glued(p, of) + 2 * patches) * p.materials.adhesive
    assert lines["contact adhesive"]["amount"] == pytest.approx(glue, rel=0.02)
    seams = sum(join["length_mm"] for join in of["joins"]) / 1000
    assert lines["gap filler"]["amount"] == pytest.approx(seams * p.materials.filler, rel=0.003)
    along = next(z for z in of["paint"]["zones"] if z["id"] == "grooves")["area_mm2"]
    width, depth = scores.groove(p.scores, p.foam.thickness)
    rings = sum(spike["ring_length_mm"] or 0 for spike in of["spikes"])
    along = (along / (width + 2 * depth) + rings) / 1000
    shade = lines[f"{p.schedule.shading} paint for shading"]["amount"]
    assert shade == pytest.approx(along * p.materials.oil, rel=0.001)
    thinner = p.materials.thinner * shade + p.materials.brush_thinner
    assert lines["thinner for shading"]["amount"] == pytest.approx(thinner), "oil or alkyd"
    zones = [zone for zone in of["paint"]["zones"] if zone["coats"]]
    coats = (p.materials.varnish_coats + 1) * sum(zone["area_mm2"] for zone in zones) / 1e6
    assert lines["clear varnish"]["amount"] == pytest.approx(1000 * coats / p.materials.varnish, rel=0.002)
    assert lines["brush for paint"]["amount"] == len({zone["colour"] for zone in zones})


def test_the_plan_has_every_coat_and_ends_before_the_day(made):
    p, of = made
    tasks = Counter(task["task"].split(",")[0] for task in of["schedule"])
    assert tasks["prime"] == p.materials.primer_coats and tasks["varnish"] == p.materials.varnish_coats
    for step in of["paint"]["steps"][:-1]:
        name = {"rim": "edging"}.get(step["zone"], step["zone"])
        assert tasks[f"paint the {name}"] == step["coats"], "a slot for every coat that the guide lists"
    assert tasks[schedule.SEAL] == (p.schedule.shading != "acrylic")
    dry = {task["task"].split(",")[0]: task["dry_h"] for task in of["schedule"]}
    assert dry["prime"] == p.schedule.primer_dry and dry["paint the plates"] == p.schedule.paint_dry
    assert dry["glue the seams"] == p.schedule.glue_dry and dry["make the spikes"] >= p.schedule.clay_dry
    if p.schedule.event is not None:
        ready = datetime.fromisoformat(of["plan"]["ready"]).date()
        assert 0 <= (p.schedule.event - ready).days - p.schedule.reserve <= 1, "nothing dries after the last work"


def test_sheets_keep_their_distances(made):
    p, of = made
    assert sorted(n for sheet in of["sheets"] for n in sheet["pieces"]) == sorted(x["id"] for x in of["pieces"])
    room = sum(sheet["length_mm"] * sheet["width_mm"] * sheet["utilisation"] for sheet in of["sheets"])
    assert room == pytest.approx(sum(piece["area_flat_mm2"] for piece in of["pieces"]), rel=0.001)
    for sheet in of["sheets"]:
        assert sheet["thickness_mm"] == p.foam.thickness
        assert sheet["edge_mm"] >= p.nest.margin - 0.002
        if sheet["gap_mm"] is not None:
            assert sheet["gap_mm"] >= p.nest.separation + p.nest.kerf - 0.002


# ---- the odd shell, to the last digit ------------------------------------------------------------------------------


def test_straps_and_back_carry_the_weight():
    """The back presses only outward, and sideways by friction: lengthwise the straps carry all."""
    shell, how = odd.built()[0], odd.read().wear.common
    wear = shell.worn.wear
    pulls = np.array([anchor.pull for anchor in wear.anchors])
    postures = [(0, 0, 1), (how.lean, 0, 1), (0, how.sway, 1), (0, -how.sway, 1), (0, 0, how.walk), (0, 0, how.jump)]
    for hold, (lean, sway, factor) in zip(wear.holds, postures, strict=True):
        weight = wear.load_n * factor
        total = hold.pulls @ pulls
        assert total[0] == pytest.approx(weight * cos(lean) * cos(sway), rel=1e-6), hold.case
        assert total[2] + hold.back == pytest.approx(weight * sin(lean) * cos(sway), abs=1e-6 * weight), hold.case
        friction = abs(total[1] + weight * sin(sway))
        assert friction <= how.friction * hold.back * (1 + 1e-6)
    assert (how.lean, how.sway) == pytest.approx((radians(31), radians(12)))


def test_anchors_are_on_the_inner_face_and_made_for_their_pull():
    shell, how = odd.built()[0], odd.read().wear.common
    inner = shell.ground.surface.points(np.array([anchor.uv for anchor in shell.worn.wear.anchors]), offset=-7.0)
    assert inner == pytest.approx(np.array([anchor.point for anchor in shell.worn.wear.anchors]), abs=1e-6)
    worst = np.max([hold.pulls for hold in shell.worn.wear.holds], axis=0)
    for k, anchor in enumerate(shell.worn.wear.anchors):
        both = max(worst[k], worst[k ^ 1])  # left and right stand in turn, and are made alike
        assert anchor.pull_n == pytest.approx(max(44.0, both)) and anchor.clear >= 8.0
        assert anchor.standing_n == pytest.approx(shell.worn.wear.holds[0].pulls[k])
        assert anchor.bond.stress_kpa <= 119 / 4.5 + 1e-9 and anchor.bond.peel <= 1.21 / 4.5 + 1e-9
    for strap in shell.worn.wear.straps:
        assert strap.width == 29.0
    assert how.edge == 15.4
    for patch in shell.worn.wear.patches:
        assert min(patch.length, patch.width) >= 29 + 2 * 15.4 - 5.0 - 1e-9  # patches go by whole 5 mm


def test_centre_of_mass_is_that_of_foam_and_clay():
    """Triangles by their areas, and trimesh's centre of each spike's solid."""
    shell = odd.built()[0]
    on = shell.ground
    mid = trimesh.Trimesh(on.surface.points(on.mesh.uv, offset=-0.61 * 7), on.mesh.faces, process=False)
    sheet = np.average(mid.triangles_center, axis=0, weights=mid.area_faces)
    solids = [trimesh.Trimesh(s.vertices, s.faces) for s in _each(shell)]
    places = [f.frame[:3, :3] @ s.center_mass + f.frame[:3, 3] for f, s in zip(shell.top.spikes, solids, strict=True)]
    clay = np.average(places, axis=0, weights=[s.volume for s in solids])
    parts = dict(shell.work.materials.mass_parts)
    share = parts["spikes"] / sum(parts.values())
    assert shell.work.materials.centre == pytest.approx((1 - share) * sheet + share * clay, abs=1e-6)


def test_marks_keep_to_spacing_and_least_gap():
    for gaps in odd.built()[0].foam.intervals:
        assert gaps.max() <= 1.5 * 73 and (gaps.shape[1] == 1 or gaps.min() >= 16 * 0.9)


def test_findings_name_the_limits_of_the_preset():
    said = " ".join(f.text for f in odd.built()[0].findings)
    for limit in (
        "limit 6.4 %",
        "limit 37.0 mm",
        "limit 25.0 mm",
        "limit for hours of wear is 17 kPa",
        "sized for 4.5 times 44 N",
    ):
        assert limit in said


def test_the_shade_goes_by_the_reach_brush_and_tones_of_the_preset():
    (how,) = [v for stage, name, v in odd.built()[1] if (stage, name) == ("finish.paint.shading.build", "params")]
    assert (how.reach, how.brush, how.middle, how.dark) == (14.0, 6.9, 0.14, 0.33)


def test_remarks_on_the_measures_reach_the_fit():
    heard = [(stage.rpartition(".")[0], name) for stage, name, _ in odd.built()[1]]
    assert ("wear.wearer.fit", "notes") in heard


def test_a_title_without_letters_is_a_caution_on_the_title():
    (found,) = findings.stated(replace(odd.read(), title="\u9f9c"))
    assert (found.level, found.stage) == ("caution", "title") and "\u9f9c" in found.text
