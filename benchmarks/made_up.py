"""Presets made up from the fields that the stages declare: every section, option and family member is tried.

A new field or family member is drawn as soon as it is declared; there is no table to edit. Most figures lie near their
defaults, so that most of the shells can be made; some lie anywhere between their bounds, or on one. `SENSE` holds the
few fields whose value goes with others: names of plates, pairs of them, colours, stations, measures of one body.
"""

from __future__ import annotations

import contextlib
import datetime
import math
import random
from collections.abc import Callable, Collection, Mapping
from dataclasses import Field, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
import yaml

from shellgen import preset
from shellgen.core import registry
from shellgen.core.flow import Flow
from shellgen.dome.surfaces._standing import AUTO, AXES
from shellgen.dome.surfaces.girths import over
from shellgen.dome.surfaces.scan import UNITS
from shellgen.errors import PresetError, ShellgenError
from shellgen.fields import bind, params, units, yamltree
from shellgen.fields.values import NO, YES
from shellgen.finish.paint.zones import PALETTE, ZONES
from shellgen.model import Layout, Plate
from shellgen.pipeline import dome
from shellgen.wear import wearer
from shellgen.wear.wearer.survey import MEASURES
from shellgen.workshop.prices import PACKS

SECTIONS, LINES = 0.6, 0.25
"""Share of the sections, and of the lines in them, that are written at all; the rest take their defaults."""
BARE, NONE = 0.08, 0.2
"""Share of the families of which only the member's name is written, and of the optional fields that say none."""
SPREAD = 0.25
"""Standard deviation of the logarithm of a figure around what is usual."""
BOLD = (0.0, 0.0, 0.01, 0.04)
"""Shares of the figures that lie anywhere or on a bound; each preset takes one of these shares."""
FORM = ("dome", "plates", "spikes")
"""The sections whose lengths all go with the size of the shell."""
USUAL_LENGTH = 560.0
TRIANGLES = (80, 200)
WORDS = (
    "Marsh & <Moss>",
    'The "Reed" Knight',
    "Grüner Frosch",
    "沼の亀",
    "12",
    "a: b # c",
    "Long-winded warden of the pond",
)
OWN_COLOURS = ("frog", "dusk-2")


@dataclass(frozen=True, slots=True)
class MadeUp:
    """A preset as a tree of dictionaries and lists. scan : (unit, up, head) of the file it names, if it names one"""

    tree: Mapping[str, Any]
    scan: tuple[str, str, str] | None

    @property
    def text(self) -> str:
        return _text(self.tree)

    def write(self, folder: Path) -> Path:
        """The path of the preset in the folder, its scan beside it."""
        path = folder / "made-up.yaml"
        path.write_text(self.text, encoding="utf-8")
        if self.scan:
            _scanned(*self.scan).export(folder / self.tree["dome"]["file"])
        return path


def draw(rng: random.Random, *, only: Collection[str] = (), bold: float | None = None, exact: bool = True) -> MadeUp:
    """A preset.

    only  : the sections that may be written; all if empty
    bold  : share of the figures that lie anywhere between their bounds or on one
    exact : whether names of plates are those of this very dome, which takes time; else those of a usual one
    """
    drawer = _Drawer(rng, rng.choice(BOLD) if bold is None else bold, exact=exact)
    specs = params.specs(preset.Preset)
    tree = drawer.section({name: specs[name] for name in only or specs}, "")
    at = drawer.drawn
    scan = (at.get("dome.unit", "mm"), at.get("dome.up", AUTO), at.get("dome.head", AUTO))
    return MadeUp(tree, scan if "dome.file" in at else None)


def _text(tree: Mapping[str, Any]) -> str:
    return yaml.safe_dump(tree, sort_keys=False, allow_unicode=True, width=10**4)


class _Drawer:
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
        self.needed = {"mesh.edge", "plates.vertebrals", "plates.pleurals", "plates.marginals", "plates.size"}
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


_NESTED: Mapping[str, Callable[[_Drawer, Field, str], Any]] = {
    "group": lambda at, field, path: at.section(params.specs(field.metadata["of"]), f"{path}."),
    "family": _Drawer.family,
    "many": _Drawer.many,
}
_PLAIN: Mapping[str, Callable[[_Drawer, Field, str], Any]] = {
    **dict.fromkeys((*units.SCALES, "number"), _Drawer.figure),
    "count": _Drawer.count,
    "choice": lambda at, field, path: at.rng.choice(field.metadata["options"]),
    "member": lambda at, field, path: at.rng.choice(registry.names(field.metadata["package"])),
    "flag": lambda at, field, path: at.rng.choice((True, False, *YES, *NO)),
    "text": _Drawer.text,
    "slug": lambda at, field, path: at.rng.choice(("toad", "toad-2", "9")),
    "date": _Drawer.date,
    "file": lambda at, field, path: f"scan{at.rng.choice(field.metadata['suffixes'])}",
}


