"""The command line: reads arguments, calls the package and prints. Heavy modules are imported only when needed."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shellgen
from shellgen.cli import reading, terminal

if TYPE_CHECKING:
    from shellgen.record.findings import FindingEntry

SHOWN = 0.05
"""Stages that take fewer seconds are left out of the timings (chosen)."""


@click.group(cls=terminal.Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(shellgen.__version__, prog_name="shellgen")
def main() -> None:
    """Turns a preset into everything needed to build a segmented, spiked costume shell from foam.

    A preset is a short YAML file. Start with "shellgen new my-shell" and edit my-shell.yaml. Then
    "shellgen build my-shell.yaml" writes templates, spikes, pictures and a record of every figure.
    """


@main.command()
@click.argument("name")
@click.option("--like", metavar="PRESET", help="Copy this preset instead of the starter; see: shellgen list presets.")
@click.option("--questions/--no-questions", default=None, help="Ask a few questions; default: only on a terminal.")
def new(name: str, like: str | None, questions: bool | None) -> None:
    """Write a new preset NAME.yaml with comments."""
    from shellgen.cli import questions as questions_
    from shellgen.preset import starter

    path = Path(name if name.endswith(".yaml") else f"{name}.yaml")
    starter.check(path)
    asked = terminal.is_person() if questions is None else questions
    unit, answers = questions_.ask() if asked and like is None else ("mm", {})
    starter.write(path, like=like, answers=answers, unit=unit)
    click.echo(f"{path} is ready to edit. Next: shellgen check {path}")


@main.command()
@click.argument("preset")
@click.option(
    "--figures", "only_figures", is_flag=True, help="Only show every figure of the preset, without computing the shell."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def check(preset: str, only_figures: bool, as_json: bool) -> None:
    """Compute PRESET and list what is wrong, faults first. Exit code 1 if there are faults. Writes no pack."""
    path, content = reading.read(preset)
    from shellgen import pipeline, record
    from shellgen.canvas import rule
    from shellgen.cli import summary
    from shellgen.core import worker
    from shellgen.core.flow import Flow
    from shellgen.pipeline import dome
    from shellgen.preset import resolved
    from shellgen.record.plain import plain

    figures = resolved.resolved(content)
    rows = {field: value for field, value, _ in figures.rows}
    if only_figures:
        with reading.located(path, content):
            dome.asked(content, Flow())
        terminal.print_json(rows) if as_json else click.echo(summary.preset(figures, rule.of(content.print.paper)))
        return
    with reading.progress(path, content) as progress, worker.started(pipeline.__name__) as other:
        shell = pipeline.shell_of(content, Flow(progress, other))
    made = record.record(shell)
    if as_json:
        terminal.print_json({"figures": rows, "findings": plain(made.findings), "plan": plain(made.plan)})
    else:
        click.echo(summary.checked(made, path, rule.of(content.print.paper)))
    _end_with(made.findings)


FAULTY = click.option("--accept-faults", is_flag=True, help="Write the pack in spite of its faults.")


@main.command()
@click.argument("preset")
@click.option("--out", type=click.Path(path_type=Path), help="Folder of the pack; default: out/NAME.")
@click.option("--json", "as_json", is_flag=True, help="Print the record as JSON instead of the summary.")
@click.option("--timings", is_flag=True, help="Show how long each stage took.")
@click.option("--step", is_flag=True, help="Also write the spikes as STEP, for CAD.")
@FAULTY
def build(preset: str, out: Path | None, as_json: bool, timings: bool, step: bool, accept_faults: bool) -> None:
    """Compute PRESET and write its pack: templates, spikes, pictures, lists and the record.

    Exit code 1 if the checks find faults. If somebody could get hurt, no pack is written.
    """
    path, content = reading.read(preset)
    from shellgen import pack
    from shellgen.canvas import rule
    from shellgen.cli import summary
    from shellgen.core import worker
    from shellgen.core.flow import Flow
    from shellgen.pack import contents
    from shellgen.record.plain import plain

    folder = out or Path("out") / content.name
    pack.check_folder(folder)
    with reading.progress(path, content) as progress, worker.started(contents.__name__) as other:
        made = contents.build(
            content, flow=Flow(worker=other), progress=progress, exact_solids=step, accept_faults=accept_faults
        )
    made.write(folder)
    if as_json:
        terminal.print_json(plain(made.record))
    else:
        click.echo(summary.text(made.record, folder, rule.of(content.print.paper)))
    if timings:
        rows = ((stage, f"{seconds:7.2f} s") for stage, seconds in made.seconds.items() if seconds >= SHOWN)
        click.echo(terminal.pairs(rows), err=as_json)
    _end_with(made.record.findings)


@main.command()
@click.argument("preset")
@click.option("--for", "wearers", type=click.Path(path_type=Path), required=True, help="YAML file of the wearers.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder of all sizes; default: out/NAME-sizes.")
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Sizes built at the same time; default: one for each core."
)
@click.option("--cluster", metavar="ADDRESS", help="Build on the Dask cluster with its scheduler at ADDRESS.")
@FAULTY
def sizes(
    preset: str, wearers: Path, out: Path | None, workers: int | None, cluster: str | None, accept_faults: bool
) -> None:
    """Grade PRESET for many wearers and write a pack for each, with a size chart.

    If it was stopped, the same command continues. Exit code 1 if a size fails or has faults. If somebody could get
    hurt, a size gets no pack.
    """
    from shellgen.fields import yamltree

    yamltree.content(wearers)
    _, content = reading.read(preset)
    from shellgen.cli import sizes
    from shellgen.sizes import wearers as wearers_

    folder = out or Path("out") / f"{content.name}-sizes"
    run = partial(sizes.run, workers=workers, cluster=cluster, accept_faults=accept_faults)
    made = run(content, wearers_.read(wearers), folder, say=partial(click.echo, err=True))
    click.echo(sizes.summary(made, folder))
    if any(size.state == "failed" or sizes.faults(size) for size in made):
        sys.exit(1)


@main.command()
@click.argument("preset")
@click.option("--out", type=click.Path(path_type=Path), help="The zip file; default: out/NAME.zip.")
@click.option("--with-measures", is_flag=True, help="Include the wearer's measures, which are left out by default.")
@FAULTY
def share(preset: str, out: Path | None, with_measures: bool, accept_faults: bool) -> None:
    """Write PRESET as one zip to share, if it has no faults: the whole pack on A4 and Letter, nobody's measures."""
    path, content = reading.read(preset)
    from shellgen import share as share_
    from shellgen.core import onefile

    target = out or Path("out") / f"{content.name}.zip"
    onefile.hold(target)
    with reading.progress(path, content) as progress:
        files = share_.build(content, with_measures=with_measures, accept_faults=accept_faults, progress=progress)
    onefile.write(target, share_.zipped(files, str(content.name)))
    click.echo(f"{target} holds {len(files)} files. {share_.cover.licence(content.share)}")


