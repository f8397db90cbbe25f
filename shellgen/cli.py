"""The command line. Thin: it reads words, calls the house and prints; heavy rooms are opened only when asked for."""

from __future__ import annotations

import contextlib
import json
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import click

import shellgen
from shellgen.errors import PresetError, ShellgenError, printable

TOPICS = {
    "layouts": "shellgen.layouts",
    "plans": "shellgen.plans",
    "profiles": "shellgen.spikes.profiles",
    "surfaces": "shellgen.surfaces",
    "harnesses": "shellgen.wear",
}
"""Families that `list` can show."""

SHOWN = 0.05
"""Seconds from which a stage is worth a line among the timings (chosen)."""


class Mistake(click.ClickException):
    """Something that is the user's to mend: one line, exit code 2, no traceback."""

    exit_code = 2


class Commands(click.Group):
    """Commands in the order a maker uses them, with the house's own errors told as mistakes."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except ShellgenError as error:
            raise Mistake(str(error)) from error


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(shellgen.__version__, prog_name="shellgen")
def main() -> None:
    """Turns a preset into everything needed to build a segmented, spiked costume shell from foam.

    A preset is a short YAML file. Begin with "shellgen new my-shell", edit my-shell.yaml, and build it:
    "shellgen build my-shell.yaml" writes templates, spikes, pictures and the record of every figure.
    """


@main.command()
@click.argument("name")
@click.option("--like", metavar="PRESET", help="Copy this preset instead of the starter; see: shellgen list presets.")
def new(name: str, like: str | None) -> None:
    """Write a commented preset NAME.yaml to begin with."""
    from shellgen import starter

    path = Path(name if name.endswith(".yaml") else f"{name}.yaml")
    starter.write(path, like=like)
    click.echo(f"{path} is ready to edit. Then: shellgen build {path}")


@main.command()
@click.argument("preset")
@click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
def check(preset: str, as_json: bool) -> None:
    """Read PRESET, say what is wrong with it, or show every figure it comes to."""
    from shellgen import flow, pipeline, resolved, terminal

    path, content = _read(preset)
    with _located(path):
        pipeline.asked(content, flow.Flow())
    figures = resolved.resolved(content)
    if as_json:
        _print_json({field: value for field, value, _ in figures.rows})
        return
    click.echo(terminal.table(figures))
    click.echo(f"\n{path} is good.")


@main.command()
@click.argument("preset")
@click.option("--out", type=click.Path(path_type=Path), help="Folder of the pack; out/NAME if left out.")
@click.option("--json", "as_json", is_flag=True, help="Print the record as JSON instead of the summary.")
@click.option("--timings", is_flag=True, help="Show how long each stage took.")
@click.option("--step", is_flag=True, help="Also write the spikes as STEP, for CAD.")
def build(preset: str, out: Path | None, as_json: bool, timings: bool, step: bool) -> None:
    """Compute PRESET and write its pack: templates, spikes, pictures, lists and the record."""
    from shellgen import beside, contents, flow, pack, summary, terminal

    path, content = _read(preset)
    folder = out or Path("out") / content.name
    pack.hold(folder)
    with _progress(path) as progress, beside.helper() as other:
        made = contents.build(content, flow=flow.Flow(beside=other), progress=progress, exact_solids=step)
    made.write(folder)
    if as_json:
        _print_json(made.record)
    else:
        click.echo(summary.text(made.record, folder))
    if timings:
        rows = ((stage, f"{seconds:7.2f} s") for stage, seconds in made.seconds.items() if seconds >= SHOWN)
        click.echo(terminal.pairs(rows), err=as_json)


@main.command()
@click.argument("preset")
@click.option("--for", "wearers", type=click.Path(path_type=Path), required=True, help="YAML file of the wearers.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder of all sizes; out/NAME-sizes if left out.")
@click.option("--workers", type=click.IntRange(1, 256), help="How many at a time; as many as there are cores.")
@click.option("--cluster", metavar="ADDRESS", help="Build on the Dask cluster whose scheduler is at ADDRESS.")
def sizes(preset: str, wearers: Path, out: Path | None, workers: int | None, cluster: str | None) -> None:
    """Grade PRESET to many wearers and write a pack for each, with a size chart. Broken off, it is taken up again."""
    from shellgen.sizes import command
    from shellgen.sizes import wearers as wearers_

    _, content = _read(preset)
    folder = out or Path("out") / f"{content.name}-sizes"
    worn = wearers_.read(wearers)
    made = command.run(content, worn, folder, workers=workers, cluster=cluster, say=partial(click.echo, err=True))
    click.echo(command.summary(made, folder))
    if any(size.state == "failed" for size in made):
        sys.exit(1)


@main.command()
@click.argument("preset")
@click.option("--out", type=click.Path(path_type=Path), help="The zip; out/NAME.zip if left out.")
@click.option("--with-measures", is_flag=True, help="Also pass on the wearer's measures, which are left out otherwise.")
def share(preset: str, out: Path | None, with_measures: bool) -> None:
    """Write PRESET as one zip to pass on: cover, licence, both papers, everything to build, nobody's measures."""
    from shellgen import onefile
    from shellgen import share as share_

    path, content = _read(preset)
    target = out or Path("out") / f"{content.name}.zip"
    onefile.hold(target)
    with _progress(path) as progress:
        files = share_.build(content, with_measures=with_measures, progress=progress)
    onefile.write(target, share_.zipped(files, str(content.name)))
    click.echo(f"{target} holds {len(files)} files. {share_.cover.licence(content.share)}")


