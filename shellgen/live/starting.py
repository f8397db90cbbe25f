"""The start page: the presets of the folder, and a new one from a few answers."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from html import escape
from pathlib import Path
from string import Template
from typing import Any
from urllib.parse import quote

import shellgen.page as page_
from shellgen import preset
from shellgen.errors import PresetError, ShellgenError
from shellgen.fields import presetfiles
from shellgen.fields.values import Spec, explained
from shellgen.live import panels
from shellgen.live.door import Refused
from shellgen.live.workplace import Workplace
from shellgen.preset import opening, starter

ASKED = (
    ("Who wears it", ("wearer.group", "wearer.years", "wearer.stature", "wearer.shoulder_breadth")),
    ("Foam", ("foam.thickness", "nest.sheets[].length", "nest.sheets[].width")),
    ("Printers", ("print.paper", "making.printer.bed_x", "making.printer.bed_y", "making.printer.bed_z")),
    ("Day of the event", ("schedule.event",)),
)
"""Questions in groups, by field. Nobody needs to know the rest at the start."""
FIELDS = tuple(field for _, fields in ASKED for field in fields)
NAMES = {
    "bed_x": "Printable width", "bed_y": "Printable depth", "bed_z": "Printable height", "event": "Day",
    "years": "Age in years", "group": "Adult or child", "length": "Length of a sheet", "width": "Width of a sheet",
}  # fmt: skip
"""Questions that their field's own name would not ask clearly."""


def listed(path: Path) -> dict[str, Any]:
    """A preset of the folder: file, title, what is wrong with it, whether it has a picture."""
    title, wrong = path.stem, ""
    try:
        found = preset.read(path)
        title = found.title or found.name or title
    except ShellgenError as error:
        wrong = str(error)
    return {"file": path.name, "title": title, "mistake": wrong}


def begin(place: Workplace, name: str, like: str, unit: str, answers: Mapping[str, Any]) -> str:
    """Writes a new preset; its file name. like : the demo to copy, "" for the starter

    Refused with the field for an answer that is not possible, PresetError for the name.
    """
    if unit not in opening.UNITS or any(field not in FIELDS or not isinstance(v, str) for field, v in answers.items()):
        raise Refused(400, "The message has an answer to no question.")
    demos = {path.stem: path for path in presetfiles.presets()}
    if like and like not in demos:
        raise Refused(400, "There is no such demo.")
    given = {}
    for field in FIELDS:
        try:
            if answers.get(field) and (text := opening.answered(field, answers[field], unit)):
                given[field] = text
        except PresetError as error:
            raise Refused(422, f"{error.problem} {error.remedy}", field=field) from error
    path = place.folder / f"{name}.yaml"
    if path.parent != place.folder:
        raise PresetError("", "This cannot name a preset.", "Use small letters, digits and single hyphens.")
    starter.write(path, like=str(demos[like]) if like else None, answers=given, unit=unit)
    return path.name


def page(place: Workplace, token: str) -> bytes:
    """token : needed for a change"""
    script = panels.text("start.js")
    html = Template(panels.text("start.html")).substitute(
        policy=page_.policy(script, connect="'self'").replace("img-src data:", "img-src 'self' data:"),
        style=page_.style() + panels.text("live.css"),
        token=token,
        folder=escape(str(place.folder)),
        presets="".join(_card(path, place.picture(name)) for name, path in place.presets().items())
        or '<li class="none">There is no preset here yet.</li>',
        packs=panels.packed(place.packs()),
        demos="".join(f'<option value="{escape(p.stem)}">{escape(_title(p))}</option>' for p in presetfiles.presets()),
        questions="".join(map(_questions, ASKED)),
        script=script,
    )
    return html.encode()


def _title(path: Path) -> str:
    return str(listed(path)["title"])


def _card(path: Path, picture: Path | None) -> str:
    of, address = listed(path), f"/presets/{quote(path.name)}"
    shown = (
        f'<img src="{address}/picture" alt="" width="240" height="160">'
        if picture
        else '<span class="blank">no picture yet</span>'
    )
    wrong = '<p class="note">It has a mistake, which its page shows.</p>' if of["mistake"] else ""
    title = f"{shown}<strong>{escape(of['title'])}</strong>"
    return f'<li><a class="card" href="{address}">{title}</a><p class="note">{escape(path.name)}</p>{wrong}</li>'


def _questions(group: tuple[str, tuple[str, ...]]) -> str:
    title, fields = group
    return f"<fieldset><legend>{escape(title)}</legend>{''.join(map(_question, fields))}</fieldset>"


def _question(field: str) -> str:
    spec, key = opening.spec_of(field), field.rpartition(".")[2]
    name = f"ask-{hashlib.sha256(field.encode()).hexdigest()[:8]}"
    label = NAMES.get(key, key.replace("_", " ").capitalize())
    usual = opening.usual(field, "mm")
    return (
        f'<div class="question"><label for="{name}">{escape(label)}</label>{_input(spec, name, field, usual)}'
        f"{_note(spec, name)}"
        f'<p class="wrong" id="{name}-wrong" hidden></p></div>'
    )


def _note(spec: Spec, name: str) -> str:
    """What the question means; the words for both units if it is a length."""
    if spec["kind"] in ("choice", "date"):
        return f'<p class="note" id="{name}-note">{escape(spec["doc"])}</p>'
    mm, inches = (escape(explained(spec, unit)) for unit in opening.UNITS)
    both = f' data-mm="{mm}" data-inches="{inches}"' if spec["kind"] == "length" else ""
    return f'<p class="note" id="{name}-note"{both}>{mm}</p>'


def _input(spec: Spec, name: str, field: str, usual: str) -> str:
    more = f'id="{name}" data-field="{escape(field)}" aria-describedby="{name}-note {name}-wrong"'
    if spec["kind"] == "choice":
        empty = "" if usual else '<option value="">not said</option>'
        choices = "".join(
            f"<option{' selected' if one == usual else ''}>{escape(one)}</option>" for one in spec["options"]
        )
        return f"<select {more}>{empty}{choices}</select>"
    if spec["kind"] == "date":
        return f'<input type="date" {more}>'
    inches = f' data-inches="{escape(opening.usual(field, "in"))}"' if spec["kind"] == "length" else ""
    return f'<input type="text" autocomplete="off" value="{escape(usual)}" data-mm="{escape(usual)}"{inches} {more}>'
