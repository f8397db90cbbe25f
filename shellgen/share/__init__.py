"""A pack to share: one zip with a cover, the licence, both papers and the preset, and nobody's measures.

Nothing private has to be searched for and removed: the shell is computed from a preset without it. Two presets
that differ only in the wearer, the days or the prices give equal bytes.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import PurePosixPath

import numpy as np

from shellgen import guide, pack
from shellgen.canvas import rule
from shellgen.core import registry
from shellgen.core.flow import Flow
from shellgen.draw.template import templates
from shellgen.errors import FitError
from shellgen.fields.params import Chosen
from shellgen.pack import contents, papers
from shellgen.pattern import checks
from shellgen.pipeline import shell_of
from shellgen.preset import Preset
from shellgen.record import record
from shellgen.share import cover, form, plain
from shellgen.wear import wearer
from shellgen.wear.wearer import steps
from shellgen.workshop import prices, schedule
from shellgen.workshop.nest import Stock

PAPERS = ("A4", "Letter")
EPOCH = (1980, 1, 1, 0, 0, 0)
"""The time of every file: the earliest in the format (APPNOTE.TXT 4.4.6), so that equal content gives equal bytes."""

STEP_OF = 500.0
"""mm in the middle of a step (chosen: about the length and width of a grown wearer's shell)."""
RIM_AND_CROWN = np.vstack([np.zeros(2), *([np.cos(t), np.sin(t)] for t in np.linspace(0, 2 * np.pi, 361))])
"""The outermost points of a dome."""


def build(
    preset: Preset,
    *,
    with_measures: bool = False,
    accept_faults: bool = False,
    progress: Callable[[str], None] = lambda _: None,
) -> dict[str, bytes]:
    """The files to share, by path. `with_measures` includes the wearer's measures.

    FaultError if the checks find any fault, unless `accept_faults`.
    """
    of = public(preset, with_measures=with_measures)
    first, flow = replace(of, print=replace(of.print, paper=PAPERS[0])), Flow(progress)
    if not accept_faults:
        checks.refuse(shell_of(first, flow).findings, any_fault=True)
    made = contents.build(first, flow=flow, progress=progress, accept_faults=accept_faults)
    files, shell = dict(made.files), made.shell
    of_piece = shell.name, shell.ground, shell.foam, shell.top.seats, shell.top.spikes, shell.worn.wear.anchors
    for paper in PAPERS[1:]:
        progress(f"papers on {paper}")
        how = replace(of, print=replace(of.print, paper=paper))
        again = papers.build(shell, how, templates(*of_piece, rule=rule.of(paper)))
        kit = guide.kit_of(shell, how, record(shell), again.pages, again.drawings, papers.order(shell, how, again))
        _, booklet = guide.build(kit, picture=files["preview.png"])
        files |= {path: data for path, data in {**again.files, **booklet}.items() if path not in files}
    again_from, needed = form.passed_on(of, shell.ground.surface, shell.ground.layout)
    files |= {f"{of.name}.yaml": plain.text(again_from).encode(), **needed}
    files["LICENSE.txt"] = (cover.licence(of.share) + "\n").encode()
    contained = sorted({*files, pack.RECORD, "README.txt", *(f"cover-{paper}.pdf" for paper in PAPERS)})
    files["README.txt"] = cover.readme(of, made.record, contained).encode()
    for paper in PAPERS:
        files[f"cover-{paper}.pdf"] = cover.page(of, made.record, contained, files["preview.png"], paper)
    files[pack.RECORD] = pack.encode_record(made.record, files)
    return files


def public(preset: Preset, *, with_measures: bool = False) -> Preset:
    """The preset without private data: wearer, days and hours, prices.

    The wearer's group stays, so that a pack for a child, or for a body that a child could have, keeps all cautions for
    children. A dome that was measured on a form keeps its shape, and its size is rounded to a step.
    """
    return replace(
        preset,
        wearer=replace(preset.wearer, share=True) if with_measures else wearer.Params(group=_group(preset)),
        dome=preset.dome if with_measures else _in_steps(preset.dome),
        schedule=schedule.Params(),
        prices=prices.Params(),
        nest=replace(preset.nest, sheets=tuple(_priceless(sheet) for sheet in preset.nest.sheets)),
    )


def _group(preset: Preset) -> str | None:
    return wearer.body(preset.wearer).group if preset.wearer.given else preset.wearer.group


def _in_steps(dome: Chosen) -> Chosen:
    """A dome whose figures may be a body's, with each of its three sizes in the middle of a step."""
    family = registry.load("shellgen.dome.surfaces", dome.name)
    if not getattr(family, "MEASURED", False):
        return dome
    sizes = np.ptp(family.build(dome.own).points(RIM_AND_CROWN), axis=0)
    along, across, up = (steps.middle(size, STEP_OF, steps.BONES) / size for size in sizes.tolist())
    return replace(dome, own=family.graded(dome.own, along, across, up))


def _priceless(sheet: Stock) -> Stock:
    return replace(sheet, price=None)


def zipped(files: Mapping[str, bytes], folder: str) -> bytes:
    """A zip of the files in one folder; equal files give equal bytes. FitError for a path outside it.

    References: APPNOTE.TXT, .ZIP File Format Specification, PKWARE, 6.3.
    """
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for path in sorted(files):
            parts = PurePosixPath(path).parts
            if not parts or path.startswith("/") or ".." in parts or "\\" in path or ":" in path:
                raise FitError(f"The path {path!r} leads out of the folder. Use paths inside it.")
            entry = zipfile.ZipInfo(f"{folder}/{path}", EPOCH)
            entry.compress_type, entry.create_system, entry.external_attr = zipfile.ZIP_DEFLATED, 3, 0o644 << 16
            archive.writestr(entry, files[path])
    return out.getvalue()
