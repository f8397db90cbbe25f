"""A Scene as a PNG picture, drawn here: no graphics driver, no font, the same bytes every time."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator, Sequence

import numpy as np
from PIL import Image

from shellgen.canvas import Colour, Scene
from shellgen.export import _picture
from shellgen.export._picture import Look
from shellgen.export._view import VIEWS, View
from shellgen.export._words import SceneLabel, SceneText

__all__ = ["VIEWS", "Look", "SceneLabel", "SceneText", "View", "write", "write_looks"]


WHITE = (255, 255, 255)
_LEVEL = 2
"""Of zlib (chosen: 4 takes half as long again and makes files a tenth smaller)."""


def write(
    scene: Scene,
    *,
    views: Sequence[str | View] = ("three-quarter",),
    size: tuple[int, int] = (1200, 900),
    caption: str = "",
    background: Colour | None = WHITE,
    scale_bar: bool = True,
    samples: int = 2,
    labels: Sequence[SceneLabel] = (),
    legend: Sequence[tuple[Colour, str]] = (),
    shade: float = 1.0,
) -> bytes:
    """PNG of `scene`, one field per view, all parallel views at one scale.

    views      : names in VIEWS, or Views
    size       : (width, height) pixels of the whole picture
    background : None is transparent
    samples    : along either side of a pixel that differs from its neighbours
    labels     : words at places of the scene
    legend     : colours and what they mean, in one row below the caption
    shade      : 1 is the full play of light and shadow, 0 leaves the bare colours
    """
    words = SceneText(caption, tuple(labels), tuple(legend), scale_bar)
    return next(write_looks([Look(scene, size, background, words, shade)], views=views, samples=samples))


def write_looks(
    looks: Sequence[Look], *, views: Sequence[str | View] = ("three-quarter",), samples: int = 2
) -> Iterator[bytes]:
    """PNGs of scenes that differ in nothing but their colours, for little more than the largest of them alone takes."""
    chosen = [VIEWS[v] if isinstance(v, str) else v for v in views]
    return (_encode(image) for image in _picture.draw(looks, chosen, samples))


def _encode(image: Image.Image) -> bytes:
    """Each row as its difference from the row above: of shaded surfaces that is as small as the best of all filters,
    and trying them all takes longer than the rest.

    References: PNG (Portable Network Graphics) Specification, W3C, 9.2, filter type 2.
    """
    pixels = np.asarray(image)
    if pixels.shape[2] == 4 and pixels[..., 3].min() == 255:
        pixels = pixels[..., :3]
    rows = pixels.reshape(len(pixels), -1)
    lines = np.full((rows.shape[0], rows.shape[1] + 1), 2, np.uint8)
    lines[0, 1:] = rows[0]
    np.subtract(rows[1:], rows[:-1], out=lines[1:, 1:])
    head = struct.pack(">IIBBBBB", image.width, image.height, 8, 2 if pixels.shape[2] == 3 else 6, 0, 0, 0)
    parts = (b"IHDR", head), (b"IDAT", zlib.compress(lines.data, _LEVEL)), (b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(name, data) for name, data in parts)


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