def _plates(at: _Drawer) -> tuple[Plate, ...]:
    """Those of the dome as drawn so far; of a usual dome, or in a usual layout, where that makes none."""
    known = {name: at.tree[name] for name in ("wearer", "dome", "plates") if name in at.tree}
    if at.exact:
        if "dome.file" in at.drawn:
            del known["dome"]  # the file is not there yet
        for tree in (known, {"plates": known.get("plates")}):
            with contextlib.suppress(ShellgenError):
                return _drawn_plates(_text(tree))
    return _drawn_plates(_text({"plates": at.drawn.get("plates.layout", "turtle")}))


@lru_cache
def _drawn_plates(text: str) -> tuple[Plate, ...]:
    tree = yamltree.parse(text.encode(), file="made-up.yaml")
    content = bind.bind(tree, preset.Preset)
    sized = preset.tailored(content, kept=getattr(tree.entries.get("dome"), "entries", ()))
    layout: Layout = dome.plated(sized, Flow())[1]
    return layout.plates


def _plate(at: _Drawer, field: Field) -> str:
    return at.rng.choice(_plates(at)).name


def _plates_word(at: _Drawer, field: Field) -> str:
    kinds = sorted({plate.kind for plate in _plates(at)})
    return at.rng.choice(("all", at.rng.choice(kinds), _plate(at, field), _plate(at, field)))


def _between(at: _Drawer, field: Field) -> list[str]:
    """The seams round some plates on the rim, which part the dome cleanly, or round all; now and then any seams."""
    plates, rng = _plates(at), at.rng
    pairs = [(k, other) for k, plate in enumerate(plates) for other in plate.neighbours if k < other]
    if rng.random() < 0.7:
        free = {k for k, plate in enumerate(plates) if plate.kind == "marginal" and rng.random() < 0.5}
        pairs = [pair for pair in pairs if free & {*pair}]
    elif rng.random() < 0.5:
        pairs = rng.sample(pairs, min(len(pairs), rng.randrange(1, 9)))
    return [f"{plates[one].name} / {plates[other].name}" for one, other in pairs] or ["nuchal / vertebral-1"]


def _stations(at: _Drawer, field: Field) -> list[dict[str, Any]]:
    """Girths of a dome that is near an ellipsoid."""
    specs, rng = params.specs(field.metadata["of"]), at.rng
    length, broad, high = at.drawn["dome.length"], rng.uniform(0.65, 1), rng.uniform(0.25, 0.5)
    items = []
    for k in range(1, (count := rng.randint(1, 6)) + 1):
        along = length * (k + rng.uniform(-0.2, 0.2)) / (count + 1)
        width = broad * length * math.sqrt(1 - (2 * along / length - 1) ** 2) * rng.gauss(1, 0.01)
        height = high * width * rng.gauss(1, 0.01)
        figures = {"at": along, "girth": over(width / 2, height, rng.uniform(-0.1, 0.2)), "width": width}
        figures |= {"height": rng.choice((height, None))} if rng.random() < 0.4 else {}
        items.append({name: at.written(figure, specs[name].metadata) for name, figure in figures.items()})
    return items


def _measure(at: _Drawer, field: Field) -> float:
    """As a body of the survey has it, give or take a little."""
    said = {name: at.drawn[f"wearer.{name}"] for name in ("group", "years", "survey") if f"wearer.{name}" in at.drawn}
    try:
        body = wearer.body(wearer.Params(**said))
    except PresetError:
        body = wearer.body(wearer.Params())
    usual = body.mass_kg * 1000 if field.name == "mass" else getattr(body, field.name)
    return (
        at.near(usual * math.exp(at.rng.gauss(0, 0.03)), field) if at.bold else usual * math.exp(at.rng.gauss(0, 0.05))
    )


def _zone_colour(at: _Drawer, field: Field) -> str:
    colour = at.rng.choice((*PALETTE, *OWN_COLOURS))
    at.needed |= {"paint.colours"} if colour in OWN_COLOURS else set()
    return str(colour)


def _own_colours(at: _Drawer, field: Field) -> list[dict[str, str]]:
    return [{"name": name, "hex": f"{at.rng.randrange(2**24):06x}"} for name in OWN_COLOURS]


def _head(at: _Drawer, field: Field) -> str:
    """Not the axis that points up."""
    up = at.drawn.get("dome.up", AUTO)
    return str(at.rng.choice([axis for axis in field.metadata["options"] if axis == AUTO or axis[-1] != up[-1]]))


