"""Solids and scenes read back by other readers: trimesh, lib3mf in strict mode, the Khronos glTF validator."""

import io
import json
from pathlib import Path

import lib3mf
import numpy as np
import pytest
import trimesh
import yaml
from export_samples import cone, masters, shell
from scipy.spatial import cKDTree

from shellgen.canvas import Scene, ScenePart
from shellgen.errors import GeometryError
from shellgen.export import glb, stl, threemf
from shellgen.export._mesh import linear, srgb

ROWS = yaml.safe_load((Path(__file__).parents[1] / "published" / "export.yaml").read_text("utf-8"))
PUBLISHED = {row["id"]: row["value"] for row in ROWS}


def polygon_cone_volume(radius: float, height: float, count: int) -> float:
    """A pyramid on a regular polygon: a third of base times height."""
    return count / 2 * radius**2 * np.sin(2 * np.pi / count) * height / 3


def test_stl_is_watertight_outward_and_of_the_right_volume() -> None:
    data = stl.write(ScenePart("c", *cone(22, 60)))
    solid = trimesh.load(io.BytesIO(data), file_type="stl")
    assert solid.is_watertight and solid.is_winding_consistent
    assert solid.volume == pytest.approx(polygon_cone_volume(22, 60, 40), rel=1e-6)
    header, facet = PUBLISHED["stl-size"]
    assert len(data) == header + facet * 80
    assert not data.startswith(b"solid")
    assert np.allclose(solid.face_normals, np.frombuffer(data[84:], stl._FACET)["normal"], atol=1e-6)


@pytest.mark.parametrize("damage", ["hole", "turned", "twice", "nothing"])
def test_an_open_solid_is_refused(damage: str) -> None:
    vertices, faces = cone()
    bad = {
        "hole": faces[1:],
        "turned": np.vstack([faces[:1, ::-1], faces[1:]]),
        "twice": np.vstack([faces, faces[:1]]),
        "nothing": faces[:0],
    }
    part = ScenePart("c", vertices, bad[damage])
    for write in (stl.write, lambda p: threemf.write(Scene("s", (p,)))):
        with pytest.raises(GeometryError, match="not closed"):
            write(part)


def read_3mf(data: bytes) -> tuple[lib3mf.Model, lib3mf.Reader]:
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    return model, reader


def test_3mf_is_read_in_strict_mode_without_a_warning() -> None:
    model, reader = read_3mf(threemf.write(masters()))
    assert reader.GetWarningCount() == 0
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    objects, names = model.GetMeshObjects(), []
    while objects.MoveNext():
        mesh = objects.GetCurrentMeshObject()
        assert mesh.IsManifoldAndOriented()
        names.append(mesh.GetName())
        assert mesh.GetTriangleCount() == 80
    assert names == [part.name for part in masters().parts]


def test_3mf_stores_a_shape_once_and_places_its_copies() -> None:
    scene = shell()
    spikes = Scene(scene.name, scene.parts[1:])
    model, reader = read_3mf(threemf.write(spikes))
    assert reader.GetWarningCount() == 0
    objects, items, seen = model.GetMeshObjects(), model.GetBuildItems(), []
    assert objects.Count() == 2
    while items.MoveNext():
        fields = items.GetCurrent().GetObjectTransform().Fields
        seen.append(np.array([list(row) for row in fields]))
    expected = np.vstack([part.placements for part in spikes.parts])
    assert np.allclose(np.array(seen), expected[:, :3].transpose(0, 2, 1), atol=1e-4)


def test_glb_is_in_metres_upright_and_shares_meshes() -> None:
    scene = shell()
    for quantised, tolerance in ((False, 1e-7), (True, 1e-5)):
        loaded = trimesh.load(io.BytesIO(glb.write(scene, quantised=quantised)), file_type="glb")
        assert len(loaded.geometry) == 4  # dome, two kinds of spike, lines
        assert len(loaded.graph.nodes_geometry) == 1 + 4 + 8 + 1
        low, high = np.array(loaded.bounds)
        tops = np.vstack(
            [
                m[:3, :3] @ (0, 0, h) + m[:3, 3]
                for p, h in zip(scene.parts[1:], (70, 45), strict=True)
                for m in p.placements
            ]
        )
        assert low == pytest.approx([-0.24, 0.0, -0.32], abs=tolerance)
        assert high[1] == pytest.approx(tops[:, 2].max() / 1000, abs=tolerance)
        above = loaded.graph.transforms.parents
        assert above["spike-large-1"] == above["spike-small-8"] == "spikes" and above["spikes"] == above["plates"]
        spike = loaded.graph.get("spike-large-1")
        points = trimesh.transform_points(loaded.geometry[spike[1]].vertices, spike[0])
        ours = trimesh.transform_points(scene.parts[1].vertices, scene.parts[1].placements[0])
        assert cKDTree(points).query(ours[:, [1, 2, 0]] / 1000)[0].max() < tolerance


def test_glb_keeps_the_turning_sense_and_the_colours() -> None:
    loaded = trimesh.load(io.BytesIO(glb.write(masters())), file_type="glb")
    first = loaded.geometry["cone & stump"]
    assert first.volume * 1e9 == pytest.approx(polygon_cone_volume(20, 50, 40), rel=1e-5)
    document = document_of(glb.write(shell()))
    zones = {m["name"]: m["pbrMetallicRoughness"]["baseColorFactor"][:3] for m in document["materials"]}
    assert set(zones) == {"plates", "spikes", "lines"}
    assert srgb(np.array(zones["spikes"])) == pytest.approx(scene_colour(), abs=0.01)
    attributes = document["meshes"][0]["primitives"][0]["attributes"]
    stored = trimesh.load(io.BytesIO(glb.write(shell())), file_type="glb").geometry["dome"]
    assert set(attributes) == {"POSITION", "NORMAL", "COLOR_0"}
    accessor = document["accessors"][attributes["COLOR_0"]]
    assert (accessor["type"], accessor["componentType"], accessor["normalized"]) == ("VEC4", 5123, True)
    assert len(stored.faces) == len(shell().parts[0].faces)


def scene_colour() -> tuple[int, int, int]:
    return shell().parts[1].colour


def document_of(data: bytes) -> dict:
    size = int(np.frombuffer(data[12:16], "<u4")[0])
    return json.loads(data[20 : 20 + size])


def test_srgb_and_linear_are_inverse_and_agree_with_the_standard() -> None:
    values = np.arange(256)
    assert srgb(linear(values)) == pytest.approx(values, abs=1e-9)
    assert linear(np.array([188]))[0] == pytest.approx(
        0.5028865, abs=1e-6
    )  # IEC 61966-2-1 by hand: ((188/255+.055)/1.055)^2.4


def test_equal_scenes_give_equal_bytes() -> None:
    assert stl.write(ScenePart("c", *cone())) == stl.write(ScenePart("c", *cone()))
    assert threemf.write(masters()) == threemf.write(masters())
    assert glb.write(shell()) == glb.write(shell())
