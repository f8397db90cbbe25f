"""A Drawing as a small SVG within the page: lettering as text, lines with only as many points as a screen shows."""

from __future__ import annotations

from html import escape

import numpy as np
import shapely

from shellgen.canvas import LAYERS, Drawing, Path, Text
from shellgen.core.memory import remembered

FINE = 0.08
"""Largest deviation of a simplified line, mm (chosen: a third of its width)."""

SMALL = 0.014
"""Lettering smaller than this share of the drawing's width shows only when enlarged (chosen: 5 px of 350)."""

CAPITAL = 0.72
"""Height of capitals over the font's size, of common system fonts (from memory)."""


@remembered
def sketch(drawing: Drawing, words: str) -> str:
    """`<svg>` of `drawing` in user units of 1 mm, with `words` for screen readers. Layers are classes."""
    shown = []
    for layer in LAYERS:
        items = [item for item in drawing.items if item.layer == layer]
        lines = " ".join(_trace(i, drawing.height) for i in items if isinstance(i, Path))
        if lines:
            shown.append(f'<path class="{layer}" d="{lines}"/>')
        shown += [_lettering(item, drawing) for item in items if isinstance(item, Text)]
    box = f"0 0 {_number(drawing.width)} {_number(drawing.height)}"
    size = f"--w:{_number(drawing.width)};--h:{_number(drawing.height)}"
    opening = f'<svg class="sheet" viewBox="{box}" style="{size}" role="img" aria-label="{escape(words)}">'
    return f"{opening}{''.join(shown)}</svg>"


def _trace(path: Path, height: float) -> str:
    fine = shapely.get_coordinates(shapely.simplify(shapely.linestrings(path.line), FINE))
    pairs = [f"{_number(x)} {_number(height - y)}" for x, y in fine.tolist()]
    return "M" + "L".join(pairs[:-1] if path.closed else pairs) + ("Z" if path.closed else "")


def _lettering(text: Text, drawing: Drawing) -> str:
    x, y = _number(text.at[0]), _number(drawing.height - text.at[1])
    kind = f"{text.layer} small" if text.height < SMALL * drawing.width else text.layer
    turn = f' transform="rotate({_number(-np.degrees(text.angle))} {x} {y})"' if abs(text.angle) > 1e-3 else ""
    size = f'font-size="{_number(text.height / CAPITAL)}" text-anchor="{text.anchor}"'
    return f'<text class="{kind}" x="{x}" y="{y}" {size}{turn}>{escape(text.text)}</text>'


def _number(value: float) -> str:
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text
