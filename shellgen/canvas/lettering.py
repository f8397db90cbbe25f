"""Lettering with a single stroke, so that a pen, a knife and a printer all write the same and need no font.

A capital of height h is drawn with a pen of h/10 (ISO 3098 type B); the alphabet is in `glyphs`. Letters of other
scripts are drawn round the thin outlines of a font (`fonts`); what that lacks too is a box.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from itertools import accumulate, pairwise

import numpy as np

from shellgen.canvas import Text, fonts, frozen_array, glyphs
from shellgen.canvas.rule import unbroken
from shellgen.core.arrays import Floats

HEIGHTS = (1.8, 2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 20.0)
"""mm: the heights of capitals in the series of ISO 3098 (steps of about the square root of 2)."""

_UNIT = 0.1  # one unit of the glyphs' grid over the height of a capital
_STEPS = 4  # chords in one rounded corner: they sag by 0.07 mm at 10 mm height, a fourteenth of the pen
_FULLNESS = 0.78  # weight of a corner's conic: 0.707 is an ellipse, more is squarer; chosen by eye for small print


def pen(height: float) -> float:
    """Width of the stroke, mm, for capitals of this height.

    References: ISO 3098, lettering type B, line width d = h/10.
    """
    return _UNIT * height


def strokes(text: str, height: float) -> tuple[Floats, ...]:
    """Polylines, each (n, 2) mm, of `text` on the base line y = 0 with its ink starting at x = 0."""
    return _parted(*_written(text, height))


@lru_cache(maxsize=4096)
def _written(text: str, height: float) -> tuple[Floats, tuple[int, ...]]:
    """Points of all strokes of a text, and where each stroke ends."""
    known = [_glyph(cluster) for cluster in _clusters(text)]
    if not known:
        return np.empty((0, 2)), ()
    start = np.cumsum([0.0, *(width + glyphs.GAP for _, _, width in known)])[:-1]
    points = np.concatenate([points for points, _, _ in known])
    points[:, 0] += np.repeat(start, [len(points) for points, _, _ in known])
    ends = accumulate(count for _, counts, _ in known for count in counts)
    return frozen_array(_UNIT * height * points), tuple(ends)


def _parted(points: Floats, ends: Sequence[int]) -> tuple[Floats, ...]:
    return tuple(points[a:b] for a, b in pairwise([0, *ends]))


def width(text: str, height: float) -> float:
    """Width of `text`, mm, from its first ink to its last."""
    return _UNIT * height * _across(text)


@lru_cache(maxsize=16384)
def _across(text: str) -> float:
    """The same in units of the grid."""
    advances = [_glyph(cluster)[2] + glyphs.GAP for cluster in _clusters(text)]
    return sum(advances) - glyphs.GAP if advances else 0.0


@lru_cache(maxsize=8192)
def lay(text: Text) -> tuple[Floats, ...]:
    """Polylines of a Text where it stands: anchored, turned and moved. (n, 2) mm each, read-only."""
    points, ends = _written(text.text, text.height)
    return _parted(frozen_array(_place(text, points)), ends)


def box(text: Text, *, clear: float = 0.0) -> Floats:
    """(4, 2) mm, counter-clockwise: the rectangle that a Text takes, from tails to accents, `clear` wider all round."""
    across, below, above = width(text.text, text.height), -0.3 * text.height, 1.4 * text.height
    low, high = np.array([0.0, below]) - clear, np.array([across, above]) + clear
    return _place(text, np.array([low, (high[0], low[1]), high, (low[0], high[1])]))


def fit(text: str, across: float, *, most: float = 20.0, least: float = 1.8) -> float | None:
    """The largest height of the series, mm, at which `text` is at most `across` wide; None if the least is too wide."""
    ok = [h for h in HEIGHTS if least <= h <= most and width(text, h) <= across]
    return max(ok, default=None)


def wrapped(text: str, across: float, height: float) -> list[str]:
    """Lines no wider than `across` mm, broken between words but not within a quantity."""
    lines: list[str] = []
    for word in unbroken(" ".join(text.split())).split(" "):
        word = word.replace("\xa0", " ")
        if lines and width(f"{lines[-1]} {word}", height) <= across:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _place(text: Text, points: Floats) -> Floats:
    share = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor]
    shift = share * width(text.text, text.height)
    cos, sin = np.cos(text.angle), np.sin(text.angle)
    placed: Floats = (points - (shift, 0.0)) @ np.array([[cos, sin], [-sin, cos]]) + text.at
    return placed


@lru_cache(maxsize=4096)
def _clusters(text: str) -> tuple[str, ...]:
    """Letters, each followed by the accents that stand on it."""
    if text.isascii() and text.isprintable():
        return tuple(text)
    out: list[str] = []
    for whole in unicodedata.normalize("NFC", text):
        for char in _parts(whole):
            if unicodedata.combining(char) and out:
                out[-1] += char
            else:
                out.append(char)
    return tuple(out)


def _parts(whole: str) -> str:
    """A character as it is drawn: whole where the alphabet has it, or the font and the alphabet lacks an accent."""
    known = glyphs.LIKE.get(whole, whole)
    if known in glyphs.GLYPHS:
        return known
    parts = unicodedata.normalize("NFD", known)
    drawn = parts[0] in glyphs.GLYPHS and all(c in glyphs.ABOVE or c in glyphs.BELOW for c in parts[1:])
    return known if not drawn and fonts.has(known) else parts


def unset(text: str) -> str:
    """The characters of a text that can only be shown as a box or without their accent, each once."""
    missing: dict[str, None] = {}
    for whole in unicodedata.normalize("NFC", text):
        parts = _parts(whole)
        letter, accents = parts[0], parts[1:]
        marks = unicodedata.combining(letter) and (letter in glyphs.ABOVE or letter in glyphs.BELOW)
        known = letter in glyphs.GLYPHS or fonts.has(letter) or marks
        if not known or not all(c in glyphs.ABOVE or c in glyphs.BELOW for c in accents):
            missing[whole] = None
    return "".join(missing)


@lru_cache(maxsize=2048)
def _glyph(cluster: str) -> tuple[Floats, tuple[int, ...], float]:
    """Points of a letter with its accents, in units of the grid, how many each stroke has, and the letter's width."""
    letter, accents = cluster[0], cluster[1:]
    if letter in "ij" and any(a in glyphs.ABOVE for a in accents):
        letter = {"i": "ı", "j": "ȷ"}[letter]
    if letter not in glyphs.GLYPHS and fonts.has(letter):
        lines = list(fonts.outlines(letter, 1 / _UNIT))
    else:
        lines = [_curve(s) for s in glyphs.GLYPHS.get(letter, glyphs.BOX).split("|") if s.strip()]
    if not lines:
        return np.empty((0, 2)), (), glyphs.SPACE
    left = min(line[:, 0].min() for line in lines)
    lines = [line - (left, 0.0) for line in lines]
    across = max(line[:, 0].max() for line in lines)
    top = max(line[:, 1].max() for line in lines) + 1.0
    for accent in accents:
        data, y = (glyphs.ABOVE[accent], top) if accent in glyphs.ABOVE else (glyphs.BELOW.get(accent, ""), 0.0)
        lines += [_curve(s) + np.array([across / 2, y]) for s in data.split("|") if s.strip()]
    return frozen_array(np.concatenate(lines)), tuple(map(len, lines)), float(across)


