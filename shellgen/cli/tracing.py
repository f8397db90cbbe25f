"""The file of the command trace: what was drawn on a chart, as a drawing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from shellgen.canvas import rule as rule_
from shellgen.canvas.chart import Chart
from shellgen.core import onefile
from shellgen.core.flow import Flow
from shellgen.draw.chart import chart
from shellgen.errors import FitError
from shellgen.export import chart_svg
from shellgen.geom import bezier
from shellgen.model.said import count
from shellgen.pipeline.chart import charted
from shellgen.preset import Preset

if TYPE_CHECKING:
    from shellgen import photo

WITHIN = 0.3
"""mm by which curves may leave what was traced."""


def write(preset: Preset, picture: Path, progress: Callable[[str], None]) -> str:
    """Writes the drawing, and says what is on it and what to do next. FitError if nothing is read from the photo."""
    if find_spec("cv2") is None:
        raise FitError("reading a photo needs OpenCV. Install it: pip install opencv-python-headless")
    from shellgen import photo
    from shellgen.photo.picture import LARGEST, UnreadPhoto

    target = picture.with_suffix(".svg")
    if target.exists():
        raise FitError(f"{target} is there already and may have your corrections. Rename it or the photo first.")
    onefile.hold(target)
    try:
        with picture.open("rb") as file:
            data = file.read(LARGEST + 1)
    except OSError as error:
        raise FitError(f"cannot read {picture}: {error.strerror}") from error
    of = charted(preset, Flow(progress), lines=False)
    rule = rule_.of(preset.print.paper)
    charts = (chart(str(preset.name), of.surface, None, of.worn, whole=whole, rule=rule) for whole in (False, True))
    try:
        drawn, found = photo.read(data, *charts)
    except UnreadPhoto as error:
        raise FitError(rule.both(f"no lines were read from {picture}: {error}")) from error
    onefile.write(target, chart_svg.write(with_lines(drawn, found)))
    dots = f" and {count(len(found.dots), 'circle')} for spikes" if found.dots else ""
    return (
        f"{target} holds {count(len(found.lines), 'line')}{dots}, drawn with a pen "
        f"{rule.mm(found.pen, 1)} wide on the chart.\n"
        f"Look at it, then write in the preset: plates: {{layout: drawn, file: {target.name}}}"
    )


def with_lines(on: Chart, found: photo.PenLines) -> Chart:
    """The chart with what was drawn on it."""
    from shellgen.photo import snapping

    up = np.array([0.0, on.height])
    outline = on.rim if on.whole else np.concatenate([on.rim, on.middle[::-1]])
    lines = snapping.snapped([up + line * (1, -1) for line in found.lines], outline, on.middle)
    dots = tuple((up + at * (1, -1), size, "spikes") for at, size in found.dots)
    return replace(on, lines=tuple(bezier.through(line, within=WITHIN) for line in lines), names=(), dots=dots)
