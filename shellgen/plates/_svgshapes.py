"""Shapes of SVG as polylines in mm on the page: lengths, transforms, viewports, outlines.

References: Scalable Vector Graphics (SVG) 2, W3C: coordinate systems (8), paths (9), basic shapes (10).
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator, Mapping
from math import hypot, isfinite
from typing import Any

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.plates._sketch import Unreadable
from shellgen.plates._svgtree import SvgElement

FARTHEST = 5000.0
"""mm from the page's corner. Chosen: the largest page that every viewer takes."""
FLAT = 0.02
"""mm by which a polyline may leave its curve. Chosen: a tenth of what the lines must keep to."""
UNITS = {"": 1.0, "px": 1.0, "mm": 96 / 25.4, "cm": 960 / 25.4, "in": 96.0, "pt": 4 / 3, "pc": 16.0, "q": 24 / 25.4,
         "em": 1.0, "rem": 16.0, "ex": 0.5}  # fmt: skip
"""px, of which 96 are an inch (CSS Values and Units 4, section 6.2); em and ex of the size of letters."""
PX = 25.4 / 96
NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_COUNTS = {"matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1,), "skewY": (1,)}
_TRANSFORM = re.compile(rf"({'|'.join(_COUNTS)})\s*\(([^()]*)\)")
_LENGTH = re.compile(rf"\s*({NUMBER.pattern})\s*([a-zA-Z]*|%)\s*")


def viewport(element: SvgElement, outer: tuple[float, float] | None = None) -> tuple[tuple[float, float], Floats]:
    """The size of a viewport in its own units, and the way to the units outside (px on the page).

    References: SVG 2, section 8.2, The viewport; preserveAspectRatio, 8.5: the whole drawing in the middle, unless it
    is "none" or names an edge.
    """
    own = element.attributes
    box = [float(n) for n in NUMBER.findall(own.get("viewBox", ""))]
    sides = outer or (box[2:] if len(box) == 4 else [300.0, 150.0])
    width, height = (
        length(own.get(name, "100%"), side, element) for name, side in zip(("width", "height"), sides, strict=True)
    )
    if len(box) != 4:
        return (width, height), np.eye(3)
    if min(box[2:]) <= 0 or min(width, height) <= 0:
        raise Unreadable(f"line {element.line}: its page has no size")
    across, up = width / box[2], height / box[3]
    how = own.get("preserveAspectRatio", "xMidYMid")
    x = y = 0.0
    if not how.startswith("none"):
        scale = max(across, up) if "slice" in how else min(across, up)
        share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
        x, y = (
            next((s for word, s in share.items() if axis + word in how), 0.5) * (size - scale * own_size)
            for axis, size, own_size in (("x", width, box[2]), ("Y", height, box[3]))
        )
        across = up = scale
    move = np.array([[across, 0, x - across * box[0]], [0, up, y - up * box[1]], [0, 0, 1]])
    return (box[2], box[3]), move


def length(text: str, whole: float, element: SvgElement, *, em: float = 16.0) -> float:
    """px; a share is one of `whole`, and em the size of letters around."""
    found = _LENGTH.fullmatch(text)
    if found is None or found[2].lower() not in (*UNITS, "%"):
        raise Unreadable(f"line {element.line}: {text[:30]!r} is not a length")
    unit = found[2].lower()
    return float(found[1]) * (whole / 100 if unit == "%" else UNITS[unit] * (em if unit in ("em", "ex") else 1.0))


def shift(x: float, y: float) -> Floats:
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])


def matrix(text: str, line: int) -> Floats:
    """(3, 3) of a list of transforms (CSS Transforms 1, section 8: the grammar of the attribute)."""
    whole, end = np.eye(3), 0
    for found in _TRANSFORM.finditer(text):
        figures = [float(n) for n in NUMBER.findall(found[2])]
        if text[end : found.start()].strip(" ,\t\r\n") or len(figures) not in _COUNTS[found[1]] or (
            NUMBER.sub("", found[2]).strip(" ,\t\r\n")
        ):  # fmt: skip
            break
        whole, end = whole @ _transform(found[1], figures), found.end()
    if text[end:].strip(" ,\t\r\n"):
        raise Unreadable(f"line {line}: {text[:40]!r} is not a transform")
    return whole


def _transform(name: str, figures: list[float]) -> Floats:
    if name == "matrix":
        a, b, c, d, e, f = figures
        return np.array([[a, c, e], [b, d, f], [0, 0, 1.0]])
    if name == "translate":
        return shift(*(*figures, 0.0)[:2])
    if name == "scale":
        return np.diag([figures[0], figures[-1], 1.0])
    angle = np.radians(figures[0])
    if name == "rotate":
        x, y = (*figures[1:], 0.0, 0.0)[:2]
        turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1.0]])
        return np.asarray(shift(x, y) @ turn @ shift(-x, -y))
    skew = np.eye(3)
    skew[(0, 1) if name == "skewX" else (1, 0)] = np.tan(angle)
    return skew


