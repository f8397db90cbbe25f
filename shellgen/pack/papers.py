"""Everything in a pack that is printed, cut or plotted, one function for each subject."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from shellgen import wear
from shellgen.canvas import Drawing
from shellgen.canvas import rule as rule_
from shellgen.canvas.paper import PAPERS
from shellgen.canvas.rule import Rule
from shellgen.core.arrays import Floats
from shellgen.core.flow import Flow, Pending
from shellgen.draw import lengths, masks, shading, sheets, strips, wrap
from shellgen.draw.agenda import agenda
from shellgen.draw.flip import printed_as
from shellgen.draw.guide import guides
from shellgen.draw.key import key
from shellgen.draw.model import paper_model
from shellgen.draw.order import PaperEntry, in_order
from shellgen.draw.overview import overview
from shellgen.draw.patches import patch_sheets, patch_words
from shellgen.draw.plan import plan_picture
from shellgen.draw.printed import on_paper
from shellgen.draw.shelf import on_sheets
from shellgen.draw.wearing import wearing_plan
from shellgen.export import csv, ics
from shellgen.finish import scores, stencils
from shellgen.model import Paint, Ring, Schedule, Solid, Spike
from shellgen.pack.stack import Foreword, Papers, PrintJob, Stack, together
from shellgen.pattern.flatmap import Seats
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.pipeline.shell import Shell
from shellgen.pipeline.spikes import Trim
from shellgen.preset import Preset
from shellgen.record import wear as wear_record
from shellgen.spikes.clay import cube_steps
from shellgen.spikes.core import Core
from shellgen.trim.rings import Params, Trims
from shellgen.workshop.nest import Nest

FLIP = (
    "Then flip the paper, a half on its midline, and draw around it again. Of 3/7 or L/R, the second is for the "
    "flipped side."
)
WIDTHS = (90.0, 60.0), (180.0, 180.0)
"""mm of the words about rings, and of a strip with its words: whichever takes fewer pages."""


def build(shell: Shell, preset: Preset, pieces: Sequence[Drawing], flow: Flow | None = None) -> Papers:
    """All papers of a shell whose pieces are already drawn. GeometryError if a file does not hold what was drawn."""
    flow = flow or Flow()
    return printed(shell, preset, pieces, flow, start_shaded(shell, preset, flow))


def printed(
    shell: Shell, preset: Preset, pieces: Sequence[Drawing], flow: Flow, shade: Pending[Papers]
) -> Papers:  # fmt: skip
    """All papers, subject by subject; the templates last, because their cover lists the others."""
    job, on, foam = job_of(shell, preset), shell.ground, shell.foam
    top, rings, worn = shell.top, shell.trim.rings.rings, shell.worn
    whole = overview(on, foam, top.seats, title=job.title)
    shown = flow.run(
        on_paper, shell.name, on, foam, top.seats, top.spikes, worn.wear.anchors, tuple(pieces),
        halves=preset.print.halves, layout=preset.print.layout, rule=job.rule,
    )  # fmt: skip
    others = together(
        flow.named("card model").run(card_model, job, on, foam, top.spikes),
        flow.named("sheets of foam").run(foam_sheets, job, shell.work.nest, pieces, kerf=preset.nest.kerf),
        flow.named("score lines on paper").run(
            score_lines, job, shell.name, on, foam, top.seats, top.spikes, preset.scores,
            ring_thickness=preset.rings.thickness,
        ),
        flow.named("rings and edging on paper").run(
            trims, job, shell.trim, preset.rings, top.spikes, top.casting.cores, cube=not top.casting.clay.measured
        ),
        flow.named("plan on paper").run(plan, job, shell.name, shell.work.plan),
        flow.named("masks").run(
            masked, job, on, top.spikes, top.masters, rings,
            kinds=tuple(sorted({kind for coat in shell.paint.coats for kind in coat.masks})),
        ),
        flow.named("harness on paper").run(harness, job, on, foam, shell.work.materials.centre, worn.wear),
        shade.result(),
    )  # fmt: skip
    front = Foreword(FLIP if shown.halved else "", others.counts, bool(top.casting.cores))
    return together(flow.named("templates on paper").run(templates, job, pieces, shown.sheets, whole, front), others)


def order(shell: Shell, preset: Preset, made: Papers, *, guide: int = 0) -> tuple[PaperEntry, ...]:
    """What to print, in order. guide : number of pages of the build guide, if it is known"""
    counts = {**made.counts, **({"guide": guide} if guide else {})}
    return in_order(counts, preset.print.paper, halves=made.halved, cores=bool(shell.top.casting.cores))


def start_shaded(shell: Shell, preset: Preset, flow: Flow) -> Pending[Papers]:
    """The guides to shading, which the worker can make."""
    top, rings = shell.top, shell.trim.rings.rings
    return flow.named("papers for shading").start(
        shaded, job_of(shell, preset), shell.name, shell.ground, shell.foam, top.seats, top.spikes, rings, shell.paint
    )


def job_of(shell: Shell, preset: Preset) -> PrintJob:
    both = rule_.of(preset.print.paper).both
    faults = tuple(both(finding.text) for finding in shell.findings if finding.level == "fault")
    return PrintJob(preset.title or shell.name, faults, preset.print)


def shaded(
    job: PrintJob, shell_name: str, ground: Ground, foam: Foam, seats: Seats, spikes: tuple[Spike, ...],
    rings: tuple[Ring, ...], paint: Paint,
) -> Papers:  # fmt: skip
    """Where to shade each piece, at true size, and as large as fits on a page."""
    stack = Stack(job)
    true, small = shading.guides(
        shell_name, ground, foam, seats, spikes, rings, paint, window=job.window, layout=job.how.layout,
        rule=job.rule,
    )  # fmt: skip
    for sheet in true:
        stack.svg(f"guides/{sheet.name}.svg", sheet)
    stack.drawings |= {f"shading/{sheet.name}": sheet for sheet in small}
    stack.pdf("shading", small)
    return stack.papers()


def templates(
    job: PrintJob, pieces: Sequence[Drawing], shown: Sequence[Drawing], whole: Drawing, front: Foreword
) -> Papers:  # fmt: skip
    """The templates, an overview of them, and what their lines mean. shown : as they are on paper"""
    stack = Stack(job)
    for sheet in pieces:
        stack.svg(f"templates/{sheet.name}.svg", sheet)
        stack.dxf(f"dxf/{sheet.name}.dxf", sheet)
    stack.pdf("templates", shown, front=front)
    stack.halved = bool(front.hint)
    pages = stack.pages["templates"]
    stack.pages["templates"] = {p.name: pages.get(p.name) or pages[printed_as(p.name)] for p in pieces}
    stack.svg("overview.svg", whole)
    stack.svg("key.svg", key(job.title))
    return stack.papers()


def card_model(job: PrintJob, ground: Ground, foam: Foam, spikes: tuple[Spike, ...]) -> Papers:
    """A small model of the shell and one seam at full size, to try on card."""
    stack = Stack(job)
    found = paper_model(ground, foam, spikes, job.how)
    if found is not None:
        stack.pdf("model", *found.groups)
    return stack.papers()


def foam_sheets(job: PrintJob, nest: Nest, pieces: Sequence[Drawing], *, kerf: float) -> Papers:
    """Every sheet of foam at true size for a cutter or plotter, and a picture with the order of the cuts."""
    stack, drawn = Stack(job), {sheet.name: sheet for sheet in pieces}
    for sheet, picture in zip(nest.sheets, sheets.pictures(nest, rule=job.rule), strict=True):
        whole = sheets.machine(sheet, drawn, kerf=kerf, rule=job.rule)
        stack.svg(f"sheets/{sheet.name}.svg", whole)
        stack.dxf(f"sheets/{sheet.name}.dxf", whole)
        stack.plot(f"sheets/{sheet.name}.pdf", whole)
        stack.svg(f"sheets/{sheet.name}-order.svg", picture)
    return stack.papers()


def score_lines(
    job: PrintJob, shell_name: str, ground: Ground, foam: Foam, seats: Seats, spikes: tuple[Spike, ...],
    params: scores.Params, *, ring_thickness: float,
) -> Papers:  # fmt: skip
    """Guides for the flat pieces, and strips, map, dial and table for the built dome."""
    stack = Stack(job)
    found = scores.build(
        ground.surface, ground.layout, spikes, params, thickness=foam.thickness, ring_thickness=ring_thickness
    )
    for sheet in guides(shell_name, ground, foam, seats, found, rule=job.rule):
        stack.svg(f"guides/{sheet.name}.svg", sheet)
    stack.svg("guides/measuring-map.svg", wrap.measuring_map(ground, found, title=job.title, rule=job.rule))
    stack.files["tables/measuring.csv"] = csv.write(wrap.measuring_table(found))
    if found.wraps:
        stack.pdf("wrap", [wrap.wrap_words(found, rule=job.rule), *wrap.wrap_strips(found), wrap.dial(shell_name)])
    return stack.papers()


def trims(
    job: PrintJob, trim: Trim, params: Params, spikes: tuple[Spike, ...], cores: Mapping[str, Core], *, cube: bool
) -> Papers:
    """Rings, cores and edging. cube : whether the clay must be tested with a cube"""
    stack, rings, edging = Stack(job), trim.rings, trim.edging
    tried = [list(_small_parts(rings, params, spikes, cores, job.rule, widths, cube=cube)) for widths in WIDTHS]
    if tried[0]:
        stack.pdf("rings", min(tried, key=lambda parts: len(on_sheets(parts, **job.how.layout).pages)))
    stack.svg("edging-plan.svg", lengths.edging_plan(job.title, edging, rule=job.rule))
    stack.files["tables/edging.csv"] = csv.write(lengths.edging_table(edging))
    around = {spike: pattern.length for pattern in rings.patterns for spike in pattern.spikes}
    pieces = {piece.name: piece.length for piece in edging.pieces}
    for name, title, cuts, sizes in (
        ("ring-cuts", "ring strips", trim.ring_stock, around),
        ("edging-cuts", "edging", trim.edging_stock, pieces),
    ):
        if cuts.lengths:
            stack.files[f"tables/{name}.csv"] = csv.write(lengths.cut_table(name, cuts, sizes))
            for sheet in lengths.cut_sheets(name, f"{job.title}: {title}", cuts, sizes, rule=job.rule):
                stack.svg(f"{sheet.name}.svg", sheet)
    return stack.papers()


def _small_parts(
    rings: Trims, params: Params, spikes: tuple[Spike, ...], cores: Mapping[str, Core], rule: Rule,
    widths: tuple[float, float], *, cube: bool,
) -> Iterator[Drawing]:  # fmt: skip
    slip, under = widths
    if rings.rings:
        yield strips.ring_words(rings, params, rule=rule, across=slip)
        yield from strips.ring_strips(rings, params, rule=rule, across=under)
    yield from strips.core_sectors(cores, spikes, rule=rule)
    if spikes and cube:
        yield strips.slip("test cube of clay", cube_steps(rule), across=slip)


def plan(job: PrintJob, shell_name: str, of: Schedule | None) -> Papers:
    """The plan as a picture, and as a calendar if it has an end date."""
    stack, paper = Stack(job), job.how.paper
    if of is None:
        return stack.papers()
    picture = plan_picture(job.title, of, PAPERS[paper])
    stack.svg("plan.svg", picture)
    stack.plot(f"plan-{paper}.pdf", picture)
    stack.counts["plan"] = 1
    dates = agenda(shell_name, job.title, of)
    if dates is not None:
        stack.files["plan.ics"] = ics.write(dates)
    return stack.papers()


def masked(
    job: PrintJob, ground: Ground, spikes: tuple[Spike, ...], masters: tuple[Solid, ...], rings: tuple[Ring, ...], *,
    kinds: tuple[str, ...],
) -> Papers:  # fmt: skip
    """Masks for painting, of the kinds that the order of the coats uses."""
    stack = Stack(job)
    found = stencils.build(ground.surface, ground.layout, spikes, masters, rings)
    used = stencils.shared([mask for mask in found if mask.kind in kinds])
    if used:
        stack.pdf("masks", [masks.mask_words(used), *masks.mask_sheets(used, rule=job.rule)])
    return stack.papers()


def harness(job: PrintJob, ground: Ground, foam: Foam, centre: Floats, of: wear.Wear) -> Papers:
    """The wearing plan, patches, anchors and straps. centre : of the shell's mass"""
    stack = Stack(job)
    if of.strands:
        stack.svg("wearing-plan.svg", wearing_plan(ground, foam, centre, of, title=job.title, rule=job.rule))
        patches = patch_sheets(of, rule=job.rule)
        for sheet in patches:
            stack.svg(f"patches/{sheet.name}.svg", sheet)
        stack.pdf("patches", [patch_words(of), *patches])
    for table in wear_record.tables(wear_record.wear(of, private=True)):
        stack.files[f"tables/{table.name}.csv"] = csv.write(table)
    return stack.papers()