@main.command()
@click.argument("preset")
@click.option("--out", type=click.Path(path_type=Path), help="Folder of the chart; default: the folder of PRESET.")
@click.option("--whole", is_flag=True, help="Both halves; default: the left one, which is mirrored.")
@click.option("--no-lines", is_flag=True, help="Leave out the plate lines of PRESET.")
def chart(preset: str, out: Path | None, whole: bool, no_lines: bool) -> None:
    """Write the dome of PRESET laid flat, to draw plate lines on: as SVG, and as PDF on one page and on your paper.

    Draw in the layer lines of the SVG, save it, and name it in the preset: plates: {layout: drawn, file: ...}.
    """
    path, content = reading.read(preset)
    from shellgen.cli import charting

    with reading.progress(path, content) as progress:
        written, said = charting.write(content, out or path.parent, progress, whole=whole, lines=not no_lines)
    click.echo("\n".join([*map(str, written), said]))


@main.command()
@click.argument("preset")
@click.argument("photo", type=click.Path(path_type=Path))
def trace(preset: str, photo: Path) -> None:
    """Read the lines that you drew on the printed chart of PRESET from a PHOTO; write them as an SVG of the same name.

    Draw with a dark felt pen. Photograph the whole sheet, laid flat, from above in even light, with all four markers.
    """
    path, content = reading.read(preset)
    from shellgen.cli import tracing

    with reading.progress(path, content) as progress:
        click.echo(tracing.write(content, photo, progress))


@main.command()
@click.argument("preset", required=False)
@click.option("--port", type=click.IntRange(0, 65535), default=8730, show_default=True, help="0 means any free port.")
@click.option("--open", "show_page", is_flag=True, help="Open the page in your browser.")
def live(preset: str | None, port: int, show_page: bool) -> None:
    """Edit PRESET in the browser, see it change, and build its pack. On this computer only. Ctrl-C ends it.

    Without PRESET it shows the presets in the current folder, and can begin new ones.
    """
    path = reading.there(preset) if preset else None  # mistakes in it can be corrected on the page
    import webbrowser

    from shellgen.live import server

    def ready(address: str) -> None:
        click.echo(f"{path or Path.cwd()} is at {address}\nPress Ctrl-C to end.")
        if show_page:
            webbrowser.open(address)

    server.serve(Path.cwd(), path, port, ready=ready)


@main.command()
@click.argument("stage", required=False)
@click.argument("preset", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a table.")
def show(stage: str | None, preset: str | None, as_json: bool) -> None:
    """Print the figures of one STAGE of PRESET, such as pieces, seams or spikes.

    Without a STAGE it lists what can be shown.
    """
    from shellgen.cli import lists, stages

    if stage is None:
        lists.show("stages", ())
        return
    stages.check(stage, preset)
    path, content = reading.read(preset or "")
    from shellgen import pipeline, record
    from shellgen.canvas import rule
    from shellgen.cli import summary
    from shellgen.core.flow import Flow
    from shellgen.record.plain import plain

    with reading.progress(path, content) as progress:
        figures = record.record(pipeline.shell_of(content, Flow(progress)))
    section = plain(getattr(figures, stage))
    if as_json:
        terminal.print_json(section)
    elif section is None:
        click.echo(f"{content.name} has no {stage.replace('_', ' ')}.")
    elif stage == "plan":
        click.echo(summary.plan(figures))
    elif stage == "wear":
        click.echo(summary.harness(figures, rule.of(content.print.paper)))
    else:
        click.echo(terminal.table(terminal.record_table(stage, section)))


@main.command(name="list")
@click.argument("topic", required=False)
@click.argument("words", nargs=-1)
def list_(topic: str | None, words: tuple[str, ...]) -> None:
    """List the choices for one TOPIC, or all topics.

    "shellgen list fields spikes" lists the lines of one section, "shellgen list fields neck" those with a word in their
    name or help.
    """
    from shellgen.cli import lists

    if topic is None:
        lists.topics()
    else:
        lists.show(topic, words)


@main.command()
def doctor() -> None:
    """Check whether this computer has everything that shellgen uses, and how to install what is missing."""
    from shellgen.cli import doctor as doctor_

    checks = doctor_.examine()
    click.echo("\n".join(line for check in checks for line in check.lines()))
    if any(check.needed and not check.good for check in checks):
        raise terminal.Mistake("something that shellgen needs is missing; see above")


def _end_with(findings: Sequence[FindingEntry]) -> None:
    """Exit code 1 if there are faults."""
    if any(finding.level == "fault" for finding in findings):
        sys.exit(1)
