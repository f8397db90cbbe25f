"""How a shell hangs: forces by hand, ways of straps by plane geometry, glue by its formula, and what is said."""

import csv
import io
import pickle
import re
from dataclasses import replace
from pathlib import Path

import drawn
import numpy as np
import pytest
import shapely
import yaml

from shellgen import preset, wear
from shellgen.canvas.lettering import box
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.flow import Flow
from shellgen.draw import wearing
from shellgen.draw.patches import arrow_direction, patch_sheets
from shellgen.draw.wearing import wearing_plan
from shellgen.export import csv as csv_file
from shellgen.export import svg
from shellgen.fields.params import Chosen, own_params
from shellgen.model import Body, FoamSheet, Materials, Pattern, Spike, SpikeShape
from shellgen.pipeline import dome, foam
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.record import wear as record_wear
from shellgen.record.plain import plain
from shellgen.wear import Case, Run, Strand, _hold, _patch, _torso
from shellgen.wear._remedy import NOTHING
from shellgen.wear._strand import End, StrapBend
from shellgen.wear.harnesses import straps

ROWS = {r["id"]: r for r in yaml.safe_load((Path(__file__).parents[1] / "published/wear.yaml").read_text("utf-8"))}
ADULT = Body("adult", 1690, 75, 390, 450, 250, 280, 348, 362, 1455, 888)
CHILD = Body("child", 1150, 21, 265, 300, 165, 185, 215, 270, 950, 620)
STILL = Case("standing", 0.0, 0.0, 1.0)
COARSE = """
dome: {length: 520, width: 420, height: 150}
plates: {vertebrals: 4, pleurals: 3, marginals: 8}
mesh: {edge: 30 mm}
spikes: []
seams: {plan: plates}
"""


@pytest.fixture(scope="module")
def shell(tmp_path_factory):
    """Surface, layout, mesh and cut of a small shell without spikes."""
    path = tmp_path_factory.mktemp("wear") / "coarse.yaml"
    path.write_text(COARSE)
    read, flow = preset.read(path), Flow()
    on = dome.ground(read, flow)
    return on.surface, on.layout, on.mesh, foam.cut(read, flow, on)


def built(shell, harness="straps", *, own=(), mass_g=700.0, spikes=(), body=ADULT, **common):
    params = own_params("shellgen.wear.harnesses", harness)
    chosen = Chosen(harness, params(**dict(own)) if params else None, wear.Params(harness=harness, **common))
    made = Materials((), mass_g, 0.0, (), np.array([-5.0, 0.0, 80.0]))
    top = float(shell[2].points[:, 0].max())
    return wear.build(*shell, spikes, made, body, chosen, FoamSheet(10.0), neck=top + 20, back=-10.0, adhesive=150.0)


def said(worn, level):
    return " ".join(f.text for f in worn.findings if f.level == level)


def straight(start, way):
    """A run that leaves an anchor one way and bears on nothing."""
    path = np.array([start, np.array(start) + 100 * np.array(way)], float)
    return Run(path, ())


def test_a_balance_worked_by_hand():
    """10 N at 100 mm behind the back's plane, two straps from x = 200 that pull 4 up and 3 forward, pads at x = 200 and
    x = -200. Up: 2 T 4/5 = 10, so T = 6.25 N. Outward: the pads press as much as the straps pull in, 2 T 3/5 = 7.5 N.
    Moments about the y axis through the origin: 10 x 100 = 1000 N mm turn the shell's top away from the back, the
    straps turn it back with 7.5 x 200 = 1500, so the pads press, upper less lower, (1500 - 1000) / 200 = 2.5 N: that is
    5 and 2.5 N."""
    run = straight((200, 80, 0), (0.8, 0.0, -0.6))
    strand = Strand("strap", 40.0, (End("up", np.zeros(3), lambda a: run),))
    pads = np.array([[200.0, 0, 0], [-200.0, 0, 0]])
    held = _hold.hold(STILL, (strand,), (run,), pads, np.array([0.0, 0, 100]), 10.0, friction=0.3)
    assert held.pulls == pytest.approx([6.25, 6.25])
    assert held.back == pytest.approx(7.5)
    assert held.back_at == pytest.approx((5.0 * 200 - 2.5 * 200) / 7.5)
    assert held.off < 1e-10


