"""A Scene as 3MF, for slicers: solids in millimetres with their names and colours, each shape stored once.

References: 3MF Core Specification 1.4.0 (package layout, base materials, components of a build).
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from xml.sax.saxutils import quoteattr

import numpy as np

from shellgen.canvas import Scene, ScenePart, hexadecimal
from shellgen.export._mesh import placements, require_closed

_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_MODEL = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TYPES = (
    f'{_HEAD}<Types xmlns="{_PACKAGE}/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELATIONS = (
    f'{_HEAD}<Relationships xmlns="{_PACKAGE}/relationships">'
    f'<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="{_MODEL}"/></Relationships>'
)
_EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time that a zip can hold; fixed so that equal scenes give equal bytes


def write(scene: Scene) -> bytes:
    """3MF of `scene`: one object per part, one build item per placement. GeometryError if a part is not closed."""
    for part in scene.parts:
        require_closed(part)
    files = {
        "[Content_Types].xml": _TYPES,
        "_rels/.rels": _RELATIONS,
        "3D/3dmodel.model": "".join(_model(scene)),
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=5) as package:
        for path, text in files.items():
            entry = zipfile.ZipInfo(path, _EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 0  # the same bytes on every system
            package.writestr(entry, text.encode("utf-8"))
    return out.getvalue()


def _model(scene: Scene) -> Iterator[str]:
    yield f'{_HEAD}<model unit="millimeter" xml:lang="en-US" xmlns="{_CORE}">'
    yield f'<metadata name="Title">{quoteattr(scene.name)[1:-1]}</metadata><resources><basematerials id="1">'
    for part in scene.parts:
        yield f'<base name={quoteattr(part.zone)} displaycolor="{hexadecimal(part.colour).upper()}FF"/>'
    yield "</basematerials>"
    for k, part in enumerate(scene.parts):
        yield from _object(part, k)
    yield "</resources><build>"
    for k, part in enumerate(scene.parts):
        for matrix in placements(part):
            numbers = " ".join(f"{v:.9g}" for v in matrix[:3].T.ravel() + 0.0)
            yield f'<item objectid="{k + 2}" transform="{numbers}"/>'
    yield "</build></model>"


def _object(part: ScenePart, k: int) -> Iterator[str]:
    yield f'<object id="{k + 2}" name={quoteattr(part.name)} type="model" pid="1" pindex="{k}"><mesh><vertices>'
    points = tuple(np.round(part.vertices, 6).ravel().tolist())
    yield '<vertex x="%.9g" y="%.9g" z="%.9g"/>' * len(part.vertices) % points
    yield "</vertices><triangles>"
    yield '<triangle v1="%d" v2="%d" v3="%d"/>' * len(part.faces) % tuple(part.faces.ravel().tolist())
    yield "</triangles></mesh></object>"
