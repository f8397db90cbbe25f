"""The flow from a preset to a finished shell. Nothing is computed here; stages are put in order and remembered."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

from shellgen import bevels, checks, flatmap, flatten, marks, materials, mesh, proof, registry, seams, shape, trims
from shellgen.layouts._overlay import overlay
from shellgen.model import Cut, Finding, Layout, Pattern, Proof, Shell, ShellMesh
from shellgen.params import Chosen
from shellgen.plans._task import Ground, Task
from shellgen.preset import Preset
from shellgen.spikes import place, solids

COARSE = 2.5
"""Edges of the mesh that seam plans search on, over those of the mesh itself (chosen)."""

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """A stage's result and the fingerprint of all it was made from."""

    value: Any
    key: str


@dataclass(slots=True)
class Flow:
    """Runs stages, and takes a result from memory when nothing it was made from has changed.

    Only results of the latest run are kept, so memory stays that of one shell.
    """

    progress: Progress = lambda _: None
    seconds: dict[str, float] = field(default_factory=dict)
    _kept: dict[str, Made] = field(default_factory=dict)

    def run(self, stage: str, make: Callable[..., Any], *sources: Any) -> Made:
        """`make` called with the sources, those that are Made unwrapped. Other sources count by their repr."""
        parts = [source.key if isinstance(source, Made) else repr(source) for source in sources]
        key = hashlib.sha256("\0".join([stage, *parts]).encode()).hexdigest()
        kept = self._kept.get(stage)
        if kept is None or kept.key != key:
            self.progress(stage)
            start = time.perf_counter()
            value = make(*(source.value if isinstance(source, Made) else source for source in sources))
            kept = Made(value, key)
            self.seconds[stage] = time.perf_counter() - start
        self._kept[stage] = kept
        return kept


def shell_of(preset: Preset, flow: Flow) -> Made:
    """The finished shell, as a Made whose value is a `Shell`."""
    run = flow.run
    thickness, offset = preset.foam.thickness, flatten.mid_offset(preset.flatten, preset.foam.thickness)
    limit = preset.seams.common.stretch_limit
    surface = run("surface", _member("shellgen.surfaces"), preset.dome)
    plates = run("plates", lambda s, chosen: _member("shellgen.layouts")(chosen, s), surface, preset.plates)
    layout, grid, cut = _cut(preset, flow, surface, plates, offset)
    shares = run("marks", lambda c, m, at, p: marks.along(c, m, at, p), cut, grid, offset, preset.marks)
    pattern = run(
        "flat pieces",
        lambda m, c, s, p, t: flatten.build(m, c, p, thickness=t, intervals=s),
        grid, cut, shares, preset.flatten, thickness,
    )  # fmt: skip
    corrected = run(
        "correction", _corrected,
        grid, cut, pattern, shares, preset.shape, preset.flatten, preset.proof, thickness, limit,
    )  # fmt: skip
    pattern = run("pattern", lambda m, c, made: flatten.measured(m, c, made.pattern), grid, cut, corrected)
    standing = run(
        "spikes",
        lambda s, m, net, groups, ring, how: place.build(
            s, m, net, groups, ring_thickness=ring, tip_floor=how.tip_floor, base_agreement=how.base_agreement
        ),
        surface, grid, layout, preset.spikes, preset.rings.thickness, preset.making,
    )  # fmt: skip
    masters = run(
        "solids",
        lambda s, placed, g: solids.build(s, placed[0], glue_line=g),
        surface, standing, preset.making.glue_line,
    )  # fmt: skip
    rings = run("rings", lambda s, placed, p: trims.build(s, placed[0], p), surface, standing, preset.rings)
    built = run(
        "virtual build", lambda m, c, f, p, t, most: proof.build(m, c, f, p, thickness=t, stretch_limit=most),
        grid, cut, pattern, preset.proof, thickness, limit,
    )  # fmt: skip
    leaning = run(
        "bevels", lambda m, c, f, formed: bevels.build(m, c, f, formed=formed), grid, cut, pattern, preset.foam.formed
    )
    stuff = run(
        "materials",
        lambda net, m, c, f, placed, made, strips, p, t: materials.build(
            net, m, c, f, placed[0], made, strips.rings, p, thickness=t
        ),
        layout, grid, cut, pattern, standing, masters, rings, preset.materials, thickness,
    )  # fmt: skip
    intervals = run("intervals", marks.interval_lengths, grid, cut, pattern, shares)
    found = run("checks", _checked, cut, pattern, intervals, preset.seams, corrected, standing, rings, built)
    return run(
        "shell", _assembled,
        preset.name, thickness, surface, layout, grid, cut, shares, pattern, intervals, standing, masters, rings, built,
        leaning, stuff, found,
    )  # fmt: skip


