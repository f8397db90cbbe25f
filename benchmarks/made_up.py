"""Presets made up from the fields that the stages declare: every section, option and family member is tried.

A new field or family member is drawn as soon as it is declared; there is no table to edit. Most figures lie near their
defaults, so that most of the shells can be made; some lie anywhere between their bounds, or on one. `made_up_sense`
holds the few fields whose value goes with others: names of plates, pairs of them, colours, stations, measures.
"""

from __future__ import annotations

import copy
import datetime
import math
import random
from collections.abc import Callable, Collection, Mapping
from dataclasses import Field, dataclass
from pathlib import Path
from typing import Any

from made_up_sense import DRAWING, FEW, SENSE, scanned, text

from shellgen import preset
from shellgen.core import registry
from shellgen.dome.surfaces._standing import AUTO
from shellgen.fields import params, units
from shellgen.fields.values import NO, YES
from shellgen.fields.yamltree import INSTEAD

SECTIONS, LINES = 0.6, 0.25
"""Share of the sections, and of the lines in them, that are written at all; the rest take their defaults."""
BARE, NONE = 0.08, 0.2
"""Share of the families of which only the member's name is written, and of the optional fields that say none."""
REPEATED = 0.3
"""Share of the presets that write some sections once more, under `instead`."""
SPREAD = 0.25
"""Standard deviation of the logarithm of a figure around what is usual."""
BOLD = (0.0, 0.0, 0.01, 0.04)
"""Shares of the figures that lie anywhere or on a bound; each preset takes one of these shares."""
FORM = ("dome", "plates", "spikes")
"""The sections whose lengths all go with the size of the shell."""
WORDS = (
    "Marsh & <Moss>",
    'The "Reed" Knight',
    "Grüner Frosch",
    "沼の亀",
    "12",
    "a: b # c",
    "Long-winded warden of the pond",
)


@dataclass(frozen=True, slots=True)
class MadeUp:
    """A preset as a tree of dictionaries and lists. scan : (unit, up, head) of the scan it names, if it names one"""

    tree: Mapping[str, Any]
    scan: tuple[str, str, str] | None

    @property
    def text(self) -> str:
        return text(self.tree)

    def write(self, folder: Path) -> Path:
        """The path of the preset in the folder, its scan and its drawing beside it."""
        path = folder / "made-up.yaml"
        path.write_text(self.text, encoding="utf-8")
        if self.scan:
            scanned(*self.scan).export(folder / self.tree["dome"]["file"])
        if (name := drawing_of(self.tree)) is not None:
            (folder / name).write_bytes(DRAWING.read_bytes())
        return path


def draw(rng: random.Random, *, only: Collection[str] = (), bold: float | None = None, exact: bool = True) -> MadeUp:
    """A preset.

    only  : the sections that may be written; all if empty
    bold  : share of the figures that lie anywhere between their bounds or on one
    exact : whether names of plates are those of this very dome, which takes time; else those of a usual one
    """
    drawer = Drawer(rng, rng.choice(BOLD) if bold is None else bold, exact=exact)
    specs = params.specs(preset.Preset)
    tree = drawer.section({name: specs[name] for name in only or specs}, "")
    if not only and rng.random() < REPEATED:
        tree[INSTEAD] = copy.deepcopy({name: tree[name] for name in rng.sample(sorted(tree), min(3, len(tree)))})
    at = drawer.drawn
    scan = (at.get("dome.unit", "mm"), at.get("dome.up", AUTO), at.get("dome.head", AUTO))
    return MadeUp(tree, scan if "dome.file" in at else None)


def drawing_of(tree: Mapping[str, Any]) -> str | None:
    """The name of the drawing that a preset names, if it names one."""
    plates = tree.get("plates")
    return plates.get("file") if isinstance(plates, dict) else None


