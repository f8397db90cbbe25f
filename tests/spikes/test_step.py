"""STEP: read back by CadQuery with the same volume, and the exact solid as a check on the meshes."""

import subprocess
import sys

import numpy as np
import pytest
from spiked import Plate, ball, spike
from test_moulds import SHAPES, masters

from shellgen.pack import contents
from shellgen.spikes import body, solids, step

BODIES = {name: body.make(shape).shape for name, shape in SHAPES.items()}
TURNED = [name for name, own in BODIES.items() if not (own.bend or own.ridges)]
TOLERANCE = {"cone": 1.5e-3, "stud": 2.5e-3}
"""Relative; all others 2e-3. A stud is the most curved lengthwise, a cone the least."""


@pytest.fixture(scope="module", autouse=True)
def cadquery():
    return pytest.importorskip("cadquery", exc_type=ImportError)  # or a system library of its own


@pytest.mark.parametrize("name", TURNED)
def test_exact_solids_have_the_closed_forms_volume(name):
    plate = Plate()
    made = solids.masters(plate, (spike(plate, SHAPES[name]),), glue_line=0.0)[0]
    assert step.exact_solid(made).Volume() == pytest.approx(body.make(SHAPES[name]).volume(), rel=2e-5)


@pytest.mark.parametrize("name", SHAPES)
def test_meshes_agree_with_exact_solids_on_a_dome(name):
    """Facets take (2 pi / 96)^2 / 6 = 0.07 % off a round section, and some off what is curved lengthwise."""
    made = masters(SHAPES[name])[0]
    assert solids.volume(made.solid) == pytest.approx(step.exact_solid(made).Volume(), rel=TOLERANCE.get(name, 2e-3))


def test_written_step_reads_back_and_is_the_same_every_time(tmp_path, cadquery):
    made = solids.masters(ball(250.0), (spike(ball(250.0), SHAPES["cone"], uv=(0.2, 0.1), lean=0.2),))[0]
    first = step.write(made)
    assert first == step.write(made)
    path = tmp_path / "cone.step"
    path.write_bytes(first)
    solid = cadquery.importers.importStep(str(path)).val()
    assert solid.isValid() and len(solid.Solids()) == 1
    assert solid.Volume() == pytest.approx(step.exact_solid(made).Volume(), rel=1e-6)
    box = solid.BoundingBox()
    assert box.zmax == pytest.approx(60, abs=1e-3) and b"MILLI" in first
    larger = tmp_path / "larger.step"
    larger.write_bytes(step.write(made, scale=1.1))
    assert cadquery.importers.importStep(str(larger)).val().Volume() == pytest.approx(1.331 * solid.Volume(), rel=1e-6)


@pytest.mark.parametrize("error", [ImportError, OSError])
def test_without_the_modeller_exact_solids_alone_are_left_out(error, monkeypatch):
    made = solids.masters(ball(250.0), (spike(ball(250.0), SHAPES["cone"]),))[0]
    assert list(contents._exact((made,), None)) == [f"spikes/{made.name}.step"]

    def missing(*_, **__):
        raise error("libGL.so.1: cannot open shared object file")

    monkeypatch.setattr(step, "write", missing)
    assert contents._exact((made,), None) == {"spikes as STEP": b""}  # no bytes: told as left out


def test_nothing_else_of_the_spikes_asks_for_cadquery():
    program = (
        "import sys\nfrom shellgen.spikes import casting, place, solids, step\n"
        "from shellgen.trim import edging, rings\n"
        "sys.exit(any(name in sys.modules for name in ('cadquery', 'OCP')))"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
    assert np.isfinite(masters(SHAPES["stud"])[0].solid.vertices).all()
