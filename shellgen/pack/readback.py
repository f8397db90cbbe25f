"""Reads written pages back and compares them with the drawings, to prove that a pack is at full size.

A difference is the largest distance along x or y, mm, of any point in the file from where it was drawn, lettering
included; infinite if a line is missing, is extra or has another number of points.
"""

from __future__ import annotations

import io
import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, groupby, pairwise

import numpy as np
import pypdf

from shellgen.canvas import LAYERS, Drawing, Path, lettering
from shellgen.canvas.paper import PagePlan
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered, remembered_each
from shellgen.errors import GeometryError

LIMIT = 0.01
"""Largest difference between a file and its drawing, mm: a fiftieth of the line that the knife follows (chosen)."""
SQUARE = 100.0
MM = 25.4 / 72
"""mm to a unit of PDF (ISO 32000-1, table 30)."""

_SVG = "{http://www.w3.org/2000/svg}"
_RUN = re.compile(r"((?:[-0-9.]+ [-0-9.]+ [ml]\s+(?:h\s+)?)+)")
_TO_SPACE = str.maketrans(dict.fromkeys("MLZmlh,", " "))
_STRING = re.compile(rb"\((?:\\.|[^\\()])*\)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Pages:
    """All in mm, the largest differences found.

    lines  : of the stored pieces
    placing : of a piece's place on any of its pages
    square : of the scale's sides from 100 mm
    size   : of the pages from the paper
    """

    lines: float
    placing: float
    square: float
    size: float

    @property
    def most(self) -> float:
        return max(self.lines, self.placing, self.square, self.size)


def checked(path: str, difference: float) -> float:
    """The difference, or GeometryError if it is too large."""
    if not difference <= LIMIT:
        raise GeometryError(f"{path} differs by {difference:.3f} mm from what was drawn, more than {LIMIT} mm.")
    return difference


def svg(data: bytes, drawing: Drawing) -> float:
    """The lines of an SVG and its size."""
    root = ET.fromstring(data)
    if any("transform" in element.attrib for element in root.iter()):
        return math.inf
    box = [float(v) for v in root.get("viewBox", "").split()]
    given = [float(root.get(side, "nan").removesuffix("mm")) for side in ("width", "height")]
    traces = [element.get("d", "") for element in root.iter(f"{_SVG}path")]
    points = _numbers(" ".join(traces)) * [1, -1] + [0, box[3]]
    found = _parted(points, [1 + line.count("L") for trace in traces for line in trace.split("M")[1:]])
    size = np.abs(np.array([*box[2:], *given]) - [drawing.width, drawing.height] * 2).max()
    return max(float(size), _difference(found, drawn(drawing)))


def _numbers(trace: str) -> Floats:
    """(n, 2) the points of a trace, without its commands."""
    return np.fromstring(trace.translate(_TO_SPACE), sep=" ").reshape(-1, 2)


def _parted(points: Floats, counts: Sequence[int]) -> list[Floats]:
    return [points[a:b] for a, b in pairwise(accumulate(counts, initial=0))]


def dxf(data: bytes, drawing: Drawing) -> float:
    """The lines of a DXF. The difference is infinite if it is not in millimetres or a line is on a wrong layer."""
    text = data.decode("utf-8")
    head = text.partition("\n  0\nLWPOLYLINE\n")[0].splitlines()[1::2]
    units = head[head.index("$INSUNITS") + 1] if "$INSUNITS" in head else ""
    found, wanted = _polylines(text), drawn(drawing)
    if units.strip() != "4" or [layer for layer, _ in found] != [layer for layer, _ in wanted]:
        return math.inf
    return _difference([line for _, line in found], wanted)


def _polylines(text: str) -> list[tuple[str, Floats]]:
    """Layer and points of every LWPOLYLINE: it starts with group code 0, has a handle, 5, and more groups.

    References: DXF Reference, group codes of LWPOLYLINE.
    """
    entities = [entity.split("\n", 3) for entity in text.split("\n  0\n") if entity.startswith("LWPOLYLINE\n")]
    return _read([f"{code}\n{handle}\n{rest}" if code.strip() != "5" else rest for _, code, handle, rest in entities])


@remembered_each(str.strip)
def _read(entities: Sequence[str]) -> Iterator[tuple[str, Floats]]:
    """By group codes: 8 is a layer, 10 and 20 a point."""
    for entity in entities:
        lines = entity.split("\n")
        codes = [int(code) for code in lines[::2]]
        layers = [value.strip() for code, value in zip(codes, lines[1::2], strict=True) if code == 8]
        figures = [float(value) for code, value in zip(codes, lines[1::2], strict=True) if code in (10, 20)]
        yield layers[0] if layers else "", np.array(figures).reshape(-1, 2)


def pdf(data: bytes, plan: PagePlan, *, true_size: bool = True, cover: bool = True) -> Pages:
    """A tiled PDF: each piece as stored, its place on every page, the scale's rules and the size of the pages; a PDF
    that is not at true size has neither a cover nor a scale."""
    reader = pypdf.PdfReader(io.BytesIO(data))
    tiles = (None, *plan.pages) if true_size and cover else plan.pages
    if len(reader.pages) != len(tiles):
        return Pages(math.inf, math.inf, math.inf, math.inf)
    lines, placing, square, size = 0.0, 0.0, 0.0, 0.0
    known: set[str] = set()
    for page, tile in zip(reader.pages, tiles, strict=True):
        box = np.array(page.mediabox, float) * MM
        size = max(size, float(np.abs(box[2:] - box[:2] - plan.frame.paper).max()))
        content = page.get_contents()
        seen = _trace(b"" if content is None else content.get_data())
        square = max(square, _square(seen.lines)) if true_size else square
        if tile is None:
            continue
        wanted = plan.on(tile)
        if len(wanted) != len(seen.forms):
            return Pages(lines, math.inf, square, size)
        x, y, _, _ = plan.frame.tile(*tile)
        for placed, (name, matrix) in zip(wanted, seen.forms, strict=True):
            if name not in known:
                known.add(name)
                stored = page["/Resources"]["/XObject"][name].get_object().get_data()  # type: ignore[index]  # pypdf
                lines = max(lines, _difference(_trace(stored).lines, drawn(placed.drawing)))
            corners = np.array([(0.0, 0.0), (placed.drawing.width, 0.0), (0.0, placed.drawing.height)])
            here = _mapped(corners, matrix) * MM - plan.frame.window[:2] + (x, y)
            placing = max(placing, float(np.abs(here - placed.move(corners)).max()))
    return Pages(lines, placing, square, size)


def page(data: bytes, drawing: Drawing) -> float:
    """A PDF of one page: its size and its lines."""
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    content = pages[0].get_contents()
    if len(pages) != 1 or content is None:
        return math.inf
    size = np.abs(np.array(pages[0].mediabox, float) * MM - [0, 0, drawing.width, drawing.height]).max()
    found = [line * MM for line in _trace(content.get_data()).lines]
    return max(float(size), _difference(found, drawn(drawing)))


@lru_cache(maxsize=512)
def drawn(drawing: Drawing) -> tuple[tuple[str, Floats], ...]:
    """(layer, (n, 2) mm) of every line of a drawing, strokes of lettering included, in the order they are written."""
    result: list[tuple[str, Floats]] = []
    for layer in LAYERS:
        for item in drawing.items:
            if item.layer == layer:
                lines = [item.points] if isinstance(item, Path) else lettering.lay(item)
                result += [(layer, line) for line in lines]
    return tuple(result)


def _difference(found: Sequence[Floats], wanted: Sequence[tuple[str, Floats]]) -> float:
    if [len(line) for line in found] != [len(line) for _, line in wanted]:
        return math.inf
    return float(np.abs(np.concatenate(found) - np.concatenate([line for _, line in wanted])).max()) if found else 0.0


def _square(lines: Sequence[Floats]) -> float:
    """Error of the nearest corner with sides of 100 mm, mm; infinite if a page has none."""
    off = [math.inf]
    for line in lines:
        if len(line) == 3:
            sides = np.diff(line * MM, axis=0)
            off.append(max(*np.abs(np.hypot(*sides.T) - SQUARE), abs(float(sides[0] @ sides[1])) / SQUARE))
    return float(min(off))


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """lines : (n, 2) in the page's units; forms : (name, matrix) as shown"""

    lines: Sequence[Floats]
    forms: Sequence[tuple[str, tuple[float, ...]]]


@remembered
def pages(data: bytes) -> int:
    """How many pages a PDF has."""
    return len(pypdf.PdfReader(io.BytesIO(data)).pages)


@remembered
def _trace(content: bytes) -> _Seen:
    """The strokes, fills and forms of a content stream.

    References: ISO 32000-1, tables 57, 59 and 60 (operators of state, paths and painting).
    """
    forms, shown = list[tuple[str, tuple[float, ...]]](), list[tuple[int, tuple[float, ...]]]()
    matrix: tuple[float, ...] = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    stack, numbers, path = [], list[float](), list[int]()
    name = ""
    text = _STRING.sub(b"", content).decode("latin-1").replace("[", " ").replace("]", " ")
    parts = _RUN.split(text)
    for number, part in enumerate(parts):
        if number % 2:
            path.append(number // 2)
            continue
        for token in part.split():
            if token[0] in "0123456789.-+":
                numbers.append(float(token))
                continue
            match token:
                case "S" | "f" | "f*" | "B" | "B*":
                    shown += [(run, matrix) for run in path]
                case "n":
                    path = []
                case "cm":
                    matrix = _product(numbers[-6:], matrix)
                case "q":
                    stack.append(matrix)
                case "Q":
                    matrix = stack.pop()
                case "Do":
                    forms.append((name, matrix))
            name = token if token[0] == "/" else name
            numbers = []
    return _Seen(_traced(parts[1::2], shown), forms)


def _traced(runs: Sequence[str], shown: Sequence[tuple[int, tuple[float, ...]]]) -> list[Floats]:
    """The lines of runs of path operators, as shown under their matrix."""
    points = _numbers(" ".join(runs))
    counts = [[1 + line.count("l") for line in run.split("m")[1:]] for run in runs]
    ends = [0, *accumulate(map(sum, counts))]
    lines: list[Floats] = []
    for matrix, group in groupby(shown, key=lambda one: one[1]):
        some = [run for run, _ in group]
        placed = _mapped(np.concatenate([points[ends[run] : ends[run + 1]] for run in some]), matrix)
        lines += _parted(placed, [count for run in some for count in counts[run]])
    return lines


def _product(first: Sequence[float], then: Sequence[float]) -> tuple[float, ...]:
    a, b, c, d, e, f = first
    g, h, i, j, k, m = then
    return a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j, e * g + f * i + k, e * h + f * j + m


def _mapped(points: Floats, matrix: Sequence[float]) -> Floats:
    a, b, c, d, e, f = matrix
    return np.asarray(points @ np.array([(a, b), (c, d)]) + (e, f))
