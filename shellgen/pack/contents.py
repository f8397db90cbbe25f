"""Which files a pack holds. Figures come from the record, drawings from `draw`, bytes from `export`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from threadpoolctl import threadpool_limits

from shellgen import guide, pack, page
from shellgen.canvas import Part, Scene
from shellgen.core.flow import Flow
from shellgen.core.memory import remembered
from shellgen.draw.template import templates
from shellgen.export import csv, stl, threemf
from shellgen.model import Solid
from shellgen.pack import papers, pictures, readback
from shellgen.pattern import checks
from shellgen.pipeline import shell_of
from shellgen.pipeline.shell import Shell
from shellgen.preset import Preset
from shellgen.record import record
from shellgen.record.tables import tables
from shellgen.spikes import step
from shellgen.spikes.clay import enlargement

Family = Callable[[Shell], Iterator[tuple[str, bytes]]]
"""What makes files of one kind: path and bytes of each."""
Pictures = tuple[dict[str, bytes], dict[str, str]]
"""PNG by path, and by path their addresses on the page."""


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


@threadpool_limits.wrap(limits=1)  # sums in one order, however many cores there are: the same bytes everywhere
def build(
    preset: Preset,
    *,
    flow: Flow | None = None,
    progress: Callable[[str], None] = lambda _: None,
    exact_solids: bool = False,
    accept_faults: bool = False,
) -> Pack:
    """The pack of a preset. A Flow that is kept from build to build remembers what has not changed.

    exact_solids  : also the spikes as STEP, which takes the solid modeller; the record says so where it is missing
    accept_faults : make the pack even if somebody may come to harm by it, for a dummy perhaps; FaultError if not
    """
    flow = flow or Flow()
    flow.progress = progress
    shell = shell_of(preset, flow)
    if not accept_faults:
        checks.refuse(shell.value.findings)
    shaded = flow.start("papers for shading", papers.shaded, shell, preset)
    seen = [flow.start(name, partial(_seen, draw), shell) for name, draw in PICTURES]
    others = [flow.start(name, partial(_files, family), shell) for name, family in FAMILIES]
    drawn = flow.run("templates", templates, shell)
    sized = flow.run("papers", papers.true_size, shell, preset, drawn)
    solids = flow.run("solids of the page", page.solids_of, shell, figure=preset.wearer.share)
    files: dict[str, bytes] = {}
    for family in reversed(others):  # what is begun last can still be taken over from the other process
        files |= family.value
    told = flow.run("build guide", _guide, shell, preset, sized, shaded, seen[0])
    printed = papers.together(sized.value, shaded.value)
    files |= {path: data for of in (printed.files, *(made.value[0] for made in seen)) for path, data in of.items()}
    left_out: list[str] = []
    if exact_solids:
        made = flow.run("exact solids", _exact, shell, preset.making.shrinkage).value
        files |= {name: data for name, data in made.items() if data}
        left_out += [name for name, data in made.items() if not data]
    files["guide.html"] = flow.run("linked guide", _linked, told, (*files, pack.RECORD)).value
    files |= told.value[1]
    shown = flow.run("pictures on the page", _shown, *seen)
    title, listed = preset.title or preset.name, (*files, pack.RECORD)
    content = flow.run("page", page.of, shell, drawn, title=title, pictures=shown, files=listed, solids=solids)
    files["index.html"] = page.page(content.value)
    figures = {
        **record(shell.value),
        "readback": _measured(printed.off),
        "left_out": [f"{name}: see shellgen doctor" for name in left_out],
    }
    return Pack(shell.value, figures, files, dict(flow.seconds))


def _files(family: Family, shell: Shell) -> dict[str, bytes]:
    return dict(family(shell))


def _measured(off: Mapping[str, float]) -> dict[str, Any]:
    """How far the written files are from what was drawn."""
    return {
        "limit_mm": readback.LIMIT,
        "difference_max_mm": round(max(off.values()), 6),
        "files": [{"path": path, "difference_mm": round(of, 6)} for path, of in sorted(off.items())],
    }


def _solids(shell: Shell) -> Iterator[tuple[str, bytes]]:
    for solid in shell.masters:
        yield f"spikes/{solid.name}.stl", stl.write(solid)


def _exact(shell: Shell, shrinkage: float | None) -> dict[str, bytes]:
    """STEP of every master; empty bytes where the solid modeller or a system library of its own is missing."""
    scale, made = enlargement(shrinkage), {}
    for master in shell.casts:
        try:
            made[f"spikes/{master.name}.step"] = step.write(master, scale=scale)
        except (ImportError, OSError):
            return {"spikes as STEP": b""}
    return made


def _prints(shell: Shell) -> Iterator[tuple[str, bytes]]:
    for part in shell.casting.prints:
        yield f"prints/{part.name}.3mf", _print(part.solid)


@remembered
def _print(solid: Solid) -> bytes:
    return threemf.write(Scene(solid.name, (Part(solid.name, solid.vertices, solid.faces),)))


def _seen(draw: Family, shell: Shell) -> Pictures:
    files = dict(draw(shell))
    return files, page.stills(files)


def _shown(*seen: Pictures) -> dict[str, str]:
    return {path: address for _, own in seen for path, address in own.items()}


def _tables(shell: Shell) -> Iterator[tuple[str, bytes]]:
    for table in tables(shell):
        yield f"tables/{table.name}.csv", csv.write(table)


def _guide(
    shell: Shell, preset: Preset, sized: papers.Papers, shaded: papers.Papers, seen: Pictures
) -> tuple[guide.Guide, dict[str, bytes]]:
    """The build guide. seen : the pictures of the whole shell"""
    of = papers.together(sized, shaded)
    return guide.build(shell, preset, of.pages, of.drawings, picture=seen[0]["preview.png"])


def _linked(told: tuple[guide.Guide, dict[str, bytes]], files: Sequence[str]) -> bytes:
    """The guide as HTML, which links to all files made before it."""
    return guide.html.write(told[0], files)


PICTURES: tuple[tuple[str, Family], ...] = (("pictures", pictures.whole), ("pictures of parts", pictures.parts))
FAMILIES: tuple[tuple[str, Family], ...] = (
    ("prints", _prints),
    ("spike files", _solids),
    ("lists", _tables),
)
