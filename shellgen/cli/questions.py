"""The questions of `new`: what matters most, each in the words of its field, with a default that Enter accepts."""

from __future__ import annotations

from collections.abc import Callable

import click

from shellgen.cli import terminal
from shellgen.errors import PresetError
from shellgen.fields.values import explained
from shellgen.preset import opening

ASKED = (
    "wearer.group",
    "wearer.years",
    "wearer.stature",
    "wearer.shoulder_breadth",
    "print.paper",
    "foam.thickness",
    "nest.sheets[].length",
    "nest.sheets[].width",
    "schedule.event",
    "wear.harness",
)
"""In the order of a new preset. Nobody needs to know the rest at the start."""


def ask() -> tuple[str, dict[str, str]]:
    """The unit of lengths, and the answers by field, as a preset has them; what was left out is missing."""
    click.echo("Enter accepts what stands in [brackets]. You can change everything later in the file.")
    unit = click.prompt("\nUnit of your lengths", type=click.Choice(opening.UNITS), default="mm")
    answers: dict[str, str] = {}
    for field in ASKED:
        group = answers.get("wearer.group")
        if field == "wearer.years" and group == "adult":
            continue
        if answer := _ask(field, unit, needed=field == "wearer.years" and group == "child"):
            answers[field] = answer
    return unit, answers


def _ask(field: str, unit: str, *, needed: bool) -> str:
    spec, name = opening.spec_of(field), field.rpartition(".")[2].replace("_", " ")
    click.echo("\n" + "\n".join(terminal.wrapped(explained(spec, unit))))
    usual = opening.usual(field, unit)
    answer: str = click.prompt(
        name if usual or needed else f"{name} [leave out]",
        default=None if needed else usual,
        show_default=bool(usual),
        value_proc=_checked(field, unit),
    )
    return answer


def _checked(field: str, unit: str) -> Callable[[str], str]:
    """What a preset says for an answer; the mistake is shown and the question asked again if that is not possible."""

    def checked(text: str) -> str:
        try:
            return opening.answered(field, text, unit)
        except PresetError as error:
            hint = error.hint if error.hint != opening.spec_of(field)["doc"] else ""
            raise click.UsageError(f"{error.problem} {error.remedy} {hint}".rstrip()) from error

    return checked
