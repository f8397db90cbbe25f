"""Imports go one way through the rooms, stages know nothing of each other, and heavy parts are loaded late."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "shellgen"
ROOMS = (
    "errors", "core", "canvas", "model", "fields", "geom", "dome", "plates", "pattern", "spikes", "trim", "finish",
    "wear", "workshop", "preset", "pipeline", "draw", "photo", "export", "record", "guide", "page", "pack", "sizes",
    "share", "live", "cli",
)  # fmt: skip
"""Each may import from itself and those before it."""
STAGES = {
    "dome.surfaces", "dome.mesh", "plates", "pattern.seams", "pattern.plans", "pattern.flatten", "pattern.bevels",
    "pattern.proof", "pattern.shape", "pattern.marks", "pattern.flatmap", "pattern.checks", "spikes", "trim.rings",
    "trim.edging", "finish.scores", "finish.stencils", "finish.paint", "wear", "wear.wearer", "workshop.nest",
    "workshop.stock", "workshop.materials", "workshop.prices", "workshop.schedule",
}  # fmt: skip
"""Composed by `pipeline` alone."""
SHARED = {"pattern.flatmap"}  # points of the dome on the flat pieces: whatever is drawn on them asks for it
ONE_STAGE = {("pattern.plans", "pattern.checks")}  # ways to choose lines, and the limits that all of them keep
SEES_ONLY = {
    "geom": {"geom", "core", "errors"},
    "export": {"export", "canvas", "core", "errors", "geom"},
}
FILES = sorted(ROOT.rglob("*.py"))


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {name_of(path) for path in FILES}


def imported(path: Path) -> set[str]:
    """Modules of the package that a file imports, by their names within it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and f"{node.module}.".startswith("shellgen."):
            base = node.module.removeprefix("shellgen").removeprefix(".")
            names = {f"{base}.{alias.name}".removeprefix(".") for alias in node.names}
            found |= {name if name in MODULES else base for name in names}
        elif isinstance(node, ast.Import):
            found |= {alias.name[9:] for alias in node.names if alias.name.startswith("shellgen.")}
    return found - {""}


def room(name: str) -> str:
    return name.partition(".")[0]


def stage(name: str) -> str | None:
    """The stage that a module belongs to; the deepest where one lies in another's folder."""
    parts = name.split(".")
    heads = (".".join(parts[:k]) for k in range(len(parts), 0, -1))
    return next((head for head in heads if head in STAGES), None)


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_go_one_way(path):
    here = name_of(path)
    if here in ("", "__main__"):
        return
    assert room(here) in ROOMS, f"{here}: name its room in this test, after those it imports from"
    for there in imported(path):
        assert room(there) in ROOMS, f"{there} has no room"
        assert ROOMS.index(room(there)) <= ROOMS.index(room(here)), f"{here} imports {there}, a later room"
        ours, theirs = stage(here), stage(there)
        if ours and theirs and ours != theirs:
            assert theirs in SHARED or (ours, theirs) in ONE_STAGE, (
                f"stage {ours} imports stage {theirs}: only the pipeline composes stages"
            )
        if room(here) in SEES_ONLY:
            assert room(there) in SEES_ONLY[room(here)], f"{here} imports {there}"


def test_every_room_and_stage_exists():
    assert {room(name) for name in MODULES} - {"", "__main__"} == set(ROOMS)
    assert STAGES <= MODULES
    assert len(list(ROOT.glob("*.py"))) <= 4


def test_this_test_can_fail(tmp_path):
    bad = tmp_path / "bad.py"
    bad.write_text("from shellgen.cli import main\nfrom shellgen import pipeline\nimport shellgen.export.svg\n")
    assert imported(bad) == {"cli", "pipeline", "export.svg"}
    assert stage("wear.wearer.fit") == "wear.wearer"
    assert stage("wear._strand") == "wear"
    assert stage("record") is None


SERVERS = {"cadquery", "cv2", "distributed", "starlette", "svgpathtools", "uvicorn", "watchfiles"}
WRITERS = {"PIL", "ezdxf", "icalendar", "pypdf", "reportlab", "svgwrite"}


@pytest.mark.parametrize(
    ("words", "shut"),
    (
        ("--help", {*SERVERS, *WRITERS, "joblib", "manifold3d", "numpy", "yaml"}),
        ("list", {*SERVERS, *WRITERS, "joblib", "manifold3d", "numpy"}),
        ("list fields", {*SERVERS, *WRITERS, "joblib", "manifold3d"}),
        ("chart presets/puddle-hatchling.yaml --out {folder}", {*SERVERS, *WRITERS, "joblib"} - {"PIL", "reportlab"}),
        ("check presets/puddle-hatchling.yaml --figures", SERVERS | WRITERS),
    ),
)
def test_a_command_loads_no_library_that_it_does_not_use(words, shut, tmp_path):
    program = (
        "import sys\nfrom shellgen.cli import main\n"
        "try: main(sys.argv[1:], standalone_mode=False)\nexcept SystemExit: pass\n"
        "print(*sys.modules)"
    )
    words = [word.format(folder=tmp_path) for word in words.split()]
    done = subprocess.run([sys.executable, "-c", program, *words], cwd=ROOT.parent, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    assert not shut & set(done.stdout.decode().splitlines()[-1].split())
