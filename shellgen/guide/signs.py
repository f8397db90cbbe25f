"""Warning triangles and blue discs in the style of ISO 7010, drawn from straight lines and arcs.

References: ISO 3864-1, shapes and safety colours: a yellow triangle with a black edge warns, a blue disc commands
(from memory). The pictures inside are our own, not registered signs.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shellgen.canvas import Colour, Drawing, Path
from shellgen.core.arrays import Floats

YELLOW: Colour = (249, 190, 0)
BLUE: Colour = (0, 83, 135)
BLACK: Colour = (0, 0, 0)
WHITE: Colour = (255, 255, 255)
SIZE = 20.0
Points = Sequence[tuple[float, float]]


def _arc(x: float, y: float, radius: float, start: float, stop: float) -> list[tuple[float, float]]:
    """Points of an arc; degrees."""
    turn = np.radians(np.linspace(start, stop, max(3, int(abs(stop - start) / 6))))
    return [(x + radius * float(c), y + radius * float(s)) for c, s in zip(np.cos(turn), np.sin(turn), strict=True)]


def _bar(points: Points, width: float) -> list[tuple[float, float]]:
    """A polyline as a closed shape of the given width."""
    line = np.array(points, float)
    ahead = np.gradient(line, axis=0)
    aside = width / 2 * np.stack([-ahead[:, 1], ahead[:, 0]], 1) / np.hypot(*ahead.T)[:, None]
    return [(float(x), float(y)) for x, y in np.vstack([line + aside, (line - aside)[::-1]])]


def _wave(x: float, low: float, high: float) -> list[tuple[float, float]]:
    y = np.linspace(low, high, 9)
    return _bar([(x + 0.6 * float(np.sin((v - low) * 1.6)), float(v)) for v in y], 0.9)


_HEAD = _arc(10, 10.3, 4.6, 0, 348)
_HAND = [(7, 4), (13, 4), (13.6, 9), (14.8, 11), (13.6, 11.8), (12.6, 10), (12.4, 15), (11.2, 15), (11, 11), (10.6, 16),
         (9.4, 16), (9.2, 11), (8.6, 15.2), (7.5, 15.2), (7.4, 10)]  # fmt: skip

WARNINGS: dict[str, tuple[str, tuple[Points, ...]]] = {
    "knife": (
        "sharp blade",
        ([(5.6, 4.2), (7.4, 4.2), (9.4, 7.4), (7.8, 8.6)], [(8.2, 8.9), (9.7, 7.8), (11.2, 11.6)]),
    ),
    "heat": (
        "hot surface",
        ([(5.2, 4), (14.8, 4), (14.8, 5.3), (5.2, 5.3)], *(_wave(x, 6.4, 6.4 + h) for x, h in ((7.8, 3.4), (10, 6.2),
         (12.2, 3.4)))),
    ),
    "fire": (
        "catches fire",
        ([(10, 13.4), (10.8, 10.9), (12.2, 9.6), (12.8, 7.2), (11.8, 5), (10, 4.1), (8.2, 5), (7.2, 7.2), (8, 9),
          (8.7, 8.2), (9.2, 10.4)],),
    ),
    "fumes": (
        "harmful vapour",
        (_arc(8.2, 6, 1.8, 90, 270) + _arc(11.8, 6, 1.8, -90, 90), *(_wave(x, 8.6, 11.6) for x in (8.8, 11.2))),
    ),
    "dust": ("fine dust", tuple(_arc(x, y, r, 0, 330) for x, y, r in ((7, 5, 0.9), (10, 4.8, 1.1), (13, 5.1, 0.8),
             (8.5, 7.4, 0.8), (11.5, 7.6, 0.9), (10, 10, 0.7), (10.2, 12.3, 0.5)))),
    "point": ("hard tips", ([(5.2, 4.2), (14.8, 4.2), (12.6, 5.6), (10, 13.4), (7.4, 5.6)],)),
    "neck": (
        "cord at the neck",
        (_arc(10, 10.8, 1.9, 0, 340), [(8.2, 8.6), (11.8, 8.6), (11.8, 7.9), (8.2, 7.9)], _bar(_arc(10, 6.6, 3, 200,
         -20), 0.8), [(6.4, 4.2), (13.6, 4.2), (12.4, 6.4), (7.6, 6.4)]),
    ),
    "load": ("weight on the body", ([(6, 4.2), (14, 4.2), (12.8, 9), (7.2, 9)], _bar(_arc(10, 9.8, 1.5, 0, 180), 0.8))),
    "general": ("take care", ([(9.2, 13.2), (10.8, 13.2), (10.5, 7), (9.5, 7)], _arc(10, 5.2, 0.95, 0, 330))),
}  # fmt: skip

COMMANDS: dict[str, tuple[str, tuple[Points, ...]]] = {
    "air": (
        "fresh air",
        ([(4.4, 4.6), (9, 4.6), (9, 15.4), (4.4, 15.4)],
         *([(10.2, y - 0.5), (13.4, y - 0.5), (13.4, y - 1.5), (16, y), (13.4, y + 1.5), (13.4, y + 0.5),
            (10.2, y + 0.5)] for y in (7, 10, 13))),
    ),
    "mask": ("breathing mask", (_HEAD,)),
    "goggles": ("eye protection", (_HEAD,)),
    "gloves": ("gloves", (_HAND,)),
    "read": (
        "read the label",
        ([(4, 5.4), (9.6, 6.6), (9.6, 14.6), (4, 13.4)], [(16, 5.4), (10.4, 6.6), (10.4, 14.6), (16, 13.4)]),
    ),
}  # fmt: skip

OVER: dict[str, tuple[Points, ...]] = {
    "mask": ([(7.2, 9.6), (12.8, 9.6), (11.9, 6.8), (8.1, 6.8)],),
    "goggles": (_arc(8.1, 11, 1.6, 0, 340), _arc(11.9, 11, 1.6, 0, 340)),
}
"""Drawn on top, in the colour of the disc."""


def meaning(name: str) -> str:
    """The meaning of a sign in words."""
    return (WARNINGS | COMMANDS)[name][0]


def sign(name: str) -> Drawing:
    """A sign of 20 mm. KeyError if there is no sign of this name."""
    return Drawing(f"sign-{name}", SIZE, SIZE, shapes(name), meaning(name))


def shapes(name: str) -> tuple[Path, ...]:
    """The filled shapes of a sign, the lowest first."""
    if name in WARNINGS:
        drawn: list[tuple[Points | Floats, Colour]] = [(_triangle(9.6), BLACK), (_triangle(8.0), YELLOW)]
        drawn += [(shape, BLACK) for shape in WARNINGS[name][1]]
    else:
        drawn = [(_arc(10, 10, 9.6, 0, 354), BLUE), *((shape, WHITE) for shape in COMMANDS[name][1])]
        drawn += [(shape, BLUE) for shape in OVER.get(name, ())]
    return tuple(Path(np.array(points), "fill", closed=True, fill=ink) for points, ink in drawn)


def _triangle(radius: float) -> Floats:
    """Points of a triangle on its side with rounded corners, around the middle of the sheet."""
    corners = [(10 + 0.86 * radius * np.cos(a), 7.6 + 0.86 * radius * np.sin(a)) for a in np.radians([210, 330, 90])]
    round_ = 0.14 * radius
    starts = (150, 270, 30)
    return np.array([p for (x, y), s in zip(corners, starts, strict=True) for p in _arc(x, y, round_, s, s + 120)])
