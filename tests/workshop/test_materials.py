"""Amounts and mass against sums done by hand."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.model import FoamSheet, Solid, Spike, Zone
from shellgen.pattern import flatten, marks, seams
from shellgen.plates import turtle
from shellgen.spikes import clay
from shellgen.workshop import materials

RADIUS, THICKNESS = 150.0, 10.0
HALF = 2 * np.pi * RADIUS**2
ZONES = (
    Zone("plates", 0.9 * HALF, 3, 0.9 * HALF / 1e6 * 3 / 10 * 1000, "moss", (146, 160, 110), "plates"),
    Zone("rim", 0.1 * HALF, 3, 0.1 * HALF / 1e6 * 3 / 10 * 1000, "moss", (146, 160, 110), "rim"),
    Zone("inside", HALF, 0, 0.0, "peat", (61, 53, 44), "inside"),
)


@pytest.fixture(scope="module")
def parts():
    half = plan.Params(
        length=2 * RADIUS, width=2 * RADIUS, height=RADIUS, taper=0, squareness=0, fullness=0, keel=0, flare=0
    )
    surface = plan.build(half)
    layout = turtle.build(surface, turtle.Params())
    grid = mesh.build(surface, layout, mesh.Params(edge=15))
    lines = [i for i, line in enumerate(layout.lines) if line.kind == "plate"]
    cut = seams.cut(grid, layout, lines, mid_offset=-THICKNESS / 2)
    shares = marks.along(cut, grid, -THICKNESS / 2, marks.Params())
    pattern = flatten.build(grid, cut, flatten.Params(), FoamSheet(THICKNESS), intervals=shares)
    return layout, grid, cut, pattern


def computed(parts, spikes=(), masters=(), params=None, *, clay=(0.0, 0.0, 0.0), shading="oil"):
    how, (wet, dry, cube) = params or materials.Params(), clay
    return materials.build(
        *parts, spikes, masters, (), ZONES, how, thickness=THICKNESS, edging=(24.0, 11.0), clay_wet=wet, clay_dry=dry,
        clay_cube=cube, shading=shading,
    )  # fmt: skip


def amount(made, item):
    return next(a for a in made.amounts if a.item == item)


def test_bare_half_sphere_by_hand(parts):
    made = computed(parts)
    outside = 2 * np.pi * 0.15**2
    assert amount(made, "PVA wood glue").amount == pytest.approx(outside * 6 * 110, rel=5e-3)
    assert amount(made, "paint, moss").amount == pytest.approx(1000 * outside * 3 / 10, rel=5e-3)
    assert amount(made, "edging").amount == pytest.approx(2 * np.pi * 0.15, rel=5e-3)
    # Round the rim, half of 24 x 11 mm of foam of 0.1 g/cm3.
    assert dict(made.mass_parts)["edging"] == pytest.approx(2 * np.pi * 15 * 2.4 * 1.1 / 2 * 0.1, rel=5e-3)
    # Volume between two spheres, exact: what 10 mm foam fills.
    foam = 2 / 3 * np.pi * (0.15**3 - 0.14**3) * 100 * 1000
    assert dict(made.mass_parts)["foam"] == pytest.approx(foam, rel=2e-2)
    # Centre of a half spherical sheet lies half its radius above the rim (Archimedes).
    assert made.centre == pytest.approx([0, 0, 72.5], abs=1.0)


def test_adhesive_agrees_with_trade_coverage(parts):
    """2 x 150 g/m2 at 0.85 kg/L glue about 2.8 m2 of joint per litre (trade pages; arithmetic)."""
    made = computed(parts)
    joined = sum(s.design_length for s in parts[2].seams) / 1000 + 2 * np.pi * RADIUS / 1000
    litres = amount(made, "contact adhesive").amount / 850
    assert joined * THICKNESS / 1000 / litres == pytest.approx(2.8, rel=0.02)


def test_spikes_weigh_and_move_the_centre(parts):
    ball = trimesh.creation.icosphere(subdivisions=3, radius=20.0)
    frame = np.eye(4)
    frame[:3, 3] = [100.0, 0.0, 50.0]
    base = np.array([[0.0, 0, 0], [30, 0, 40], [30, 20, 40], [0, 20, 0]])  # a tilted rectangle of 50 by 20 mm
    solid = Solid("ball", np.array(ball.vertices), np.array(ball.faces))
    spike = Spike.__new__(Spike)
    for name, value in {"master": "ball", "frame": frame, "base_curve": base}.items():
        object.__setattr__(spike, name, value)
    bare, made = computed(parts), computed(parts, (spike,), (solid,), clay=(ball.volume, ball.volume, 0.0))
    clay = dict(made.mass_parts)["spikes"]
    assert clay == pytest.approx(ball.volume / 1000 * 0.22, rel=1e-9)
    rest = made.mass_g - clay
    assert made.centre == pytest.approx((rest * bare.centre + clay * frame[:3, 3]) / made.mass_g, abs=1e-6)
    assert made.mass_uncertainty_g > 0.35 * clay
    glued = amount(made, "contact adhesive").amount - amount(bare, "contact adhesive").amount
    assert glued == pytest.approx(2 * 0.050 * 0.020 * 150, rel=1e-9), "both faces of the joint under the spike"


def test_a_test_cube_of_clay_is_bought_and_weighs_nothing_on_the_shell(parts):
    bare, made = (computed(parts, clay=(100e3, 90e3, cube)) for cube in (0, 64e3))
    line = amount(made, "foam clay")
    assert line.amount == pytest.approx((100 + 64) * 0.35) and "test cube 64 cm3" in line.how
    assert made.mass_g == bare.mass_g and amount(bare, "foam clay").amount == pytest.approx(35)
    assert (
        clay.Clay(1.0, 1.0, False).cube == 64e3 and clay.Clay(1.0, 1.0, True).cube == clay.Clay(0, 0, False).cube == 0
    )


def test_buying_is_never_less_than_computed(parts):
    for spare in (0.0, 0.2):
        made = computed(parts, params=replace(materials.Params(), spare=spare))
        for line in made.amounts[1:]:
            more = 0 if line.unit == "pieces" else spare
            assert line.buy >= line.amount * (1 + more) - 1e-9 and line.how


def test_oil_takes_thinner_and_a_coat_of_varnish_more_and_brushes_are_counted(parts):
    oil, acrylic = ({a.item: a for a in computed(parts, shading=kind).amounts} for kind in ("oil", "acrylic"))
    outside = 2 * np.pi * 0.15**2
    for lines, coats in ((oil, 2), (acrylic, 1)):
        assert lines["clear varnish"].amount == pytest.approx(1000 * outside * coats / 10, rel=5e-3)
    shade = oil["oil paint for shading"].amount
    assert oil["thinner for shading"].amount == pytest.approx(0.5 * shade + 50) and shade > 0
    assert "thinner for shading" not in acrylic
    brushes = {name.removeprefix("brush for "): a.amount for name, a in oil.items() if name.startswith("brush for ")}
    assert brushes == {"glue": 2, "primer": 1, "paint": 1, "varnish": 1, "shading": 1}, "seams and edging; one colour"
    bare = {a.item for a in computed(parts, params=replace(materials.Params(), primer_coats=0)).amounts}
    assert "brush for primer" not in bare
