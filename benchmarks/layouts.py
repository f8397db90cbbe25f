"""Every layout on ten domes, from the plates to the flat pieces: is each a mirrored net of one disc, do seams fit?

    python benchmarks/layouts.py [LAYOUT ...]

Each line shows the plates, the narrowest place, the pieces, the largest difference of the two edges of a seam and the
largest stretch over its limit. FAULT marks a net that is not sound, edges that differ by more than 0.1 mm, a stretch
above its limit that no finding names, and a traceback. A refusal is printed with its text.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from generated import hurry
from smallest import pick

from shellgen import preset
from shellgen.core import registry
from shellgen.core.flow import Flow
from shellgen.errors import ShellgenError
from shellgen.model import Cut, Layout, Pattern
from shellgen.pattern import checks, flatten, marks
from shellgen.pipeline import dome, foam
from shellgen.plates._narrowest import narrowest

DOMES = {
    "usual": "",
    "child": "length: 380, width: 320, height: 130, keel: 0, flare: 0",
    "small": "length: 300, width: 260, height: 90",
    "large": "length: 700, width: 560, height: 240",
    "long": "length: 750, width: 380, height: 200",
    "broad": "length: 460, width: 560, height: 170",
    "flat": "length: 560, width: 460, height: 90",
    "high": "length: 500, width: 440, height: 260",
    "egg": "length: 560, width: 440, height: 180, taper: 0.35, crown: 0.2",
    "boxy": "length: 560, width: 460, height: 180, squareness: 0.35, fullness: 0.3, taper: -0.3",
}
MATES = 0.1
"""mm that the edges of a seam may differ by."""
WIDE = 60.0
"""mm up to which the narrowest place is measured."""


def unsound(layout: Layout) -> Iterator[str]:
    """What is wrong with a net: Euler's relation of a disc, and the mirror image of every line and plate."""
    shown = [line for line in layout.lines if line.kind != "midline"]
    corners = {node for line in shown for node in (line.start, line.end)}
    if len(corners) - len(shown) + len(layout.plates) != 1:
        yield "FAULT: not one disc"
    for line in layout.lines:
        if not np.array_equal(layout.lines[line.mirror].uv, line.uv * (1, -1)):
            yield "FAULT: a line has no mirror image"
    if any(layout.plates[plate.mirror].sides != plate.sides for plate in layout.plates):
        yield "FAULT: a plate has no mirror image"


def apart(cut: Cut, pattern: Pattern) -> float:
    """The largest difference, mm, of the two edges of a seam, flat."""
    most = 0.0
    for seam in cut.seams:
        long = []
        for p, s in seam.sides:
            chain = pattern.flats[p].flat[cut.pieces[p].sides[s].vertices]
            long.append(float(np.linalg.norm(np.diff(chain, axis=0), axis=1).sum()))
        most = max(most, abs(long[0] - long[1]))
    return most


def tried(name: str, text: str) -> str:
    """What comes of one preset."""
    path = Path(tempfile.gettempdir()) / f"layouts-{name}.yaml"
    path.write_text(text, encoding="utf-8")
    content, flow = preset.read(path), Flow()
    on = dome.ground(content, flow)
    width, plate = narrowest(on.surface, on.layout, below=WIDE)
    parts, sheet = foam.cut(content, flow, on), dome.foam_of(content)
    shares = marks.along(parts, on.mesh, sheet.mid_offset, content.marks)
    pattern = flatten.build(on.mesh, parts, content.flatten, sheet, intervals=shares)
    limits = dome.limits_of(content, on.surface)
    found = checks.build(
        parts, pattern, marks.interval_lengths(on.mesh, parts, pattern, shares),
        stretch_limit=limits.stretch_limit, sheet=(limits.sheet_length, limits.sheet_width), least_neck=limits.neck,
    )  # fmt: skip
    over = max(max(f.stretch[:, 1].max() - 1, 1 - f.stretch[:, 0].min()) for f in pattern.flats) / limits.stretch_limit
    told = [finding.text for finding in found if finding.level != "ok"]
    wrong = list(unsound(on.layout))
    if (gap := apart(parts, pattern)) > MATES:
        wrong.append(f"FAULT: edges differ by {gap:.2f} mm")
    if over > checks.ROUNDING and not told:
        wrong.append("FAULT: no finding names the stretch")
    return (
        f"{len(on.layout.plates):3} plates  {width:4.1f} mm at {plate or '-'}  {len(parts.pieces)} pieces  "
        f"{gap:.4f} mm  {over:.2f}  {'; '.join([*wrong, *told])}"
    )


def main() -> None:
    hurry()
    names = [word for word in sys.argv[1:] if not word.startswith("-")] or registry.names("shellgen.plates")
    for name in names:
        for place, figures in list(DOMES.items())[pick(slice(None), slice(2, 3))]:
            text = f"dome: {{{figures or 'kind: plan'}}}\nplates: {name}\nmesh: {{edge: {pick(16, 40)}}}\n"
            start = time.process_time()
            try:
                shown = tried(name, text)
            except ShellgenError as error:
                shown = f"refused: {error}"
            except Exception as error:
                shown = f"FAULT: {type(error).__name__}: {error}"
            print(f"{name:8}{place:8}{time.process_time() - start:5.1f} s  {shown}", flush=True)


if __name__ == "__main__":
    main()
