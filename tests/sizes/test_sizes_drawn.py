"""One drawing for many wearers: lines, names and circles follow the dome, and the circles' spikes with them."""

from __future__ import annotations

import charts
import numpy as np
import pytest

from shellgen import preset
from shellgen.core.flow import Flow
from shellgen.dome import mesh
from shellgen.pipeline import dome
from shellgen.preset import Preset
from shellgen.sizes import grade
from shellgen.spikes import place
from shellgen.wear import wearer

LINES = '<path d="M60 -3V400M-80 -3V400" />'
CIRCLES = '<g id="spikes"><circle cx="-10" cy="120" r="26" /><circle cx="150" cy="0" r="20" /></g>'
NAMES = '<g transform="matrix(0 -1 -1 0 0 0)"><text x="-20" y="10" font-size="6">belt</text></g>'
PRESET = """
name: newt
mesh: {edge: 30}
seams: plates
plates: {layout: drawn, file: lines.svg}
spikes: [{plates: drawn, profile: stud, base_diameter: 52, height: 24, tip_radius: 26, sizes: 2, ring: no}]
wearer: {group: adult, percentile: 50}
"""


@pytest.fixture(scope="module")
def drawn_shell(tmp_path_factory: pytest.TempPathFactory) -> Preset:
    folder = tmp_path_factory.mktemp("drawn")
    (folder / "lines.svg").write_text(charts.drawing(LINES + CIRCLES + NAMES), encoding="utf-8")
    (folder / "newt.yaml").write_text(PRESET, encoding="utf-8")
    return preset.read(folder / "newt.yaml")


def stood(of: Preset) -> tuple[list[str], dict[str, tuple[float, float, tuple[float, ...]]]]:
    """Names of the plates; and of each spike its base, its height and its place on the disc."""
    surface, layout = dome.plated(of, Flow())
    grid = mesh.build(surface, layout, of.mesh)
    spikes, said = place.build(surface, grid, layout, of.spikes, ring_thickness=of.rings.thickness)
    assert not said
    found = {s.name: (s.shape.diameter, s.shape.height, tuple(s.uv.tolist())) for s in spikes}
    return [plate.name for plate in layout.plates], found


@pytest.mark.parametrize("measures", [{"years": 9}, {"group": "adult", "stature": 1900.0}], ids=["child", "tall"])
def test_lines_names_and_circles_follow_the_dome(drawn_shell: Preset, measures: dict[str, object]) -> None:
    design = grade.design(drawn_shell)
    graded = grade.grade(design, "other", wearer.Params(**measures))
    ratio = graded.dome.own.width / drawn_shell.dome.own.width
    (plates, spikes), (same, grown) = stood(drawn_shell), stood(graded)
    assert plates == same and "belt" in plates and spikes.keys() == grown.keys() and len(spikes) == 3
    for name, (base, height, uv) in spikes.items():
        after, high, there = grown[name]
        assert after == pytest.approx(ratio * base, abs=0.04 * base + 1)  # in whole mm
        assert high / after == pytest.approx(height / base, abs=0.06)
        assert np.hypot(there[0] - uv[0], there[1] - uv[1]) < 0.03  # a share of the way to the rim
