"""One shell as a maker describes it: the sections of a preset, read from a YAML file."""

from __future__ import annotations

import re
from collections.abc import Container, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path

from shellgen import wear
from shellgen.canvas.paper import PAPERS
from shellgen.dome import mesh
from shellgen.errors import PresetError
from shellgen.fields import bind, params, yamltree
from shellgen.fields.params import Chosen
from shellgen.fields.values import RESERVED, slug_of
from shellgen.fields.yamltree import Items, Node, Section
from shellgen.finish import paint, scores
from shellgen.pattern import flatten, marks, proof, seams, shape
from shellgen.spikes import groups, making
from shellgen.trim import edging, rings
from shellgen.wear import wearer
from shellgen.wear.wearer import fit
from shellgen.workshop import materials, nest, prices, schedule


@dataclass(frozen=True, slots=True, eq=False)
class Foam:
    thickness: float = params.length(10.0, 1.0, 50.0, "How thick the foam sheet is that the shell is made of.")
    formed: bool = params.flag(True, "Whether pieces are heat-formed to the dome's curve before they are glued.")


@dataclass(frozen=True, slots=True, eq=False)
class Print:
    paper: str = params.choice("A4", tuple(PAPERS), "The paper in the printer.")
    page: str = params.choice("either", ("either", "upright", "lying"), "How it lies; either takes what saves pages.")
    margin: float = params.length(8.0, 0, 30, "White edge that the printer cannot print on.")
    overlap: float = params.length(12.0, 4, 40, "How far neighbouring pages lie over each other.")


@dataclass(frozen=True, slots=True, eq=False)
class Share:
    license: str | None = params.text(
        None, "What others may do with the pack, such as CC BY-NC 4.0; ask me first, if left out.", longest=200
    )
    by: str | None = params.text(None, "The name you want to be given as its maker.")
    about: str | None = params.text(None, "What it is, in a sentence or two, for the cover.", longest=400)


@dataclass(frozen=True, slots=True, eq=False)
class Preset:
    name: str | None = params.slug(None, "Name of the pack and its folder; the file's own name if left out.")
    title: str | None = params.text(None, "Title on the pages; the name if left out.")
    wearer: wearer.Params = params.group(
        wearer.Params, "Who wears it; the dome's length, width and height, where left out, are then theirs."
    )
    dome: Chosen = params.family(
        "plan", "kind", "shellgen.dome.surfaces", "Size and shape of the finished shell, outside."
    )
    plates: Chosen = params.family("turtle", "layout", "shellgen.plates", "How the dome is divided into plates.")
    seams: Chosen = params.family(
        "least",
        "plan",
        "shellgen.pattern.plans",
        "Which lines are cut, and what a piece may be like.",
        common=seams.Params,
    )
    foam: Foam = params.group(Foam, "The sheet that the pieces are cut from.")
    mesh: mesh.Params = params.group(mesh.Params, "How finely the dome is computed.")
    flatten: flatten.Params = params.group(flatten.Params, "How the pieces are laid flat.")
    shape: shape.Params = params.group(shape.Params, "Correcting the flat pieces by what the virtual build shows.")
    proof: proof.Params = params.group(proof.Params, "What the virtual build may find, and how the foam behaves in it.")
    spikes: tuple[groups.Group, ...] = params.many(
        groups.Group, "Kinds of spikes, each on its own plates.", default=(groups.Group(),)
    )
    making: making.Params = params.group(making.Params, "How the spikes are made.")
    rings: rings.Params = params.group(rings.Params, "The foam strips round the spikes.")
    scores: scores.Params = params.group(scores.Params, "The grooves between the plates.")
    edging: edging.Params = params.group(edging.Params, "The stock along the rim.")
    materials: materials.Params = params.group(
        materials.Params, "What is spread, poured and glued, and how far it goes."
    )
    paint: paint.Params = params.group(paint.Params, "Colours and coats of the zones, and the shade in the grooves.")
    nest: nest.Params = params.group(nest.Params, "Laying the pieces on sheets of foam.")
    prices: prices.Params = params.group(prices.Params, "Packs, prices and spares of the buying list.")
    wear: Chosen = params.family(
        "straps", "harness", "shellgen.wear.harnesses", "How the shell hangs on its wearer.", common=wear.Params
    )
    schedule: schedule.Params = params.group(schedule.Params, "The day it is worn and the hours there are before.")
    marks: marks.Params = params.group(marks.Params, "Registration marks, on which neighbours are glued together.")
    print: Print = params.group(Print, "The templates on paper.")
    share: Share = params.group(Share, "What stands on the cover of a pack that you pass on.")


