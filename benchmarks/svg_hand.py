"""Polylines written as SVG in as many ways as drawing programs have: shapes and path commands of every kind, figures
close together, units, nested transforms and viewports, copies, layers, classes, and what is hidden."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import numpy as np

RUBBISH = '<path d="M10 10 L400 700" /><circle cx="200" cy="300" r="77" />'
"""Must not be read where it is hidden."""


def figures(rng: random.Random, values: list[float]) -> str:
    """Numbers of a path, at times as close together as the grammar allows."""
    close, text, last = rng.random() < 0.5, "", ""
    for value in values:
        word = f"{value:.4f}"
        if close:
            word = word.rstrip("0").rstrip(".") or "0"
            word = word.replace("-0.", "-.", 1) if word.startswith("-0.") else word.removeprefix("0") or "0"
            text += word if not text or word[0] == "-" or (word[0] == "." and "." in last) else f" {word}"
        else:
            text += f"{',' if text else ''}{word}"
        last = word
    return text


def path(rng: random.Random, line: np.ndarray) -> str:
    """Path data of a polyline; of one straight line also as arcs, with a bow of 0.05 mm at most, and smooth curves."""
    start = "M" + figures(rng, line[0].tolist())
    steps = list(pairwise(line))
    if len(line) == 2:
        (a, b), middle = line, line.mean(axis=0)
        chord = math.dist(a, b)
        radius = chord**2 / (8 * 0.05)
        kinds = [
            f"A{radius:.3f} {radius:.3f} {rng.randrange(90)} 0{rng.randrange(2)}{b[0]:.4f} {b[1]:.4f}",
            f"a{radius:.3f},{radius:.3f},0 0 {rng.randrange(2)}" + figures(rng, (b - a).tolist()),
            "Q" + figures(rng, [*(a + (middle - a) / 2), *middle]) + "T" + figures(rng, b.tolist()),
            "C" + figures(rng, [*(a + (b - a) / 6), *(a + (b - a) / 3), *middle])
            + "S" + figures(rng, [*(a + 5 * (b - a) / 6), *b]),
        ]  # fmt: skip
        return start + rng.choice(kinds)
    thirds = [(a + (b - a) / 3, a + 2 * (b - a) / 3, b) for a, b in steps]
    kinds = [
        "L" + figures(rng, line[1:].ravel().tolist()),
        "".join(f"l{figures(rng, (b - a).tolist())}" for a, b in steps),
        "".join(f"Q{figures(rng, [*((a + b) / 2), *b])}" for a, b in steps),
        "".join(f"c{figures(rng, [*(c - a), *(d - a), *(b - a)])}" for (a, _), (c, d, b) in
                zip(steps, thirds, strict=True)),
        " " + figures(rng, line[1:].ravel().tolist()),
    ]  # fmt: skip
    return start + rng.choice(kinds)


def _move(rng: random.Random, deep: int) -> tuple[str, np.ndarray]:
    """A list of transforms and the (3, 3) matrix they stand for."""
    words, whole = [], np.eye(3)
    for _ in range(rng.randint(0, deep)):
        x, y = rng.uniform(-200, 200), rng.uniform(-200, 200)
        angle, scale = rng.uniform(-180, 180), rng.uniform(0.4, 3.0)
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        to, back = (np.array([[1, 0, k * x], [0, 1, k * y], [0, 0, 1]]) for k in (1, -1))
        turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
        skew = np.array([[1, math.tan(math.radians(angle / 6)), 0], [0, 1, 0], [0, 0, 1]])
        word, own = rng.choice([
            (f"translate({x:.6f} {y:.6f})", to),
            (f"rotate({angle:.6f})", turn),
            (f"rotate({angle:.6f},{x:.6f},{y:.6f})", to @ turn @ back),
            (f"scale({scale:.6f})", np.diag([scale, scale, 1])),
            (f"scale({-scale:.6f} {scale:.6f})", np.diag([-scale, scale, 1])),
            (f"skewX({angle / 6:.6f})", skew),
            (f"matrix({c:.8f} {s:.8f} {-s:.8f} {c:.8f} {x:.6f} {y:.6f})", to @ turn),
        ])  # fmt: skip
        words.append(word)
        whole = whole @ own
    return rng.choice((" ", ",", "")).join(words), whole


def _led(points: np.ndarray, by: np.ndarray) -> np.ndarray:
    return points @ by[:2, :2].T + by[:2, 2]


def shape(rng: random.Random, line: np.ndarray, number: int) -> str:
    """A polyline in mm of the page as some element, in groups, viewports or copies."""
    text, own = _move(rng, 3)
    points = _led(line, np.linalg.inv(own))
    kind = rng.choice(("path", "path", "path", "polyline", "use", "svg", "line", "flat"))
    if kind == "line" and len(line) == 2:
        px = 96 / 25.4
        (x1, y1), (x2, y2) = points
        unit, size = rng.choice((("mm", 1.0), ("cm", 0.1), ("in", 1 / 25.4), ("pt", 72 / 25.4), ("q", 4.0), ("", px)))
        ends = zip(("x1", "y1", "x2", "y2"), (x1, y1, x2, y2), strict=True)
        sides = " ".join(f'{name}="{value * size:.6f}{unit}"' for name, value in ends)
        return f'<g transform="{text} scale({1 / px:.9f})"><line {sides} class="pen" /></g>'
    if kind == "flat" and len(line) == 2:  # turned until it lies level
        (ax, ay), (bx, by) = line
        angle, far = math.degrees(math.atan2(by - ay, bx - ax)), math.dist(*line)
        to = rng.choice((f"h{far:.4f}", f"H{far / 2:.4f} {far:.4f}", f"h{far / 2:.4f},{far / 2:.4f}"))
        if rng.random() < 0.5:
            angle, to = angle - 90, to.replace("h", "v").replace("H", "V")
        return f'<path transform="translate({ax:.5f},{ay:.5f})rotate({angle:.6f})" d="m0 0{to}" />'
    if kind == "svg":
        scale, x, y = rng.uniform(0.5, 4), rng.uniform(0, 50), rng.uniform(0, 50)
        inner = (points - (x, y)) / scale
        wide, high = 900.0, 1200.0
        box = f"{-wide / 2:g} {-high / 2:g} {wide:g} {high:g}"
        moved = inner - np.array([wide, high]) / 2
        aspect = rng.choice(("", ' preserveAspectRatio="none"', ' preserveAspectRatio="xMinYMin meet"'))
        size = f'x="{x:.5f}" y="{y:.5f}" width="{scale * wide:.5f}" height="{scale * high:.5f}"'
        body = f'<path d="{path(rng, moved)}" />'
        return f'<g transform="{text}"><svg {size} viewBox="{box}" overflow="visible"{aspect}>{body}</svg></g>'
    if kind == "polyline":
        body = f'<polyline points="{figures(rng, points.ravel().tolist())}" />'
    elif kind == "use":
        x, y = round(rng.uniform(-90, 90), 3), round(rng.uniform(-90, 90), 3)
        name = f"one{number}"
        body = f'<defs><path id="{name}" d="{path(rng, points - (x, y))}" /></defs>'
        body += f'<use {rng.choice(("href", "xlink:href"))}="#{name}" x="{x}" y="{y}" />'
    else:
        body = f'<path d="{path(rng, points)}" style="fill:none;stroke:#000" />'
    return f'<g transform="{text}" inkscape:groupmode="layer" inkscape:label="Ink {number}">{body}</g>'


def hidden(rng: random.Random) -> str:
    """Something that is not drawn."""
    return rng.choice((
        f'<g style="display:none">{RUBBISH}</g>', f'<g class="away">{RUBBISH}</g>', f"<defs>{RUBBISH}</defs>",
        f'<g visibility="hidden">{RUBBISH}</g>', f'<clipPath id="clip">{RUBBISH}</clipPath>',
        f'<symbol id="unused">{RUBBISH}</symbol>', "<metadata><x>5</x></metadata><title>my lines</title>",
        f'<g display="none"><g>{RUBBISH}</g></g>', f"<!-- {RUBBISH} -->", f'<marker id="m">{RUBBISH}</marker>',
    ))  # fmt: skip


def page(rng: random.Random, chart: str, lines: list[np.ndarray]) -> str:
    """The chart with lines (mm of the page) on it, perhaps saved in other units."""
    body = [shape(rng, line, i) for i, line in enumerate(lines)]
    body += [hidden(rng) for _ in range(rng.randint(0, 3))]
    rng.shuffle(body)
    style = "<style>.pen, .other { stroke: #000 } .away{display : none}</style>"
    text = chart.replace("</svg>", f'{style}<g id="mine">{"".join(body)}</g></svg>')
    text = text.replace("<svg ", '<svg xmlns:xlink="http://www.w3.org/1999/xlink" ', 1)
    if rng.random() < 0.3:  # a program that writes points, 72 of them an inch, without a unit
        inside, _, outer = text.partition(">")[2].rpartition("</svg>")[0], "", text.partition(">")[0]
        return f'{outer.replace("width=", "data-w=").replace("height=", "data-h=").replace("viewBox=", "data-v=")} ' \
               f'viewBox="0 0 2000 2000"><g transform="scale({72 / 25.4:.8f})">{inside}</g></svg>'  # fmt: skip
    return text
