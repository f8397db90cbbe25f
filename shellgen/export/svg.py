"""A Drawing as SVG at true size: one user unit is one millimetre, and no transform stands on any path."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape

import numpy as np
import svgwrite

from shellgen.canvas import Drawing, Path, Text, hexadecimal
from shellgen.core.memory import remembered_each
from shellgen.export import _ink

_NEEDLESS = re.compile(r"(?:\.0|0)0*(?![\d.])")
"""Noughts at the end of figures that all have decimals: thrice as quick as with the point and what follows it apart."""
_QUOTED = str.maketrans(
    {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "\r": "&#13;", "\n": "&#10;", "\t": "&#09;"}
)
_FORBIDDEN = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, production 2 (Char)


def write(drawing: Drawing) -> bytes:
    """SVG of `drawing`; y is turned over so that it reads upright. Coordinates are rounded to 0.001 mm.

    Each Path is one `<path>`, its layer as `class` and its data as `data-<key>`; lettering is one path of strokes
    of class `label` with its text in `<title>`. The library makes the file; its paths are written here and set into it,
    which takes a quarter of the library's time.
    """
    size = (f"{_number(drawing.width)}mm", f"{_number(drawing.height)}mm")
    view = f"0 0 {_number(drawing.width)} {_number(drawing.height)}"
    # svgwrite's own checks (debug) do not know data-* and aria-*
    svg = svgwrite.Drawing(size=size, viewBox=view, debug=False, fill="none", stroke="#000000")
    svg.set_desc(title=_plain(drawing.title or drawing.name))
    svg.defs.add(svg.style(_style()))
    out = io.StringIO()
    svg.write(out)
    before, end, after = out.getvalue().rpartition("</svg>")
    layers = [
        f'<g id="layer-{layer}">{"".join(_elements(items, drawing.height))}</g>'
        for layer, items in _ink.in_layers(drawing)
    ]
    return "".join([before, *layers, end, after]).encode("utf-8")


@remembered_each(_ink.key)
def _elements(items: Sequence[Path | Text], height: float) -> Iterable[str]:
    return map(_element, items, _traces(items, height))


def _element(item: Path | Text, trace: str) -> str:
    attributes = {"d": trace, "class": _classes(item)}
    inside = ""
    if isinstance(item, Text):
        words = _plain(item.text)
        attributes |= {"role": "img", "aria-label": words}
        attributes["style"] = f"stroke-width:{_number(_ink.width(item))};stroke-dasharray:none"
        inside = f"<title>{escape(words)}</title>"
    else:
        attributes["d"] += " Z" if item.closed else ""
        attributes |= {} if item.fill is None else {"style": f"fill:{hexadecimal(item.fill)}"}
    for key, value in item.data.items():
        if not re.fullmatch(r"[a-z][a-z0-9-]*", key):
            raise ValueError(f"{key!r} cannot be the name of an attribute")
        attributes[f"data-{key}"] = _plain(value)
    written = " ".join(f'{name}="{attributes[name].translate(_QUOTED)}"' for name in sorted(attributes))
    return f"<path {written}>{inside}</path>" if inside else f"<path {written} />"


def _classes(item: Path | Text) -> str:
    return item.layer if isinstance(item, Path) or item.layer == "label" else f"label {item.layer}"


def _traces(items: Sequence[Path | Text], height: float) -> list[str]:
    """Of each item; all at once, as most are short."""
    lines = [[item.points] if isinstance(item, Path) else _ink.lines(item) for item in items]
    flipped = np.concatenate([np.empty((0, 2)), *(line for own in lines for line in own)])
    flipped[:, 1] = height - flipped[:, 1]
    forms = [" ".join("M%.3f,%.3f" + " L%.3f,%.3f" * (len(line) - 1) for line in own) for own in lines]
    figures = "\n".join(forms) % tuple(flipped.ravel().tolist())
    return _NEEDLESS.sub("", figures.replace("-0.000", "0.000")).split("\n")


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
        rules.append(f".{layer}{{stroke:{hexadecimal(pen.colour)};stroke-width:{_number(pen.width)}{dashes}}}")
    return "\n".join(rules)
