"""Photos of charts with pen lines, made up: are the same plates read, lines within 2 mm, or is the photo refused?

    python benchmarks/photos.py [--count 200] [--seed 1] [--smallest] [--keep FOLDER]

Charts of domes of many sizes with the plate lines of a layout are drawn with pens of 0.8 to 3 mm on sheets printed to
fit A4 or A3, some lines twice, with a shaky hand; then photographed: perspective up to 35 degrees, lens distortion,
gradients and edges of shadows, blur, noise, JPEG. Thresholds in `shellgen/photo` were chosen on seeds below 1000; seeds
from 1000 on are for measuring only.
"""

from __future__ import annotations

import argparse
import io
import math
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from PIL import Image
from scipy import ndimage
from scipy.spatial import cKDTree

from shellgen import photo
from shellgen.canvas import Path as Line
from shellgen.canvas import Text
from shellgen.cli import tracing
from shellgen.core import registry
from shellgen.dome.surfaces import plan
from shellgen.draw import chart as charts
from shellgen.errors import ShellgenError
from shellgen.export import chart_svg
from shellgen.photo.picture import UnreadPhoto
from shellgen.plates import _drawing

PALE = 205
"""Grey of all that is printed but the markers."""
FINE = 8.0
"""Pixels per mm of the chart on which it is drawn."""
GOOD = 2.0
"""mm rms."""


@dataclass(frozen=True)
class Case:
    """A photo, the chart's sheet, and what was drawn: (n, 2) mm each from the upper left, y down."""

    photo: bytes
    chart: charts.Chart
    drawn: tuple[np.ndarray, ...]
    plates: int
    words: str


def case(seed: int) -> Case:
    draw = np.random.default_rng(seed)
    chart = None
    while chart is None:
        length, height = draw.uniform(380, 640), draw.uniform(110, 220)
        try:
            surface = plan.build(plan.Params(length, length * draw.uniform(0.7, 0.9), height))
            layout = _layout(draw, surface)
            chart = charts.chart("pond", surface, layout)
        except ShellgenError:
            continue
    lines = []
    t = np.linspace(0, 1, 16)[:, None]
    for curve in chart.lines:
        parts = [
            ((1 - t) ** 3) * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t * t * c + t**3 * d for a, b, c, d in curve
        ]
        points = np.concatenate(parts)
        lines.append(np.column_stack([points[:, 0], chart.height - points[:, 1]]))
    scale = min(277 / chart.height, 190 / chart.width) * draw.choice([1.0, 1.41])
    pen = draw.uniform(0.8, 3.0) / scale
    sheet = page(chart, lines, pen, draw)
    data, words = _photographed(sheet, draw)
    return Case(
        data, replace(chart, lines=(), names=()), tuple(lines), len(layout.plates), f"pen {pen:.1f} mm, {words}"
    )


def _layout(draw: np.random.Generator, surface: object) -> object:
    name = str(draw.choice(["turtle", "hexes"]))
    member = registry.load("shellgen.plates", name)
    params = member.Params(size=float(draw.uniform(70, 130))) if name == "hexes" else member.Params()
    return member.build(surface, params)


def page(chart: charts.Chart, lines: list[np.ndarray], pen: float, draw: np.random.Generator) -> np.ndarray:
    """The chart as printed and drawn on, FINE pixels per mm."""
    page = np.full((round(chart.height * FINE), round(chart.width * FINE)), 250, np.uint8)

    def pixels(points: np.ndarray) -> list[np.ndarray]:
        return [np.round(points * FINE * 16).astype(np.int32).reshape(-1, 1, 2)]

    for item in chart.guides:
        if isinstance(item, Line):
            points = np.column_stack([item.points[:, 0], chart.height - item.points[:, 1]])
            if item.layer == "fill":
                shade = 250 if item.fill == (255, 255, 255) else 20
                cv2.fillPoly(page, pixels(points), shade, cv2.LINE_AA, 4)
            else:
                cv2.polylines(page, pixels(points), item.closed, PALE, round(0.7 * FINE), cv2.LINE_AA, 4)
        elif isinstance(item, Text):
            at = int(item.at[0] * FINE), int((chart.height - item.at[1]) * FINE)
            cv2.putText(page, item.text.encode("ascii", "replace").decode(), at, 0, 0.03 * item.height * FINE, PALE, 2)
    shade = int(draw.uniform(15, 75))
    for line in lines:
        for _ in range(2 if draw.random() < 0.12 else 1):
            shaken = _shaken(line, draw, pen)
            cv2.polylines(page, pixels(shaken), False, shade, max(1, round(pen * FINE)), cv2.LINE_AA, 4)
    return page