def read(path: Path) -> Preset:
    """The preset in a file. PresetError with file, line, field, what was found and what is allowed."""
    tree = yamltree.read(path)
    preset = bind.bind(tree, Preset, file=str(path))
    try:
        preset = tailored(preset, kept=_keys(tree.entries.get("dome")))
    except PresetError as error:
        raise locate(error, path) from error
    if preset.name is not None:
        return preset
    name = slug_of(path.stem)[:60].strip("-")
    return replace(preset, name=name if name and name not in RESERVED else "shell")


def tailored(preset: Preset, *, kept: Container[str]) -> Preset:
    """The preset with the length, width and height that fit its wearer, if one is named and the dome has such figures.

    They fit the wearer in steps, whoever may read the measures: the shell goes wherever its pack goes.
    kept : those of them that stay as they are, because the maker wrote them. PresetError as `wearer.body`.
    """
    who, own = preset.wearer, preset.dome.own
    free = [
        name
        for name, spec in params.specs(type(own) if own else None).items()
        if name in fit.Size.__slots__ and isinstance(spec.default, float) and name not in kept
    ]
    if not who.given and (who.group != "child" or not free):
        return preset
    advised = fit.size(wearer.in_steps(who))
    new = {name: getattr(advised, name) for name in free}
    return replace(preset, dome=replace(preset.dome, own=replace(own, **new))) if free else preset


def _keys(node: Node | None) -> Container[str]:
    return node.entries if isinstance(node, Section) else ()


def files(value: object) -> Iterator[Path]:
    """The files that a preset names."""
    if isinstance(value, params.File):
        yield value.path
    elif isinstance(value, tuple):
        for item in value:
            yield from files(item)
    elif is_dataclass(value):
        for field in fields(value):
            yield from files(getattr(value, field.name))


def locate(error: PresetError, path: Path) -> PresetError:
    """An error that a stage raised, with the line of its field added where the preset names it just once.

    A stage knows its own field and little of what stands round it: "layout.pleurals" is found as "plates.pleurals".
    """
    if error.file:
        return error
    steps = _steps(error.where)
    named = [(where, line) for where, line in _places(yamltree.read(path), "") if _steps(where)[-1:] == steps[-1:]]
    fitting = [place for place in named if set(_steps(place[0])) <= set(steps)]
    if fitting:
        named = [max(fitting, key=lambda place: len(_steps(place[0])))]
    elif "[" in error.where:
        named = []  # another item's line would mislead
    where, line = named[0] if len(named) == 1 else (error.where, 0)
    return PresetError(where, error.problem, error.remedy, file=str(path), line=line, hint=error.hint)


def _steps(where: str) -> list[str]:
    """ "spikes[2].base" as spikes, 2, base."""
    return re.findall(r"[^.\[\]]+", where)


def _places(node: Node, where: str) -> Iterator[tuple[str, int]]:
    """(path, line) of every key below a node."""
    if isinstance(node, Section):
        for key, value in node.entries.items():
            path = f"{where}.{key}" if where else key
            yield path, node.key_lines[key]
            yield from _places(value, path)
    elif isinstance(node, Items):
        for number, item in enumerate(node.items, 1):
            yield from _places(item, f"{where}[{number}]")
