"""The files of the command chart."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from shellgen.canvas import rule as rule_
from shellgen.canvas import tiling
from shellgen.core import onefile
from shellgen.core.flow import Flow
from shellgen.draw import chart
from shellgen.export import chart_svg, pdf
from shellgen.pipeline.chart import charted
from shellgen.preset import Preset

USE = "Tape the pages together at their crosses and draw on them, or draw in the SVG."


def write(
    preset: Preset, folder: Path, progress: Callable[[str], None], *, whole: bool, lines: bool
) -> tuple[list[Path], str]:
    """The files written, and how much the chart distorts."""
    of = charted(preset, Flow(progress), lines=lines)
    rule = rule_.of(preset.print.paper)
    drawn = chart.chart(str(preset.name), of.surface, of.layout, of.worn, whole=whole, rule=rule)
    sheet = drawn.drawing()
    plan = tiling.arrange([sheet], **preset.print.layout)
    name = f"{preset.name}-chart"
    files = {
        f"{name}.svg": chart_svg.write(drawn),
        f"{name}.pdf": pdf.write(sheet),
        f"{name}-{preset.print.paper}.pdf": pdf.write_pages(plan, title=sheet.title, use=USE),
    }
    for path in (paths := [folder / file for file in files]):
        onefile.hold(path)
    for path, data in zip(paths, files.values(), strict=True):
        onefile.write(path, data)
    return paths, rule.both(chart.said(of.surface))