def _shaken(line: np.ndarray, draw: np.random.Generator, pen: float) -> np.ndarray:
    """As a hand draws it: off by some tenths of a mm, and its ends a bit short or long."""
    run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.arange(0, run[-1], 1.0)
    even = np.column_stack([np.interp(at, run, line[:, axis]) for axis in (0, 1)])
    shake = ndimage.gaussian_filter1d(draw.normal(size=even.shape), 12, axis=0, mode="nearest")
    return even + 0.35 * shake / max(shake.std(), 1e-9) * draw.uniform(0.3, 1.0)


def _photographed(page: np.ndarray, draw: np.random.Generator) -> tuple[bytes, str]:
    high, wide = page.shape
    size = [(3000, 4000), (2250, 3000), (3456, 4608)][draw.integers(3)]
    upright = draw.random() < 0.8
    rows, columns = (size[1], size[0]) if upright else size
    tilt, turn, spin = np.radians(draw.uniform(0, 35)), draw.uniform(0, 2 * np.pi), draw.normal(0, 0.06)
    if draw.random() < 0.1:
        spin += np.pi * draw.integers(1, 4) / 2
    axis = np.array([np.cos(turn), np.sin(turn), 0])
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    tip = np.eye(3) + np.sin(tilt) * cross + (1 - np.cos(tilt)) * cross @ cross
    roll = np.array([[np.cos(spin), -np.sin(spin), 0], [np.sin(spin), np.cos(spin), 0], [0, 0, 1]])
    corners = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], float)
    flat = np.column_stack([(corners - (wide / 2, high / 2)) / high, np.zeros(4)]) @ (tip @ roll).T
    distance = 1.5
    seen = flat[:, :2] / (flat[:, 2:] + distance)
    fill = draw.uniform(0.82, 0.96)
    low, top = seen.min(axis=0), seen.max(axis=0)
    scale = fill * min(columns / (top - low)[0], rows / (top - low)[1])
    pixels = (seen - (low + top) / 2) * scale + (columns / 2, rows / 2)
    plane = cv2.getPerspectiveTransform(pixels.astype(np.float32), corners.astype(np.float32))
    bend = draw.uniform(-0.03, 0.03)
    half = float(np.hypot(columns, rows)) / 2
    dx = (np.arange(columns, dtype=np.float32) - columns / 2) / half
    dy = (np.arange(rows, dtype=np.float32)[:, None] - rows / 2) / half
    out = 1 + bend * (dx**2 + dy**2)
    seen_at = np.stack([columns / 2 + dx * out * half, rows / 2 + dy * out * half], axis=-1)
    ideal = cv2.perspectiveTransform(seen_at.reshape(-1, 1, 2), plane).reshape(rows, columns, 2)
    blurred = cv2.GaussianBlur(page, (0, 0), max(0.3, 0.4 * high / (scale * (top - low)[1])))
    table = int(draw.uniform(30, 220))
    image = cv2.remap(blurred, ideal, None, cv2.INTER_LINEAR, borderValue=table).astype(np.float32)
    image *= _light(rows, columns, draw)
    image = cv2.GaussianBlur(image, (0, 0), draw.uniform(0.4, 2.0) * max(rows, columns) / 4000)
    image += draw.normal(0, draw.uniform(1, 7), image.shape).astype(np.float32)
    image = np.clip(image, 0, 255).astype(np.uint8)
    out_file = io.BytesIO()
    Image.fromarray(image).convert("RGB").save(out_file, "JPEG", quality=int(draw.integers(60, 95)))
    return out_file.getvalue(), f"tilt {np.degrees(tilt):.0f}, bend {bend:.3f}, {columns} x {rows}"


