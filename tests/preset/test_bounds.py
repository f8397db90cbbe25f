"""Work is reckoned before it is begun: near enough to what comes of it, and refused where it is too much."""

from __future__ import annotations

import re
from pathlib import Path

import charts
import pytest
from click.testing import CliRunner

from shellgen import preset
from shellgen.cli import main
from shellgen.core import registry
from shellgen.core.flow import Flow
from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.pipeline import dome
from shellgen.plates import hexes
from shellgen.preset import bounds

SMALL = plan.build(plan.Params(length=300, width=260, height=90))
AREA = bounds.area(SMALL)


@pytest.mark.parametrize("name", registry.names("shellgen.plates"))
def test_layouts_know_how_many_plates_they_come_to(name: str) -> None:
    layout = registry.load("shellgen.plates", name)
    own = charts.params(name, SMALL)
    assert len(layout.build(SMALL, own).plates) == pytest.approx(layout.expected(own, AREA), rel=0.25)


@pytest.mark.parametrize("edge", [8.0, 14.0])
def test_triangles_are_foretold(edge: float) -> None:
    layout = registry.load("shellgen.plates", "turtle")
    grid = mesh.build(SMALL, layout.build(SMALL, layout.Params(3, 2, 6)), mesh.Params(edge))
    assert len(grid.faces) == pytest.approx(bounds._triangles(AREA, edge), rel=0.1)


def read(folder: Path, text: str) -> preset.Preset:
    path = folder / "pond.yaml"
    path.write_text(text, encoding="utf-8")
    return preset.read(path)


def test_a_honeycomb_knows_the_same_limit() -> None:
    assert hexes.MOST == bounds.PLATES


TOO_MUCH = [
    ("mesh: {edge: 2}", "mesh.edge", "190629 triangles", 1),
    ("# finest\nmesh: {edge: 2}\ndome: {length: 1200, width: 1000, height: 400}", "mesh.edge", "triangles", 2),
    ("plates: {layout: hexes, size: 15}", "plates", "1694 plates", 1),
    ("plates: {layout: hexes, size: 60}\nspikes:\n- {in_row: 9, base_diameter: 6}", "spikes", "953 spikes", 2),
    ("spikes:\n- by_hand:\n" + 200 * "  - {plate: nuchal}\n" + "- by_hand:\n- {}", "spikes", "438 spikes", 1),
    ("spikes:\n" + 4 * "- {sizes: 20}\n", "spikes", "80 sizes of spikes", 1),
    ("nest: {sheets: [{length: 50, width: 50}]}", "nest.sheets", "206 sheets", 1),
    ("nest: {margin: 30, sheets: [{length: 60, width: 50}]}", "nest.sheets", "no end of sheets", 1),
]


@pytest.mark.parametrize(("text", "where", "found", "line"), TOO_MUCH)
def test_what_is_too_much_is_refused_before_any_of_it_is_done(
    text: str, where: str, found: str, line: int, tmp_path: Path
) -> None:
    read(tmp_path, text)
    for command in ("check", "build"):
        result = CliRunner().invoke(main, [command, str(tmp_path / "pond.yaml")])
        assert result.exit_code == 2 and "Traceback" not in result.output
        message = result.stderr.splitlines()[-1]
        assert (
            f"pond.yaml:{line}: {where}: This comes to " in message
            and found in message
            and "There may be up to " in message
        )


def test_what_is_advised_is_allowed(tmp_path: Path) -> None:
    for text in ("dome: plan", "dome: {length: 1200, width: 1000, height: 400}"):
        with pytest.raises(preset.PresetError) as refused:
            dome.asked(read(tmp_path, f"{text}\nmesh: {{edge: 2}}"), Flow())
        finest = re.search(r"([\d.]+) mm or more", refused.value.hint)
        assert finest
        dome.asked(read(tmp_path, f"{text}\nmesh: {{edge: {finest[1]}}}"), Flow())