def test_bowing_lays_the_shell_on_the_back():
    """Bowed by 60 degrees half the weight hangs on the straps and 0.866 of it lies on the pads, besides what the straps
    draw in: T = 10 x 0.5 / 1.6 = 3.125 N, back = 8.660 + 2 x 3.125 x 0.6 = 12.410 N."""
    run = straight((200, 80, 0), (0.8, 0.0, -0.6))
    strand = Strand("strap", 40.0, (End("up", np.zeros(3), lambda a: run),))
    pads = np.array([[200.0, 0, 0], [-200.0, 0, 0]])
    case = Case("bowing", np.radians(60), 0.0, 1.0)
    held = _hold.hold(case, (strand,), (run,), pads, np.array([0.0, 0, 100]), 10.0, friction=0.3)
    assert held.pulls == pytest.approx([3.125, 3.125])
    assert held.back == pytest.approx(12.410, abs=5e-4)


def test_what_cannot_be_held_is_not():
    """A strap that pulls straight in holds nothing up."""
    run = straight((200, 80, 0), (0.0, 0.0, -1.0))
    strand = Strand("strap", 40.0, (End("up", np.zeros(3), lambda a: run),))
    pads = np.array([[200.0, 0, 0], [-200.0, 0, 0]])
    assert _hold.hold(STILL, (strand,), (run,), pads, np.array([0.0, 0, 100]), 10.0, friction=0.3) is None


def test_friction_keeps_the_ends_of_a_strap_so_far_apart():
    end = End("up", np.zeros(3), lambda a: a)
    half_turn = replace(straight((0, 1, 0), (1, 0, 0)), bends=(StrapBend("post", 50.0, np.pi),))
    rows = _hold.couplings((Strand("rope", 10.0, (end, end)),), (half_turn, half_turn), 0.3)
    row = ROWS["capstan-turns"]
    assert rows.max() == pytest.approx(row["value"], abs=row["tolerance"])
    assert rows.shape == (4, 4) and (rows @ np.ones(4) > 0).all()
    assert (rows @ [row["value"] + 0.01, 1.0, 1.0, 1.0] < 0).sum() == 1


def test_a_strap_over_the_shoulder_is_a_taut_string():
    """It leaves and meets the round at right angles to its radius, and turns by what lies between."""
    torso = _torso.torso_behind(ADULT, 300.0, -10.0, -280.0)
    run = torso.over_shoulder(np.array([220.0, 120.0, 60.0]), 100.0, torso.armpit)
    radius = run.bends[0].radius
    centre = np.array([torso.shoulder_top(100.0) - radius, torso.back - torso.deep])
    on = run.path[1:-1][:, [0, 2]] - centre
    assert np.hypot(*on.T) == pytest.approx(radius)
    for free, foot in (((run.path[0] - run.path[1])[[0, 2]], on[0]), ((run.path[-1] - run.path[-2])[[0, 2]], on[-1])):
        assert free @ foot == pytest.approx(0, abs=1e-9 * radius**2)
    legs = [np.array([220.0, 60.0]) - on[0] - centre, run.path[-1][[0, 2]] - on[-1] - centre]
    cosine = -(legs[0] @ legs[1]) / np.prod(np.linalg.norm(legs, axis=1))
    assert run.bends[0].turn == pytest.approx(np.arccos(cosine), abs=1e-9)
    assert run.pull[2] < 0 < run.pull[0], "forward and up"
    _, across, deep = run.path[-1] - (0.0, 0.0, torso.back - torso.deep)
    assert (across / torso.half) ** 2 + (deep / torso.deep) ** 2 == pytest.approx(1), "it ends on the chest"


