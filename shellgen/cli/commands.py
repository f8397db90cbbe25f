"""The command line. Thin: it reads words, calls the house and prints; heavy rooms are opened only when asked for."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import click

import shellgen
from shellgen.cli import terminal
from shellgen.errors import FaultError, PresetError, ShellgenError, printable

SHOWN = 0.05
"""Seconds from which a stage is worth a line among the timings (chosen)."""


@click.group(cls=terminal.Commands, context_settings={"help_option_names": ["-h", "--help"]})
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
    from shellgen.preset import starter

    path = Path(name if name.endswith(".yaml") else f"{name}.yaml")
    starter.write(path, like=like)
    click.echo(f"{path} is ready to edit. Then: shellgen build {path}")


@main.command()
@click.argument("preset")
@click.option("--figures", "only_figures", is_flag=True, help="Only show every figure of the preset; computes nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def check(preset: str, only_figures: bool, as_json: bool) -> None:
    """Compute PRESET and say what is wrong with it, faults first. Exit code 1 if there are faults; writes no pack."""
    from shellgen import pipeline, record
    from shellgen.cli import summary
    from shellgen.core import worker
    from shellgen.core.flow import Flow
    from shellgen.pipeline import dome
    from shellgen.preset import resolved

    path, content = _read(preset)
    figures = resolved.resolved(content)
    rows = {field: value for field, value, _ in figures.rows}
    if only_figures:
        with _located(path):
            dome.asked(content, Flow())
        terminal.print_json(rows) if as_json else click.echo(terminal.table(figures))
        return
    with _progress(path) as progress, worker.started(pipeline.__name__) as other:
        shell = pipeline.shell_of(content, Flow(progress, other))
    findings = record.record(shell)["findings"]
    if as_json:
        terminal.print_json({"figures": rows, "findings": findings})
    else:
        click.echo(summary.checked(findings, path))
    _end_with(findings)


FAULTY = click.option("--accept-faults", is_flag=True, help="Make the pack even where its faults forbid it.")


@main.command()
@click.argument("preset")
@click.option("--out", type=click.Path(path_type=Path), help="Folder of the pack; out/NAME if left out.")
@click.option("--json", "as_json", is_flag=True, help="Print the record as JSON instead of the summary.")
@click.option("--timings", is_flag=True, help="Show how long each stage took.")
@click.option("--step", is_flag=True, help="Also write the spikes as STEP, for CAD.")
@FAULTY
def build(preset: str, out: Path | None, as_json: bool, timings: bool, step: bool, accept_faults: bool) -> None:
    """Compute PRESET and write its pack: templates, spikes, pictures, lists and the record.

    Exit code 1 if the checks find faults. Where somebody could come to harm, no pack is written.
    """
    from shellgen import pack
    from shellgen.cli import summary
    from shellgen.core import worker
    from shellgen.core.flow import Flow
    from shellgen.pack import contents

    path, content = _read(preset)
    folder = out or Path("out") / content.name
    pack.hold(folder)
    with _progress(path) as progress, worker.started(contents.__name__) as other:
        made = contents.build(
            content, flow=Flow(worker=other), progress=progress, exact_solids=step, accept_faults=accept_faults
        )
    made.write(folder)
    if as_json:
        terminal.print_json(made.record)
    else:
        click.echo(summary.text(made.record, folder))
    if timings:
        rows = ((stage, f"{seconds:7.2f} s") for stage, seconds in made.seconds.items() if seconds >= SHOWN)
        click.echo(terminal.pairs(rows), err=as_json)
    _end_with(made.record["findings"])


@main.command()
@click.argument("preset")
@click.option("--for", "wearers", type=click.Path(path_type=Path), required=True, help="YAML file of the wearers.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder of all sizes; out/NAME-sizes if left out.")
@click.option("--workers", type=click.IntRange(1, 256), help="How many at a time; as many as there are cores.")
@click.option("--cluster", metavar="ADDRESS", help="Build on the Dask cluster whose scheduler is at ADDRESS.")
@FAULTY
def sizes(
    preset: str, wearers: Path, out: Path | None, workers: int | None, cluster: str | None, accept_faults: bool
) -> None:
    """Grade PRESET to many wearers and write a pack for each, with a size chart. Broken off, it is taken up again.

    Exit code 1 if a size fails or has faults. Where somebody could come to harm, a size gets no pack.
    """
    from shellgen.cli import sizes
    from shellgen.sizes import wearers as wearers_

    _, content = _read(preset)
    folder = out or Path("out") / f"{content.name}-sizes"
    run = partial(sizes.run, workers=workers, cluster=cluster, accept_faults=accept_faults)
    made = run(content, wearers_.read(wearers), folder, say=partial(click.echo, err=True))
    click.echo(sizes.summary(made, folder))
    if any(size.state == "failed" or sizes.faults(size) for size in made):
        sys.exit(1)


@main.command()
@click.argument("preset")
@click.option("--out", type=click.Path(path_type=Path), help="The zip; out/NAME.zip if left out.")
@click.option("--with-measures", is_flag=True, help="Also pass on the wearer's measures, which are left out otherwise.")
@FAULTY
def share(preset: str, out: Path | None, with_measures: bool, accept_faults: bool) -> None:
    """Write PRESET as one zip to pass on, if it has no faults: both papers, all to build, nobody's measures."""
    from shellgen import share as share_
    from shellgen.core import onefile

    path, content = _read(preset)
    target = out or Path("out") / f"{content.name}.zip"
    onefile.hold(target)
    with _progress(path) as progress:
        files = share_.build(content, with_measures=with_measures, accept_faults=accept_faults, progress=progress)
    onefile.write(target, share_.zipped(files, str(content.name)))
    click.echo(f"{target} holds {len(files)} files. {share_.cover.licence(content.share)}")


