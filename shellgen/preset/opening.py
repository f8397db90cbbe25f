"""The text of a new preset: what matters first, each line explained in the words of its field."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import groupby

from shellgen import preset
from shellgen.canvas.rule import INCH, inch
from shellgen.fields import params, units
from shellgen.fields.bind import NOTHING
from shellgen.fields.values import Place, Spec, explained, read
from shellgen.fields.yamltree import INSTEAD

WIDEST = 120
"""Columns of a new preset (chosen: side by side with its page on a laptop)."""
UNITS = ("mm", "in")


@dataclass(frozen=True, slots=True)
class PresetLine:
    """A line of a new preset.

    field : its path; "[]" stands behind a list, which gets one item
    value : as a maker writes it; a length in mm is written in the maker's unit
    off   : whether it is only carried along, as a comment
    """

    field: str
    value: str | float
    off: bool = False

    @property
    def steps(self) -> list[str]:
        return self.field.split(".")


LINES = (
    PresetLine("name", "{name}"),
    PresetLine("title", "My Shell", off=True),
    PresetLine("wearer.group", "adult", off=True),  # nobody counts as an adult unsaid
    PresetLine("wearer.years", "34", off=True),
    PresetLine("wearer.stature", 1700.0, off=True),
    PresetLine("wearer.shoulder_breadth", 400.0, off=True),
    PresetLine("wearer.sitting_height", 900.0, off=True),
    PresetLine("wearer.mass", "72 kg", off=True),
    PresetLine("wearer.share", "yes", off=True),
    PresetLine("print.paper", "A4"),
    PresetLine("print.margin", 8.0, off=True),
    PresetLine("foam.thickness", 10.0),
    PresetLine("nest.sheets[].length", 1000.0),
    PresetLine("nest.sheets[].width", 1000.0),
    PresetLine("nest.sheets[].count", "2", off=True),
    PresetLine("making.printer.bed_x", "220", off=True),
    PresetLine("making.printer.bed_y", "220", off=True),
    PresetLine("making.printer.bed_z", "220", off=True),
    PresetLine("schedule.event", "2027-06-19", off=True),
    PresetLine("schedule.weekday_hours", "2", off=True),
    PresetLine("schedule.weekend_hours", "5", off=True),
    PresetLine("wear.harness", "straps"),
    PresetLine("dome.kind", "plan"),
    PresetLine("dome.length", 560.0, off=True),
    PresetLine("dome.width", 460.0, off=True),
    PresetLine("dome.height", 180.0, off=True),
    PresetLine("plates.layout", "turtle"),
    PresetLine("spikes[].profile", "cone"),
    PresetLine("spikes[].base_diameter", 36.0),
    PresetLine("spikes[].height", 46.0),
    PresetLine("spikes[].tip_radius", 5.0),
)

HEAD = """\
# Lengths are millimetres unless you add a unit: 560, 56 cm, 22 in, 22 1/2 in.
# A line such as #title is not used; delete the # to use it. Lines that you leave out have their defaults.
# "shellgen list fields" shows every possible line, "shellgen list fields neck" those with a word.
"""


def text(name: str, answers: Mapping[str, str] | None = None, *, unit: str = "mm") -> str:
    """A new preset. answers : by field, as written; unit : of the lengths that nobody answered, "mm" or "in" """
    given = {"name": name, **({"print.paper": "Letter"} if unit == "in" else {}), **(answers or {})}
    lines = [_answered(line, given, unit) for line in LINES]
    parts = ["\n".join(_section(list(group))) for _, group in groupby(lines, key=lambda line: line.steps[0])]
    return HEAD + "\n" + "\n\n".join(parts) + "\n"


def spec_of(field: str) -> Spec:
    """What is declared of a field, by its path; of a family, the members' own fields are those of the usual one."""
    known: Mapping[str, Spec] = _specs(preset.Preset)
    found: Spec = {}
    for step in field.split("."):
        found = known[step.removesuffix("[]")]
        if found["kind"] == "family":
            own = params.own_params(found["package"], found["member"])
            key = {found["key"]: {**found, "kind": "member", "optional": False}}
            known = {**key, **_specs(found["common"]), **_specs(own)}
        else:
            known = _specs(found["of"]) if isinstance(found.get("of"), type) else {}
    return found


