"""The odd preset, in which no figure is its own default or equals another of its kind, and what its stages get."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import MISSING, dataclass, field, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any

from shellgen import preset
from shellgen.core.flow import Flow
from shellgen.fields.params import Chosen, specs
from shellgen.pipeline import Shell, shell_of
from shellgen.preset import Preset

PATH = Path(__file__).parent / "odd_presets" / "odd-newt.yaml"


@dataclass(frozen=True)
class Figure:
    """One declared field of a preset. section : of its group; kind : as declared; usual : its default"""

    section: str
    name: str
    kind: str
    value: Any
    usual: Any


def figures(value: object, section: str = "") -> Iterator[Figure]:
    """Every field, through groups, lists and the chosen member of each family."""
    for name, spec in specs(type(value)).items():
        yield from _figures(getattr(value, name), spec, section, name)


def _figures(value: Any, spec: Any, section: str, name: str) -> Iterator[Figure]:
    kind, where = spec.metadata["kind"], f"{section}.{name}".strip(".")
    if isinstance(value, Chosen):
        yield Figure(section, name, "member", value.name, spec.metadata["member"])
        for part in (value.common, value.own):
            if part is not None:
                yield from (f for f in figures(part, where) if f.kind != "member")
    elif is_dataclass(value) and kind == "group":
        yield from figures(value, where)
    elif isinstance(value, tuple) and value and is_dataclass(value[0]):
        for item in value:
            yield from figures(item, where)
    else:
        usual = spec.default if spec.default is not MISSING else None
        yield Figure(section, name, kind, value, usual)


@dataclass(frozen=True, slots=True)
class Overheard(Flow):
    """Computes everything anew and writes down what each stage is given, by the parameters' names."""

    given: list[tuple[str, str, Any]] = field(default_factory=list)

    def run(self, make: Any, /, *of: Any, **named: Any) -> Any:
        self._write_down(make, of, named)
        return Flow.run(self, make, *of, **named)

    def start(self, make: Any, /, *of: Any, **named: Any) -> Any:
        self._write_down(make, of, named)
        return Flow.start(self, make, *of, **named)

    def _write_down(self, make: Any, of: Any, named: Any) -> None:
        stage = f"{make.__module__.removeprefix('shellgen.')}.{make.__qualname__}"
        bound = inspect.signature(make).bind(*of, **named)
        self.given.extend((stage, name, value) for name, value in bound.arguments.items())


@cache
def read() -> Preset:
    return preset.read(PATH)


@cache
def built() -> tuple[Shell, tuple[tuple[str, str, Any], ...]]:
    """The odd shell, and stage, parameter and value of all that its stages were given."""
    flow = Overheard()
    shell = shell_of(read(), flow)
    return shell, tuple(flow.given)


def plain(value: Any) -> list[Any]:
    """The numbers, words and flags in a value, through tuples and plain records of the package, but not in arrays."""
    if isinstance(value, bool | int | float | str):
        return [value]
    if isinstance(value, tuple) and all(isinstance(part, bool | int | float | str) for part in value):
        return list(value)
    return []
