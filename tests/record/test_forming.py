"""Which plates grow in forming: against the areas of the flat pieces and of the virtual build."""

import sys
from collections import defaultdict
from types import SimpleNamespace

import browsers
import numpy as np
import pytest

from shellgen.record.forming import forming


@pytest.fixture(scope="module")
def shell():
    return browsers.toad()


def area(points, faces):
    a, b, c = (points[corner] for corner in faces.T)
    return np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2


def grown(shell, points):
    """Growth of every plate from the flat pieces to a shell with these points: of flat areas, measured on the
    templates, and built ones, both summed here."""
    mesh, layout = shell.ground.mesh, shell.ground.layout
    built, flat = area(points, mesh.faces), np.zeros(len(mesh.faces))
    for piece, laid in zip(shell.foam.cut.pieces, shell.foam.pattern.flats, strict=True):
        flat[piece.shell_faces] = area(np.column_stack([laid.flat, 0 * laid.flat[:, 0]]), piece.faces)
    sums = defaultdict(lambda: np.zeros(2))
    for face, cell in enumerate(mesh.face_cell):
        sums[layout.plates[layout.cell_plate[cell]].name] += built[face], flat[face]
    return {name: (both[0] / both[1]) ** 0.5 - 1 for name, both in sums.items()}


def test_every_plate_grows_as_its_area_does(shell):
    found = {entry.plate: entry for entry in forming(shell)}
    exact = grown(shell, shell.ground.mesh.offset(shell.foam.pattern.mid_offset))
    assert set(found) == set(exact) == {plate.name for plate in shell.ground.layout.plates}
    for name, entry in found.items():
        assert entry.growth == pytest.approx(exact[name], abs=2e-5)
        low, high = sorted([entry.middle, entry.edge])
        assert low - 1e-5 <= entry.growth <= high + 1e-5


def test_what_the_virtual_build_stretches_most_is_formed_first(shell):
    """Its formed shell lies within a mm of the dome, so each plate's growth agrees with it to half a per cent."""
    order, built = forming(shell), grown(shell, shell.proof.formed.points)
    steps = [round(entry.growth, 4) for entry in order]
    assert steps == sorted(steps, reverse=True)
    assert all(entry.growth == pytest.approx(built[entry.plate], abs=5e-3) for entry in order)
    named = [entry.plate for entry in order if entry.growth > order[0].growth / 2]
    assert max(built, key=built.get) in named
    assert min(built, key=built.get) not in named


def test_mirror_images_grow_alike_and_the_left_one_is_first(shell):
    order = [entry.plate for entry in forming(shell)]
    growth = {entry.plate: entry.growth for entry in forming(shell)}
    for plate in shell.ground.layout.plates:
        if plate.side == "L":
            other = shell.ground.layout.plates[plate.mirror].name
            assert growth[plate.name] == pytest.approx(growth[other], abs=2e-5)
            assert order.index(plate.name) < order.index(other)


def test_middle_and_edge_are_halves_by_area(monkeypatch):
    """A square of eight triangles round its middle, and a ring of eight outside: the inner ones 10 % longer both
    ways, which is 21 % more area, the outer ones as they were."""
    turn = np.arange(8) * np.pi / 4
    ring = np.column_stack([np.cos(turn), np.sin(turn), 0 * turn])
    points = np.vstack([[0.0, 0, 0], 100 * ring, 141.42135 * ring])
    k, after = np.arange(8), (np.arange(8) + 1) % 8
    inner = np.column_stack([0 * k, 1 + k, 1 + after])
    outer = [np.column_stack([1 + k, 9 + k, 9 + after]), np.column_stack([1 + k, 9 + after, 1 + after])]
    faces = np.vstack([inner, *outer])
    shell = SimpleNamespace(
        ground=SimpleNamespace(
            mesh=SimpleNamespace(offset=lambda _: points, faces=faces, face_cell=np.zeros(len(faces), int)),
            layout=SimpleNamespace(cell_plate=(0,), plates=[SimpleNamespace(name="crown")]),
        ),
        foam=SimpleNamespace(pattern=SimpleNamespace(mid_offset=-5.0), cut=None),
        proof=SimpleNamespace(heat=np.where(np.arange(len(faces)) < 8, 1.1, 1.0)[:, None] * np.ones(2)),
    )
    monkeypatch.setattr(sys.modules[forming.__module__], "_crosses", lambda *_: ((30.0, 0.0, 0.0),))
    (entry,) = forming(shell)
    assert (entry.plate, entry.middle, entry.edge) == ("crown", pytest.approx(0.1, abs=1e-5), pytest.approx(0.0))
    whole = np.sqrt(2 / (1 / 1.21 + 1)) - 1  # the halves have equal areas on the dome
    assert entry.growth == pytest.approx(whole, abs=1e-5)