def test_a_strap_round_a_round_body():
    """On a cylinder of radius r from a place d from its axis: sqrt(d2 - r2) straight, then r times the angle, and a
    slope lengthens both alike (Pythagoras on the unrolled cylinder)."""
    torso = replace(_torso.torso_behind(ADULT, 300.0, 0.0, -280.0), half=120.0, deep=120.0, hips=120.0)
    anchor = np.array([0.0, 90.0, 40.0])
    d = np.hypot(90, 160)
    level = np.sqrt(d**2 - 120**2) + 120 * (np.arctan2(160, 90) - np.arccos(120 / d) + np.pi / 2)
    around = torso.round_body(anchor, 0.0, None, where="hip", half=120.0)
    assert around.length == pytest.approx(level, rel=1e-4)
    assert around.bends[0].radius == pytest.approx(120.0)
    assert around.bends[0].turn == pytest.approx(np.arctan2(160, 90) - np.arccos(120 / d) + np.pi / 2)
    rising = torso.round_body(anchor, 0.0, 200.0, where="flank", half=120.0)
    assert rising.length == pytest.approx(np.hypot(level, 200), rel=1e-4)
    assert rising.bends[0].radius == pytest.approx(120.0 * (1 + (200 / level) ** 2), rel=1e-4), "a helix bends less"
    assert rising.pull[0] == pytest.approx(200 / np.hypot(level, 200), rel=1e-4)


def test_the_tightest_bend_of_an_ellipse_is_at_its_narrow_end():
    assert _torso._tightest(174.0, 125.0, np.linspace(-np.pi / 2, np.pi / 2, 201)) == pytest.approx(125**2 / 174)


