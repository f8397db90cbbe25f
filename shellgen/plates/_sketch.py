"""What a drawing holds, in mm on its page, before it is known what the lines mean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shellgen.core.arrays import Floats


class Unreadable(Exception):
    """A drawing that is no sound SVG, in words that go on from "The drawing cannot be used: ". remedy : what to do"""

    def __init__(self, problem: str, remedy: str = "Save it as plain SVG and try again.") -> None:
        super().__init__(problem)
        self.remedy = remedy


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """A polyline (n, 2), mm, x to the right and y down; line : of the file; layers : names of all that it lies in"""

    points: Floats
    line: int
    layers: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class DrawnWords:
    """A line of text; spots : (k, 2) points that it covers, the likeliest to lie in what it names first"""

    text: str
    spots: Floats
    line: int


@dataclass(frozen=True, slots=True, eq=False)
class Sketch:
    """strokes : what is drawn; dots : outlines in layers for spikes; guides : lines of the chart by their names

    others : all other outlines in its layer of guides, mm on the page, if a name is missing
    page : width and height, mm
    """

    strokes: tuple[Stroke, ...]
    dots: tuple[Stroke, ...]
    words: tuple[DrawnWords, ...]
    guides: Mapping[str, Floats]
    others: tuple[Floats, ...]
    page: tuple[float, float]