def _curve(stroke: str) -> Floats:
    """(n, 2) polyline of one stroke; each point marked "~" becomes a conic arc from one leg to the next.

    References: a rational quadratic Bezier with weight w at its middle point; w = 0.707 on legs at a right angle
    is the quarter of an ellipse (G. Farin, Curves and Surfaces for CAGD, chapter on conics).
    """
    marks = stroke.split()
    points = np.array([[float(v) for v in m.rstrip("~").split(",")] for m in marks])
    soft = [m.endswith("~") for m in marks]
    t = np.linspace(0.0, 1.0, _STEPS + 1)[:, None]
    out = [points[:1]]
    for i in range(1, len(points) - 1):
        if not soft[i]:
            out.append(points[i : i + 1])
            continue
        before = points[i] + (points[i - 1] - points[i]) * (0.5 if soft[i - 1] else 1.0)
        after = points[i] + (points[i + 1] - points[i]) * (0.5 if soft[i + 1] else 1.0)
        b0, b1, b2 = (1 - t) ** 2, 2 * _FULLNESS * t * (1 - t), t**2
        out.append((b0 * before + b1 * points[i] + b2 * after) / (b0 + b1 + b2))
    line = np.vstack([*out, points[-1:]])
    return line[np.r_[True, np.abs(np.diff(line, axis=0)).sum(axis=1) > 1e-9]]