def test_pressure_carries_what_the_strap_pulls(shell):
    """Pressed all along half a turn, p w r sin(a) da adds up to 2 p w r: the strap's two legs, 2 T."""
    worn = built(shell)
    for one in worn.pressures:
        strand = next(s for s in worn.strands if s.name == one.strap)
        at = 2 * sum(s.count for s in worn.strands[: worn.strands.index(strand)])
        pull = worn.holds[0].pulls[at : at + 2 * strand.count].max()
        angle = np.linspace(0, np.pi, 2001)
        pressed = np.trapezoid(one.standing_kpa / 1000 * one.width * one.radius * np.sin(angle), angle)
        assert pressed == pytest.approx(2 * pull, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("harness", ("straps", "vest", "neckband"))
def test_every_case_is_in_balance(shell, harness):
    worn = built(shell, harness)
    runs = _hold.both_sides(worn.runs)
    for case, hold in zip(worn.cases, worn.holds, strict=True):
        assert hold.off < 1e-9 * worn.load_n
        assert (hold.pulls >= 0).all()
        up = sum(pull * run.pull[0] for pull, run in zip(hold.pulls, runs, strict=True))
        assert up == pytest.approx(-case.factor * worn.load_n * case.down[0]), "the straps alone hold the shell up"


@pytest.mark.parametrize("harness", ("straps", "vest", "neckband"))
def test_left_and_right_pull_alike(shell, harness):
    worn = built(shell, harness)
    held = {hold.case.name: hold.pulls.reshape(-1, 2) for hold in worn.holds}
    for name in ("standing", "bowing", "walking", "jumping"):
        assert held[name][:, 0] == pytest.approx(held[name][:, 1], abs=1e-7)
    assert held["leaning left"] == pytest.approx(held["leaning right"][:, ::-1], abs=1e-7)
    assert (np.ptp(held["leaning left"], axis=1) > 0.1).any(), "leaning does pull more on one side"
    for left, right in zip(worn.anchors[::2], worn.anchors[1::2], strict=True):
        assert right.point == pytest.approx(left.point * [1, -1, 1])
        assert right.pull == pytest.approx(left.pull * [1, -1, 1])
        assert left.plate == right.plate.replace("-R-", "-L-") and left.pull_n == right.pull_n


def test_twice_the_weight_pulls_twice(shell):
    once, twice = built(shell), built(shell, mass_g=1400.0)
    for one, two in zip(once.holds, twice.holds, strict=True):
        assert two.pulls == pytest.approx(2 * one.pulls, abs=1e-7)
    assert once.load_n == pytest.approx(0.7 * ROWS["gravity"]["value"])
    assert once.holds[5].pulls == pytest.approx(3.0 * once.holds[0].pulls, abs=1e-7), "jumping"


def test_dynamic_factors_lie_above_what_was_measured():
    assert wear.Params().walk >= ROWS["walking"]["value"]
    assert wear.Params().jump >= ROWS["running"]["value"]


def test_a_patch_keeps_its_glue_within_limits():
    rng = np.random.default_rng(7)
    for _ in range(200):
        pull, angle, strap = rng.uniform(1, 400), rng.uniform(0, np.pi / 2), rng.uniform(15, 60)
        made = _patch.patch("x", pull, angle, strap, edge=15.0, stress_kpa=25.0, peel=0.25)
        bond = _patch.bond(pull, angle, made.length, made.width)
        if made.width == _patch.LARGEST:
            assert pull * (1 - np.cos(angle)) / _patch.LARGEST >= 0.25 * (1 - 5 / _patch.LARGEST)
            continue
        assert bond.stress_kpa <= 25.0 + 1e-9 and bond.peel <= 0.25 + 1e-9
        assert made.width >= strap + 30 and made.length >= made.width
        if made.width > max(strap + 30, 55) + 5:
            assert _patch.bond(pull, angle, made.length, made.width - 5).peel > 0.25, "no wider than it must be"


def test_peel_is_that_of_a_strip():
    """At a right angle the pull per width; along the foam nothing (Kendall 1975, inextensible strip)."""
    assert _patch.bond(30.0, np.pi / 2, 80.0, 60.0).peel == pytest.approx(0.5)
    assert _patch.bond(30.0, 0.0, 80.0, 60.0).peel == 0
    assert _patch.bond(30.0, np.pi / 3, 80.0, 60.0).peel == pytest.approx(0.25)
    assert _patch.bond(48.0, 0.3, 80.0, 60.0).stress_kpa == pytest.approx(10.0)
    assert ROWS["foam-tensile"]["value"] > wear._hang.BOND_KPA, "the foam is not the weaker"


def test_patch_outline_has_its_area():
    outline = _patch.rounded_rectangle(90.0, 70.0, 15.0)
    x, y = outline.T
    area = (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2
    assert area == pytest.approx(90 * 70 - (4 - np.pi) * 15**2, abs=6.0)
    assert np.ptp(outline, axis=0) == pytest.approx([90, 70])


def test_anchors_stand_clear_of_lines_rim_and_spikes(shell):
    surface, layout, grid, cut = shell
    worn = built(shell)
    inside = grid.offset(-10.0)
    drawn = [k for k, line in enumerate(layout.lines) if line.kind == "plate" or k in cut.cut_lines]
    for anchor in worn.anchors:
        for k in drawn:
            assert np.linalg.norm(inside[grid.line_vertices[k]] - anchor.point, axis=1).min() >= 12.0
        assert np.hypot(*anchor.uv) < 1 and anchor.up >= worn.patches[anchor.patch].length / 2 - 1
    places = np.array([anchor.point for anchor in worn.anchors])
    apart = np.linalg.norm(places[:, None] - places, axis=2)[~np.eye(len(places), dtype=bool)]
    assert apart.min() >= max(patch.length for patch in worn.patches) - 1e-6, "patches do not lie on each other"
    spike = spike_at(surface, worn.anchors[0].uv)
    moved = built(shell, spikes=(spike,))
    assert np.linalg.norm(moved.anchors[0].point - worn.anchors[0].point) > 12
    assert np.linalg.norm(surface.points(moved.anchors[0].uv[None])[0] - spike.base_curve.mean(axis=0)) >= 12 + 15


def spike_at(surface, uv):
    """A round spike of 30 mm, as far as the anchors must know."""
    middle, tangent = surface.points(uv[None])[0], surface.tangents(uv[None])[0]
    across, _ = np.linalg.qr(tangent)
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    base = middle + 15 * (np.outer(np.cos(turn), across[:, 0]) + np.outer(np.sin(turn), across[:, 1]))
    return Spike("spike-1", 0, uv, np.eye(4), 0.0, base, np.zeros((40, 2)), "m", SpikeShape("cone", 30.0, 30.0, 30.0))


def test_where_there_is_no_room_it_is_said(shell):
    worn = built(shell, margin=60.0)
    assert any(anchor.clear < 60 for anchor in worn.anchors)
    assert "no place nearby has more" in said(worn, "caution")


def test_the_tape_finds_the_anchor(shell):
    """Along the inner rim, measured on a finely sampled one; the way in is no shorter than the straight line, and the
    rim has no place that is nearer."""
    surface = shell[0]
    turn = np.linspace(0, np.pi, 20001)
    rim = surface.points(np.column_stack([np.cos(turn), np.sin(turn)]), offset=-10.0)
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(rim, axis=0), axis=1))])
    for anchor in built(shell).anchors[::2]:
        away = np.linalg.norm(rim - anchor.point, axis=1)
        here = along if anchor.edge == "neck" else along[-1] - along
        assert away.min() < anchor.up < 1.25 * away.min() + 1
        assert abs(np.interp(anchor.along, here[:: 1 if anchor.edge == "neck" else -1],
                             away[:: 1 if anchor.edge == "neck" else -1]) - away.min()) < 6.0  # fmt: skip
        assert 0 < anchor.along <= along[-1] / 2 + 1


