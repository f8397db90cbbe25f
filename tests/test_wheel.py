"""What is installed does all that a checkout does: a wheel in a virtual environment of its own, run from elsewhere."""

import json
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

import shellgen

ROOT = Path(__file__).parent.parent
QUICK = """
name: pond-guard
dome: {length: 300, width: 250, height: 80}
plates: {vertebrals: 3, pleurals: 2, marginals: 6}
seams: {plan: gores, gores: 4, stretch_limit: 15 %}
mesh: {edge: 40}
shape: {rounds: 0}
spikes: [{plates: pleural, base_diameter: 20, height: 30}]
nest: {effort: quick}
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    words = ["-m", "hatchling", "build", "--target", "wheel", "--directory", folder]
    subprocess.run([sys.executable, *words], cwd=ROOT, check=True, capture_output=True)
    (file,) = folder.iterdir()
    return file


@pytest.fixture(scope="module")
def run(wheel, tmp_path_factory):
    """Runs the installed program. Its libraries are those of this Python, lent by a path file: the path files among
    them are not read, so that nothing leads back to the checkout."""
    home, here = tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("elsewhere")
    venv.create(home, symlinks=True)
    (place,) = home.glob("lib/python*/site-packages")
    (place / "lent.pth").write_text("\n".join(path for path in sys.path if path.endswith("site-packages")))
    python = home / "bin" / "python"
    words = ["-m", "pip", "--python", python, "install", "--quiet", "--no-deps", "--no-index", wheel]
    subprocess.run([sys.executable, *words], check=True, capture_output=True)

    def run(*words, program=home / "bin" / "shellgen"):
        clean = {"PATH": "/usr/bin:/bin", "HOME": str(here)}
        done = subprocess.run([program, *words], cwd=here, env=clean, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return done.stdout

    run.here, run.python = here, python
    where = run("-c", "import shellgen; print(shellgen.__file__)", program=python)
    assert Path(where.strip()) == place / "shellgen" / "__init__.py"
    return run


SCRIPTS = {"shellgen/page/viewer.js", "shellgen/live/workbench.js", "shellgen/page/viewer/LICENSES.txt"}


def test_it_holds_presets_and_the_viewer_but_not_what_the_viewer_is_built_from(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    shipped = [path for path in (ROOT / "presets").iterdir() if path.suffix in (".yaml", ".svg")]
    demos = {f"shellgen/presets/{path.name}" for path in shipped}
    assert demos and demos | SCRIPTS <= names
    assert not [name for name in names if name.endswith((".mjs", "package.json", "package-lock.json", "main.js"))]
    assert {name.split("/")[0] for name in names} == {"shellgen", f"shellgen-{shellgen.__version__}.dist-info"}


def test_every_file_of_the_package_that_the_repository_holds_is_in_it(wheel):
    listed = subprocess.run(["git", "ls-files", "shellgen"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    wanted = {name for name in listed.stdout.split() if not name.startswith("shellgen/page/viewer/")}
    assert wanted and wanted <= set(zipfile.ZipFile(wheel).namelist())


def test_it_says_its_version(run):
    assert run("--version").split() == ["shellgen,", "version", shellgen.__version__]
    assert run("-m", "shellgen", "--version", program=run.python) == run("--version")


def test_presets_are_listed_begun_and_copied(run):
    listed = [Path(line) for line in run("list", "presets").splitlines()]
    assert {path.name for path in listed} == {path.name for path in (ROOT / "presets").glob("*.yaml")}
    assert all(path.is_relative_to(run.python.parent.parent) for path in listed)
    run("new", "mere")
    run("new", "second-warden", "--like", "marsh-warden")
    for name in ("mere", "second-warden"):
        shown = run("check", f"{name}.yaml")
        assert f"{name}.yaml has " in shown and "Fault" not in shown


def test_a_preset_is_built_and_shared(run):
    (run.here / "pond-guard.yaml").write_text(QUICK)
    run("build", "pond-guard.yaml")
    folder = run.here / "out" / "pond-guard"
    record = json.loads((folder / "shell.json").read_text(encoding="utf-8"))
    assert record["files"] and all((folder / item["path"]).stat().st_size == item["bytes"] for item in record["files"])
    run("share", "pond-guard.yaml")
    (shared,) = run.here.rglob("*.zip")
    assert zipfile.ZipFile(shared).testzip() is None
