"""Which files a pack holds. Figures come from the record, drawings from `draw`, bytes from `export`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from threadpoolctl import threadpool_limits

from shellgen import guide, pack, page
from shellgen.canvas import Scene, ScenePart, Table, rule
from shellgen.core.flow import Flow, Pending
from shellgen.core.memory import remembered
from shellgen.draw.order import PaperEntry
from shellgen.draw.overview import overview
from shellgen.draw.template import templates
from shellgen.export import csv, stl, threemf
from shellgen.model import Solid
from shellgen.pack import papers, pictures, readback
from shellgen.pattern import checks
from shellgen.pipeline import shell_of
from shellgen.pipeline.shell import Shell
from shellgen.pipeline.wear import Worn
from shellgen.preset import Preset
from shellgen.preset.digest import digest
from shellgen.record import Record, record
from shellgen.record.files import ReadbackEntry, ReadFileEntry
from shellgen.record.tables import tables
from shellgen.spikes import step
from shellgen.spikes.clay import enlargement
from shellgen.spikes.printing import PrintedPart
from shellgen.spikes.solids import Master

F = TypeVar("F", bound=Callable[..., object])

one_thread: Callable[[F], F] = threadpool_limits.wrap(limits=1)
"""Sums in one order, however many cores there are: the same bytes everywhere."""


@dataclass(frozen=True, slots=True, eq=False)
class Pack:
    """Everything computed for one preset, ready to be written. prints : what to print, in order"""

    shell: Shell
    record: Record
    files: Mapping[str, bytes]
    seconds: Mapping[str, float]
    prints: tuple[PaperEntry, ...]

    def write(self, folder: Path) -> None:
        """Writes the pack in place of an older one, in one step. FitError if that is not possible."""
        pack.write(folder, self.record, self.files)


@one_thread
def build(
    preset: Preset,
    *,
    flow: Flow | None = None,
    progress: Callable[[str], None] = lambda _: None,
    exact_solids: bool = False,
    accept_faults: bool = False,
) -> Pack:
    """The pack of a preset. A Flow that is used for several builds remembers what has not changed.

    exact_solids  : also write the spikes as STEP, which needs the solid modeller; the record says so if it is missing
    accept_faults : make the pack even if it could hurt somebody, for example for a display dummy; otherwise FaultError
    """
    flow = replace(flow or Flow(), show=progress)
    shell = shell_of(preset, flow)
    if not accept_faults:
        checks.refuse(shell.findings)
    figures, lists, top = record(shell), tables(shell), shell.top
    shade = papers.start_shaded(shell, preset, flow)
    seen = _pictures(shell, flow)
    others = (
        flow.named("prints").start(_prints, top.casting.prints),
        flow.named("spike files").start(_solids, top.masters),
        flow.named("lists").start(_lists, lists),
    )
    drawn = flow.named("templates").run(
        templates, shell.name, shell.ground, shell.foam, top.seats, top.spikes, shell.worn.wear.anchors,
        rule=rule.of(preset.print.paper),
    )  # fmt: skip
    printed = papers.printed(shell, preset, drawn, flow, shade)
    solids = flow.named("solids of the page").run(
        page.solids_of, shell.ground, shell.foam, shell.proof, top.spikes, shell.trim.rings.rings, shell.trim.bevel,
        shell.paint, _shown(shell.worn),
    )  # fmt: skip
    files: dict[str, bytes] = {}
    for family in reversed(others):  # what was started last can still be taken over from the worker
        files |= family.result()
    pictures_ = [made.result() for made in seen]
    prints = papers.order(shell, preset, printed)
    kit = guide.kit_of(shell, preset, figures, printed.pages, printed.drawings, prints)
    guide_content, own = flow.named("build guide").run(guide.build, kit, picture=pictures_[0][0]["preview.png"])
    files |= {path: data for of in (printed.files, *(of for of, _ in pictures_)) for path, data in of.items()}
    left_out: list[str] = []
    if exact_solids:
        made = flow.named("exact solids").run(_exact, top.casts, preset.making.shrinks)
        files |= {name: data for name, data in made.items() if data}
        left_out += [name for name, data in made.items() if not data]
    files |= {"guide.html": flow.run(guide.html.write, guide_content, (*files, pack.RECORD)), **own}
    shown = {path: address for _, own in pictures_ for path, address in own.items()}
    title, listed = preset.title or preset.name or "", (*files, pack.RECORD)
    whole = overview(shell.ground, shell.foam, top.seats, title=title)
    prints = papers.order(shell, preset, printed, guide=max(map(readback.pages, own.values())))
    content = flow.named("page").run(
        page.of, figures, lists, drawn, whole, solids,
        title=title, rule=rule.of(preset.print.paper), pictures=shown, files=listed, prints=prints,
    )  # fmt: skip
    files["index.html"] = page.page(content)
    figures = replace(
        figures,
        preset_digest=digest(preset),
        readback=_measured(printed.off),
        left_out=tuple(f"{name}: see shellgen doctor" for name in left_out),
    )
    flow.finish()
    return Pack(shell, figures, files, dict(flow.seconds), prints)


def _pictures(shell: Shell, flow: Flow) -> list[Pending[pictures.Pictures]]:
    """All pictures, started; that of the finished shell is among the first."""
    name, on, foam, paint = shell.name, shell.ground, shell.foam, shell.paint
    spikes, rings, edging = shell.top.spikes, shell.trim.rings.rings, shell.trim.bevel
    return [
        flow.named("pictures").start(
            pictures.whole, name, on, foam.thickness, spikes, rings, edging, paint, _shown(shell.worn)
        ),
        flow.named("picture of the parts").start(pictures.apart, name, on, foam, spikes, rings, edging, paint.zones),
        flow.named("picture of the stretch").start(pictures.stretch, name, on.mesh, foam.cut, shell.proof.heat),
        flow.named("picture of the spikes").start(pictures.sizes, name, spikes, paint.zones),
    ]


def _shown(worn: Worn) -> Worn | None:
    """How the shell is worn, if the wearer may be shown."""
    return worn if worn.share else None


def _measured(off: Mapping[str, float]) -> ReadbackEntry:
    """How far the written files are from what was drawn."""
    return ReadbackEntry(
        limit_mm=readback.LIMIT,
        difference_max_mm=round(max(off.values()), 6),
        files=tuple(ReadFileEntry(path, round(of, 6)) for path, of in sorted(off.items())),
    )


def _solids(masters: Sequence[Solid]) -> dict[str, bytes]:
    return {f"spikes/{solid.name}.stl": stl.write(solid) for solid in masters}


def _exact(casts: Sequence[Master], shrinkage: float | None) -> dict[str, bytes]:
    """STEP of every master; empty bytes where the solid modeller or a system library of its own is missing."""
    scale, made = enlargement(shrinkage), {}
    for master in casts:
        try:
            made[f"spikes/{master.name}.step"] = step.write(master, scale=scale)
        except (ImportError, OSError):
            return {"spikes as STEP": b""}
    return made


def _prints(parts: Sequence[PrintedPart]) -> dict[str, bytes]:
    return {f"prints/{part.name}.3mf": _print(part.solid) for part in parts}


@remembered
def _print(solid: Solid) -> bytes:
    return threemf.write(Scene(solid.name, (ScenePart(solid.name, solid.vertices, solid.faces),)))


def _lists(lists: Sequence[Table]) -> dict[str, bytes]:
    return {f"tables/{table.name}.csv": csv.write(table) for table in lists}