@main.command()
@click.argument("preset")
@click.option("--port", type=click.IntRange(0, 65535), default=8730, show_default=True, help="0 takes any free one.")
@click.option("--open", "show_page", is_flag=True, help="Open the page in your browser.")
def live(preset: str, port: int, show_page: bool) -> None:
    """Follow PRESET in the browser: every save is shown. On this computer only; ends with Ctrl-C."""
    import webbrowser

    from shellgen.fields import yamltree
    from shellgen.live import server
    from shellgen.preset import starter

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
    """Print the figures of one STAGE of PRESET, such as pieces, seams or spikes."""
    from shellgen import pipeline, record
    from shellgen.cli import summary
    from shellgen.core.flow import Flow
    from shellgen.fields.values import either, nearest

    if stage not in summary.SECTIONS:
        remedy = f"Choose {either(summary.SECTIONS)}."
        raise PresetError("STAGE", f"{stage} is not a stage.", remedy, hint=nearest(stage, summary.SECTIONS))
    path, content = _read(preset)
    with _progress(path) as progress:
        figures = record.record(pipeline.shell_of(content, Flow(progress)))
    if as_json:
        terminal.print_json(figures[stage])
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
    from shellgen.cli.lists import LISTS
    from shellgen.fields.values import either

    if topic is None:
        click.echo("shellgen list " + " | ".join(LISTS))
    elif topic not in LISTS:
        raise PresetError("TOPIC", f"{topic} is not a topic.", f"Choose {either(LISTS)}.")
    else:
        LISTS[topic]()


@main.command()
def doctor() -> None:
    """Look whether this computer has all that shellgen uses, and say how to cure what is missing."""
    from shellgen.cli import doctor as doctor_

    checks = doctor_.examine()
    click.echo("\n".join(line for check in checks for line in check.lines()))
    if any(check.needed and not check.good for check in checks):
        raise terminal.Mistake("something that shellgen cannot do without is missing; see above")


def _read(name: str) -> tuple[Path, Any]:
    from shellgen import preset
    from shellgen.preset import starter

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
    except FaultError:
        raise
    except ShellgenError as error:
        raise type(error)(f"{printable(str(path))}: {error}") from error


def _end_with(findings: Sequence[Mapping[str, Any]]) -> None:
    """Exit code 1 if there are faults."""
    if any(finding["level"] == "fault" for finding in findings):
        sys.exit(1)
