"""A wearer in steps: what a pack may show about someone who keeps the measures private.

With a pack and this program one could invert every formula and find the measures behind the dome and the straps. So
they are computed from measures in steps. All bodies within a step give the same pack to the last byte,
and the steps are so wide that no answer is within 5 % of all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from math import ceil, log
from typing import TYPE_CHECKING, Any

from shellgen.model import Body
from shellgen.wear.wearer import age, survey

if TYPE_CHECKING:
    from shellgen.wear.wearer import Params

BONES, FLESH = 1.12, 1.25
"""Ratio of one step to the next, of lengths and breadths of the frame, and of depths, girths and the mass. Chosen: an
answer within 5 % of both ends takes a ratio of at least 1.05 / 0.95 = 1.105. A dome half a step too small or too large
still passes every check of the fit, and the spare length of the straps takes up half a step of the rest."""

_USUAL = {name: column[1] for name, column in survey.ADULTS["female"].items()}
"""In the middle of a step (chosen: then the median man is near the middle of the next)."""


def params(of: Params, exact: Body, complete: Callable[[Params], Body]) -> Params:
    """The same wearer in steps, without a percentile. exact : the body; complete : makes a body of what is stated

    Only given measures are put in steps: estimates follow from them and reveal nothing more. If the
    stature is known, neck and sitting height are replaced by steps of head and trunk, because the fit depends on these.
    """
    known = set(exact.stated)
    if of.percentile is not None:
        known |= {kind[0] for kind in (survey.FRAME, survey.BULK) if not known.intersection(kind)}
    stepped = {name: step(name, getattr(exact, name)) for name in known}
    new = replace(of, percentile=None, years=None if of.years is None else years(of.years), **_as_params(stepped))
    if "stature" not in known or not known & {"neck_height", "sitting_height"}:
        return new
    return replace(new, **_heights(new, exact, known, complete))


def _heights(new: Params, exact: Body, known: set[str], complete: Callable[[Params], Body]) -> Mapping[str, Any]:
    """Heights of neck and head when sitting, from head and trunk in steps; both then count as given."""
    made = complete(replace(new, neck_height=None, sitting_height=None))
    head = made.stature - made.neck_height
    if "neck_height" in known:
        head = middle(exact.stature - exact.neck_height, _USUAL["stature"] - _USUAL["neck_height"], BONES)
    trunk = made.sitting_height - (made.stature - made.neck_height)
    if "sitting_height" in known:
        usual = _USUAL["sitting_height"] - (_USUAL["stature"] - _USUAL["neck_height"])
        trunk = middle(exact.sitting_height - (exact.stature - exact.neck_height), usual, BONES)
    return {"neck_height": made.stature - head, "sitting_height": trunk + head}


def step(name: str, value: float) -> float:
    """The middle of the step that holds a measure; mm or kg. One step of the stature ends where children's do."""
    if name == "stature":
        number = ceil(round(log(value / age.TALLEST, BONES), 9))
        return float(age.TALLEST * BONES ** (number - 0.5))
    return middle(value, _USUAL[name], ratio(name))


def ratio(name: str) -> float:
    """Ratio of one step of this measure to the next."""
    return FLESH if name in survey.BULK else BONES


def middle(value: float, usual: float, by: float) -> float:
    """The middle of the step that holds a value; `usual` is the middle of one step, `by` the ratio to the next."""
    return float(usual * by ** round(log(value / usual, by)))


def years(of: float) -> float:
    """A child's age, rounded to the nearest in the survey."""
    return of if of >= age.GROWN else float(min(survey.YEARS, key=lambda year: abs(year - of)))


def _as_params(measures: Mapping[str, float]) -> dict[str, Any]:
    return {("mass" if name == "mass_kg" else name): value * (1000 if name == "mass_kg" else 1)
            for name, value in measures.items()}  # fmt: skip
