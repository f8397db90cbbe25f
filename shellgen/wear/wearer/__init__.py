"""Who wears the shell: the few measures that it must fit, with missing ones estimated from surveys.

`fit` says which dome fits and where it sits; `mannequin` is a plain figure with the same measures.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace

from shellgen.errors import PresetError
from shellgen.fields import params as field
from shellgen.model import Body, Finding
from shellgen.wear.wearer import age, steps, survey
from shellgen.wear.wearer.survey import BULK, FRAME, MEASURES, Percentiles

FAR = 3.0
"""Standard deviations beyond which a survey of thousands says nothing (one person in 740 is further out)."""

LIKELY = (0.5, 2.2)
"""A measure is accepted between these multiples of the usual value for the stature (chosen: wide enough for every body
that we could think of, too narrow for centimetres or inches taken for millimetres)."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    group: str | None = field.choice(
        None,
        ("adult", "child"),
        "Adult or child; left out, the years decide, else whether a child could have this body.",
    )
    years: float | None = field.number(
        None, 2, 110, "Age in years: it decides between child and adult; a child needs it or a stature."
    )
    survey: str = field.choice(
        "both", ("both", "male", "female"), "Whose survey stands in for measures that you leave out."
    )
    percentile: float | None = field.number(
        None, 1, 99, "Size among that group for what you leave out: 50 is the middle, 95 larger than 95 in 100."
    )
    stature: float | None = field.length(None, 700, 2300, "Height without shoes.")
    mass: float | None = field.mass(None, 8000, 250000, "Body mass, with its unit: 72 kg or 160 lb.")
    shoulder_breadth: float | None = field.length(
        None, 150, 600, "Across the back between the bony points on top of the shoulders."
    )
    back_length: float | None = field.length(
        None, 150, 750, "From the knob at the base of the neck down the spine to the height of the navel."
    )
    chest_depth: float | None = field.length(None, 90, 600, "From breastbone to back at the fullest, breathing out.")
    chest_breadth: float | None = field.length(None, 120, 700, "Across the chest under the arms.")
    hip_breadth: float | None = field.length(None, 120, 800, "Across the hips at their widest, standing.")
    neck_girth: float | None = field.length(None, 180, 700, "Round the neck.")
    neck_height: float | None = field.length(
        None, 500, 2050, "From the floor to the knob at the base of the neck, standing."
    )
    sitting_height: float | None = field.length(
        None, 350, 1200, "From the seat of a chair to the top of the head, sitting upright."
    )
    share: bool = field.flag(
        False, "Whether the pack may show these measures; if not, fit and straps go in wide steps."
    )

    def __post_init__(self) -> None:
        if self.group == "adult" and self.years is not None and self.years < age.GROWN:
            problem = f"A wearer of {self.years:g} years is not an adult."
            remedy = f"Below {age.GROWN:g} years the group is child. Leave the line out: the years decide."
            raise PresetError("group", problem, remedy)

    @property
    def given(self) -> bool:
        """Whether the preset says anything about the wearer's size; the group alone does not."""
        return any(getattr(self, f.name) != f.default for f in fields(self) if f.name not in ("group", "share"))

    @property
    def measures(self) -> dict[str, float]:
        """What was measured, by the names of `Body`; mm and kg."""
        taken = {name: getattr(self, name) for name in MEASURES if name != "mass_kg"}
        taken["mass_kg"] = None if self.mass is None else self.mass / 1000
        return {name: float(taken[name]) for name in MEASURES if taken[name] is not None}


def body(params: Params) -> Body:
    """The wearer's measures, with missing ones estimated from a survey.

    A body has two standings in its survey, counted in standard deviations: of its frame (the stature's, or else the
    mean of those of the bones that were measured) and of its bulk (the mass's, or else the mean of those of the depths,
    breadths and girths that were measured). Each measure that is missing is taken at the standing of its kind. Where
    nothing of a kind was measured, the percentile asked for decides; without one the frame is the median's, and the
    mass the median's times the square of the stature over the median's (Quetelet's rule).

    PresetError for a child of unknown size, or measures that no body has.
    """
    found = complete(params)
    _check(found, _rows(params))
    if params.years is not None and "stature" in found.stated:
        low, high = age.statures(params.survey, params.years)
        if not low <= found.stature <= high:
            problem = f"{found.stature:g} mm is not likely at {params.years:g} years."
            remedy = f"Give {low:.0f} to {high:.0f} mm."
            raise PresetError("wearer.stature", problem, remedy, hint="Are unit and years right?")
    return found


def shown(params: Params) -> Body:
    """The wearer as a pack may show them: as measured if the preset allows it, else in steps."""
    return body(params) if params.share else in_steps(params)


def trace(params: Params) -> str:
    """Everything about a wearer that a pack depends on, as text to compare packs. Measures only if shared."""
    exact = body(params)
    return repr((params if params.share else steps.params(params, exact, complete), exact.group, exact.stated))


def in_steps(params: Params) -> Body:
    """The wearer in steps so wide that nobody can find a measure from the pack; see `steps`."""
    exact = body(params)
    made = complete(steps.params(params, exact, complete))
    return replace(made, group=exact.group, stated=exact.stated)


def complete(params: Params) -> Body:
    """`body`, without a check of the measures."""
    stated, rows = params.measures, _rows(params)
    asked = 0.0 if params.percentile is None else survey.score(params.percentile)
    frame = _completed(rows, {name: stated.get(name) for name in FRAME}, asked)
    known = {name: stated.get(name) for name in BULK}
    if params.percentile is None and not any(known.values()):
        known["mass_kg"] = rows["mass_kg"][1] * (frame["stature"] / rows["stature"][1]) ** 2
    bulk = _completed(rows, known, asked)
    group = age.group(params.group, params.years, frame["stature"])
    return Body(group=group, **frame, **bulk, stated=tuple(stated))


