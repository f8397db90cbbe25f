"""The fields of made-up presets whose values go with others: plates, seams, colours, stations, measures of one body."""

from __future__ import annotations

import contextlib
import datetime
import math
from collections.abc import Callable, Mapping
from dataclasses import Field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import trimesh
import yaml

from shellgen import preset
from shellgen.core.flow import Flow
from shellgen.dome.surfaces import plan
from shellgen.dome.surfaces._standing import AUTO, AXES
from shellgen.dome.surfaces.girths import over
from shellgen.dome.surfaces.scan import UNITS
from shellgen.errors import PresetError, ShellgenError
from shellgen.fields import bind, params, yamltree
from shellgen.finish.paint.zones import PALETTE, ZONES
from shellgen.model import Layout, Plate
from shellgen.pipeline import dome
from shellgen.plates import drawn
from shellgen.wear import wearer
from shellgen.wear.wearer.survey import MEASURES
from shellgen.workshop.prices import PACKS

if TYPE_CHECKING:
    from made_up import Drawer

DRAWING = Path(__file__).parent.parent / "presets" / "lantern-beetle-lines.svg"
"""Fits every dome, because it is laid on it from rim to rim."""
USUAL_LENGTH = 560.0
TRIANGLES = (80, 200)
"""Few, so that a shell is soon computed."""
OWN_COLOURS = ("frog", "dusk-2")


def text(tree: Mapping[str, Any]) -> str:
    """The tree as YAML."""
    return yaml.safe_dump(tree, sort_keys=False, allow_unicode=True, width=10**4)


def _plates(at: Drawer) -> tuple[Plate, ...]:
    """Those of the dome as drawn so far; of a usual dome, or in a usual layout, where that makes none."""
    if at.drawn.get("plates.layout") == "drawn":
        return _between_lines()
    known = {name: at.tree[name] for name in ("wearer", "dome", "plates") if name in at.tree}
    if at.exact:
        if "dome.file" in at.drawn:
            del known["dome"]  # the file is not there yet
        for tree in (known, {"plates": known.get("plates")}):
            with contextlib.suppress(ShellgenError):
                return _drawn_plates(text(tree))
    return _drawn_plates(text({"plates": at.drawn.get("plates.layout", "turtle")}))


@lru_cache
def _between_lines() -> tuple[Plate, ...]:
    """Those of the drawing."""
    return drawn.build(plan.build(plan.Params()), drawn.Params(file=params.File("", DRAWING, ""))).plates


@lru_cache
def _drawn_plates(text: str) -> tuple[Plate, ...]:
    tree = yamltree.parse(text.encode(), file="made-up.yaml")
    content = bind.bind(tree, preset.Preset)
    sized = preset.tailored(content, kept=getattr(tree.entries.get("dome"), "entries", ()))
    layout: Layout = dome.plated(sized, Flow())[1]
    return layout.plates


def _plate(at: Drawer, field: Field) -> str:
    return at.rng.choice(_plates(at)).name


def _plates_word(at: Drawer, field: Field) -> str:
    kinds = sorted({plate.kind for plate in _plates(at)})
    return at.rng.choice(("all", at.rng.choice(kinds), _plate(at, field), _plate(at, field)))


def _along(at: Drawer, field: Field) -> str:
    """Midline or rim, a row, or the line between two neighbours or their kinds."""
    plates, rng = _plates(at), at.rng
    one = rng.choice(plates)
    other = plates[rng.choice(one.neighbours)]
    pair = rng.choice(((one.name, other.name), (one.kind, other.kind)))
    return str(rng.choice(("midline", "midline", "rim", "rim", one.kind, " / ".join(pair))))


def _between(at: Drawer, field: Field) -> list[str]:
    """The seams round some plates on the rim, which part the dome cleanly, or round all; now and then any seams."""
    plates, rng = _plates(at), at.rng
    pairs = [(k, other) for k, plate in enumerate(plates) for other in plate.neighbours if k < other]
    if rng.random() < 0.7:
        outer = ("marginal", "ear", "cheek", "flank")
        free = {k for k, plate in enumerate(plates) if plate.kind in outer and rng.random() < 0.5}
        pairs = [pair for pair in pairs if free & {*pair}]
    elif rng.random() < 0.5:
        pairs = rng.sample(pairs, min(len(pairs), rng.randrange(1, 9)))
    return [f"{plates[one].name} / {plates[other].name}" for one, other in pairs] or [
        f"{plates[0].name} / {plates[plates[0].neighbours[0]].name}"
    ]


def _stations(at: Drawer, field: Field) -> list[dict[str, Any]]:
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


def _measure(at: Drawer, field: Field) -> float:
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


def _zone_colour(at: Drawer, field: Field) -> str:
    colour = at.rng.choice((*PALETTE, *OWN_COLOURS))
    at.needed |= {"paint.colours"} if colour in OWN_COLOURS else set()
    return str(colour)


def _own_colours(at: Drawer, field: Field) -> list[dict[str, str]]:
    return [{"name": name, "hex": f"{at.rng.randrange(2**24):06x}"} for name in OWN_COLOURS]