def moved(points: Floats, move: Floats, element: SvgElement) -> Floats:
    """mm on the page."""
    with np.errstate(all="ignore"):
        result = PX * (points @ move[:2, :2].T + move[:2, 2])
    if not np.isfinite(result).all() or np.abs(result).max(initial=0) > FARTHEST:
        raise Unreadable(f"line {element.line}: it reaches more than {FARTHEST:g} mm beyond its page")
    return np.asarray(result, float)


def polylines(element: SvgElement, move: Floats, size: tuple[float, float]) -> Iterator[Floats]:
    """The outlines of a shape, (n, 2) mm on the page; a closed one ends where it begins."""
    text = _outline(element, size)
    from svgpathtools import parse_path

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            segments = list(parse_path(text))
    except Exception as error:
        why = str(error)[:80] or "an arc ends where it begins"  # for which the parser has no words
        raise Unreadable(f"line {element.line}: the outline of a shape is broken ({why})") from error
    scale = PX * float(np.abs(move[:2, :2]).sum(axis=1).max())
    if not isfinite(scale):
        raise Unreadable(f"line {element.line}: a transform without a size")
    run: list[Floats] = []
    last = None
    for segment in segments:
        line = _flat(segment, scale)
        if last is not None and segment.start == last:
            run.append(line[1:])
        else:
            if run:
                yield moved(np.concatenate(run), move, element)
            run = [line]
        last = segment.end
    if run:
        yield moved(np.concatenate(run), move, element)


def _outline(element: SvgElement, size: tuple[float, float]) -> str:
    """The path data of a shape (SVG 2, section 10, with its equivalent paths)."""
    own = element.attributes
    if element.name == "path":
        return own.get("d", "")
    if element.name in ("polyline", "polygon"):
        figures = NUMBER.findall(own.get("points", ""))
        return f"M {' '.join(figures[: len(figures) // 2 * 2])}{' Z' * (element.name == 'polygon')}" if figures else ""
    mean = hypot(*size) / 2**0.5
    axis = {"x": 0, "1": 0, "h": 1, "y": 1, "2": 1}

    def side(name: str) -> float:
        key = "x" if "x" in name or name == "width" else "y"
        return length(own.get(name, "0"), mean if name == "r" else size[axis[key]], element)

    if element.name == "line":
        return f"M{side('x1')} {side('y1')} {side('x2')} {side('y2')}"
    if element.name == "rect":
        return _rectangle(side, own)
    x, y = side("cx"), side("cy")
    rx, ry = (side("r"),) * 2 if element.name == "circle" else (side("rx"), side("ry"))
    if min(rx, ry) <= 0:
        return ""
    return f"M{x - rx} {y}A{rx} {ry} 0 0 1 {x + rx} {y}A{rx} {ry} 0 0 1 {x - rx} {y}Z"


def _rectangle(side: Any, own: Mapping[str, str]) -> str:
    x, y, w, h = (side(name) for name in ("x", "y", "width", "height"))
    if min(w, h) <= 0:
        return ""
    rx = min(side("rx" if "rx" in own else "ry"), w / 2)
    ry = min(side("ry" if "ry" in own else "rx"), h / 2)
    if min(rx, ry) <= 0:
        return f"M{x} {y}h{w}v{h}h{-w}Z"
    turn = f"A{rx} {ry} 0 0 1"
    return (
        f"M{x + rx} {y}H{x + w - rx}{turn} {x + w} {y + ry}V{y + h - ry}{turn} {x + w - rx} {y + h}"
        f"H{x + rx}{turn} {x} {y + h - ry}V{y + ry}{turn} {x + rx} {y}Z"
    )


def _flat(segment: Any, scale: float) -> Floats:
    """(n, 2) points of a segment, so many that the polyline leaves it by FLAT / scale at most.

    References: Wang's formula for Bezier curves (G. Wang, 1984, from memory); the sagitta for arcs.
    """
    name = type(segment).__name__
    if name == "Arc":
        radius = max(abs(segment.radius.real), abs(segment.radius.imag), 1e-12)
        step = 2 * np.arccos(max(1 - FLAT / (scale * radius), -1.0)) if scale * radius > FLAT else np.pi
        count = int(np.clip(np.ceil(abs(np.radians(segment.delta)) / max(step, 1e-3)), 2, 4000))
        turn = np.radians(segment.theta + segment.delta * np.linspace(0, 1, count + 1))
        ring = segment.radius.real * np.cos(turn) + 1j * segment.radius.imag * np.sin(turn)
        found = segment.center + segment.rot_matrix * ring
    else:
        control = np.array(segment.bpoints())
        with np.errstate(all="ignore"):
            bend = np.abs(np.diff(control, 2)).max(initial=0) * (len(control) - 1) * (len(control) - 2) / 8
            wanted = np.sqrt(scale * bend / FLAT)
        count = int(np.clip(np.ceil(wanted), 1, 4000)) if isfinite(wanted) else 1
        t, control = np.linspace(0, 1, count + 1), np.repeat(control[:, None], count + 1, axis=1)
        with np.errstate(all="ignore"):
            while len(control) > 1:  # de Casteljau's algorithm
                control = (1 - t) * control[:-1] + t * control[1:]
        found = control[0]
    found[0], found[-1] = segment.start, segment.end
    return np.column_stack([found.real, found.imag])
