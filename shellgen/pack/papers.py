"""Everything of a pack that is printed, cut or plotted, each file read back and measured before it leaves the house."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from shellgen import wear
from shellgen.canvas import Drawing, tiling
from shellgen.canvas import rule as rule_
from shellgen.canvas.paper import PAPERS, PagePlan, label
from shellgen.canvas.rule import Rule
from shellgen.core.memory import remembered
from shellgen.draw import lengths, masks, shading, sheets, strips, wrap
from shellgen.draw.agenda import agenda
from shellgen.draw.guide import guides
from shellgen.draw.key import key
from shellgen.draw.overview import overview
from shellgen.draw.patches import patch_sheets, patch_words
from shellgen.draw.plan import plan_picture
from shellgen.draw.shelf import shelve
from shellgen.draw.wearing import wearing_plan
from shellgen.export import csv, dxf, ics, pdf, svg
from shellgen.finish import scores, stencils
from shellgen.pack import readback
from shellgen.pipeline.shell import Shell
from shellgen.preset import Preset
from shellgen.spikes.clay import TEST_CUBE

USES: Mapping[str, tuple[str, str | None]] = {
    "shading": (", shading guide", None),
    "templates": ("", pdf.USE),
    "wrap": (
        ", wrap guide",
        "Cut the strips out and tape each to the built dome along its plate line, first from the crown, then outwards; "
        "mark the dashed line through the paper.",
    ),
    "rings": (
        ", rings and cores",
        "Cut the strips out, lay them on the strip foam, and cut round them, as often as each strip says.",
    ),
    "patches": (
        ", patches for the straps",
        "Cut the pieces out of the paper, lay them on strong cloth and cut round them.",
    ),
    "masks": (
        ", masks for painting",
        "Cut the masks out of the paper, or copy them to masking film; cut every slit, and try each in its place "
        "before you paint.",
    ),
}
"""By the name of a PDF: what is added to its title, and what is done with its pages; None: not at true size."""


@dataclass(frozen=True, slots=True, eq=False)
class Papers:
    """files : bytes by path; off : by the same path, mm by which the file differs from what was drawn

    pages    : by the name of a PDF, and there by that of a drawing, the labels of the pages on which it stands
    drawings : by path, what was drawn into the SVG files; the shading as it stands on the pages
    """

    files: Mapping[str, bytes]
    off: Mapping[str, float]
    pages: Mapping[str, Mapping[str, tuple[str, ...]]]
    drawings: Mapping[str, Drawing]


@dataclass(slots=True)
class _Stack:
    """Files while they are gathered."""

    title: str
    layout: dict[str, object]
    faults: tuple[str, ...] = ()
    files: dict[str, bytes] = field(default_factory=dict)
    off: dict[str, float] = field(default_factory=dict)
    pages: dict[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)
    drawings: dict[str, Drawing] = field(default_factory=dict)

    def svg(self, path: str, drawing: Drawing) -> None:
        self.drawings[path] = drawing
        self.add(path, _svg(drawing))

    def dxf(self, path: str, drawing: Drawing) -> None:
        self.add(path, _dxf(drawing))

    def plot(self, path: str, drawing: Drawing) -> None:
        self.add(path, _plot(drawing))

    def pdf(self, name: str, drawings: Sequence[Drawing]) -> None:
        self.pages[name], written = _book(name, tuple(drawings), self.title, self.layout, self.faults)
        self.add(f"{name}-{self.layout['paper']}.pdf", written)

    def add(self, path: str, written: tuple[bytes, float]) -> None:
        self.files[path], self.off[path] = written[0], readback.checked(path, written[1])


@remembered
def _svg(drawing: Drawing) -> tuple[bytes, float]:
    """The file, and by how many mm it differs from what was drawn; so the others."""
    data = svg.write(drawing)
    return data, readback.svg(data, drawing)


@remembered
def _dxf(drawing: Drawing) -> tuple[bytes, float]:
    data = dxf.write(drawing)
    return data, readback.dxf(data, drawing)


@remembered
def _plot(drawing: Drawing) -> tuple[bytes, float]:
    data = pdf.write(drawing)
    return data, readback.page(data, drawing)


@remembered
def _book(
    name: str, drawings: tuple[Drawing, ...], title: str, layout: Mapping[str, object], faults: tuple[str, ...]
) -> tuple[Mapping[str, tuple[str, ...]], tuple[bytes, float]]:
    """A PDF by its name in USES: the labels of the pages on which each drawing stands, and the file. Templates may go
    over the edge of a sheet, all else stands on one."""
    what, use = USES[name]
    arrange: Callable[..., PagePlan] = tiling.arrange if name == "templates" else shelve
    plan = arrange(drawings, **layout)
    pages = {p.drawing.name: tuple(map(label, sorted(p.tiles))) for p in plan.placed}
    data = pdf.write_pages(plan, title=f"{title}{what}", use=use, faults=faults)
    return pages, (data, readback.pdf(data, plan, true_size=use is not None).most)


def build(shell: Shell, preset: Preset, pieces: Sequence[Drawing]) -> Papers:
    """All papers of a shell, whose pieces are drawn already. GeometryError if a file does not hold what was drawn."""
    return together(true_size(shell, preset, pieces), shaded(shell, preset))


def true_size(shell: Shell, preset: Preset, pieces: Sequence[Drawing]) -> Papers:
    """All but the guides to shading."""
    stack = _stack(shell, preset)
    _templates(shell, stack, pieces)
    _sheets(shell, preset, stack, {sheet.name: sheet for sheet in pieces})
    _scores(shell, preset, stack)
    _trims(shell, preset, stack)
    _plan(shell, stack, preset.print.paper)
    found = stencils.build(shell.surface, shell.layout, shell.spikes, shell.masters, shell.rings)
    stack.pdf("masks", [masks.mask_words(found), *masks.mask_sheets(found)])
    _wear(shell, stack, rule_.of(preset.print.paper))
    return _papers(stack)


def shaded(shell: Shell, preset: Preset) -> Papers:
    """Where the shade lies on each piece, at true size, and as large as a page takes."""
    stack, how = _stack(shell, preset), preset.print
    true, small = shading.guides(shell, paper=how.paper, margin=how.margin)
    for sheet in true:
        stack.svg(f"guides/{sheet.name}.svg", sheet)
    stack.drawings |= {f"shading/{sheet.name}": sheet for sheet in small}
    stack.pdf("shading", small)
    return _papers(stack)


def together(one: Papers, other: Papers) -> Papers:
    return Papers(
        {**one.files, **other.files},
        {**one.off, **other.off},
        {**one.pages, **other.pages},
        {**one.drawings, **other.drawings},
    )


def _stack(shell: Shell, preset: Preset) -> _Stack:
    how = preset.print
    lying = {"either": None, "upright": False, "lying": True}[how.page]
    layout: dict[str, object] = {
        "paper": how.paper, "landscape": lying, "margin": how.margin, "overlap": how.overlap
    }  # fmt: skip
    faults = tuple(finding.text for finding in shell.findings if finding.level == "fault")
    return _Stack(preset.title or shell.name, layout, faults)


def _papers(stack: _Stack) -> Papers:
    return Papers(stack.files, stack.off, stack.pages, stack.drawings)


def _templates(shell: Shell, stack: _Stack, pieces: Sequence[Drawing]) -> None:
    for sheet in pieces:
        stack.svg(f"templates/{sheet.name}.svg", sheet)
        stack.dxf(f"dxf/{sheet.name}.dxf", sheet)
    stack.pdf("templates", pieces)
    stack.svg("overview.svg", overview(shell, title=stack.title))
    stack.svg("key.svg", key(stack.title))


def _sheets(shell: Shell, preset: Preset, stack: _Stack, drawn: Mapping[str, Drawing]) -> None:
    """Every sheet of foam at true size for a cutter or plotter, and a picture with the order of the cuts."""
    for sheet, picture in zip(shell.nest.sheets, sheets.pictures(shell.nest), strict=True):
        whole = sheets.machine(sheet, drawn, kerf=preset.nest.kerf)
        stack.svg(f"sheets/{sheet.name}.svg", whole)
        stack.dxf(f"sheets/{sheet.name}.dxf", whole)
        stack.plot(f"sheets/{sheet.name}.pdf", whole)
        stack.svg(f"sheets/{sheet.name}-order.svg", picture)


def _scores(shell: Shell, preset: Preset, stack: _Stack) -> None:
    """Guides for the flat pieces, and strips, map, dial and table for the built dome."""
    found = scores.build(
        shell.surface, shell.layout, shell.spikes, preset.scores, ring_thickness=preset.rings.thickness
    )
    for sheet in guides(shell, found):
        stack.svg(f"guides/{sheet.name}.svg", sheet)
    stack.svg("guides/measuring-map.svg", wrap.measuring_map(shell, found, title=stack.title))
    stack.files["tables/measuring.csv"] = csv.write(wrap.measuring_table(found))
    if found.wraps:
        stack.pdf("wrap", [wrap.wrap_words(found), *wrap.wrap_strips(found), wrap.dial(shell)])


def _trims(shell: Shell, preset: Preset, stack: _Stack) -> None:
    """Rings, cores and edging."""
    rule = rule_.of(preset.print.paper)
    parts = list(_small_parts(shell, preset, rule))
    if parts:
        stack.pdf("rings", parts)
    stack.svg("edging-plan.svg", lengths.edging_plan(stack.title, shell.edging, rule=rule))
    stack.files["tables/edging.csv"] = csv.write(lengths.edging_table(shell.edging))
    rings = {ring.spike: ring.neutral_length for ring in shell.rings}
    pieces = {piece.name: piece.length for piece in shell.edging.pieces}
    for name, title, cuts, sizes in (
        ("ring-cuts", "ring strips", shell.ring_stock, rings),
        ("edging-cuts", "edging", shell.edging_stock, pieces),
    ):
        if cuts.lengths:
            stack.files[f"tables/{name}.csv"] = csv.write(lengths.cut_table(name, cuts, sizes))
            for sheet in lengths.cut_sheets(name, f"{stack.title}: {title}", cuts, sizes, rule=rule):
                stack.svg(f"{sheet.name}.svg", sheet)


def _plan(shell: Shell, stack: _Stack, paper: str) -> None:
    """The plan as a picture, and for the calendar where it has a day to end on."""
    if shell.plan is None:
        return
    picture = plan_picture(stack.title, shell.plan, PAPERS[paper])
    stack.svg("plan.svg", picture)
    stack.plot(f"plan-{paper}.pdf", picture)
    dates = agenda(shell.name, stack.title, shell.plan)
    if dates is not None:
        stack.files["plan.ics"] = ics.write(dates)


def _wear(shell: Shell, stack: _Stack, rule: Rule) -> None:
    """The wearing plan, patches, anchors and straps."""
    if shell.wear.strands:
        stack.svg("wearing-plan.svg", wearing_plan(shell, shell.wear, title=stack.title, rule=rule))
        patches = patch_sheets(shell.wear, rule=rule)
        for sheet in patches:
            stack.svg(f"patches/{sheet.name}.svg", sheet)
        stack.pdf("patches", [patch_words(), *patches])
    for table in wear.tables(wear.figures(shell.wear, private=True)):
        stack.files[f"tables/{table.name}.csv"] = csv.write(table)


def _small_parts(shell: Shell, preset: Preset, rule: Rule) -> Iterator[Drawing]:
    if shell.rings:
        yield strips.ring_words(shell.trims, preset.rings, rule=rule)
        yield from strips.ring_strips(shell.trims, shell.spikes, preset.rings, rule=rule)
    yield from strips.core_sectors(shell.casting.cores, shell.spikes, rule=rule)
    if shell.spikes and not shell.casting.clay.measured:
        yield strips.slip("test cube of clay", TEST_CUBE)