def _cut(preset: Preset, flow: Flow, surface: Made, plates: Made, offset: float) -> tuple[Made, Made, Made]:
    """Layout, mesh and cut by the seam plan: one that draws its own lines adds them to the plates' before meshing."""
    run, chosen = flow.run, preset.seams
    plan = registry.load("shellgen.plans", chosen.name)
    lay_flat = partial(flatten.alone, params=preset.flatten)
    if hasattr(plan, "curves"):
        drawn = run(
            "seam plan",
            lambda s, net, at, how, _: overlay(s, net, plan.curves(Ground(s, at, how.common, lay_flat), how.own)),
            surface, plates, offset, chosen, preset.flatten,
        )  # fmt: skip
        layout = run("plates and seams", lambda made: made[0], drawn)
        grid = run("mesh", mesh.build, surface, layout, preset.mesh)
        lines = run("cut lines", _with_mirror_images, drawn)
    else:
        layout = plates
        grid = run("mesh", mesh.build, surface, layout, preset.mesh)
        coarse = run("coarse mesh", mesh.build, surface, layout, replace(preset.mesh, edge=COARSE * preset.mesh.edge))
        lines = run(
            "seam plan",
            lambda net, m, rough, at, how, _: plan.choose(Task(net, m, rough, at, how.common, lay_flat), how.own),
            layout, grid, coarse, offset, chosen, preset.flatten,
        )  # fmt: skip
    cut = run("seams", lambda m, net, on, at: seams.cut(m, net, on, mid_offset=at), grid, layout, lines, offset)
    return layout, grid, cut


def _with_mirror_images(drawn: tuple[Layout, tuple[tuple[int, ...], ...]]) -> tuple[int, ...]:
    layout, chains = drawn
    left = {line for chain in chains for line in chain}
    return tuple(sorted(left | {layout.lines[line].mirror for line in left}))


def _member(package: str) -> Callable[..., Any]:
    """Builds what a family's chosen member builds."""

    def build(chosen: Chosen, *before: Any) -> Any:
        return registry.load(package, chosen.name).build(*before, chosen.own)

    return build


def _corrected(
    grid: ShellMesh, cut: Cut, pattern: Pattern, shares: tuple[tuple[float, ...], ...], how: shape.Params,
    flat: flatten.Params, built: proof.Params, thickness: float, limit: float,
) -> shape.Corrected:  # fmt: skip
    return shape.correct(
        grid,
        cut,
        pattern,
        how,
        thickness=thickness,
        flatten=lambda moved: flatten.build(moved, cut, flat, thickness=thickness, intervals=shares),
        glue=lambda made, start: proof.glue(grid, cut, made, built, thickness=thickness, start=start),
        stretch_limit=limit,
    )


def _checked(
    cut: Cut, pattern: Pattern, intervals: Any, chosen: Chosen, corrected: shape.Corrected, standing: Any, rings: Any,
    built: Proof,
) -> tuple[Finding, ...]:  # fmt: skip
    limits = chosen.common
    return (
        *checks.build(
            cut,
            pattern,
            intervals,
            stretch_limit=limits.stretch_limit,
            sheet=(limits.sheet_length, limits.sheet_width),
            least_neck=limits.least_neck,
        ),
        *checks.corrected([made.rms for made in corrected.rounds], corrected.kept),
        *built.findings,
        *standing[1],
        *rings.findings,
    )


def _assembled(
    name: str, thickness: float, surface: Any, layout: Any, grid: Any, cut: Any, shares: Any, pattern: Any,
    intervals: Any, standing: Any, masters: Any, rings: Any, built: Any, leaning: Any, stuff: Any, found: Any,
) -> Shell:  # fmt: skip
    spikes = standing[0]
    return Shell(
        name=name,
        surface=surface,
        layout=layout,
        mesh=grid,
        cut=cut,
        pattern=pattern,
        thickness=thickness,
        marks=marks.build(grid, cut, pattern, shares),
        intervals=intervals,
        bevels=tuple(bevel.mean for bevel in leaning),
        spikes=spikes,
        masters=masters,
        rings=rings.rings,
        proof=built,
        materials=stuff,
        seats=flatmap.seats(grid, cut, pattern, spikes),
        findings=found,
    )
