"""What stands in a written pack, measured with readers that are not ours."""

import hashlib
import io
import xml.etree.ElementTree as ElementTree
from collections import defaultdict

import ezdxf
import ezdxf.units
import lib3mf
import numpy as np
import pytest
import svgpathtools
import trimesh
from pypdf import PdfReader

SVG = "{http://www.w3.org/2000/svg}"


def polyline(path):
    """(n, 2) corners of a path, in the units of its view box."""
    parsed = svgpathtools.parse_path(path.get("d"))
    assert all(isinstance(segment, svgpathtools.Line) for segment in parsed)
    points = [parsed[0].start, *(segment.end for segment in parsed)]
    return np.column_stack([np.real(points), np.imag(points)])


def templates(folder):
    for file in sorted((folder / "templates").glob("*.svg")):
        yield file.stem, ElementTree.parse(file).getroot()


def paths(root, kind):
    return [p for p in root.iter(f"{SVG}path") if kind in (p.get("class") or "").split()]


def lines(folder, name, root, kind, form):
    """(element of the SVG, corners) of the paths of a kind; with form "dxf" the corners are those that the DXF has."""
    found = paths(root, kind)
    if form == "svg":
        return [(path, polyline(path)) for path in found]
    drawing = ezdxf.readfile(folder / "dxf" / f"{name}.dxf")
    assert drawing.units == ezdxf.units.MM
    ways = [np.array(line.get_points("xy")) for line in drawing.modelspace().query(f'LWPOLYLINE[layer=="{kind}"]')]
    return list(zip(found, ways, strict=True))


def where_on(curve, point):
    """Arc length along a polyline of the place nearest to `point`, and how far off it is."""
    step = np.diff(curve, axis=0)
    size = np.linalg.norm(step, axis=1)
    t = np.clip(((point - curve[:-1]) * step).sum(axis=1) / size**2, 0, 1)
    off = np.linalg.norm(curve[:-1] + t[:, None] * step - point, axis=1)
    k = off.argmin()
    return float(np.concatenate([[0], np.cumsum(size)])[k] + t[k] * size[k]), float(off[k])


def test_every_file_is_listed_with_its_hash(packs, demo):
    folder, record = packs(demo)
    listed = {item["path"]: item for item in record["files"]}
    found = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()} - {"shell.json"}
    assert found == set(listed)
    for name, item in listed.items():
        data = (folder / name).read_bytes()
        assert len(data) == item["bytes"] and hashlib.sha256(data).hexdigest() == item["sha256"]


def test_templates_are_true_to_size_and_outlines_close(packs, demo):
    folder, record = packs(demo)
    pieces = {piece["id"]: piece for piece in record["pieces"]}
    for name, root in templates(folder):
        width, height = (float(root.get(side).removesuffix("mm")) for side in ("width", "height"))
        assert [float(v) for v in root.get("viewBox").split()] == [0, 0, width, height]
        sides = [polyline(p) for p in paths(root, "cut")]
        ends = np.array([s[[0, -1]] for s in sides])
        gap = np.linalg.norm(ends[:, None, 1] - ends[None, :, 0], axis=2)
        assert (gap.min(axis=1) < 0.002).all(), "each side begins where another ends"
        outline = np.concatenate([sides[k][:-1] for k in chain(gap)])
        x, y = outline.T
        area = abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) / 2
        assert area == pytest.approx(pieces[name]["area_flat_mm2"], rel=1e-4)
        assert outline.min() > 0 and (outline.max(axis=0) < [width, height]).all()
    assert {name for name, _ in templates(folder)} == set(pieces)


def chain(gap):
    """Order of sides round the outline, each beginning where the last one ends."""
    order, here = [], 0
    while here not in order:
        order.append(here)
        here = int(gap[here].argmin())
    assert len(order) == len(gap), "one outline, no hole"
    return order


@pytest.mark.parametrize("form", ["svg", "dxf"])
def test_mates_are_equal_between_every_two_marks(packs, demo, form):
    folder, record = packs(demo)
    sides, marks = defaultdict(list), defaultdict(list)
    for name, root in templates(folder):
        ticks = [(p, line) for p, line in lines(folder, name, root, "mark", form) if p.get("data-seam")]
        for path, curve in lines(folder, name, root, "cut", form):
            seam = path.get("data-seam")
            if seam is None:
                assert path.get("data-edge") == "rim"
                continue
            found = {}
            for tick, line in ticks:
                if tick.get("data-seam") == seam:
                    s, off = where_on(curve, line[0])
                    if off < 0.01:
                        found[int(tick.get("data-mark"))] = s
            sides[seam].append(curve)
            marks[seam].append(found)
    assert set(sides) == {seam["id"] for seam in record["seams"]}
    for seam in record["seams"]:
        first, second = marks[seam["id"]]
        assert len(sides[seam["id"]]) == 2 and set(first) == set(second) == set(seam["marks"])
        one, other = (np.diff(np.sort(list(found.values()))) for found in (first, second))
        order = sorted(first, key=first.get)
        if sorted(second, key=second.get) != order:
            other = other[::-1]
        assert np.abs(one - other).max() < 0.1, seam["id"]
        if len(one) > 1:
            assert one.min() > 14.5, "marks keep their distance (stretch allowed for)"