def test_a_short_shell_keeps_its_belt_below_its_straps(shell):
    """A child's shell on a grown body ends above the waist."""
    worn = built(shell, body=replace(ADULT, back_length=700.0))
    flank, hip = (next(a for a in worn.anchors if a.name == f"{role}-L") for role in ("flank", "hip"))
    assert worn.torso.hip < float(shell[2].points[:, 0].min()) < hip.point[0] < flank.point[0]


def test_a_neck_band_carries_all_and_is_warned_of(shell):
    worn = built(shell, "neckband")
    assert worn.neck_share == pytest.approx(1.0)
    assert "100 %" in said(worn, "caution") and "strangle" in said(worn, "caution")
    assert "must have a fastener" in said(built(shell, "neckband", own={"breakaway": False}), "fault")
    child = said(built(shell, "neckband", body=CHILD, mass_g=200.0), "fault")
    for words in ("child's neck", "EN 14682", "16 CFR 1120", "ASTM F1816", "vest", "local rules"):
        assert words in child
    assert any(p.where == "throat" and p.radius == pytest.approx(362 / 2 / np.pi) for p in worn.pressures)


@pytest.mark.parametrize("harness", ("straps", "vest"))
def test_a_childs_harness_is_cautioned_and_spares_the_neck(shell, harness):
    worn = built(shell, harness, body=CHILD, mass_g=200.0)
    assert worn.neck_share == 0 and not said(worn, "fault")
    assert "75 mm" in said(worn, "caution") and ROWS["cord-end"]["value"] > wear._say.END
    assert worn.torso.strap_y - worn.strands[0].width / 2 > 0


def test_too_high_a_pressure_is_said_with_the_width_that_mends_it(shell):
    heavy = built(shell, mass_g=12000.0, own={"width": 25.0})
    words = said(heavy, "caution")
    worst = max(heavy.pressures, key=lambda one: one.standing_kpa)
    assert worst.standing_kpa > 14 and "numb" in words
    wide = float(words.split("Make it ")[1].split(" mm")[0])
    assert worst.standing_kpa * worst.width / wide <= 14
    assert ROWS["strap-width-best"]["value"] > straps.Params().width, "the default is not yet the widest that was tried"


@pytest.mark.parametrize("glue", ({"bond": 0.2}, {"peel": 0.02}))
def test_a_glue_that_no_patch_makes_strong_enough_is_a_fault_with_the_strength_it_lacks(shell, glue):
    weak = built(shell, "straps", safety=10.0, **glue)
    assert max(patch.length for patch in weak.patches) == _patch.LARGEST
    times = max(float(words) for words in re.findall(r"bears (\d+\.\d) times as much", said(weak, "fault")))
    stronger = {name: 1.05 * times * value for name, value in glue.items()}
    assert "glue is too weak" not in said(built(shell, "straps", safety=10.0, **stronger), "fault")
    less = {name: 0.9 * times * value for name, value in glue.items()}
    assert "glue is too weak" in said(built(shell, "straps", safety=10.0, **less), "fault")


