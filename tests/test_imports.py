"""Imports go one way through the house, stages know nothing of each other, and heavy parts are asked for late."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "shellgen"
FLOORS = (
    {"errors", "units", "registry", "params", "keep", "geom"},
    {"canvas", "model", "fonts", "glyphs", "lettering", "paper", "reading", "rule", "tiling"},
    {"stages"},
    {"yamltree", "values", "bind", "preset", "bounds", "schema", "resolved"},
    {"flow", "buying", "shell", "pipeline"},
    {"handwork", "joins", "record", "tables"},
    {"draw"},
    {"export", "onefile", "pack", "readback", "stills"},
    {"page", "guide"},
    {"papers", "pictures"},
    {"contents"},
    {"beside", "live", "sizes", "share", "cli", "doctor", "starter", "summary", "terminal"},
)
STAGES = {
    "surfaces", "layouts", "mesh", "seams", "plans", "flatten", "bevels", "proof", "shape", "spikes", "trims", "edging",
    "stock", "marks", "flatmap", "scores", "stencils", "nest", "materials", "prices", "schedule", "wear", "paint",
    "checks", "wearer",
}  # fmt: skip
SEES_ONLY = {
    "geom": {"geom", "errors"},
    "export": {"export", "canvas", "lettering", "fonts", "paper", "keep", "errors", "geom"},
}
ONE_ROOM = {("plans", "seams")}  # ways to choose lines, and the limits that all of them keep
FILES = sorted(ROOT.rglob("*.py"))


def room(name: str) -> str:
    return name.split(".")[1] if name.count(".") else ""


def floor(name: str) -> int:
    wanted = "stages" if name in STAGES else name
    return next((k for k, names in enumerate(FLOORS) if wanted in names), -1)


def imported(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("shellgen"):
            names = [f"{node.module}.{a.name}" for a in node.names] if node.module == "shellgen" else [node.module]
            found |= {room(name) for name in names}
        elif isinstance(node, ast.Import):
            found |= {room(a.name) for a in node.names if a.name.startswith("shellgen.")}
    return found - {""}


def own_room(path: Path) -> str:
    return path.relative_to(ROOT).with_suffix("").parts[0]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_go_one_way(path):
    here = own_room(path)
    if here in ("__init__", "__main__"):
        return
    assert floor(here) >= 0, f"{here} has no floor: say in this test where it belongs"
    for there in imported(path) - {here}:
        assert floor(there) >= 0, f"{there} has no floor"
        assert floor(there) <= floor(here), f"{here} imports {there}, which stands above it"
        if here in STAGES and there in STAGES:
            assert there == "flatmap" or (here, there) in ONE_ROOM, (
                f"stage {here} imports stage {there}: only the pipeline composes stages"
            )
        if here in SEES_ONLY:
            assert there in SEES_ONLY[here], f"{here} sees {there}"


def test_this_test_can_fail(tmp_path):
    bad = tmp_path / "bad.py"
    bad.write_text("from shellgen.cli import main\nfrom shellgen import pipeline\nimport shellgen.export.svg\n")
    assert imported(bad) == {"cli", "pipeline", "export"}
    assert floor("geom") < floor("model") < floor("seams") < floor("preset") < floor("cli")


@pytest.mark.parametrize("words", (["--help"], ["list"], ["check", "--figures", "presets/marsh-warden.yaml"]))
def test_no_solid_kernel_where_none_is_needed(words):
    program = (
        "import sys\nfrom shellgen.cli import main\n"
        "try: main(sys.argv[1:], standalone_mode=False)\nexcept SystemExit: pass\n"
        "sys.exit('cadquery' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program, *words], cwd=ROOT.parent, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