def test_pattern_stays_within_the_limit_and_builds_into_the_dome(packs, demo):
    _, record = packs(demo)
    assert max(piece["stretch_max"] for piece in record["pieces"]) <= 0.03 * 1.001
    assert record["proof"]["distance_rms_mm"] <= 5.0
    assert record["proof"]["formed_distance_rms_mm"] <= 2.0
    assert not record["proof"]["caught"]
    flat = sum(piece["area_surface_mm2"] for piece in record["pieces"])
    assert flat == pytest.approx(record["dome"]["mid_surface"]["area_mm2"], rel=1e-6)


def test_right_templates_are_left_ones_mirrored(packs, demo):
    folder, record = packs(demo)
    roots = dict(templates(folder))
    for piece in record["pieces"]:
        if piece["mirror"] == piece["id"]:
            continue
        own, other = (
            np.concatenate([polyline(p) for p in paths(roots[n], "cut")]) for n in (piece["id"], piece["mirror"])
        )
        width = float(roots[piece["mirror"]].get("width").removesuffix("mm"))
        mirrored = np.column_stack([width - other[:, 0], other[:, 1]])
        off = np.linalg.norm(own[:, None] - mirrored[None], axis=2).min(axis=1)
        assert off.max() < 0.003, "to the rounding of the file"


def test_solids_are_watertight_and_of_one_part(packs, demo):
    folder, record = packs(demo)
    for file in {spike["stl"] for spike in record["spikes"]}:
        solid = trimesh.load(io.BytesIO((folder / file).read_bytes()), file_type="stl")
        assert solid.is_watertight and solid.is_winding_consistent and solid.volume > 0
        assert len(solid.split(only_watertight=False)) == 1


def test_prints_pass_a_strict_reader_and_are_of_one_part(packs, demo):
    folder, record = packs(demo)
    assert {f"{part['id']}.3mf" for part in record["prints"]} == {p.name for p in (folder / "prints").iterdir()}
    for file in (folder / "prints").glob("*.3mf"):
        model = lib3mf.get_wrapper().CreateModel()
        reader = model.QueryReader("3mf")
        reader.SetStrictModeActive(True)
        reader.ReadFromBuffer(file.read_bytes())
        assert reader.GetWarningCount() == 0
        meshes = model.GetMeshObjects()
        assert meshes.MoveNext() and meshes.GetCurrentMeshObject().IsManifoldAndOriented()
        solid = meshes.GetCurrentMeshObject()
        points = np.array([list(v.Coordinates) for v in solid.GetVertices()])
        faces = np.array([list(t.Indices) for t in solid.GetTriangleIndices()])
        part = trimesh.Trimesh(points, faces, process=False)
        assert part.volume > 0 and part.body_count == 1
        assert not meshes.MoveNext()


def test_cut_lists_hold_every_ring_and_edging_piece(packs, demo):
    _, record = packs(demo)
    rings = sorted(name for length in record["ring_stock"]["lengths"] for name in length["pieces"])
    assert rings == sorted(spike["id"] for spike in record["spikes"] if spike["ring_length_mm"])
    edging = sum(piece["length_mm"] for piece in record["edging"]["pieces"])
    assert edging == pytest.approx(record["edging"]["length_mm"], abs=0.01)


def test_templates_on_paper(packs, demo):
    folder, _ = packs(demo)
    # ISO 216 and ANSI/ASME Y14.1, in points of 1/72 in
    sizes = {"A4": [595.276, 841.890], "Letter": [612.0, 792.0]}
    for file in folder.glob("templates-*.pdf"):
        reader = PdfReader(file)
        for page in reader.pages:
            assert sorted(map(float, page.mediabox[2:])) == pytest.approx(sizes[file.stem.split("-")[1]], abs=0.01)
        assert reader.viewer_preferences.print_scaling == "/None"


def test_previews_can_be_opened(packs, demo):
    folder, record = packs(demo)
    scene = trimesh.load(io.BytesIO((folder / "preview.glb").read_bytes()), file_type="glb")
    size = np.ptp(scene.bounds, axis=0)
    assert size.max() * 1000 > record["dome"]["length_mm"] - 0.01, "true size in metres, as far as it is quantised"
    assert (folder / "preview.png").read_bytes().startswith(b"\x89PNG")
