"""The wearers of one design, read from a file.

    wearers:
      - {name: heron, group: adult, stature: 1700, shoulder_breadth: 400}
      - {name: newt, years: 9}

Each has a name for its folder, and the fields of the section `wearer` of a preset.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path

from shellgen.errors import PresetError
from shellgen.fields import bind, params, yamltree
from shellgen.fields.yamltree import Node, Section, YamlList
from shellgen.wear import wearer

MOST = 400
"""Most wearers in one file (chosen: a large theatre company, in a file that one can still read)."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Entry(wearer.Params):
    name: str = params.slug(params.REQUIRED, "Name of the wearer's folder, such as heron.", longest=30)


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    wearers: tuple[Entry, ...] = params.many(Entry, "Who the design is made for.", most=MOST, default=params.REQUIRED)


@dataclass(frozen=True, slots=True, eq=False)
class Wearer:
    name: str
    measures: wearer.Params


def read(path: Path) -> tuple[Wearer, ...]:
    """The wearers in a file, in its order. PresetError for a mistake in it."""
    tree = yamltree.read(path)
    entries = bind.bind(tree, Params, file=str(path)).wearers
    if not entries:
        raise PresetError("wearers", "The list is empty.", f"Give 1 to {MOST} wearers.", file=str(path), line=1)
    node = tree.entries["wearers"]
    items = node.items if isinstance(node, YamlList) else ()
    found = tuple(Wearer(entry.name, _plain(entry)) for entry in entries)
    for number, (one, item) in enumerate(zip(found, items, strict=True)):
        where = f"wearers[{number + 1}]"
        if one.name in [other.name for other in found[:number]]:
            line = _line(item, "name")
            problem = f'"{one.name}" stands here twice.'
            raise PresetError(f"{where}.name", problem, "Use each name once.", file=str(path), line=line)
        try:
            wearer.body(one.measures)
        except PresetError as error:
            field = error.where.rpartition(".")[2]
            line, words = _line(item, field), (error.problem, error.remedy)
            raise PresetError(f"{where}.{field}", *words, file=str(path), line=line, hint=error.hint) from error
    for number, (one, item) in enumerate(zip(found, items, strict=True), 1):
        if not one.measures.given and one.measures.group is None:
            remedy = "Give years, stature or another line of the section wearer."
            problem = "Nothing but the name is given."
            raise PresetError(f"wearers[{number}]", problem, remedy, file=str(path), line=item.line)
    return found


def _plain(entry: Entry) -> wearer.Params:
    return wearer.Params(**{field.name: getattr(entry, field.name) for field in fields(wearer.Params)})


def _line(item: Node, key: str) -> int:
    """The line of a key of a wearer, or else of the wearer."""
    return item.key_lines.get(key, item.line) if isinstance(item, Section) else item.line