def _light(rows: int, columns: int, draw: np.random.Generator) -> np.ndarray:
    """Light over the photo: a gradient, and mostly the edge of a shadow."""
    x = np.linspace(-1, 1, columns, dtype=np.float32)
    y = np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
    turn = draw.uniform(0, 2 * np.pi)
    along = x * math.cos(turn) + y * math.sin(turn)
    light = draw.uniform(0.75, 1.0) * (1 + draw.uniform(0, 0.3) * along)
    if draw.random() < 0.6:
        turn, at, soft = draw.uniform(0, 2 * np.pi), draw.uniform(-0.8, 0.8), draw.uniform(0.01, 0.3)
        edge = (x * math.cos(turn) + y * math.sin(turn) - at) / soft
        light *= 1 - draw.uniform(0.15, 0.5) / (1 + np.exp(-np.clip(edge, -50, 50)))
    return np.clip(light, 0.1, 1.1)


def plates(chart: charts.Chart, found: photo.PenLines) -> int:
    """How many plates the lines make. Undrawn if none."""
    return _drawing.plan(chart_svg.write(tracing.with_lines(chart, found)), "auto", 3.0).plates


def moved(chart: charts.Chart, times: float) -> Iterator[Line | Text]:
    """The chart's markers as on a longer chart."""
    for item in chart.guides:
        up = np.round(item.points[0, 1] / chart.height) * (times - 1) * chart.height if isinstance(item, Line) else 0
        yield replace(item, points=item.points + np.array([0, up])) if isinstance(item, Line) else item


def off(drawn: tuple[np.ndarray, ...], read: tuple[np.ndarray, ...]) -> tuple[float, float]:
    """rms and largest distance, mm, of what was read from what was drawn and the other way round, the larger."""

    def dense(lines: tuple[np.ndarray, ...]) -> np.ndarray:
        parts = []
        for line in lines:
            run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
            at = np.arange(0, run[-1] + 0.25, 0.5)
            parts.append(np.column_stack([np.interp(at, run, line[:, axis]) for axis in (0, 1)]))
        return np.concatenate(parts)

    a, b = dense(drawn), dense(read)
    both = cKDTree(a).query(b)[0], cKDTree(b).query(a)[0]
    return max(float(np.sqrt((d**2).mean())) for d in both), max(float(d.max()) for d in both)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1000)
    parser.add_argument("--smallest", action="store_true", help="one photo")
    parser.add_argument("--keep", type=Path, help="write the photos here")
    chosen = parser.parse_args()
    count = 1 if chosen.smallest else chosen.count
    good = refused = 0
    for seed in range(chosen.seed, chosen.seed + count):
        of = case(seed)
        if chosen.keep:
            chosen.keep.mkdir(parents=True, exist_ok=True)
            (chosen.keep / f"{seed}.jpg").write_bytes(of.photo)
        start = time.process_time()
        try:
            _, found = photo.read(of.photo, of.chart)
            read = plates(of.chart, found)
        except (UnreadPhoto, _drawing.Undrawn) as error:
            refused += 1
            print(f"{seed:6} refused: {error} ({of.words})", flush=True)
            continue
        rms, most = off(of.drawn, found.lines)
        right = rms <= GOOD and read == of.plates
        good += right
        print(f"{seed:6} {'' if right else 'WRONG '}rms {rms:.2f} most {most:.1f} mm, {read} plates of {of.plates}, "
              f"pen {found.pen:.1f}, {time.process_time() - start:.1f} s ({of.words})", flush=True)  # fmt: skip
    print(
        f"{count} photos: {good} within {GOOD:g} mm rms and with the same plates, {refused} refused, "
        f"{count - good - refused} wrong"
    )


if __name__ == "__main__":
    main()
