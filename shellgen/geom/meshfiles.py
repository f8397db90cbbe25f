"""Triangle meshes from the bytes of STL, OBJ and PLY files, in time and memory bounded by the size of the file.

No number in a file is trusted: counts are compared with the size of the file before memory is reserved, no other file
is opened, and text is read a few megabytes at a time.

References
----------
StereoLithography Interface Specification, 3D Systems, 1989 (binary and ASCII STL).
Turk, The PLY Polygon File Format, 1994. Wavefront, Object Files (.obj), appendix B1.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shellgen.core.arrays import Floats, Ints

LARGEST = 512 * 2**20
"""Bytes. Chosen: a million triangles take 50 MB as binary STL, 300 MB as text."""
MOST = 4_000_000
"""Triangles. Chosen: four times what a dense scan of a torso has."""
_BLOCK = 2**23
TRIANGLE = 50
"""Bytes of a triangle in a binary STL; fewer behind the last one are padding."""

Mesh = tuple[Floats, Ints]


def read(data: bytes, suffix: str) -> Mesh:
    """Points (n, 3) float and faces (m, 3) int, as in the file; coincident corners of an STL are not merged.

    suffix : of the file's name, ".stl", ".obj" or ".ply". ValueError describes what was found.
    """
    if suffix.lower() not in READERS:
        raise ValueError(f"a file ending in {suffix or 'nothing'}")
    if not data.strip(b" \t\r\n\0"):
        raise ValueError("an empty file")
    points, faces = READERS[suffix.lower()](data)
    if not len(faces):
        raise ValueError("a file without triangles")
    _room_for(len(faces))
    if faces.min() < 0 or faces.max() >= len(points):
        raise ValueError("triangles that refer to points missing from the file: it is truncated or damaged")
    if not np.isfinite(points).all() or np.abs(points).max() > 1e9:
        raise ValueError("coordinates that are not a number, infinite or above a thousand million")
    return points, faces


def _room_for(triangles: int) -> None:
    if triangles > MOST:
        raise ValueError(f"{triangles} triangles")


def _room_for_points(count: int) -> None:
    if count > 3 * MOST:  # the number if no two triangles shared a point
        raise ValueError(f"{count} points or more")


def _stl(data: bytes) -> Mesh:
    count = int.from_bytes(data[80:84], "little") if len(data) >= 84 else 0
    needed = 84 + TRIANGLE * count
    if needed <= len(data) < needed + TRIANGLE and (len(data) == needed or not data.startswith(b"solid")):
        _room_for(count)
        record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
        corners = np.frombuffer(data, record, count, offset=84)["corners"]
        return corners.reshape(-1, 3).astype(float), np.arange(3 * count).reshape(-1, 3)
    if data[:5].lower() == b"solid" and b"facet" in data[:4096].lower():
        return _stl_text(data)
    if len(data) < 84:
        raise ValueError("a file too short for an STL")
    room = (len(data) - 84) // TRIANGLE
    fault = "an incomplete STL" if room < count else "an STL with a wrong header"
    raise ValueError(f"{fault}: its header counts {count} triangles, the file has room for {room}")


def _stl_text(data: bytes) -> Mesh:
    if b"endsolid" not in data[-4096:].lower():
        raise ValueError("an STL that is truncated before its end")
    blocks, found = [], 0
    for lines in _blocks(data):
        corners = [line for line in lines if line.lstrip()[:6].lower() == b"vertex"]
        found += len(corners)
        _room_for(found // 3)
        blocks.append(_places(corners))
    if found % 3:
        raise ValueError("a triangle with fewer than three corners")
    return np.concatenate(blocks).reshape(-1, 3), np.arange(found).reshape(-1, 3)


def _obj(data: bytes) -> Mesh:
    points, corners, counts, found = [np.zeros(0)], [np.zeros(0, int)], [np.zeros(0, int)], 0
    for lines in _blocks(data):
        here = [line for line in lines if line[:2] in (b"v ", b"v\t")]
        found += len(here)
        _room_for_points(found)
        points.append(_places(here))
        index, count = _rounds([line[2:] for line in lines if line[:2] in (b"f ", b"f\t")])
        corners.append(index)
        counts.append(count)
        _room_for(int(np.maximum(count - 2, 0).sum()))
    place, index = np.concatenate(points).reshape(-1, 3), np.concatenate(corners)
    if (index < 0).any():
        raise ValueError("faces whose points are counted backwards, which this reader does not support")
    return place, _fans(index - 1, np.concatenate(counts))


def _rounds(faces: list[bytes]) -> tuple[Ints, Ints]:
    """Points of all faces in turn, and how many each has; what follows a slash is ignored."""
    text = b"\n".join(faces)
    if b"/" in text:
        faces = re.sub(rb"/\S*", b"", text).split(b"\n")
    faces = [face for face in faces if face.strip()]
    try:
        even = np.loadtxt(faces, np.int64, comments=None, ndmin=2) if faces else np.zeros((0, 3), np.int64)
        return even.ravel(), np.full(*even.shape)
    except ValueError:  # faces with different numbers of corners, or words that are not whole numbers
        words = [face.split() for face in faces]
        return _whole(_numbers(word for face in words for word in face)), np.array([len(face) for face in words])


def _fans(corners: Ints, counts: Ints) -> Ints:
    """(m, 3) triangles of polygons with `counts` corners each, as fans from the first."""
    first = np.cumsum(counts) - counts
    triangles = np.maximum(counts - 2, 0)
    _room_for(int(triangles.sum()))
    start = np.repeat(first, triangles)
    step = np.arange(triangles.sum()) - np.repeat(np.cumsum(triangles) - triangles, triangles)
    return np.column_stack([corners[start], corners[start + step + 1], corners[start + step + 2]])


_TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"), **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"), **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"), **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"), **dict.fromkeys(("double", "float64"), "f8"),
}  # fmt: skip
_ORDERS = {"binary_little_endian": "<", "binary_big_endian": ">", "ascii": ""}
Elements = list[tuple[str, int, list[list[str]]]]


def _ply(data: bytes) -> Mesh:
    head = re.match(rb"ply\s*\n(.{0,65536}?)end_header[ \t]*\r?\n", data, re.DOTALL)
    if not head:
        raise ValueError("a PLY whose header is missing or has no end")
    order, elements = _ply_header(head[1].decode("latin-1"))
    names = [name for name, _, _ in elements]
    if names[:2] != ["vertex", "face"]:
        raise ValueError("a PLY without vertices followed by faces")
    _room_for_points(elements[0][1])
    _room_for(elements[1][1])
    body = data[head.end() :]
    return _ply_text(body, elements) if not order else _ply_binary(body, elements, order)


def _ply_header(text: str) -> tuple[str, Elements]:
    order: str | None = None
    elements: Elements = []
    for words in (line.split() for line in text.splitlines()):
        if words[:1] == ["format"] and len(words) > 1:
            order = _ORDERS.get(words[1])
        elif words[:1] == ["element"] and len(words) == 3 and re.fullmatch("[0-9]{1,12}", words[2]):
            elements.append((words[1], int(words[2]), []))
        elif words[:1] == ["property"] and elements and len(words) in (3, 5):
            elements[-1][2].append(words[1:])
    if order is None:
        raise ValueError("a PLY that does not name its format")
    return order, elements


def _ply_types(elements: Elements, order: str) -> tuple[np.dtype[Any], np.dtype[Any]]:
    """Layout of a vertex, and of a face with three corners."""
    layouts = []
    for _, _, properties in elements[:2]:
        fields: list[tuple[Any, ...]] = []
        for *kinds, name in properties:
            if any(kind not in _TYPES for kind in (kinds[1:] if kinds[0] == "list" else kinds)):
                raise ValueError(f"a PLY with a property of unknown type: {' '.join(kinds)[:40]!r}")
            if kinds[0] == "list":
                if name not in ("vertex_indices", "vertex_index"):
                    raise ValueError(f"a PLY whose faces have a second list, {name[:40]!r}")
                if len(kinds) != 3 or any(_TYPES[kind] in ("f4", "f8") for kind in kinds[1:]):
                    raise ValueError("a PLY whose faces are not lists of whole numbers")
                fields += [("count", order + _TYPES[kinds[1]]), ("corners", order + _TYPES[kinds[2]], 3)]
            else:
                fields.append((name, order + _TYPES[kinds[0]]))
        if len({field[0] for field in fields}) != len(fields):
            raise ValueError("a PLY that names a property twice")
        layouts.append(np.dtype(fields))
    names = set(layouts[0].names or ())
    if not {"x", "y", "z"} <= names or "corners" in names or "corners" not in (layouts[1].names or ()):
        raise ValueError("a PLY without x, y, z and the corners of its faces")
    return layouts[0], layouts[1]


def _ply_binary(body: bytes, elements: Elements, order: str) -> Mesh:
    vertex, face = _ply_types(elements, order)
    points, faces = elements[0][1], elements[1][1]
    if len(body) < points * vertex.itemsize + faces * face.itemsize:
        raise ValueError("an incomplete PLY of triangles: it is truncated, or has faces with fewer corners")
    needed = points * vertex.itemsize + faces * face.itemsize
    if len(elements) == 2 and len(body) >= needed + face.itemsize:
        more = (len(body) - needed) // face.itemsize
        raise ValueError(f"a PLY with a wrong header: it counts {faces} faces, and room for {more} more follows")
    place = np.frombuffer(body, vertex, points)
    round_ = np.frombuffer(body, face, faces, offset=points * vertex.itemsize)
    return _ply_mesh(place, round_)


def _ply_text(body: bytes, elements: Elements) -> Mesh:
    vertex, face = _ply_types(elements, "")
    at = (face.names or ()).index("count")
    lines = (line for block in _blocks(body) for line in block if line.strip())
    place = _rows(lines, elements[0][1], [(vertex.names or ()).index(axis) for axis in "xyz"])
    round_ = _rows(lines, elements[1][1], range(at, at + 4))
    if len(elements) == 2 and next(lines, None) is not None:
        raise ValueError(f"a PLY whose header is wrong: {elements[1][1]} faces are announced, more lines follow")
    if (round_[:, 0] != 3).any():
        raise ValueError("faces with more or fewer than three corners")
    return place, _whole(round_[:, 1:])


def _rows(lines: Iterator[bytes], count: int, columns: Iterable[int]) -> Floats:
    """(count, columns) numbers from the next lines."""
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", "loadtxt: input contained no data", UserWarning)  # reported below
            rows = np.loadtxt(islice(lines, count), comments=None, usecols=tuple(columns), ndmin=2)
    except ValueError:
        raise ValueError("coordinates or corners that are missing or not numbers") from None
    if len(rows) < count:
        raise ValueError("an incomplete PLY of triangles: it is truncated, or has faces with fewer corners")
    return rows


def _ply_mesh(place: NDArray[np.void], round_: NDArray[np.void]) -> Mesh:
    if (round_["count"] != 3).any():
        raise ValueError("faces with more or fewer than three corners")
    return np.column_stack([place[axis] for axis in "xyz"]).astype(float), round_["corners"].astype(np.int64)


def _whole(values: Floats) -> Ints:
    if not (np.abs(values) < 2**31).all() or (values != np.floor(values)).any():
        raise ValueError("faces whose points are not whole numbers")
    return values.astype(np.int64)


def _blocks(data: bytes) -> Iterator[list[bytes]]:
    """Lines, some megabytes at a time."""
    start = 0
    while start < len(data):
        end = data.find(b"\n", start + _BLOCK)
        end = len(data) if end < 0 else end + 1
        yield data[start:end].splitlines()
        start = end


def _places(lines: list[bytes]) -> Floats:
    """(3 n,) the three numbers after the first word of each line; what follows them is ignored."""
    try:
        return np.loadtxt(lines, comments=None, usecols=(1, 2, 3)).ravel() if lines else np.zeros(0)
    except ValueError:
        raise ValueError("a point without three coordinates, or with some that are not numbers") from None


def _numbers(words: Iterable[bytes]) -> Floats:
    try:
        return np.fromiter(map(float, words), float)
    except ValueError:
        raise ValueError("coordinates that are not numbers") from None


READERS: Mapping[str, Callable[[bytes], Mesh]] = {".stl": _stl, ".obj": _obj, ".ply": _ply}