def _edge(at: _Drawer, field: Field) -> float:
    """A coarse mesh, so that a shell is soon computed."""
    length = at.drawn.get("dome.length") or USUAL_LENGTH
    width = at.drawn.get("dome.width") or 0.8 * length
    return at.near(math.sqrt(2.5 * length * width / at.rng.uniform(*TRIANGLES)), field)


def _item(at: _Drawer, field: Field) -> str:
    """Not the one before: each may be named once."""
    word = at.rng.choice([name for name in PACKS if name != at.drawn.get("prices.items[].item")])
    return word if at.rng.random() < 0.7 else word.split(" ")[0]


def _start(at: _Drawer, field: Field) -> str:
    event = datetime.date.fromisoformat(at.drawn.get("schedule.event") or "2027-06-01")
    return (event - datetime.timedelta(at.rng.randrange(-10, 300))).isoformat()


def _group(at: _Drawer, field: Field) -> str:
    group = at.rng.choice(field.metadata["options"])
    at.needed |= {"wearer.years"} if group == "child" else set()
    return str(group)


def _years(at: _Drawer, field: Field) -> float:
    return at.near(8 if at.drawn.get("wearer.group") == "child" else at.rng.choice((8, 40)), field)


def _of_the_foam(at: _Drawer, field: Field) -> Any:
    """To the last digit: sheets of another thickness will not do."""
    return str((at.tree.get("foam") or {}).get("thickness", 10))


def _usual(value: float) -> Callable[[_Drawer, Field], float]:
    return lambda at, field: at.near(value, field)


def _plates_along(number: int) -> Callable[[_Drawer, Field], int]:
    return lambda at, field: max(number + round(at.rng.gauss(0, 1.2)), int(field.metadata["low"]))


def _pleurals(at: _Drawer, field: Field) -> int:
    """One more or fewer than the vertebrals at most, or else they do not go together."""
    vertebrals = at.drawn.get("plates.vertebrals", 5)
    return max(vertebrals + at.rng.randint(-1, 1), int(field.metadata["low"]))


def _few(at: _Drawer, field: Field) -> int:
    return max(at.rng.randint(0, 2), int(field.metadata["low"]))


SENSE: Mapping[str, Callable[[_Drawer, Field], Any]] = {
    "wearer.group": _group,
    "wearer.years": _years,
    **{f"wearer.{name.removesuffix('_kg')}": _measure for name in MEASURES},
    "dome.length": lambda at, field: at.near(USUAL_LENGTH * at.size, field),
    "dome.stations": _stations,
    "dome.head": _head,
    "dome.cut": _usual(8),
    "dome.smoothing": _usual(90),
    "plates.size": lambda at, field: at.near(120 * at.size, field),
    "plates.vertebrals": _plates_along(4),
    "plates.pleurals": _pleurals,
    "plates.marginals": _plates_along(8),
    "seams.between": _between,
    "seams.walks": _few,
    "mesh.edge": _edge,
    "shape.rounds": _few,
    "spikes[].plates[]": _plates_word,
    "spikes[].but_not[]": _plates_word,
    "spikes[].by_hand[].plate": _plate,
    "spikes[].base_width": lambda at, field: at.near(at.drawn.get("spikes[].base_diameter", 36), field),
    **{f"paint.{zone}": _zone_colour for zone in ZONES},
    "paint.colours": _own_colours,
    "nest.sheets[].length": _usual(1200),
    "nest.sheets[].width": _usual(1000),
    "nest.sheets[].thickness": _of_the_foam,
    "prices.items[].item": _item,
    "schedule.start": _start,
}  # fmt: skip
"""Fields whose value goes with others, by path: what to write, in mm, degrees and grams."""


def _scanned(unit: str, up: str, head: str) -> trimesh.Trimesh:
    """A noisy scan of half an egg, narrower at its head, in its unit and with its axes where they are said to be."""
    ball = trimesh.creation.icosphere(subdivisions=4)
    half = ball.faces[(ball.vertices[ball.faces][:, :, 2] >= -1e-9).all(axis=1)]
    noise = np.random.default_rng(1).normal(0, 0.3, ball.vertices.shape)
    points = (ball.vertices * (1 - 0.1 * ball.vertices[:, :1]) * (200, 160, 130) + noise) / UNITS[unit]
    above = up if up != AUTO else next(axis for axis in "zxy" if axis != head[-1])
    ahead = head if head != AUTO else next(axis for axis in "xyz" if axis != above[-1])
    turned = points @ np.array([AXES[ahead], np.cross(AXES[above], AXES[ahead]), AXES[above]])
    return trimesh.Trimesh(turned, half)
