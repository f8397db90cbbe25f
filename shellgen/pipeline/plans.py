"""What other seam plans come to, as far as their flat pieces: for findings and refusals that name one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial

from shellgen.core import registry
from shellgen.core.flow import Flow, Pending
from shellgen.errors import FitError, GeometryError, ShellgenError
from shellgen.fields import params
from shellgen.model import Finding, Surface
from shellgen.pattern import checks, flatten, marks
from shellgen.pattern.plans import _comparison as comparison
from shellgen.pattern.plans import _problem
from shellgen.pattern.plans._comparison import Other
from shellgen.pipeline import dome, foam
from shellgen.preset import Preset

OTHERS = ("least", "gores", "petals")
"""The plans that find seams by themselves, the quickest first."""

SHAPE = ("dome", "plates", "seams", "foam", "mesh", "flatten", "nest", "marks")
"""The sections that flat pieces follow from."""


def compared(preset: Preset, flow: Flow, on: dome.Ground, of: foam.Tried) -> Pending[tuple[Finding, ...]]:
    """What there is to say of other seam plans."""
    limits = dome.limits_of(preset, on.surface)
    own = flow.run(comparison.own_plan, on.layout, on.mesh, of.foam.cut, of.foam.pattern, limits)
    return flow.named("other plans").start(_compared, on.surface, own, only(preset, SHAPE))


@contextmanager
def naming_another(preset: Preset, flow: Flow) -> Iterator[None]:
    """Adds to a refusal of the shape the seam plan that works, if one does."""
    try:
        yield
    except (FitError, GeometryError) as error:
        other = flow.named("other plans").run(_first, only(preset, SHAPE))
        if other is None:
            raise
        kind = FitError if isinstance(error, FitError) else GeometryError
        raise kind(f"{error}. The plan {other.plan} works on this dome: {other}.") from error


def holds(preset: Preset) -> Other | None:
    """What the seams of a preset come to if its flat pieces keep their limits; None if they don't."""
    flow = Flow()
    try:
        on = dome.ground(preset, flow)
        parts, limits = foam.cut(preset, flow, on), dome.limits_of(preset, on.surface)
        sheet = dome.foam_of(preset)
        shares = marks.along(parts, on.mesh, sheet.mid_offset, preset.marks)
        pattern = flatten.build(on.mesh, parts, preset.flatten, sheet, intervals=shares)
    except ShellgenError:
        return None
    largest = limits.sheet_length, limits.sheet_width
    if any(checks.stretched(parts, pattern, limits.stretch_limit)) or any(checks.too_large(parts, pattern, largest)):
        return None
    return Other(preset.seams.name, len(parts.seams), sum(seam.design_length for seam in parts.seams))


def _others(preset: Preset) -> Iterator[Other]:
    """The other plans that hold."""
    for name in OTHERS:
        if name != preset.seams.name:
            own = registry.load(dome.PLANS, name).Params()
            limits = replace(preset.seams.common, plan=name)
            other = holds(replace(preset, seams=params.Chosen(name, own, limits)))
            if other:
                yield other


def _first(preset: Preset) -> Other | None:
    return next(_others(preset), None)


def _compared(surface: Surface, own: comparison.OwnPlan, preset: Preset) -> tuple[Finding, ...]:
    limits = dome.limits_of(preset, surface)
    lay_flat = partial(flatten.alone, params=preset.flatten)
    problem = _problem.CurveProblem(surface, dome.foam_of(preset).mid_offset, limits, lay_flat)
    return comparison.findings(problem, own, _others(preset))


def only(preset: Preset, sections: tuple[str, ...]) -> Preset:
    """The preset with its other sections at their defaults, so that they don't matter to what is remembered."""
    return Preset(**{name: getattr(preset, name) for name in sections})
