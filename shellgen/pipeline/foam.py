"""The dome cut into flat pieces of foam, corrected and tried by the virtual build."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from shellgen.core import registry
from shellgen.core.arrays import Floats
from shellgen.core.flow import Flow, Pending
from shellgen.fields.params import Chosen
from shellgen.model import Built, Cut, Finding, FoamSheet, Layout, Mark, Pattern, Proof, ShellMesh
from shellgen.pattern import bevels, checks, flatten, marks, proof, seams, shape
from shellgen.pattern.limits import Limits
from shellgen.pattern.plans._problem import ChoiceProblem
from shellgen.pattern.proof import rest
from shellgen.pipeline.dome import PLANS, Ground, Overlaid, coarse_mesh, foam_of, limits_of, plan_of
from shellgen.preset import Preset

SEARCHED = ("least", "kept")
"""Plans that can look for other seams."""

TRIES = 3
"""Searches for seams of which no piece overlaps itself (chosen)."""

Avoid = tuple[tuple[int, tuple[int, ...]], ...]
"""Pieces that will not do, see `ChoiceProblem`."""

Shares = tuple[tuple[float, ...], ...]
"""Per seam, where its marks lie: shares of its length."""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Foam:
    """The flat pieces.

    intervals : per seam, (2, gaps) mm, as `marks.interval_lengths`
    bevels    : per seam, radians, half the angle between the neighbours as glued
    """

    cut: Cut
    pattern: Pattern
    marks: tuple[Mark, ...]
    intervals: tuple[Floats, ...]
    bevels: tuple[float, ...]
    thickness: float


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """The flat pieces, and where they come to rest.

    formed, flawless : as `rest.form` and `rest.flawless`
    """

    foam: Foam
    corrected: shape.Corrected
    formed: Pending[tuple[Built, Built]]
    flawless: Pending[Built]


def foam(preset: Preset, flow: Flow, on: Ground) -> Tried:
    """The flat pieces, and where they come to rest; where one overlaps itself, other seams are searched for."""
    avoid: Avoid = ()
    while True:
        parts = _cut(preset, flow, on, avoid)
        try:
            return _flat(preset, flow, on, parts)
        except flatten.OverlapError as error:
            if preset.seams.name not in SEARCHED or len(avoid) + 1 == TRIES:
                raise
            avoid += ((error.cell, parts.cut_lines),)


def cut(preset: Preset, flow: Flow, on: Ground) -> Cut:
    """The mesh cut by the seam plan, whether or not its pieces can be laid flat."""
    return _cut(preset, flow, on, ())


def _cut(preset: Preset, flow: Flow, on: Ground, avoid: Avoid) -> Cut:
    foam = foam_of(preset)
    if on.added is None:
        coarse = coarse_mesh(preset, flow, on.surface, on.layout)
        chosen = plan_of(preset, on.surface)
        lines = flow.named("seam plan").run(_lines, on.layout, on.mesh, coarse, chosen, foam, preset.flatten, avoid)
    else:
        lines = _with_mirror_images(on.added)
    return flow.named("seams").run(seams.cut, on.mesh, on.layout, lines, mid_offset=foam.mid_offset)


def _flat(preset: Preset, flow: Flow, on: Ground, parts: Cut) -> Tried:
    limits, foam, mesh = limits_of(preset, on.surface), foam_of(preset), on.mesh
    shares = flow.named("marks").run(marks.along, parts, mesh, foam.mid_offset, preset.marks)
    first = flow.named("flat pieces").run(flatten.build, mesh, parts, preset.flatten, foam, intervals=shares)
    corrected = flow.named("correction").run(
        _corrected, mesh, parts, first, shares, preset.shape, preset.flatten, preset.proof, foam,
        stretch_limit=limits.stretch_limit,
    )  # fmt: skip
    pattern = flow.run(flatten.measured, mesh, parts, corrected.pattern)
    rests = mesh, parts, pattern, preset.proof, corrected.glued
    made = Foam(
        cut=parts,
        pattern=pattern,
        marks=flow.named("numbered marks").run(marks.build, mesh, parts, pattern, shares),
        intervals=flow.run(marks.interval_lengths, mesh, parts, pattern, shares),
        bevels=flow.named("bevels").run(_bevels, mesh, parts, pattern, formed=preset.foam.formed),
        thickness=foam.thickness,
    )
    return Tried(
        foam=made,
        corrected=corrected,
        formed=flow.named("as formed").start(rest.form, *rests, thickness=foam.thickness, limits=_both(limits)),
        flawless=flow.named("without flaw").start(rest.flawless, *rests, thickness=foam.thickness),
    )


def proved(preset: Preset, flow: Flow, on: Ground, of: Tried) -> Proof:
    """The virtual build, measured."""
    limits = limits_of(preset, on.surface)
    return flow.named("virtual build").run(
        proof.judge, on.mesh, of.foam.cut, of.foam.pattern, preset.proof,
        of.corrected.glued, of.flawless.result(), of.formed.result(), limits=_both(limits),
    )  # fmt: skip


def checked(preset: Preset, flow: Flow, on: Ground, of: Tried) -> tuple[Finding, ...]:
    """Findings on the flat pieces."""
    limits = limits_of(preset, on.surface)
    return flow.named("checks").run(
        checks.build, of.foam.cut, of.foam.pattern, of.foam.intervals, stretch_limit=limits.stretch_limit,
        sheet=(limits.sheet_length, limits.sheet_width), least_neck=limits.neck,
    )  # fmt: skip


def correction(of: Tried) -> tuple[Finding, ...]:
    """What correcting the pieces by the virtual build achieved."""
    return tuple(checks.corrected([round.rms for round in of.corrected.rounds], of.corrected.kept))


def _both(limits: Limits) -> tuple[float, float]:
    """Forming may press the foam in as far as it may stretch it."""
    return limits.stretch_limit, limits.stretch_limit


def _lines(
    layout: Layout, mesh: ShellMesh, coarse: ShellMesh, chosen: Chosen, foam: FoamSheet, how: flatten.Params,
    avoid: Avoid,
) -> tuple[int, ...]:  # fmt: skip
    problem = ChoiceProblem(
        layout, mesh, coarse, foam.mid_offset, chosen.common, partial(flatten.alone, params=how), avoid
    )
    lines: tuple[int, ...] = registry.load(PLANS, chosen.name).choose(problem, chosen.own)
    return lines


def _with_mirror_images(added: Overlaid) -> tuple[int, ...]:
    layout, chains = added
    left = {line for chain in chains for line in chain}
    return tuple(sorted(left | {layout.lines[line].mirror for line in left}))


def _corrected(
    mesh: ShellMesh, parts: Cut, first: Pattern, shares: Shares, how: shape.Params, flattening: flatten.Params,
    building: proof.Params, foam: FoamSheet, *, stretch_limit: float,
) -> shape.Corrected:  # fmt: skip
    return shape.correct(
        mesh,
        parts,
        first,
        how,
        thickness=foam.thickness,
        flatten=lambda moved: flatten.build(moved, parts, flattening, foam, intervals=shares),
        glue=lambda made, start: proof.glue(mesh, parts, made, building, thickness=foam.thickness, start=start),
        stretch_limit=stretch_limit,
    )


def _bevels(mesh: ShellMesh, parts: Cut, pattern: Pattern, *, formed: bool) -> tuple[float, ...]:
    return tuple(bevel.mean for bevel in bevels.build(mesh, parts, pattern, formed=formed))