def _head(at: Drawer, field: Field) -> str:
    """Not the axis that points up."""
    up = at.drawn.get("dome.up", AUTO)
    return str(at.rng.choice([axis for axis in field.metadata["options"] if axis == AUTO or axis[-1] != up[-1]]))


def _edge(at: Drawer, field: Field) -> float:
    """A coarse mesh, so that a shell is soon computed."""
    length = at.drawn.get("dome.length") or USUAL_LENGTH
    width = at.drawn.get("dome.width") or 0.8 * length
    return at.near(math.sqrt(2.5 * length * width / at.rng.uniform(*TRIANGLES)), field)


def _item(at: Drawer, field: Field) -> str:
    """Not the one before: each may be named once."""
    word = at.rng.choice([name for name in PACKS if name != at.drawn.get("prices.items[].item")])
    return word if at.rng.random() < 0.7 else word.split(" ")[0]


def _start(at: Drawer, field: Field) -> str:
    event = datetime.date.fromisoformat(at.drawn.get("schedule.event") or "2027-06-01")
    return (event - datetime.timedelta(at.rng.randrange(-10, 300))).isoformat()


def _group(at: Drawer, field: Field) -> str:
    group = at.rng.choice(field.metadata["options"])
    at.needed |= {"wearer.years"} if group == "child" else set()
    return str(group)


def _years(at: Drawer, field: Field) -> float:
    return at.near(8 if at.drawn.get("wearer.group") == "child" else at.rng.choice((8, 40)), field)


def _of_the_foam(at: Drawer, field: Field) -> Any:
    """To the last digit: sheets of another thickness will not do."""
    return str((at.tree.get("foam") or {}).get("thickness", 10))


def _usual(value: float) -> Callable[[Drawer, Field], float]:
    return lambda at, field: at.near(value, field)


def _plates_along(number: int) -> Callable[[Drawer, Field], int]:
    return lambda at, field: max(number + round(at.rng.gauss(0, 1.2)), int(field.metadata["low"]))


def _pleurals(at: Drawer, field: Field) -> int:
    """One more or fewer than the vertebrals at most, or else they do not go together."""
    vertebrals = at.drawn.get("plates.vertebrals", 5)
    return max(vertebrals + at.rng.randint(-1, 1), int(field.metadata["low"]))


def _few(at: Drawer, field: Field) -> int:
    return max(at.rng.randint(0, 2), int(field.metadata["low"]))


FEW: Mapping[str, Callable[[Drawer, Field], Any]] = {
    "plates.size": lambda at, field: at.near(120 * at.size, field),
    "plates.vertebrals": _plates_along(4),
    "plates.pleurals": _pleurals,
    "plates.marginals": _plates_along(8),
    "plates.bands": _plates_along(5),
    "plates.ribs": _plates_along(8),
    "plates.rows": _plates_along(6),
    "plates.across": _plates_along(5),
    "plates.cells": _plates_along(25),
}  # fmt: skip
"""How many plates there are: always written, and few, so that a shell is soon computed."""
SENSE: Mapping[str, Callable[[Drawer, Field], Any]] = {
    "wearer.group": _group,
    "wearer.years": _years,
    **{f"wearer.{name.removesuffix('_kg')}": _measure for name in MEASURES},
    "dome.length": lambda at, field: at.near(USUAL_LENGTH * at.size, field),
    "dome.stations": _stations,
    "dome.head": _head,
    "dome.cut": _usual(8),
    "dome.smoothing": _usual(90),
    **FEW,
    "seams.between": _between,
    "seams.walks": _few,
    "mesh.edge": _edge,
    "shape.rounds": _few,
    "spikes[].plates[]": _plates_word,
    "spikes[].but_not[]": _plates_word,
    "spikes[].by_hand[].plate": _plate,
    "spikes[].place.along": _along,
    "spikes[].place.count": lambda at, field: max(6 + round(at.rng.gauss(0, 3)), 1),
    "spikes[].place.every": lambda at, field: at.near(70 * at.size, field),
    "spikes[].place.away": lambda at, field: at.near(40 * at.size, field),
    "spikes[].place.apart": lambda at, field: at.near(90 * at.size, field),
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


def scanned(unit: str, up: str, head: str) -> trimesh.Trimesh:
    """A noisy scan of half an egg, narrower at its head, in its unit and with its axes where they are said to be."""
    ball = trimesh.creation.icosphere(subdivisions=4)
    half = ball.faces[(ball.vertices[ball.faces][:, :, 2] >= -1e-9).all(axis=1)]
    noise = np.random.default_rng(1).normal(0, 0.3, ball.vertices.shape)
    points = (ball.vertices * (1 - 0.1 * ball.vertices[:, :1]) * (200, 160, 130) + noise) / UNITS[unit]
    above = up if up != AUTO else next(axis for axis in "zxy" if axis != head[-1])
    ahead = head if head != AUTO else next(axis for axis in "xyz" if axis != above[-1])
    turned = points @ np.array([AXES[ahead], np.cross(AXES[above], AXES[ahead]), AXES[above]])
    return trimesh.Trimesh(turned, half)
