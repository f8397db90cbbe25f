"""Which files a pack holds. Figures come from the record, drawings from `draw`, bytes from `export`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shellgen import pack, page, scores, tiling
from shellgen.canvas import Drawing
from shellgen.draw.guide import guides
from shellgen.draw.overview import overview
from shellgen.draw.shell_scene import shell_scene
from shellgen.draw.template import template
from shellgen.export import csv, glb, pdf, png, stl, svg
from shellgen.flow import Flow
from shellgen.pipeline import shell_of
from shellgen.preset import Preset
from shellgen.record import record
from shellgen.shell import Shell
from shellgen.tables import tables


@dataclass(frozen=True, slots=True, eq=False)
class Pack:
    """Everything computed for one preset, ready to be written."""

    shell: Shell
    record: Mapping[str, Any]
    files: Mapping[str, bytes]
    seconds: Mapping[str, float]

    def write(self, folder: Path) -> None:
        """Puts the pack in the place of an older one, in one step. FitError if it cannot."""
        pack.write(folder, self.record, self.files)


def build(preset: Preset, *, flow: Flow | None = None, progress: Callable[[str], None] = lambda _: None) -> Pack:
    """The pack of a preset. A Flow that is kept from build to build remembers what has not changed."""
    flow = flow or Flow()
    flow.progress = progress
    shell = shell_of(preset, flow)
    files: dict[str, bytes] = {}
    for name, family in FAMILIES.items():
        files.update(flow.run(name, lambda s, p, f=family: dict(f(s, p)), shell, preset).value)
    listed = (*files, pack.RECORD)
    files |= flow.run("page", lambda s, p, *_: _page(s, p, files["preview.png"], listed), shell, preset, listed).value
    return Pack(shell.value, record(shell.value), files, dict(flow.seconds))


def _templates(shell: Shell, preset: Preset) -> Iterator[tuple[str, bytes]]:
    sheets: list[Drawing] = []
    for index in range(len(shell.cut.pieces)):
        sheets.append(template(shell, index))
        yield f"templates/{sheets[-1].name}.svg", svg.write(sheets[-1])
    how = preset.print
    lying = {"either": None, "upright": False, "lying": True}[how.page]
    plan = tiling.arrange(sheets, paper=how.paper, landscape=lying, margin=how.margin, overlap=how.overlap)
    yield f"templates-{how.paper}.pdf", pdf.write_pages(plan, title=preset.title or shell.name)


def _guides(shell: Shell, preset: Preset) -> Iterator[tuple[str, bytes]]:
    lines = scores.build(
        shell.surface, shell.layout, shell.spikes, preset.scores, ring_thickness=preset.rings.thickness
    )
    for drawing in guides(shell, lines):
        yield f"guides/{drawing.name}.svg", svg.write(drawing)
    yield "overview.svg", svg.write(overview(shell))


def _solids(shell: Shell, preset: Preset) -> Iterator[tuple[str, bytes]]:
    for solid in shell.masters:
        yield f"spikes/{solid.name}.stl", stl.write(solid)


def _pictures(shell: Shell, preset: Preset) -> Iterator[tuple[str, bytes]]:
    scene = shell_scene(shell)
    yield "preview.png", png.write(scene)
    yield "preview.glb", glb.write(scene)


def _tables(shell: Shell, preset: Preset) -> Iterator[tuple[str, bytes]]:
    for table in tables(shell):
        yield f"tables/{table.name}.csv", csv.write(table)


def _page(shell: Shell, preset: Preset, picture: bytes, listed: Iterable[str]) -> dict[str, bytes]:
    content = page.of(shell, title=preset.title or shell.name, picture=picture, files=listed)
    return {"index.html": page.page(content)}


FAMILIES: dict[str, Callable[[Shell, Preset], Iterator[tuple[str, bytes]]]] = {
    "templates": _templates,
    "guides": _guides,
    "spike files": _solids,
    "pictures": _pictures,
    "lists": _tables,
}