class Drawer:
    """drawn : the latest value of every field by its path, in mm, degrees and grams; `[]` stands for an item of a list

    tree   : the sections written so far
    size   : of the shell, over the usual one
    needed : fields that must be written: few plates and few triangles are soon computed, others are spoken of elsewhere
    """

    def __init__(self, rng: random.Random, bold: float, *, exact: bool) -> None:
        self.rng, self.bold, self.exact = rng, bold, exact
        self.size = rng.choice((1.0, math.exp(rng.uniform(-1.2, 0.3))))
        self.drawn: dict[str, Any] = {}
        self.tree: dict[str, Any] = {}
        self.needed = {"mesh.edge", *FEW}
        self.needed |= {path.split(".")[0] for path in self.needed}

    def section(self, specs: Mapping[str, Field], where: str) -> dict[str, Any]:
        lines = self.tree if not where else {}
        for name, spec in specs.items():
            if self._is_written(spec, path := f"{where}{name}"):
                lines[name] = self.value(spec, path)
        return lines

    def _is_written(self, field: Field, path: str) -> bool:
        if params.is_required(field) or path in self.needed:
            return True
        scaled = field.metadata["kind"] == "length" and not field.metadata["optional"]
        if self.size != 1 and path.startswith(FORM) and (scaled or path in FORM):
            return True
        return self.rng.random() < (LINES if "." in path else SECTIONS)

    def value(self, field: Field, path: str) -> Any:
        """As it stands in the tree."""
        spec, rng = field.metadata, self.rng
        if spec["optional"] and rng.random() < NONE:
            return rng.choice((None, "none"))
        if spec["kind"] in _NESTED and path not in SENSE:
            return _NESTED[spec["kind"]](self, field, path)
        found = SENSE[path](self, field) if path in SENSE else _PLAIN[spec["kind"]](self, field, path)
        self.drawn[path] = found
        return self.written(found, spec)

    def written(self, found: Any, spec: Mapping[str, Any]) -> Any:
        """A figure in any unit that its kind has, other values as they are."""
        if not isinstance(found, float):
            return found
        kind, unit = spec["kind"], spec.get("unit", "")
        if self.rng.random() < 0.5:
            return float(f"{found:.6g}")
        value = math.radians(found) if kind == "angle" else found
        rounding = "down" if 2 * found > spec["low"] + spec["high"] else "up"
        return units.write(
            value, kind, self.rng.choice(list(units.SCALES.get(kind, {unit: 1}))), unit=unit, rounding=rounding
        )

    def figure(self, field: Field, path: str) -> float:
        """Near the default; now and then anywhere between the bounds, or on one."""
        spec, rng, usual = field.metadata, self.rng, field.default
        if not isinstance(usual, float | int):
            low, high = spec["low"], spec["high"]
            usual = math.exp(rng.uniform(math.log(low), math.log(high))) if low > 0 else rng.uniform(low, high)
        elif spec["kind"] == "angle":
            usual = math.degrees(usual)
        elif spec["kind"] == "length" and path.startswith(FORM):
            usual = usual * self.size
        return self.near(usual, field)

    def near(self, usual: float, field: Field) -> float:
        low, high, rng = field.metadata["low"], field.metadata["high"], self.rng
        if rng.random() < self.bold:
            return float(rng.choice((low, high, rng.uniform(low, high))))
        if usual > 0:
            return float(min(max(usual * math.exp(rng.gauss(0, SPREAD)), low), high))
        return float(usual + (rng.choice((low, high)) - usual) * rng.random() ** 5)

    def count(self, field: Field, path: str) -> int:
        usual = field.default if isinstance(field.default, int) else 3
        low, high = field.metadata["low"], field.metadata["high"]
        return min(max(round(self.near(usual, field) + self.rng.gauss(0, 0.7)), low), high)

    def text(self, field: Field, path: str) -> str:
        longest = field.metadata["longest"]
        return self.rng.choice((*WORDS, "w" * longest))[:longest].strip()

    def date(self, field: Field, path: str) -> str:
        day = datetime.date(2027, 1, 1) + datetime.timedelta(self.rng.randrange(700))
        return day.isoformat()

    def family(self, field: Field, path: str) -> Any:
        spec, key = field.metadata, field.metadata["key"]
        member = self.drawn[f"{path}.{key}"] = self.rng.choice(registry.names(spec["package"]))
        if self.rng.random() < BARE:
            return self.rng.choice((member, None)) if member == spec["member"] else member
        common = {name: of for name, of in params.specs(spec["common"]).items() if name != key}
        own = params.specs(params.own_params(spec["package"], member))
        lines = self.section({**common, **own}, f"{path}.")
        return {key: member, **lines}

    def many(self, field: Field, path: str) -> Any:
        of = field.metadata["of"]
        number = self.rng.choice((int(params.is_required(field)), 1, 1, 2, 3))
        if isinstance(of, type):
            return [self.section(params.specs(of), f"{path}[].") for _ in range(number)]
        items = [self.value(of, f"{path}[]") for _ in range(number)]
        return items[0] if number == 1 and self.rng.random() < 0.5 else items


_NESTED: Mapping[str, Callable[[Drawer, Field, str], Any]] = {
    "group": lambda at, field, path: at.section(params.specs(field.metadata["of"]), f"{path}."),
    "family": Drawer.family,
    "many": Drawer.many,
}
_PLAIN: Mapping[str, Callable[[Drawer, Field, str], Any]] = {
    **dict.fromkeys((*units.SCALES, "number"), Drawer.figure),
    "count": Drawer.count,
    "choice": lambda at, field, path: at.rng.choice(field.metadata["options"]),
    "member": lambda at, field, path: at.rng.choice(registry.names(field.metadata["package"])),
    "flag": lambda at, field, path: at.rng.choice((True, False, *YES, *NO)),
    "text": Drawer.text,
    "slug": lambda at, field, path: at.rng.choice(("toad", "toad-2", "9")),
    "date": Drawer.date,
    "file": lambda at, field, path: f"scan{at.rng.choice(field.metadata['suffixes'])}",
}