def remarks(params: Params, found: Body) -> tuple[Finding, ...]:
    """What the maker must know about the source of the measures. No figure of a measure is shown."""
    return tuple(_remarks(params, found))


def _rows(params: Params) -> Percentiles:
    """The survey to use: the children's for a child, or for anyone too small for the adults'."""
    grown = survey.adults(params.survey)
    if params.group is None and params.years is None:
        small = params.stature is not None and params.stature < survey.value(survey.adults("female")["stature"], -FAR)
        said = "child" if small else "adult"
    else:
        said = age.group(params.group, params.years, 0.0)
    if said == "adult":
        return grown
    first, last = survey.YEARS[0], survey.YEARS[-1]
    if params.stature is not None:
        years = params.years or survey.years_of(params.survey, params.stature)
        return survey.children(params.survey, min(max(years, first), last))
    if params.years is None:
        problem = "There are neither years nor stature of a child."
        raise PresetError("wearer.years", problem, "Give one of the two.")
    if not first <= params.years <= last:
        problem = f"The survey has no child of {params.years:g} years."
        raise PresetError("wearer.years", problem, f"Give {first} to {last} years, or the stature too.")
    return survey.children(params.survey, params.years)


def _completed(rows: Percentiles, kind: Mapping[str, float | None], asked: float) -> dict[str, float]:
    """All measures of a kind, from the known ones. The first decides if it is known, else the mean of the others.

    Beyond FAR all go on in proportion to what leads. asked : the standing if none is known
    """
    known = {name: value for name, value in kind.items() if value is not None}
    first = next(iter(kind))
    leading = {first: known[first]} if first in known else known
    z = [survey.standing(rows[name], value) for name, value in leading.items()] or [asked]
    middle = sum(z) / len(z)
    usual = {name: survey.value(rows[name], min(max(middle, -FAR), FAR)) for name in kind}
    more = 1.0
    if abs(middle) > FAR:
        ratios = [(value / usual[name]) ** (1 / _power(name)) for name, value in leading.items()]
        more = sum(ratios) / len(ratios)
    return {name: known.get(name, usual[name] * more ** _power(name)) for name in kind}


def _power(name: str) -> int:
    """At one stature the mass is proportional to the square of every girth."""
    return 2 if name == "mass_kg" else 1


def _check(found: Body, rows: Percentiles) -> None:
    share = found.stature / rows["stature"][1] if "stature" in found.stated else 1.0
    for name in found.stated:
        usual = rows[name][1] * share ** _power(name)
        low, high = (bound ** _power(name) * usual for bound in LIKELY)
        if not low <= getattr(found, name) <= high:
            unit = "kg" if name == "mass_kg" else "mm"
            where = f"wearer.{name.removesuffix('_kg')}"
            problem = f"{getattr(found, name):g} {unit} is not likely for such a body."
            remedy = f"Give {low:.0f} to {high:.0f} {unit}."
            raise PresetError(where, problem, remedy, hint="Is the unit right?")
    for name, most in (("neck_height", 0.95), ("sitting_height", 0.8)):  # chosen: no body is near these
        if getattr(found, name) > most * found.stature:
            problem = f"{getattr(found, name):.0f} mm is too much for a body {found.stature:.0f} mm tall."
            raise PresetError(f"wearer.{name}", problem, f"Give up to {most * found.stature:.0f} mm.")
    if trunk(found) < 0.15 * found.stature:
        problem = f"Only {trunk(found):.0f} mm are left from the seat to the base of the neck."
        raise PresetError("wearer.sitting_height", problem, "Measure sitting and neck height again.")


def trunk(found: Body) -> float:
    """From the seat of a chair up to the bone at the base of the neck, sitting upright."""
    return found.sitting_height - (found.stature - found.neck_height)


def _remarks(params: Params, found: Body) -> Iterator[Finding]:
    if params.group is None and params.years is None and found.group == "child":
        text = (
            "The preset does not say how old the wearer is, and a child could have this body, so the shell is made as "
            "for a child. For an adult, write wearer: group: adult, or the years."
        )
        yield Finding("caution", "wearer", text)
    missing = [name for name in MEASURES if name not in found.stated]
    if not missing:
        return
    rows = _rows(params if params.share or params.years is None else replace(params, years=steps.years(params.years)))
    names = ", ".join(name.removesuffix("_kg").replace("_", " ") for name in missing)
    if rows["stature"] == survey.adults(params.survey)["stature"]:
        whose = {"both": "men and women", "male": "men", "female": "women"}[params.survey]
        text = (
            f"Estimated for this wearer, not measured: {names}. They come from {whose} of the US Army measured in 2012 "
            "(ANSUR II, unweighted), who are fitter than most. Your own measurements are always better."
        )
        yield Finding("ok", "wearer", text)
    else:
        text = (
            f"Estimated for this child, not measured: {names}. Stature and mass are from the CDC growth charts "
            "of 2000. There was no survey of the other measures, so they are an adult's in proportion to the stature, "
            "which is rough. Measure shoulder breadth, chest depth and sitting height before you cut."
        )
        yield Finding("caution", "wearer", text)
    far = [name for name in found.stated if abs(survey.standing(rows[name], getattr(found, name))) > FAR]
    if far:
        names = ", ".join(name.removesuffix("_kg").replace("_", " ") for name in far)
        text = f"The surveys have almost nobody with this {names}. Take all measures that the wearer section lists."
        yield Finding("caution", "wearer", text)
