"""Lists of choices, one function for each topic. Heavy modules are imported only when needed."""

from __future__ import annotations

from collections.abc import Callable

import click

from shellgen.cli import terminal

TOPICS = {
    "layouts": "shellgen.plates",
    "plans": "shellgen.pattern.plans",
    "profiles": "shellgen.spikes.profiles",
    "surfaces": "shellgen.dome.surfaces",
    "harnesses": "shellgen.wear.harnesses",
}
"""Families of modules."""


def _family(package: str) -> Callable[[], None]:
    def show_members() -> None:
        from shellgen.core import registry

        click.echo(terminal.pairs((name, registry.about(package, name)) for name in registry.names(package)))

    return show_members


def _fields() -> None:
    from shellgen.preset import Preset, resolved

    click.echo(terminal.table(resolved.reference(Preset)))


def _presets() -> None:
    from shellgen.preset import starter

    for path in starter.presets():
        click.echo(str(path))


def _schema() -> None:
    from shellgen.preset.starter import schema_bytes

    click.echo(schema_bytes(), nl=False)


def _record_schema() -> None:
    from shellgen.record.schema import schema

    terminal.print_json(schema())


def _papers() -> None:
    from shellgen.canvas.paper import PAPERS

    click.echo(terminal.pairs((name, f"{width:g} x {height:g} mm") for name, (width, height) in PAPERS.items()))


LISTS: dict[str, Callable[[], None]] = {
    **{name: _family(package) for name, package in TOPICS.items()},
    "fields": _fields,
    "papers": _papers,
    "presets": _presets,
    "schema": _schema,
    "record-schema": _record_schema,
}
