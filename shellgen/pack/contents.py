"""Which files a pack holds. Figures come from the record, drawings from `draw`, bytes from `export`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from threadpoolctl import threadpool_limits

from shellgen import guide, pack, page
from shellgen.canvas import Scene, ScenePart
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
from shellgen.spikes.solids import Master

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
    flow = replace(flow or Flow(), show=progress)
    shell = shell_of(preset, flow)
    if not accept_faults:
        checks.refuse(shell.findings)
    shaded = flow.named("papers for shading").start(papers.shaded, shell, preset)
    seen = [flow.named(name).start(_seen, draw, shell) for name, draw in PICTURES]
    others = [flow.named(name).start(_files, family, shell) for name, family in FAMILIES]
    drawn = flow.named("templates").run(templates, shell)
    sized = flow.named("papers").run(papers.true_size, shell, preset, drawn)
    solids = flow.named("solids of the page").run(page.solids_of, shell, figure=preset.wearer.share)
    files: dict[str, bytes] = {}
    for family in reversed(others):  # what was started last can still be taken over from the worker
        files |= family.result()
    pictures_ = [made.result() for made in seen]
    printed = papers.together(sized, shaded.result())
    told, own = flow.named("build guide").run(
        guide.build, shell, preset, printed.pages, printed.drawings, picture=pictures_[0][0]["preview.png"]
    )
    files |= {path: data for of in (printed.files, *(of for of, _ in pictures_)) for path, data in of.items()}
    left_out: list[str] = []
    if exact_solids:
        made = flow.named("exact solids").run(_exact, shell.casts, preset.making.shrinkage)
        files |= {name: data for name, data in made.items() if data}
        left_out += [name for name, data in made.items() if not data]
    files["guide.html"] = flow.run(guide.html.write, told, (*files, pack.RECORD))
    files |= own
    shown = {path: address for _, own in pictures_ for path, address in own.items()}
    title, listed = preset.title or preset.name or "", (*files, pack.RECORD)
    content = flow.named("page").run(page.of, shell, drawn, title=title, pictures=shown, files=listed, solids=solids)
    files["index.html"] = page.page(content)
    figures = {
        **record(shell),
        "readback": _measured(printed.off),
        "left_out": [f"{name}: see shellgen doctor" for name in left_out],
    }
    flow.finish()
    return Pack(shell, figures, files, dict(flow.seconds))


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


def _exact(casts: Sequence[Master], shrinkage: float | None) -> dict[str, bytes]:
    """STEP of every master; empty bytes where the solid modeller or a system library of its own is missing."""
    scale, made = enlargement(shrinkage), {}
    for master in casts:
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
    return threemf.write(Scene(solid.name, (ScenePart(solid.name, solid.vertices, solid.faces),)))


def _seen(draw: Family, shell: Shell) -> Pictures:
    files = dict(draw(shell))
    return files, page.stills(files)


def _tables(shell: Shell) -> Iterator[tuple[str, bytes]]:
    for table in tables(shell):
        yield f"tables/{table.name}.csv", csv.write(table)


PICTURES: tuple[tuple[str, Family], ...] = (("pictures", pictures.whole), ("pictures of parts", pictures.parts))
FAMILIES: tuple[tuple[str, Family], ...] = (
    ("prints", _prints),
    ("spike files", _solids),
    ("lists", _tables),
)
