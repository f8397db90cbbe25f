"""The chart as SVG for drawing programs: guides, lines, names and spikes in groups of their own, at true size.

Each group has its name as `id`, as the label of layers that common programs know and as `data-name`. Colours and widths
stand on the groups as attributes, because not every program reads style sheets.

References: SVG 2, W3C. A reader needs only the shapes called chart-rim, chart-middle and chart-crown.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from shellgen.canvas import Path, Text, hexadecimal
from shellgen.canvas.chart import CROWN, Chart
from shellgen.core.arrays import Floats
from shellgen.export import _ink

LABEL = "http://www.inkscape.org/namespaces/inkscape"
"""Namespace of the label that layers bear in most free programs."""


def write(chart: Chart) -> bytes:
    """SVG of the chart; coordinates are rounded to 0.001 mm."""
    size = f'width="{chart.width:g}mm" height="{chart.height:g}mm" viewBox="0 0 {chart.width:g} {chart.height:g}"'
    turned = _Page(chart.height)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="{LABEL}" version="1.1" {size}>',
        f"<title>{escape(chart.title)}</title>",
        _layer("guides", [*_known(chart, turned), *_guides(chart, turned)], 'fill="none" stroke-linecap="round"'),
        _layer("lines", _lines(chart, turned), _pen("cut")),
        _layer("spikes", _dots(chart, turned), _pen("seat", dashed=False)),
        _layer("names", _names(chart, turned), 'font-family="sans-serif" font-size="4" text-anchor="middle"'),
        "</svg>",
    ]
    return "\n".join(parts).encode()


class _Page:
    """Turns y over."""

    def __init__(self, height: float) -> None:
        self.height = height

    def __call__(self, points: Floats) -> list[str]:
        turned = np.asarray(points, float).reshape(-1, 2) * (1, -1) + (0, self.height)
        return [f"{x:.3f},{y:.3f}".replace("-0.000", "0.000") for x, y in turned.tolist()]


def _layer(name: str, inside: Iterable[str], look: str) -> str:
    label = f'id="{name}" inkscape:groupmode="layer" inkscape:label="{name}" data-name="{name}"'
    return "\n".join([f"<g {label} {look}>", *inside, "</g>"])


def _pen(layer: str, *, dashed: bool = True) -> str:
    pen = _ink.PENS[layer]
    dashes = f' stroke-dasharray="{" ".join(f"{d:g}" for d in pen.dashes)}"' if pen.dashes and dashed else ""
    return f'fill="none" stroke="{hexadecimal(pen.colour)}" stroke-width="{pen.width:g}"{dashes}'


def _trace(points: list[str], closed: bool = False) -> str:
    return f"M{' L'.join(points)}{' Z' * closed}"


def _known(chart: Chart, page: _Page) -> Iterable[str]:
    """What a reader lays the drawing back on the dome by."""
    yield f'<path id="chart-rim" d="{_trace(page(chart.rim), chart.whole)}" {_pen("guide")} />'
    yield f'<path id="chart-middle" d="{_trace(page(chart.middle))}" {_pen("symmetry")} />'
    (at,) = page(chart.crown)
    x, y = at.split(",")
    yield f'<circle id="chart-crown" cx="{x}" cy="{y}" r="{CROWN / 2:g}" {_pen("guide")} />'


def _guides(chart: Chart, page: _Page) -> Iterable[str]:
    for layer in dict.fromkeys(item.layer for item in chart.guides):
        look = "" if layer == "fill" else _pen(layer)
        yield f'<g class="{layer}" {look}>' if look else f'<g class="{layer}" stroke="none">'
        yield from (_guide(item, page) for item in chart.guides if item.layer == layer)
        yield "</g>"


def _guide(item: Path | Text, page: _Page) -> str:
    if isinstance(item, Text):
        strokes = " ".join(_trace(page(line)) for line in _ink.lines(item))
        return f'<path d="{strokes}" stroke-width="{_ink.width(item):g}"><title>{escape(item.text)}</title></path>'
    fill = f' fill="{hexadecimal(item.fill)}"' if item.fill else ""
    data = "".join(f" data-{key}={quoteattr(value)}" for key, value in item.data.items())
    return f'<path d="{_trace(page(item.points), item.closed)}"{fill}{data} />'


def _lines(chart: Chart, page: _Page) -> Iterable[str]:
    for curve in chart.lines:
        pieces = [f"C{' '.join(page(control))}" for control in curve[:, 1:]]
        yield f'<path d="M{page(curve[0, 0])[0]} {" ".join(pieces)}" />'


def _dots(chart: Chart, page: _Page) -> Iterable[str]:
    kinds: dict[str, list[str]] = {}
    for at, size, kind in chart.dots:
        x, y = page(at)[0].split(",")
        kinds.setdefault(kind, []).append(f'<circle cx="{x}" cy="{y}" r="{size / 2:.3f}" />')
    for kind, circles in kinds.items():
        yield from circles if kind == "spikes" else [_layer(kind, circles, "")]


def _names(chart: Chart, page: _Page) -> Iterable[str]:
    for text, at in chart.names:
        x, y = page(at - (0.0, 1.4))[0].split(",")
        yield f'<text x="{x}" y="{y}">{escape(text)}</text>'
