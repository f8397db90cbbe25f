"""Mesh files against an independent reader, files made to do harm, and how a preset names a scan."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest
import scans
import trimesh

from shellgen import preset
from shellgen.core.content import digest
from shellgen.core.flow import Flow
from shellgen.errors import PresetError
from shellgen.geom import mesh_repair, meshfiles
from shellgen.pipeline import dome
from shellgen.preset import resolved

POINTS, FACES = scans.ball(2)
MESH = trimesh.Trimesh(POINTS, FACES, process=False)


def exported(kind: str, **how: object) -> bytes:
    data = MESH.export(file_type=kind, **how)
    return data if isinstance(data, bytes) else data.encode()


@pytest.mark.parametrize(
    ("suffix", "data"),
    [
        (".stl", exported("stl")),
        (".STL", exported("stl_ascii")),
        (".ply", exported("ply")),
        (".ply", exported("ply", encoding="ascii")),
        (".obj", exported("obj")),
    ],
    ids=["stl", "stl text", "ply", "ply text", "obj"],
)
def test_files_read_as_an_independent_library_reads_them(suffix, data):
    """trimesh, BSD general-purpose mesh library."""
    other = trimesh.load_mesh(io.BytesIO(data), file_type=suffix[1:].lower(), process=False)
    points, faces = meshfiles.read(data, suffix)
    assert points[faces] == pytest.approx(np.asarray(other.triangles), abs=1e-4)
    cleaned = mesh_repair.clean(points, faces)
    assert (len(cleaned.points), len(cleaned.faces)) == (len(POINTS), len(FACES))
    assert not len(mesh_repair.widest_rim(cleaned.points, cleaned.faces))


def test_obj_with_textures_quads_and_colours():
    text = b"v\t0 0 0 1 0 0\nv 1 0 0 1 0 0\nv 1 1 0 1 0 0\nv 0 1 0 1 0 0\nvt 0 0\nf 1/1/1 2/1 3//1 4/1\nf\t1 2 4\n"
    points, faces = meshfiles.read(text, ".obj")
    assert points.shape == (4, 3) and faces.tolist() == [[0, 1, 2], [0, 2, 3], [0, 1, 3]]


HEAD = b"ply\nformat ascii 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\n"
LIST = b"element face %d\nproperty list uchar int vertex_indices\nend_header\n"
CORNERS = (HEAD % 3 + LIST % 1).replace(b"ascii", b"binary_little_endian")
HOSTILE = {
    "empty": (".stl", b""),
    "spaces": (".obj", b"  \n\n"),
    "list of no kind": (".ply", (HEAD % 3 + LIST % 1).replace(b"uchar int ", b"") + b"0 0 0\n"),
    "list of lists": (".ply", (HEAD % 3 + LIST % 1).replace(b"uchar", b"list") + b"0 0 0\n"),
    "corners with a point": (".ply", CORNERS.replace(b"int", b"float") + b"\0" * 36 + b"\3" + b"\xff" * 12),
    "more points than triangles need": (".ply", HEAD % 12_000_001 + LIST % 1 + b"0 0 0\n"),
    "faces of nothing": (".obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf \nf /1 /2\n"),
    "picture": (".stl", b"\x89PNG\r\n\x1a\n" + b"\0" * 200),
    "page": (".ply", b"<html>" * 50),
    "other suffix": (".step", b"ISO-10303-21;"),
    "cut off": (".stl", exported("stl")[:-30]),
    "cut off text": (".stl", exported("stl_ascii")[:4000]),
    "cut off ply": (".ply", exported("ply")[:-9]),
    "counts beyond the file": (".stl", b"\0" * 80 + struct.pack("<I", 4_000_000_000) + b"\0" * 50),
    "bomb of vertices": (".ply", HEAD % 4_000_000_000 + LIST % 1 + b"0 0 0\n"),
    "bomb of faces": (".ply", HEAD % 3 + LIST % 99_999_999_999 + b"0 0 0\n"),
    "no number": (".obj", b"v 0 0 zero\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"),
    "not a number": (".obj", b"v 0 0 nan\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"),
    "infinite": (".obj", b"v 0 0 inf\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"),
    "two coordinates": (".obj", b"v 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"),
    "beyond the points": (".obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n"),
    "backwards": (".obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf -1 -2 -3\n"),
    "half a corner": (".obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 2.5\n"),
    "points alone": (".obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n"),
    "quads": (".ply", HEAD % 4 + LIST % 1 + b"0 0 0\n1 0 0\n1 1 0\n0 1 0\n4 0 1 2 3\n"),
    "unknown type": (
        ".ply",
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty quad x\nelement face 1\nend_header\n0\n",
    ),
    "endless header": (".ply", b"ply\n" + b"comment x\n" * 9000),
    "no area": (".obj", b"v 0 0 0\nv 1 0 0\nv 2 0 0\nf 1 2 3\n"),
    "one place": (".obj", b"v 0 0 0\nv 0 0 0\nv 0 0 0\nf 1 2 3\n"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_harmful_file_is_one_clear_error(tmp_path, name):
    suffix, data = HOSTILE[name]
    (tmp_path / f"scan{suffix}").write_bytes(data)
    (tmp_path / "shell.yaml").write_text(f"dome:\n  kind: scan\n  file: scan{suffix}\n")
    with pytest.raises(PresetError) as told:
        dome.plated(preset.read(tmp_path / "shell.yaml"), Flow())
    assert "dome.file" in str(told.value) and str(told.value).isprintable()
    assert "Give a whole STL" in str(told.value) or "ends in .stl" in str(told.value)
    assert len(str(told.value)) < 400


def test_the_message_gives_the_figures_of_the_file():
    """A file cut off by one triangle has room for all but one; points are counted from one, zero names none."""
    short = bytearray(exported("stl"))
    short[80:84] = struct.pack("<I", len(FACES) - 3)
    with pytest.raises(
        ValueError, match=f"wrong header: its header counts {len(FACES) - 3} triangles, .* room for {len(FACES)}$"
    ):
        meshfiles.read(bytes(short), ".stl")
    with pytest.raises(ValueError, match=f" counts {len(FACES)} triangles, .* room for {len(FACES) - 1}$"):
        meshfiles.read(exported("stl")[:-50], ".stl")
    corners = b"v 0 0 0\nv 1 0 0\nv 0 1 0\n"
    with pytest.raises(ValueError, match="points missing from the file"):
        meshfiles.read(corners + b"f 0 1 2\n", ".obj")
    with pytest.raises(ValueError, match="counted backwards"):
        meshfiles.read(corners + b"f 1 2 -1\n", ".obj")


def test_random_bytes_never_do_more_than_be_refused():
    chance = np.random.default_rng(9)
    for suffix, data in ((".stl", exported("stl")), (".ply", exported("ply")), (".obj", exported("obj"))):
        for _ in range(40):
            spoilt = bytearray(data[: chance.integers(1, len(data))])
            for place in chance.integers(len(spoilt), size=20):
                spoilt[place] = chance.integers(256)
            try:
                points, faces = meshfiles.read(bytes(spoilt), suffix)
            except ValueError as error:
                assert str(error).isprintable()
            else:
                assert np.isfinite(points).all() and faces.max() < len(points)


def preset_of(folder: Path, file: str) -> Path:
    path = folder / "shell.yaml"
    path.write_text(f"dome:\n  kind: scan\n  file: {file}\n")
    return path


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("../scan.stl", "Copy the file"),
        ("/etc/passwd", "Copy the file"),
        ("C:\\scan.stl", "Copy the file"),
        ("sub\\scan.stl", "Copy the file"),
        ("link.stl", "Copy the file"),
        ("scan.blend", "ends in"),
        ("missing.stl", "does not exist"),
        ("folder.stl", "does not exist"),
        ('"a\\0b.stl"', "U+0000"),
        ("loop.stl", "loop.stl"),
        ("🐢" * 150 + ".stl", "cannot be read"),
    ],
)
def test_only_meshes_near_the_preset_are_opened(tmp_path, file, words):
    home = tmp_path / "home"
    (home / "folder.stl").mkdir(parents=True)
    (tmp_path / "scan.stl").write_bytes(exported("stl"))
    (home / "link.stl").symlink_to(tmp_path / "scan.stl")
    (home / "loop.stl").symlink_to(home / "loop.stl")
    with pytest.raises(PresetError, match=words.replace("+", "[+]")) as told:
        preset.read(preset_of(home, file))
    assert f"{home / 'shell.yaml'}:3: dome.file" in str(told.value)


def test_a_file_that_is_needed_is_asked_for(tmp_path):
    (tmp_path / "shell.yaml").write_text("dome:\n  kind: scan\n")
    with pytest.raises(PresetError, match=r"dome\.file: This line is missing"):
        preset.read(tmp_path / "shell.yaml")


def test_a_new_content_of_the_same_name_is_computed_anew(tmp_path):
    """The preset is unchanged; the scan beside it is not."""
    (tmp_path / "scans").mkdir()
    path, flow, sizes = preset_of(tmp_path, "scans/form.ply"), Flow(), []
    for radius in (200, 200, 150):
        scans.saved(tmp_path / "scans" / "form.ply", *scans.upper(*scans.ball(4, radius)))
        bound = preset.read(path)
        assert list(preset.files(bound)) == [tmp_path / "scans" / "form.ply"]
        surface, _ = dome.plated(bound, flow)
        sizes.append((digest(surface), round(float(np.ptp(surface.points(np.array([[1.0, 0], [-1, 0]]))[:, 0])))))
    assert sizes[0] == sizes[1] and sizes[0][0] != sizes[2][0]
    assert [size for _, size in sizes] == [
        pytest.approx(400, abs=3),
        pytest.approx(400, abs=3),
        pytest.approx(300, abs=3),
    ]
    rows = {row[0]: row[1] for row in resolved.resolved(bound).rows}
    assert rows["dome.file"] == "scans/form.ply" and rows["dome.up"] == "auto"