def test_a_slippery_shell_that_leans_is_said_to_swing(shell):
    worn = built(shell, "vest", friction=0.02, sway=np.radians(40))
    lost = [case.name for case, hold in zip(worn.cases, worn.holds, strict=True) if hold is None]
    assert lost == ["leaning left", "leaning right"]
    assert "cannot hold the shell while leaning left or leaning right" in said(worn, "fault")
    assert "wear: harness: straps" in said(worn, "fault")
    assert record_wear.wear(worn, private=False).cases[2].held is False


@pytest.mark.parametrize("pads", (True, False))
def test_what_is_advised_for_a_shell_that_swings_was_tried_and_holds(shell, pads):
    how = {"friction": 0.02, "sway": np.radians(40), "pads": pads}
    text = said(built(shell, "straps", own={"belt": False}, **how), "fault")
    if NOTHING in text:
        tried = [("straps", {"belt": True}), ("vest", {})]
        assert all(None in built(shell, name, own=own, **{**how, "pads": True}).holds for name, own in tried)
        return
    harness = re.search(r"harness: (\w+)", text)
    own = {"belt": True} if "belt: yes" in text else {} if harness else {"belt": False}
    better = built(shell, harness[1] if harness else "straps", own=own, **{**how, "pads": pads or "pads: yes" in text})
    assert None not in better.holds


def test_glue_of_unknown_strength_is_cautioned(shell):
    assert "no source" in said(built(shell, least_pull=120.0), "caution")
    sure = built(shell, least_pull=10.0, mass_g=100.0)
    assert "no source" not in said(sure, "caution") and "of the common strength on foam" in said(sure, "ok")
    needed = max(max(4 * a.bond.stress_kpa / 100, 4 * a.bond.peel / 1) for a in sure.anchors)
    assert needed <= 0.5, "four times the pull is borne by glue half as strong as is common, by either sum"
    tested = built(shell, bond=60.0, peel=2.0)
    assert "no source" not in said(tested, "caution")
    assert "tested" in said(tested, "ok")


def test_a_weak_glue_takes_a_larger_patch(shell):
    strong, weak = built(shell), built(shell, bond=8.0, peel=0.4)
    assert all(w.length > s.length for w, s in zip(weak.patches, strong.patches, strict=True))
    assert all(a.bond.stress_kpa <= 8 / 4 + 1e-9 and a.bond.peel <= 0.4 / 4 + 1e-9 for a in weak.anchors)
    assert "too large" in said(weak, "caution")


def test_no_harness_says_nothing(shell):
    worn = built(shell, "unworn")
    assert not worn.anchors and not worn.amounts and record_wear.tables(record_wear.wear(worn, private=True)) == ()
    assert [f.level for f in worn.findings] == ["ok"]


def test_figures_keep_the_wearer_private(shell):
    worn = built(shell)
    assert record_wear.wear(worn, private=False).share_of_body_mass == pytest.approx(0.7 / 75, abs=1e-4)
    private = record_wear.wear(worn, private=True)
    assert private.share_of_body_mass is None
    assert not {"body", "torso"} & set(plain(private))


def test_it_can_be_kept(shell):
    worn = built(shell)
    kept = pickle.loads(pickle.dumps(worn))
    assert record_wear.wear(kept, private=False) == record_wear.wear(worn, private=False)


def test_lists_read_back(shell):
    worn = built(shell)
    tables = record_wear.tables(record_wear.wear(worn, private=True))
    rows = [list(csv.reader(io.StringIO(csv_file.write(t).decode("utf-8-sig")))) for t in tables]
    assert [len(r) for r in rows] == [7, 3, 5, 7, 4]
    assert {row[0] for row in rows[0][1:]} == {anchor.name for anchor in worn.anchors}


def test_patch_templates_are_at_true_size(shell):
    worn = built(shell)
    sheets = patch_sheets(worn)
    assert len(sheets) == len(worn.patches)
    for sheet, patch in zip(sheets, worn.patches, strict=True):
        cut = next(item for item in sheet.items if item.layer == "cut")
        assert np.ptp(cut.points, axis=0) == pytest.approx([patch.length, patch.width])
        text = " ".join(item.text for item in sheet.items if hasattr(item, "text"))
        assert "cut 2" in text and f"{patch.role}-L" in text
        inside(sheet)
        assert svg.write(sheet)