@main.command()
@click.argument("preset")
@click.option("--port", type=click.IntRange(0, 65535), default=8730, show_default=True, help="0 takes any free one.")
@click.option("--open", "show_page", is_flag=True, help="Open the page in your browser.")
def live(preset: str, port: int, show_page: bool) -> None:
    """Follow PRESET in the browser: every save is shown. On this computer only; ends with Ctrl-C."""
    import webbrowser

    from shellgen import starter, yamltree
    from shellgen.live import server

    def ready(address: str) -> None:
        click.echo(f"Following {path} at {address}\nEnd with Ctrl-C.")
        if show_page:
            webbrowser.open(address)

    path = starter.find(preset)
    yamltree.content(path)  # what it holds may be mended while it is followed, but it must be a file
    server.serve(path, port, ready=ready)


@main.command()
@click.argument("stage")
@click.argument("preset")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a table.")
def show(stage: str, preset: str, as_json: bool) -> None:
    """Print the figures of one STAGE of PRESET: pieces, seams, spikes, ... or preset for what it says itself."""
    from shellgen import flow, pipeline, record, summary, terminal
    from shellgen.values import nearest

    path, content = _read(preset)
    with _progress(path) as progress:
        figures = record.record(pipeline.shell_of(content, flow.Flow(progress)).value)
    if stage not in figures:
        raise PresetError("STAGE", stage, ", ".join(figures), hint=nearest(stage, figures))
    if as_json:
        _print_json(figures[stage])
    elif stage == "plan":
        click.echo(summary.plan(figures))
    elif stage == "wear":
        click.echo(summary.harness(figures))
    else:
        click.echo(terminal.table(terminal.record_table(stage, figures[stage])))


@main.command(name="list")
@click.argument("topic", required=False)
def list_(topic: str | None) -> None:
    """List what there is to choose from: one TOPIC, or the topics."""
    shown = {**{name: _family(package) for name, package in TOPICS.items()}, **_LISTS}
    if topic is None:
        click.echo("shellgen list " + " | ".join(shown))
    elif topic not in shown:
        raise PresetError("TOPIC", topic, ", ".join(shown))
    else:
        shown[topic]()


def _family(package: str) -> Callable[[], None]:
    def show_members() -> None:
        from shellgen import registry, terminal

        click.echo(terminal.pairs((name, registry.about(package, name)) for name in registry.names(package)))

    return show_members


def _list_fields() -> None:
    from shellgen import resolved, terminal
    from shellgen.preset import Preset

    click.echo(terminal.table(resolved.reference(Preset)))


def _list_presets() -> None:
    from shellgen import starter

    for path in starter.presets():
        click.echo(str(path))


def _list_schema() -> None:
    from shellgen import starter

    click.echo(starter.schema_bytes(), nl=False)


def _list_papers() -> None:
    from shellgen import terminal
    from shellgen.paper import PAPERS

    click.echo(terminal.pairs((name, f"{width:g} x {height:g} mm") for name, (width, height) in PAPERS.items()))


_LISTS = {"fields": _list_fields, "papers": _list_papers, "presets": _list_presets, "schema": _list_schema}


@main.command()
def doctor() -> None:
    """Look whether this computer has all that shellgen uses, and say how to cure what is missing."""
    from shellgen import doctor as doctor_

    checks = doctor_.examine()
    for check in checks:
        mark = "good   " if check.good else "MISSING" if check.needed else "without"
        click.echo(f"{mark}  {check.name:<12}  {check.found}")
        if check.cure:
            click.echo(f"{'':9}cure: {check.cure}")
    if any(check.needed and not check.good for check in checks):
        raise Mistake("something that shellgen cannot do without is missing; see above")


def _read(name: str) -> tuple[Path, Any]:
    from shellgen import preset, starter

    path = starter.find(name)
    return path, preset.read(path)


@contextlib.contextmanager
def _progress(path: Path) -> Iterator[Callable[[str], None]]:
    """A line on stderr for each stage as it begins."""
    start = time.perf_counter()
    with _located(path):
        yield lambda stage: click.echo(f"{time.perf_counter() - start:6.1f} s  {stage}", err=True)


@contextlib.contextmanager
def _located(path: Path) -> Iterator[None]:
    """A stage's own complaint is given its file, and its line where it names one field."""
    try:
        yield
    except PresetError as error:
        from shellgen import preset

        raise preset.locate(error, path) from error
    except ShellgenError as error:
        raise type(error)(f"{printable(str(path))}: {error}") from error


def _print_json(content: Any) -> None:
    json.dump(content, sys.stdout, indent=1, ensure_ascii=False, allow_nan=False)
    sys.stdout.write("\n")
