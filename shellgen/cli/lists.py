"""Lists of choices, one function for each topic. Heavy modules are imported only when needed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby

import click

from shellgen.cli import terminal
from shellgen.cli.stages import STAGES
from shellgen.errors import PresetError

TOPICS = {
    "layouts": ("how the dome is divided into plates", "shellgen.plates"),
    "plans": ("where the foam is cut", "shellgen.pattern.plans"),
    "profiles": ("shapes of spikes", "shellgen.spikes.profiles"),
    "placings": ("where spikes stand", "shellgen.spikes.placings"),
    "surfaces": ("kinds of dome", "shellgen.dome.surfaces"),
    "harnesses": ("what carries the shell", "shellgen.wear.harnesses"),
}
"""Families of modules, in a few words and by package."""

Row = tuple[str, ...]


def show(topic: str, words: Sequence[str]) -> None:
    """Prints a list. PresetError for a topic that there is not, or words that the list has not."""
    from shellgen.fields.values import either, nearest

    if topic not in LISTS:
        hint = nearest(topic, LISTS) or f'Search every line of a preset with "shellgen list fields {topic}".'
        raise PresetError("TOPIC", f"{topic} is not a topic.", f"Choose {either(LISTS)}.", hint=hint)
    if topic == "fields":
        _fields(words)
    elif words:
        raise PresetError("WORDS", f"{topic} cannot be searched.", f"Write: shellgen list {topic}")
    else:
        LISTS[topic][1]()


def topics() -> None:
    """Prints what can be listed."""
    _pairs([(f"shellgen list {topic}", about) for topic, (about, _) in LISTS.items()])


def _pairs(rows: Iterable[tuple[str, str]]) -> None:
    click.echo(terminal.pairs(rows, width=terminal.width()))


def _family(package: str) -> Callable[[], None]:
    def show_members() -> None:
        from shellgen.core import registry

        _pairs([(name, registry.about(package, name)) for name in registry.names(package)])

    return show_members


def _fields(words: Sequence[str] = ()) -> None:
    """Every line of a preset, or those of a section, or those with all words in name or help."""
    from shellgen.fields import params
    from shellgen.fields.values import nearest
    from shellgen.preset import Preset, resolved

    sections = {name: spec.metadata["doc"] for name, spec in params.specs(Preset).items()}
    every = [tuple(map(str, row)) for row in resolved.reference(Preset).rows]
    rows = _picked(every, words, sections)
    if not rows:
        problem = f"No line of a preset has {' and '.join(words)} in its name or help."
        raise PresetError("WORDS", problem, "See all lines: shellgen list fields", hint=nearest(words[0], sections))
    parts = []
    for section, group in groupby(rows, key=lambda row: _section(row[0])):
        lines = [line for row in group for line in _entry(*row)]
        parts.append("\n".join([*terminal.wrapped(f"{section}: {sections[section]}", 0), *lines]))
    click.echo("\n\n".join(parts))


def _section(field: str) -> str:
    return re.split(r"[.\[ ]", field)[0]


def _picked(rows: Sequence[Row], words: Sequence[str], sections: Iterable[str]) -> list[Row]:
    """The rows of the section that a word names, and of these the ones with all other words in name or help."""
    left, picked = [word.lower() for word in words], list(rows)
    for word in tuple(left):
        named = [s for s in sections if s in (word, f"{word}s", word.removesuffix("s"))]
        if named:
            left.remove(word)
            picked = [row for row in picked if _section(row[0]) == named[0]]
            break
    return [row for row in picked if all(_within(word, row) for word in left)]


def _within(word: str, row: Row) -> bool:
    """Whether a word, or its singular, is part of a name or a help text."""
    text = " ".join(row).lower().replace("_", " ")
    return any(w in text for w in (word, word.replace("_", " "), word.removesuffix("s")))


def _entry(field: str, default: str, allowed: str, doc: str) -> Iterator[str]:
    """A line of a preset with its default, and below it what it means and accepts."""
    yield from terminal.wrapped(f"{field}: {default}", 2)
    yield from terminal.wrapped(f"{doc} Allowed: {allowed}.", 6)


def _presets() -> None:
    from shellgen.fields import presetfiles

    for path in presetfiles.presets():
        click.echo(str(path))


def _schema() -> None:
    from shellgen.preset.starter import schema_bytes

    click.echo(schema_bytes(), nl=False)


def _record_schema() -> None:
    from shellgen.record.schema import schema

    terminal.print_json(schema())


def _papers() -> None:
    from shellgen.canvas.paper import PAPERS

    _pairs([(name, f"{width:g} x {height:g} mm") for name, (width, height) in PAPERS.items()])


def _items() -> None:
    from shellgen.workshop.prices import PACKS

    click.echo("\n".join([*PACKS, *terminal.wrapped("Colours, straps and buckles: shellgen show materials PRESET", 0)]))


LISTS: dict[str, tuple[str, Callable[[], None]]] = {
    **{name: (about, _family(package)) for name, (about, package) in TOPICS.items()},
    "fields": ("every line of a preset, or add a section or a word", _fields),
    "papers": ("sizes of paper", _papers),
    "items": ("items of the buying list, for prices", _items),
    "stages": ("what shellgen show can print", lambda: _pairs(STAGES.items())),
    "presets": ("presets to build or to copy", _presets),
    "schema": ("JSON Schema of a preset", _schema),
    "record-schema": ("JSON Schema of shell.json", _record_schema),
}