def inside(sheet):
    """Nothing stands out of the sheet."""
    for item in sheet.items:
        points = item.points if hasattr(item, "points") else np.array(box(item))
        assert points.min() >= -0.01 and (points.max(axis=0) <= [sheet.width + 0.01, sheet.height + 0.01]).all()


def test_turns_are_described_from_the_rim(shell):
    anchor = built(shell).anchors[0]
    assert arrow_direction(replace(anchor, turn=np.radians(3))) == "The arrow points straight to the rim."
    assert "35° from the straight line to the rim, towards the head" in arrow_direction(
        replace(anchor, turn=np.radians(34))
    )
    assert "towards the tail" in arrow_direction(replace(anchor, turn=np.radians(-34)))
    assert "straight away" in arrow_direction(replace(anchor, turn=np.radians(-178)))


@pytest.mark.parametrize("rule", (METRIC, Rule(inches=True)), ids=("mm", "inches"))
@pytest.mark.parametrize("harness", ("straps", "vest", "neckband"))
def test_the_wearing_plan_fits_its_sheet(shell, harness, rule):
    surface, layout, grid, cut = shell
    worn, ground = built(shell, harness), Ground(surface, layout, grid, None)
    foam = Foam(cut, Pattern((), -5.0), (), (), (), 10.0)
    sheet = wearing_plan(ground, foam, np.array([-5.0, 0.0, 80.0]), worn, title="Marsh", rule=rule)
    inside(sheet)
    boxes = [np.array(box(item)) for item in sheet.items if hasattr(item, "text")]
    for k, one in enumerate(boxes):
        for other in boxes[:k]:
            apart = (one.min(axis=0) >= other.max(axis=0)) | (other.min(axis=0) >= one.max(axis=0))
            assert apart.any(), "no lettering on other lettering"
    words = " ".join(item.text for item in sheet.items if hasattr(item, "text"))
    for anchor in worn.anchors[::2]:
        assert f"{rule.mm(anchor.along)} along {rule.mm(anchor.up)} inwards" in words


def test_lines_to_names_keep_clear_of_arrows_and_of_one_another():
    """A pull whose tip lies behind the weight's arrow is led to by a way round it."""
    pull = np.array([(0.0, 10.0), (4.0, 8.0), (8.0, 6.0)])
    weight = np.array([(20.0, 7.5), (20.0, 12.0), (20.0, 16.0)])
    straight = wearing._leaders([("flank, 3 N", pull), ("weight, 8 N", weight)], (0, 0), 30.0)
    arrows = shapely.linestrings([pull[[0, -1]], weight[[0, -1]]])
    assert wearing._clashes(straight, arrows) > 0, "from tip to name it would cross"
    items = wearing._column([("flank, 3 N", pull), ("weight, 8 N", weight)], 30.0)
    led = [item.points for item in items if hasattr(item, "points")]
    assert wearing._clashes(np.array(led), arrows) == 0
    assert "flank" in [item.text for item in items if hasattr(item, "text")]


def test_published_rows_have_sources():
    assert all(row["source"] and row["why"] for row in ROWS.values())
    assert ROWS["gravity"]["value"] == _hold.GRAVITY


def test_every_anchor_is_pricked_through_from_one_template():
    """Two arms of a cross and a name; both arms as long as drawn, but for what the piece is stretched by."""
    made = drawn.shell("puddle-hatchling")
    found, named = {}, set()
    for index, sheet in enumerate(drawn.templates_of(made)):
        for item in sheet.items:
            if "anchor" in item.data:
                found.setdefault(item.data["anchor"], []).append(
                    (index, np.linalg.norm(item.points[-1] - item.points[0]))
                )
        named |= {item.text for item in sheet.items if hasattr(item, "text")}
    assert set(found) == {anchor.name for anchor in made.worn.wear.anchors} <= named
    for arms in found.values():
        assert len(arms) == 2 and arms[0][0] == arms[1][0]
        assert [length for _, length in arms] == pytest.approx([6.0, 6.0], rel=0.12)