def _specs(of: type | None) -> dict[str, Spec]:
    return {name: spec.metadata for name, spec in params.specs(of).items()}


def usual(field: str, unit: str) -> str:
    """What a new preset says of a field, in the maker's unit; empty if it leaves the line out."""
    paper = {"print.paper": "Letter"} if unit == "in" else {}
    line = next(_answered(line, paper, unit) for line in LINES if line.field == field)
    return "" if line.off else str(line.value)


def answered(field: str, text: str, unit: str) -> str:
    """What a preset says for an answer to the question for a field; "" for none. PresetError if it is not possible."""
    spec, text = spec_of(field), text.strip()
    if spec["optional"] and text.lower() in NOTHING:
        return ""
    if spec["kind"] == "length" and unit == "in" and not _unit_of(text):
        text += " in"
    read(text, spec, Place("", field, 0))
    return text


def _unit_of(text: str) -> str:
    """The unit of a length; "?" if it is none, or a fraction without a unit."""
    try:
        return units.read(text, "length").unit
    except ValueError:
        return "" if set(text) <= set("0123456789 /-.") else "?"


def replacing(answers: Mapping[str, str], wearer: Iterable[str]) -> str:
    """The section that puts the answers in place of what a copied preset says. wearer : the lines of its wearer, who
    goes altogether if the answers describe another"""
    given = dict(answers)
    if any(field.startswith("wearer.") for field in given):
        gone = {f"wearer.{name}": "no" if name == "share" else "none" for name in wearer}
        given = {**gone, **given}
    lines, above = ["", "# Your answers, in place of what stands above", f"{INSTEAD}:"], [""]
    for field in sorted(given, key=lambda field: field.split(".")[:-1]):
        line = PresetLine(field, given[field])
        new = line.steps[:-1] != above
        lines += [f"  {row}" for row in (*_opened(line, above, explain=False), _begun(line, first=new))]
        above = line.steps[:-1]
    return "\n".join(lines) + "\n"


def _answered(line: PresetLine, given: Mapping[str, str], unit: str) -> PresetLine:
    if line.field in given:
        return PresetLine(line.field, given[line.field])
    if isinstance(line.value, str):
        return line
    return replace(line, value=_rounded(line.value) if unit == "in" else f"{line.value:g}")


def _rounded(length: float) -> str:
    """A length in quarters or eighths of an inch, as somebody would write it."""
    part = INCH / (4 if length > 100 else 8)
    return inch(part * round(length / part))


def _section(lines: list[PresetLine]) -> Iterator[str]:
    """A section with its heading, or a single line."""
    first = lines[0].steps
    if len(first) > 1:
        yield f"# {spec_of(first[0])['doc']}"
    column = 2 + max(len(_begun(line)) for line in lines)
    above: list[str] = []
    for line in lines:
        yield from _opened(line, above)
        new = line.steps[:-1] != above
        above = line.steps[:-1]
        yield f"{_begun(line, first=new):<{column}}# {_comment(line)}"


def _opened(line: PresetLine, above: list[str], *, explain: bool = True) -> Iterator[str]:
    """The lines of the sections that a line opens."""
    for depth, step in enumerate(line.steps[:-1]):
        if line.steps[: depth + 1] != above[: depth + 1]:
            doc = spec_of(".".join(line.steps[: depth + 1]))["doc"]
            yield "  " * depth + f"{step.removesuffix('[]')}:" + (f"  # {doc}" if depth and explain else "")


def _begun(line: PresetLine, *, first: bool = False) -> str:
    """A line without its comment. first : whether it begins an item of a list"""
    *above, key = line.steps
    item = bool(above) and above[-1].endswith("[]")
    indent = "  " * (len(above) - item) + ("  - " if first else "    ") * item
    return f"{indent}{'#' if line.off else ''}{key}: {line.value}"


def _comment(line: PresetLine) -> str:
    spec = spec_of(line.field)
    whole, heading = explained(spec), spec_of(line.steps[0])["doc"]
    if spec["doc"] == heading != whole and len(line.steps) > 1:
        return whole.removeprefix(heading).lstrip()
    fits = len(_begun(line)) + len(whole) <= WIDEST - 20
    return whole if spec["kind"] in ("choice", "member") and fits else str(spec["doc"])
