"""The card models of the demos, read from their packs and laid on their templates."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import cards
import numpy as np
import svgpathtools

SVG = "{http://www.w3.org/2000/svg}"


def flat(file: Path) -> cards.Flat:
    """The template of a piece."""
    root = ElementTree.parse(file).getroot()
    high = float(root.get("height").removesuffix("mm"))
    sides, marks = [], []
    for path in root.iter(f"{SVG}path"):
        parsed = svgpathtools.parse_path(path.get("d"))
        points = np.array([parsed[0].start, *(segment.end for segment in parsed)])
        line = np.column_stack([points.real, high - points.imag])
        if "cut" in path.get("class").split():
            sides.append((path.get("data-seam"), line))
        elif path.get("data-mark"):
            marks.append((path.get("data-seam"), int(path.get("data-mark")), line[0]))
    return cards.Flat(file.stem, sides, marks)


def test_the_model_is_the_templates_at_its_scale(packs, demo):
    folder, record = packs(demo)
    (file,) = folder.glob("model-*.pdf")
    words = re.sub(r"<[^>]+>", " ", (folder / "guide.html").read_text())
    scale = int(re.search(r"hold the shell at 1:(\d+)", words)[1])
    pages = cards.sheets(file.read_bytes())
    assert len(pages) <= 3
    found = [cards.find(flat(path), scale, pages) for path in sorted((folder / "templates").glob("*.svg"))]
    taped = cards.check_seams(found)
    cards.check(pages)
    said = re.search(r"; (\w+) joints? (?:is|are) so narrow", words)
    assert len(taped) == (0 if said is None else 1 if said[1] == "one" else int(said[1]))
    assert sum(len(of.flat.sides) for of in found) >= 2 * len(record["seams"])
    least = min(tab.area for sheet in pages for tab in sheet.tabs)
    assert least > 8.0, "mm2: a fingertip presses on it"
