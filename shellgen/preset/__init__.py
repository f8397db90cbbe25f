"""One shell as a maker describes it: the sections of a preset, read from a YAML file."""

from __future__ import annotations

import re
from collections.abc import Container, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path
from typing import Any

from shellgen import wear
from shellgen.canvas.paper import PAPERS
from shellgen.dome import mesh
from shellgen.errors import PresetError
from shellgen.fields import bind, params, yamltree
from shellgen.fields.params import Chosen
from shellgen.fields.values import RESERVED, slug_of
from shellgen.fields.yamltree import INSTEAD, Node, Scalar, Section, YamlList
from shellgen.finish import paint, scores
from shellgen.pattern import flatten, limits, marks, proof, shape
from shellgen.spikes import groups, making
from shellgen.trim import edging, rings
from shellgen.wear import wearer
from shellgen.wear.wearer import fit
from shellgen.workshop import materials, nest, prices, schedule


@dataclass(frozen=True, slots=True, eq=False)
class FoamSection:
    thickness: float = params.length(
        10.0, 1.0, 50.0, "Thickness of the foam sheet; measure it: foam sold as 10 mm is often 9."
    )
    formed: bool = params.flag(True, "Whether you form the pieces with heat to the dome's curve before you glue them.")


@dataclass(frozen=True, slots=True, eq=False)
class PrintSection:
    paper: str = params.choice(
        "A4", tuple(PAPERS), "Paper in the printer; with Letter and Tabloid, lengths are in inches too."
    )
    page: str = params.choice(
        "either", ("either", "upright", "lying"), "Direction of the paper; either uses the one with fewer pages."
    )
    margin: float = params.length(8.0, 0, 30, "Width of the edge that the printer leaves white.")
    overlap: float = params.length(12.0, 4, 40, "Overlap of neighbouring pages.")
    halves: bool = params.flag(
        True, "Whether templates that mirror are printed once, to draw around, flip over and draw around again."
    )

    @property
    def layout(self) -> dict[str, Any]:
        """How drawings are laid over sheets."""
        lying = {"either": None, "upright": False, "lying": True}
        return {"paper": self.paper, "landscape": lying[self.page], "margin": self.margin, "overlap": self.overlap}


@dataclass(frozen=True, slots=True, eq=False)
class ShareSection:
    license: str | None = params.text(
        None, "Licence of the pack, such as CC BY-NC 4.0; without one, others must ask you first.", longest=200
    )
    by: str | None = params.text(None, "Name of the maker, as shown on the cover.")
    about: str | None = params.text(None, "A sentence or two about the shell, for the cover.", longest=400)


@dataclass(frozen=True, slots=True, eq=False)
class Preset:
    name: str | None = params.slug(None, "Name of the pack and its folder; default: the name of the file.")
    title: str | None = params.text(None, "Title on the pages; default: the name.")
    wearer: wearer.Params = params.group(
        wearer.Params, "The wearer. Length, width and height of the dome fit the wearer if you leave them out."
    )
    dome: Chosen = params.family(
        "plan", "kind", "shellgen.dome.surfaces", "Size and shape of the finished shell, measured outside."
    )
    plates: Chosen = params.family("turtle", "layout", "shellgen.plates", "How the dome is divided into plates.")
    seams: Chosen = params.family(
        "least",
        "plan",
        "shellgen.pattern.plans",
        "Where the foam is cut, and limits for the pieces.",
        common=limits.Limits,
    )
    foam: FoamSection = params.group(FoamSection, "The foam that you cut the pieces from.")
    mesh: mesh.Params = params.group(mesh.Params, "How finely the dome is computed.")
    flatten: flatten.Params = params.group(flatten.Params, "How the pieces are flattened.")
    shape: shape.Params = params.group(shape.Params, "How the virtual build corrects the flat pieces.")
    proof: proof.Params = params.group(proof.Params, "Limits of the virtual build, and the foam's properties in it.")
    spikes: tuple[groups.Group, ...] = params.many(
        groups.Group, "Kinds of spikes, each on its own plates.", default=(groups.Group(),)
    )
    making: making.Params = params.group(making.Params, "How the spikes are made.")
    rings: rings.Params = params.group(rings.Params, "The foam strips around the spikes.")
    scores: scores.Params = params.group(scores.Params, "The grooves between the plates.")
    edging: edging.Params = params.group(edging.Params, "The bevel stock along the rim.")
    materials: materials.Params = params.group(
        materials.Params, "Glue, filler, primer and other materials, and how far they go."
    )
    paint: paint.Params = params.group(paint.Params, "Colours and coats of the zones, and the shading in the grooves.")
    nest: nest.Params = params.group(nest.Params, "How the pieces are placed on sheets of foam.")
    prices: prices.Params = params.group(prices.Params, "Packs, prices and extra amounts of the buying list.")
    wear: Chosen = params.family(
        "straps", "harness", "shellgen.wear.harnesses", "How the wearer carries the shell.", common=wear.Params
    )
    schedule: schedule.Params = params.group(schedule.Params, "The day of the event, and your hours of work before it.")
    marks: marks.Params = params.group(marks.Params, "Registration marks along the seams.")
    print: PrintSection = params.group(PrintSection, "The templates on paper.")
    share: ShareSection = params.group(ShareSection, "The cover of a pack that you share.")


