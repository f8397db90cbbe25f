"""A Drawing as SVG at true size: one user unit is one millimetre, and no transform stands on any path."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence

import numpy as np
import svgwrite
from numpy.typing import NDArray

from shellgen.canvas import Drawing, Path, Text
from shellgen.export import _ink

SUFFIX = ".svg"

_NEEDLESS = re.compile(r"(?<=\.\d)0+(?![\d.])|(?<=\.\d\d)0(?!\d)|\.000(?!\d)|-(?=0\.000)")
_FORBIDDEN = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, production 2 (Char)


def write(drawing: Drawing) -> bytes:
    """SVG of `drawing`; y is turned over so that it reads upright. Coordinates are rounded to 0.001 mm.

    Each Path is one `<path>`, its layer as `class` and its data as `data-<key>`; lettering is one path of strokes
    of class `label` with its text in `<title>`.
    """
    size = (f"{_number(drawing.width)}mm", f"{_number(drawing.height)}mm")
    view = f"0 0 {_number(drawing.width)} {_number(drawing.height)}"
    # svgwrite's own checks (debug) know neither data-* nor aria-*
    svg = svgwrite.Drawing(size=size, viewBox=view, debug=False, fill="none", stroke="#000000")
    svg.set_desc(title=_plain(drawing.title or drawing.name))
    svg.defs.add(svg.style(_style()))
    for layer, items in _ink.in_layers(drawing):
        group = svg.add(svg.g(id=f"layer-{layer}"))
        for item in items:
            group.add(_element(svg, item, drawing.height))
    out = io.StringIO()
    svg.write(out)
    return out.getvalue().encode("utf-8")


def _element(svg: svgwrite.Drawing, item: Path | Text, height: float) -> svgwrite.path.Path:
    closed = isinstance(item, Path) and item.closed
    lines = [item.points] if isinstance(item, Path) else _ink.lines(item)
    path = svg.path(_trace(lines, height) + (" Z" if closed else ""), class_=_classes(item))
    if isinstance(item, Text):
        path.attribs |= {"role": "img", "aria-label": _plain(item.text)}
        path.attribs["style"] = f"stroke-width:{_number(_ink.width(item))};stroke-dasharray:none"
        path.set_desc(title=_plain(item.text))
    elif item.fill is not None:
        path.attribs["style"] = f"fill:{_ink.hexadecimal(item.fill)}"
    for key, value in item.data.items():
        if not re.fullmatch(r"[a-z][a-z0-9-]*", key):
            raise ValueError(f"{key!r} cannot be the name of an attribute")
        path.attribs[f"data-{key}"] = _plain(value)
    return path


def _classes(item: Path | Text) -> str:
    return item.layer if isinstance(item, Path) or item.layer == "label" else f"label {item.layer}"


def _trace(lines: Sequence[NDArray], height: float) -> str:
    flipped = np.concatenate(lines) if lines else np.empty((0, 2))
    flipped[:, 1] = height - flipped[:, 1]
    form = " ".join("M%.3f,%.3f" + " L%.3f,%.3f" * (len(line) - 1) for line in lines)
    return _NEEDLESS.sub("", form % tuple(flipped.ravel().tolist()))


def _number(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _plain(text: str) -> str:
    """Characters that XML cannot hold become the replacement character; the writer escapes the rest."""
    return _FORBIDDEN.sub("\ufffd", text)


def _style() -> str:
    rules = ["path{stroke-linecap:round;stroke-linejoin:round}"]
    for layer, pen in _ink.PENS.items():
        if pen.width == 0:
            rules.append(f".{layer}{{stroke:none}}")
            continue
        dashes = f";stroke-dasharray:{' '.join(map(_number, pen.dashes))};stroke-linecap:butt" if pen.dashes else ""
        rules.append(f".{layer}{{stroke:{_ink.hexadecimal(pen.colour)};stroke-width:{_number(pen.width)}{dashes}}}")
    return "\n".join(rules)
