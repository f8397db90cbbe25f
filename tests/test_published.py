"""Every stage is checked against something outside the project, twice at least, and every source is named."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
import yaml

HERE = Path(__file__).parent
ROWS = {
    path.stem: yaml.safe_load(path.read_text(encoding="utf-8")) for path in sorted((HERE / "published").glob("*.yaml"))
}
TESTS = {path.stem: path.read_text(encoding="utf-8") for path in sorted(HERE.rglob("test_*.py"))}

OUTSIDE = {
    "units": ("preset:inch", "preset:pound"),
    "surfaces": ("surface:ellipsoid-320-260-180", "surface:cap-300-200", "scan:hemisphere-200-area"),
    "plates": ("layouts:scutes", "layouts:seventh flower"),
    "mesh": (
        "test_hemisphere:test_lines_of_the_mesh_are_as_long_as_the_geodesics: pyproj",
        "test_mesh:test_flipping_ends_in_scipys_delaunay_triangulation: Delaunay",
    ),
    "plans": (
        "test_plans:test_estimate_of_a_cap_is_that_of_the_stereographic_map: stereographic",
        "test_plans:test_pieces_and_loose_cuts_are_those_of_a_graph_library: networkx",
    ),
    "seams": (
        "test_hemisphere:test_seams_are_measured_on_the_mid_surface: pyproj",
        "test_hemisphere:test_pieces_are_what_stays_joined: networkx",
    ),
    "flatten": ("flattening:milnor-30", "flattening:polyconic-h"),
    "bevels": (
        "flattening:octahedron-dihedral",
        "test_flatten:test_dihedral_angles_of_a_crooked_pyramid_are_those_of_trimesh: trimesh",
    ),
    "proof": ("proof:plate-simply-supported", "proof:membrane-hencky"),
    "spikes": ("spikes:cone-30-40-volume", "spikes:frustum-sector"),
    "rings": ("spikes:ring-40-6-half", "spikes:ring-40-6-strain"),
    "edging": (
        "test_edging:test_rim_of_an_oval_is_the_elliptic_integral: ellip",
        "test_edging:test_rim_of_a_hemisphere: pi",
    ),
    "stock": (
        "test_stock:test_published_example: textbook",
        "test_stock:test_small_cases_against_every_way_of_cutting: fewest",
    ),
    "marks": (
        "test_hemisphere:test_marks_stand_where_the_geodesic_is_divided: pyproj",
        "export:iso-3098-heights",
    ),
    "scores": (
        "test_scores:test_lengths_and_headings_agree_with_pyproj: pyproj",
        "test_scores:test_a_great_circle_lies_straight_and_a_parallel_as_on_its_cone: cone",
    ),
    "stencils": (
        "test_stencils:test_a_sheet_about_a_middle_is_the_azimuthal_equidistant_map: pyproj",
        "test_stencils:test_a_hood_on_a_flat_plate_is_the_developed_cone: cone",
    ),
    "nest": ("nest:shapes1-record", "nest:fu-bound"),
    "materials": ("buying:spreading-50-100", "buying:adhesive-joint"),
    "schedule": (
        "schedule:early-finish",
        "test_schedule:test_critical_chain_is_the_longest_path_of_a_graph_library: networkx",
        "test_plan_outputs:test_calendar_keeps_the_rules_of_rfc_5545: rfc 5545",
    ),
    "wear": ("wear:walking", "wear:capstan-turns"),
    "wearer": ("wearer:male-stature", "wearer:female-6-mass_kg"),
    "paint": ("paint:groove-45", "paint:ciede2000"),
    "export": ("export:a4", "export:stl-size"),
}
NO_FIGURES = {
    "flatmap": "carries points from the shell to the flat pieces: its figures are those of flatten and spikes",
    "shape": "moves the pattern by what the virtual build finds: its figures are those of proof",
    "checks": "compares what others computed with limits",
    "sizing": "no such stage in the house today",
    "joins": "an order of work",
    "prices": "adds up what the maker says things cost",
}


def body(test: str) -> str:
    """The source of a test file's function, and all that stands above the first one (imports, what it is about)."""
    file, name = test.split(":")[:2]
    tree = ast.parse(TESTS[file])
    found = [n for n in tree.body if isinstance(n, ast.FunctionDef) and n.name == name]
    assert found, f"{test}: no such test"
    lines = TESTS[file].splitlines()
    return "\n".join(lines[: tree.body[0].end_lineno] + lines[found[0].lineno - 1 : found[0].end_lineno])


def test_every_stage_is_listed() -> None:
    source = (HERE / "test_imports.py").read_text(encoding="utf-8")
    listed = source[source.index("STAGES = {") : source.index("}", source.index("STAGES = {"))]
    stages = {name.rpartition(".")[2] for name in re.findall(r'"([\w.]+)"', listed)}
    assert not stages - set(OUTSIDE) - set(NO_FIGURES), "say what these are checked against"


@pytest.mark.parametrize("stage", OUTSIDE)
def test_a_stage_has_two_checks_against_something_outside(stage: str) -> None:
    checks = OUTSIDE[stage]
    assert len(set(checks)) >= 2
    for check in checks:
        if check.startswith("test_"):
            _, _, word = check.split(":")
            assert word.strip().lower() in body(check).lower(), f"{check}: the source is not named"
        else:
            file, row = check.split(":")
            assert row in {r["id"] for r in ROWS[file]}, f"{check}: no such row"


@pytest.mark.parametrize("file", ROWS)
def test_rows_are_whole_and_used(file: str) -> None:
    ids = [row["id"] for row in ROWS[file]]
    assert len(set(ids)) == len(ids)
    for row in ROWS[file]:
        assert row.keys() >= {"id", "value", "unit", "tolerance", "why", "source"}, row["id"]
        assert len(str(row["source"])) > 8 and str(row["why"]).strip(), f"{row['id']}: say where it is from, and why"
    naming = [
        name for name, text in TESTS.items() if name != "test_published" and re.search(rf"{file}\.yaml|{file}\"", text)
    ]
    assert naming, f"no test reads {file}.yaml"