def read(path: Path) -> Preset:
    """The preset in a file. PresetError with file, line and field."""
    tree = tree_of(path)
    preset = bind.bind(tree, Preset, file=str(path))
    try:
        preset = tailored(preset, kept=_keys(tree.entries.get("dome")))
    except PresetError as error:
        raise locate(error, path) from error
    if preset.name is not None:
        return preset
    name = slug_of(path.stem)[:60].strip("-")
    return replace(preset, name=name if name and name not in RESERVED else "shell")


def tree_of(path: Path) -> Section:
    """The tree of a preset file. The lines of its section `instead` replace those of the other sections."""
    whole = yamltree.read(path)
    entries = dict(whole.entries)
    block = entries.pop(INSTEAD, None)
    if block is None or (isinstance(block, Scalar) and not block.text):
        return replace(whole, entries=entries)
    if not isinstance(block, Section):
        remedy = "Write the sections and lines that replace those above."
        raise PresetError(INSTEAD, "This is not a section.", remedy, file=str(path), line=whole.key_lines[INSTEAD])
    return yamltree.joined(replace(whole, entries=entries), block)


def tailored(preset: Preset, *, kept: Container[str]) -> Preset:
    """The preset with the length, width and height that fit its wearer, if it has one and the dome has such figures.

    They fit the wearer in steps even if the measures are shared, because anyone can measure a shell.
    kept : the figures that the maker wrote, which do not change. PresetError as `wearer.body`.
    """
    who, own = preset.wearer, preset.dome.own
    free = [
        name
        for name, spec in params.specs(type(own) if own else None).items()
        if name in fit.DomeSize.__slots__ and isinstance(spec.default, float) and name not in kept
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
    """An error of a stage, with the line of its field if the preset names it exactly once.

    A stage does not know the section of its field: "layout.pleurals" is found as "plates.pleurals".
    """
    if error.file:
        return error
    steps = _steps(error.where)
    named = [(where, line) for where, line in _places(tree_of(path), "") if _steps(where)[-1:] == steps[-1:]]
    fitting = [place for place in named if set(_steps(place[0])) <= set(steps)]
    if fitting:
        named = [max(fitting, key=lambda place: (_steps(place[0]) == steps, len(_steps(place[0]))))]
    elif "[" in error.where:
        named = []  # the line of another item would mislead
    where, line = named[0] if len(named) == 1 else (error.where, 0)
    words = where, error.problem, error.remedy
    return PresetError(*words, file=str(path), line=line, hint=error.hint, picture=error.picture)


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
    elif isinstance(node, YamlList):
        for number, item in enumerate(node.items, 1):
            yield from _places(item, f"{where}[{number}]")
