"""A Scene as binary glTF 2.0, for viewers: metres, y up, each shape stored once however often it stands.

The scene's x (to the wearer's head) becomes glTF's z, y becomes x, z becomes y: a shell opens lying crown up,
its head end to the viewer.

References: Khronos glTF 2.0 Specification; KHR_mesh_quantization; KHR_materials_unlit.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from shellgen.canvas import Colour, Scene, ScenePart
from shellgen.core.arrays import Floats, Ints, Numbers
from shellgen.export._mesh import linear, placements

JsonObject: TypeAlias = dict[str, object]
"""An object of the JSON."""

_TURN = np.array([[0.0, 1, 0], [0, 0, 1], [1, 0, 0]])  # rows: glTF's x, y, z in the scene's frame
_METRE = 0.001
_KIND = {"int8": 5120, "uint8": 5121, "int16": 5122, "uint16": 5123, "uint32": 5125, "float32": 5126}
_SHAPE = {1: "SCALAR", 3: "VEC3", 4: "VEC4"}
_VERTICES, _INDICES = 34962, 34963  # bufferView targets
_LINE, _ROUGHNESS = (30, 30, 30), 0.85  # chosen: foam under paint is matt


def write(scene: Scene, *, quantised: bool = False) -> bytes:
    """GLB of `scene`: a node per zone, below it one per copy of a part; a material per zone and colour; plate lines as
    lines.

    quantised : 16-bit positions and 8-bit normals, half the size (within 0.01 mm on a dome of 700 mm); a viewer
                must know KHR_mesh_quantization
    """
    file, roots = _GlbFile(quantised), []
    for zone in dict.fromkeys(part.zone for part in scene.parts):
        children = [node for part in scene.parts if part.zone == zone for node in file.part(part)]
        roots.append(file.node({"name": zone, "children": children}))
    if any(len(line) > 1 for line in scene.lines):
        roots.append(file.node({"name": "plate-lines", "mesh": file.line_mesh(scene.lines)}))
    return file.pack(scene.name, roots)


def _matrix(placement: Floats) -> Floats:
    """A placement in the scene's frame and mm, seen from glTF's frame in metres."""
    out = np.eye(4)
    out[:3, :3] = _TURN @ placement[:3, :3] @ _TURN.T
    out[:3, 3] = _METRE * (_TURN @ placement[:3, 3])
    return out


@dataclass(slots=True, eq=False)
class _GlbFile:
    """A GLB while it is put together: JSON tables and the one binary buffer."""

    quantised: bool
    buffer: bytearray = field(default_factory=bytearray)
    views: list[JsonObject] = field(default_factory=list)
    accessors: list[JsonObject] = field(default_factory=list)
    meshes: list[JsonObject] = field(default_factory=list)
    nodes: list[JsonObject] = field(default_factory=list)
    materials: dict[tuple[str, Colour], JsonObject] = field(default_factory=dict)

    def part(self, part: ScenePart) -> list[int]:
        """Stores a part, and a node for each copy of it."""
        mesh, own = self.mesh(part)
        copies, made = placements(part), []
        for k, placement in enumerate(copies):
            entry: JsonObject = {"name": part.name if len(copies) == 1 else f"{part.name}-{k + 1}", "mesh": mesh}
            matrix = _matrix(placement) @ own
            if not np.array_equal(matrix, np.eye(4)):
                entry["matrix"] = [float(f"{v:.9g}") for v in matrix.T.ravel() + 0.0]
            made.append(self.node(entry))
        return made

    def node(self, entry: JsonObject) -> int:
        self.nodes.append(entry)
        return len(self.nodes) - 1

    def mesh(self, part: ScenePart) -> tuple[int, Floats]:
        """Stores a part; its index and the (4, 4) matrix that takes stored positions to metres."""
        points, normals, colours, faces = _corners(part)
        attributes, own = {}, np.eye(4)
        if self.quantised:
            low, size = points.min(axis=0), max(np.ptp(points, axis=0).max(), 1e-9)
            own = np.diag([size / 65535] * 3 + [1.0])
            own[:3, 3] = low
            points = np.round((points - low) / size * 65535).astype(np.uint16)
        attributes["POSITION"] = self.accessor(points, _VERTICES, bounds=True)
        if normals is not None:
            stored = np.round(127 * normals).astype(np.int8) if self.quantised else normals
            attributes["NORMAL"] = self.accessor(stored, _VERTICES, normalised=self.quantised)
        if colours is not None:
            attributes["COLOR_0"] = self.accessor(colours, _VERTICES, normalised=True)
        material = self.material(part.zone, (255, 255, 255) if colours is not None else part.colour)
        primitive = {"attributes": attributes, "indices": self.indices(faces), "material": material}
        self.meshes.append({"name": part.name, "primitives": [primitive]})
        return len(self.meshes) - 1, own

    def line_mesh(self, lines: tuple[Floats, ...]) -> int:
        points = np.vstack(lines) @ _TURN.T * _METRE
        starts = np.cumsum([0, *(len(line) for line in lines)])
        pairs = [np.column_stack([np.arange(a, b - 1), np.arange(a + 1, b)]) for a, b in pairwise(starts)]
        position = self.accessor(points, _VERTICES, bounds=True)
        material = self.material("lines", _LINE, {"extensions": {"KHR_materials_unlit": {}}})
        primitive = {"attributes": {"POSITION": position}, "indices": self.indices(np.vstack(pairs))}
        self.meshes.append({"name": "plate-lines", "primitives": [primitive | {"material": material, "mode": 1}]})
        return len(self.meshes) - 1

    def material(self, zone: str, colour: Colour, more: JsonObject | None = None) -> int:
        factor = [round(v, 6) for v in linear(np.array(colour)).tolist()] + [1.0]
        surface = {"baseColorFactor": factor, "metallicFactor": 0.0, "roughnessFactor": _ROUGHNESS}
        entry = {"name": zone, "doubleSided": True, "pbrMetallicRoughness": surface} | (more or {})
        self.materials.setdefault((zone, colour), entry)
        return list(self.materials).index((zone, colour))

    def indices(self, faces: Ints) -> int:
        kind = np.uint16 if faces.max() < 65535 else np.uint32
        return self.accessor(faces.ravel().astype(kind), _INDICES)

    def accessor(self, values: Numbers, target: int, *, bounds: bool = False, normalised: bool = False) -> int:
        """Appends `values`; rows of vertex data are padded to a multiple of 4 bytes, as glTF asks."""
        if values.dtype == float:
            values = values.astype(np.float32)
        rows = values.reshape(len(values), -1)
        entry: JsonObject = {
            "bufferView": len(self.views),
            "componentType": _KIND[rows.dtype.name],
            "count": len(rows),
        }
        entry["type"] = _SHAPE[rows.shape[1]]
        if normalised:
            entry["normalized"] = True
        if bounds:
            entry |= {"min": rows.min(axis=0).tolist(), "max": rows.max(axis=0).tolist()}
        pad = -rows.strides[0] % 4 if target == _VERTICES else 0
        view: JsonObject = {"buffer": 0, "byteOffset": len(self.buffer), "target": target}
        if pad:
            padded = np.zeros((len(rows), rows.shape[1] + pad // rows.itemsize), rows.dtype)
            padded[:, : rows.shape[1]] = rows
            rows, view["byteStride"] = padded, padded.strides[0]
        data = np.ascontiguousarray(rows).tobytes()
        self.buffer += data + bytes(-len(data) % 4)
        self.views.append(view | {"byteLength": len(data)})
        self.accessors.append(entry)
        return len(self.accessors) - 1

    def pack(self, name: str, roots: list[int]) -> bytes:
        unlit = any("extensions" in m for m in self.materials.values())
        needed = ["KHR_mesh_quantization"] if self.quantised else []
        used = needed + (["KHR_materials_unlit"] if unlit else [])
        document: JsonObject = {"asset": {"version": "2.0", "generator": "shellgen"}, "scene": 0}
        document["scenes"] = [{"name": name, "nodes": roots}]
        document |= {"nodes": self.nodes, "meshes": self.meshes, "materials": list(self.materials.values())}
        document |= {"accessors": self.accessors, "bufferViews": self.views}
        document["buffers"] = [{"byteLength": len(self.buffer)}]
        document |= {key: v for key, v in (("extensionsUsed", used), ("extensionsRequired", needed)) if v}
        text = json.dumps(document, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode("utf-8")
        text += b" " * (-len(text) % 4)
        chunks = _chunk(b"JSON", text) + _chunk(b"BIN\0", bytes(self.buffer))
        return b"glTF" + np.array([2, 12 + len(chunks)], "<u4").tobytes() + chunks


def _chunk(kind: bytes, data: bytes) -> bytes:
    return np.uint32(len(data)).tobytes() + kind + data


def _corners(part: ScenePart) -> tuple[Floats, Floats | None, Floats | None, Ints]:
    """Positions (m), normals, colours (linear, 16 bit) and faces; a vertex with two colours is stored twice."""
    points, normals, faces = part.vertices @ _TURN.T * _METRE, part.vertex_normals, part.faces
    if normals is not None:
        lengths = np.linalg.norm(normals, axis=1, keepdims=True)
        normals = np.where(lengths > 0, normals / np.where(lengths > 0, lengths, 1), (0.0, 0.0, 1.0)) @ _TURN.T
    if part.face_colours is None:
        return points, normals, None, faces
    codes = part.face_colours.astype(np.int64) @ (65536, 256, 1)
    pairs = (faces.astype(np.int64) << 24) | codes[:, None]
    unique, inverse = np.unique(pairs, return_inverse=True)
    vertex, code = unique >> 24, unique & 0xFFFFFF
    rgb = np.round(65535 * linear(np.column_stack([code >> 16, (code >> 8) & 255, code & 255]))).astype(np.uint16)
    colours = np.column_stack([rgb, np.full(len(rgb), 65535, np.uint16)])
    return points[vertex], None if normals is None else normals[vertex], colours, inverse.reshape(faces.shape)
