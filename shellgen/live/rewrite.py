"""Writes one figure into a preset, and leaves every other character of the file as the maker typed it.

The new figure replaces the old one at its place in the text. Writing the whole tree again, as even round-trip
libraries do, would move indents, quotes and the gaps before comments.
"""

from __future__ import annotations

from pathlib import Path

import yaml

from shellgen.errors import PresetError
from shellgen.fields import units
from shellgen.fields.yamltree import INSTEAD
from shellgen.live import texts

Steps = tuple[str | int, ...]
"""The path to a value: keys of sections, and positions in lists from 0."""


def put(path: Path, steps: Steps, value: float) -> None:
    """Writes a length of `value` mm at `steps`, in the unit that the file uses there. The file is replaced in one step.

    PresetError if its section is missing or the file cannot be written; OvertakenError if another hand was quicker.
    """
    before = texts.read(path)
    try:
        after = put_in(before.text, steps, value)
    except yaml.YAMLError as error:
        raise PresetError(dotted(steps), "The preset cannot be read.", "Correct its mistakes first.") from error
    if after != before.text:
        texts.write(path, after, before.digest)


def put_in(text: str, steps: Steps, value: float) -> str:
    """`text` with the figure at `steps` changed; a line is added at the start of its section if there is none."""
    node = yaml.compose(text, Loader=yaml.SafeLoader)
    if _at(node, (INSTEAD, *steps)):
        steps = (INSTEAD, *steps)
    for depth, step in enumerate(steps):
        found = _child(node, step)
        if found is None:
            if depth + 1 < len(steps) or not isinstance(node, yaml.MappingNode) or node.flow_style or not node.value:
                raise PresetError(dotted(steps), "There is no such section.", "Write it on lines of its own.")
            return _inserted(text, node, f"{step}: {_figure(value)}")
        node = found
    if not isinstance(node, yaml.ScalarNode):
        raise PresetError(dotted(steps), "This is a section.", "Write one figure here.")
    begin, end = node.start_mark.index, node.end_mark.index
    return text[:begin] + _figure(value, text[begin:end]) + text[end:]


def dotted(steps: Steps) -> str:
    """The name of a field in errors and tables: "dome.length", "spikes[1].height"."""
    words = [f"[{step + 1}]" if isinstance(step, int) else f".{step}" for step in steps]
    return "".join(words).removeprefix(".")


def _at(node: yaml.Node | None, steps: Steps) -> yaml.Node | None:
    return _at(_child(node, steps[0]), steps[1:]) if steps else node


def _child(node: yaml.Node | None, step: str | int) -> yaml.Node | None:
    if isinstance(node, yaml.MappingNode):
        return next((value for key, value in node.value if key.value == step), None)
    if isinstance(node, yaml.SequenceNode) and isinstance(step, int):
        return node.value[step] if step < len(node.value) else None
    return None


def _figure(value: float, before: str = "") -> str:
    """`value` in the unit used before; millimetres have no unit."""
    try:
        unit = units.read(before.strip("\"' "), "length").unit
    except ValueError:
        unit = ""
    text = units.write(value, "length", unit)
    return text if unit else text.removesuffix(" mm")


def _inserted(text: str, section: yaml.MappingNode, line: str) -> str:
    """`text` with a line before the section's first key, with the same indent and line ending."""
    first = section.value[0][0].start_mark
    at = first.index
    ending = "\r\n" if "\r\n" in text else "\n"
    indent: str = " " * first.column
    return text[:at] + line + ending + indent + text[at:]
