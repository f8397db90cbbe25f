"""The guide as one HTML file: needs no network, has boxes to tick on screen and paper, works with a screen reader."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from html import escape
from importlib import resources
from string import Template

from shellgen.canvas import LAYERS, Drawing, Path, Text, hexadecimal
from shellgen.canvas.lettering import width as lettering_width
from shellgen.canvas.rule import unbroken
from shellgen.core.memory import remembered
from shellgen.guide import signs, stills
from shellgen.guide.leaf import Block, Gallery, Guide, Lines, Picture, Rows, Step, Ticks, Warn, Words
from shellgen.model.said import count

POLICY = "default-src 'none'; script-src 'sha256-{digest}'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'"
QUALITY = 80
BOUGHT = ("materials", "tools")
"""Needs that are not listed, because each step lists its tools and materials."""
WHOLE = 14
"""A cell with up to this many letters is not broken into lines (chosen: fits any piece's name)."""
CAPITAL = 0.72
"""Height of capitals over the font's size, of common system fonts (from memory)."""


def write(guide: Guide, files: Iterable[str] = ()) -> bytes:
    """The page. files : paths in the pack to link to"""
    listed = tuple(files)
    script = _text("ticks.js")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    page = Template(_text("guide.html")).substitute(
        policy=POLICY.format(digest=digest),
        title=escape(guide.title),
        key=escape(guide.title, quote=True),
        style=_text("guide.css"),
        words=escape(guide.words),
        faults="".join(_block(fault, "", ()) for fault in guide.faults),
        picture=_still(guide),
        signs=_sign_store(),
        contents="".join(_entry(step) for step in guide.steps),
        steps="".join(_step(k, step, listed) for k, step in enumerate(guide.steps, 1)),
        index=_rows(guide.index, "pieces", listed),
        script=script,
    )
    return page.encode()


def _text(name: str) -> str:
    return resources.files("shellgen.guide").joinpath(name).read_text("utf-8")


def still(picture: bytes) -> str:
    """Data URL of the picture of the finished shell; works in any thread."""
    return stills.webp(picture, quality=QUALITY, method=4) if picture else ""


def _still(guide: Guide) -> str:
    address = still(guide.picture)
    return f'<img class="still" alt="{escape(guide.title)}, the finished shell" src="{address}">' if address else ""


def _entry(step: Step) -> str:
    when = f" <small>{escape(step.when)}</small>" if step.when else ""
    return f'<li><a href="#{step.key}">{escape(step.title)}</a>{when}</li>'


def _step(number: int, step: Step, files: tuple[str, ...]) -> str:
    blocks = "".join(_block(block, f"{step.key}-{k}", files) for k, block in enumerate(step.blocks))
    box = f'<label class="done"><input type="checkbox" id="{step.key}-done"> all done</label>'
    return (
        f'<section class="step" id="{step.key}" aria-labelledby="{step.key}-title">'
        f'<h2 id="{step.key}-title"><span class="number">{number}</span> {escape(step.title)}</h2>'
        f'<p class="time">{escape(time_words(step))}</p>{_equipment(step)}{blocks}{box}</section>'
    )


def _equipment(step: Step) -> str:
    return f'<p class="equipment">{escape(equipment_words(step))}</p>' if step.equipment else ""


def time_words(step: Step) -> str:
    """Hours of work and of drying, the days, and what must be finished first."""
    parts = []
    if step.hands_h:
        parts.append(
            f"About {hours(step.hands_h)} of work" + (f", then {hours(step.dry_h)} to dry" if step.dry_h else "")
        )
    if step.when:
        parts.append(f"planned for {step.when}")
    needs = [need for need in step.needs if need not in BOUGHT]
    ready = f"You need: {', '.join(needs)}." if needs else ""
    sentence = "; ".join(parts)
    return f"{sentence[:1].upper()}{sentence[1:]}. {ready}".strip() if sentence else ready


def equipment_words(step: Step) -> str:
    """Tools and materials; "" if none are needed."""
    return f"Tools and materials: {', '.join(step.equipment)}." if step.equipment else ""


def hours(value: float) -> str:
    if value < 1:
        return count(round(60 * value), "minute")
    text = f"{value:.1f}".removesuffix(".0")
    return f"{text} hour" if text == "1" else f"{text} hours"


def _block(block: Block, key: str, files: tuple[str, ...]) -> str:
    match block:
        case Words(text):
            return f"<p>{_linked(text, files)}</p>"
        case Ticks(items):
            return (
                f'<ul class="ticks">{"".join(_tick(f"{key}-{k}", _linked(t, files)) for k, t in enumerate(items))}</ul>'
            )
        case Rows():
            return _rows(block, key, files)
        case Picture():
            return _figure(block)
        case Gallery(pictures):
            widest = max(picture.drawing.width for picture in pictures)
            return f'<div class="gallery" style="--w:{widest:.0f}">{"".join(map(_figure, pictures))}</div>'
        case Lines(text):
            return f"<pre>{escape(text)}</pre>"
        case Warn(names, text):
            shown = "".join(
                f'<svg viewBox="0 0 20 20" role="img" aria-label="{signs.meaning(n)}"><use href="#sign-{n}"/></svg>'
                for n in names
            )
            return f'<aside class="warn"><div>{shown}</div><p>{_linked(text, ())}</p></aside>'


def _tick(key: str, words: str) -> str:
    return f'<li><label><input type="checkbox" id="{key}"> <span>{words}</span></label></li>'


def _rows(rows: Rows, key: str, files: tuple[str, ...]) -> str:
    if not rows.rows:
        return ""
    box = '<th scope="col" class="tick"><span class="unseen">done</span></th>' if rows.tick else ""
    head = box + "".join(f'<th scope="col">{escape(c)}</th>' for c in rows.columns)
    body = ""
    for k, row in enumerate(rows.rows):
        about = escape(" ".join(row[:2]))
        tick = f'<td class="tick"><input type="checkbox" id="{key}-{k}" aria-label="{about}: done"></td>'
        first, *others = (
            f'{_whole(cell)} data-name="{escape(c)}">{_linked(cell, files)}'
            for c, cell in zip(rows.columns, row, strict=True)
        )
        cells = "".join(f"<td{cell}</td>" for cell in others)
        body += f'<tr>{tick if rows.tick else ""}<th scope="row"{first}</th>{cells}</tr>'
    kind = ' class="ticked"' if rows.tick else ""
    return f'<div class="list"><table{kind}><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'


def _whole(cell: str) -> str:
    """Class of a cell that stays on one line if the screen is wide enough."""
    return ' class="whole"' if len(cell) <= WHOLE else ""


@lru_cache(maxsize=1)
def _names(files: tuple[str, ...]) -> tuple[re.Pattern[str] | None, Mapping[str, str]]:
    """A pattern that finds names of files in a text, and the path of each name."""
    known = sorted((f for f in files if f.rpartition("/")[2].count(".")), key=len, reverse=True)
    named = {f: f for f in known} | {f.rpartition("/")[2]: f for f in known if "/" in f}
    names = "|".join(re.escape(name) for name in sorted(named, key=len, reverse=True))
    return re.compile(rf"(?<![\w/-])(?:{names})(?![\w-])") if names else None, named


def _linked(text: str, files: tuple[str, ...]) -> str:
    """Markup of a text in which names of files in the pack are links."""
    text, (pattern, named) = unbroken(text), _names(files)
    if pattern is None:
        return escape(text)
    out, at = "", 0
    for found in pattern.finditer(text):
        out += escape(text[at : found.start()])
        out += f'<a href="{escape(named[found[0]])}">{escape(found[0])}</a>'
        at = found.end()
    return out + escape(text[at:])


def _figure(of: Picture) -> str:
    shown = picture(of.drawing, of.caption, of.tall)
    return f"<figure>{shown}<figcaption>{_linked(of.caption, ())}</figcaption></figure>"


@remembered
def picture(drawing: Drawing, words: str, tall: float) -> str:
    """`<svg>` in user units of 1 mm. Layers are classes; lettering is text. At most `tall` mm high on paper."""
    wide, high = f"{drawing.width:.1f}", f"{drawing.height:.1f}"
    shown = drawing.width * min(1.0, tall / drawing.height)
    attributes = f'style="--w:{shown:.1f}" role="img" aria-label="{escape(words)}"'
    opening = f'<svg class="sheet" viewBox="0 0 {wide} {high}" {attributes}>'
    return f"{opening}{''.join(_drawn(drawing))}</svg>"


def _drawn(drawing: Drawing) -> Iterator[str]:
    for layer in LAYERS:
        lines: list[str] = []
        for item in drawing.items:
            if item.layer != layer:
                continue
            if isinstance(item, Text):
                yield from _strokes(layer, lines)
                yield _lettering(item, drawing.height)
            elif item.fill is not None:
                yield from _strokes(layer, lines)
                fill = hexadecimal(item.fill)
                yield f'<path class="{layer}" style="fill:{fill}" d="{_trace(item, drawing.height)}"/>'
            else:
                lines.append(_trace(item, drawing.height))
        yield from _strokes(layer, lines)


def _strokes(layer: str, lines: list[str]) -> Iterator[str]:
    """The lines so far as one path, so that later items are drawn over them."""
    if lines:
        yield f'<path class="{layer}" d="{"".join(lines)}"/>'
        lines.clear()


def _trace(path: Path, height: float) -> str:
    pairs = "L".join(f"{x:.1f} {height - y:.1f}" for x, y in path.points.tolist())
    return f"M{pairs}{'Z' if path.closed else ''}"


def _lettering(text: Text, height: float) -> str:
    x, y = text.at[0], height - text.at[1]
    turn = f' transform="rotate({-57.29578 * text.angle:.1f} {x:.1f} {y:.1f})"' if abs(text.angle) > 1e-3 else ""
    long = lettering_width(text.text, text.height)
    # as long as in the drawing, whatever font the browser uses
    fit = f' textLength="{long:.1f}" lengthAdjust="spacingAndGlyphs"' if len(text.text) > 3 else ""
    size = f'font-size="{text.height / CAPITAL:.1f}" text-anchor="{text.anchor}"'
    return f'<text x="{x:.1f}" y="{y:.1f}" {size}{fit}{turn}>{escape(text.text)}</text>'


def _sign_store() -> str:
    """Every sign once, as a symbol to use by name."""
    shown = ""
    for name in (*signs.WARNINGS, *signs.COMMANDS):
        shapes = ""
        for item in signs.shapes(name):
            fill = hexadecimal(item.fill or signs.BLACK)
            points = " ".join(f"{x:.1f},{signs.SIZE - y:.1f}" for x, y in item.points.tolist())
            shapes += f'<polygon points="{points}" fill="{fill}"/>'
        shown += f'<symbol id="sign-{name}" viewBox="0 0 20 20">{shapes}</symbol>'
    return f'<svg class="store" aria-hidden="true">{shown}</svg>'
