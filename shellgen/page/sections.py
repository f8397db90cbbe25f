"""The parts of the page with text, tables and drawings, as HTML. Every figure comes from the record."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from html import escape
from itertools import groupby
from typing import Any

from shellgen.canvas import Drawing, Table
from shellgen.canvas.rule import Rule
from shellgen.draw.order import PaperEntry
from shellgen.page.facts import facts
from shellgen.page.sketch import sketch
from shellgen.record import Record
from shellgen.record.findings import FindingEntry
from shellgen.record.pieces import PieceEntry, SeamEntry
from shellgen.record.plan import NoPlanEntry

LEVELS = {"fault": "Fault", "caution": "Caution", "ok": "Good"}
TITLES = {"pieces": "List of pieces", "buying": "Buying list", "spikes": "Spikes and rings", "plan": "Plan of work"}
"""Titles of tables whose own name is not clear enough."""

AMOUNTS, COMPUTED = ("needed", "buy"), "how computed"
"""Columns of the buying list: figures in the unit of their row, and how they were computed."""
WORD = 24
"""Characters that fit on one line of a table even on a phone (chosen)."""


START = {
    "guide.html": "Build guide, step by step",
    "model-": "Card model, to print first",
    "templates-": "Templates, to print at 100 %",
}
"""Files to start with: how their paths start, and the text of the link."""


def head(title: str, record: Record, rule: Rule, files: Iterable[str] = ()) -> str:
    """Title, faults, the main figures, and links to the `files` to start with."""
    terms = ""
    for fact in facts(record, rule):
        text, _, other = fact.text.removesuffix(")").partition(" (")  # other units in a line of their own
        notes = "".join(f" <small>{escape(note)}</small>" for note in (other, fact.note) if note)
        terms += f"<div><dt>{escape(fact.name)}</dt><dd>{escape(text)}{notes}</dd></div>"
    known = sorted(files)
    links = "".join(
        f'<a href="{escape(file)}">{words}</a>'
        for begin, words in START.items()
        for file in known
        if file.startswith(begin)
    )
    start = f'<nav class="start" aria-label="Where to begin">{links}</nav>' if links else ""
    faults = [finding for finding in record.findings if finding.level == "fault"]
    first = f'<div class="faults" role="note">{_list(faults, rule)}</div>' if faults else ""
    opening = title_and_size(title, record.dome.size_mm, record.foam_thickness_mm, rule, between=first)
    return f'{opening}<dl class="facts">{terms}</dl>{start}'


def title_and_size(title: str, sides: Sequence[float], foam: float, rule: Rule, *, between: str = "") -> str:
    """The first lines of the head, known before anything else. sides, foam : mm; between : markup"""
    words = f"{rule.size(sides)}, {rule.mm(foam, None)} foam"
    return f'<h1>{escape(title)}</h1>{between}<p class="size">{words}</p>'


def body(
    record: Record, sheets: Mapping[str, Drawing], whole: Drawing, tables: Iterable[Table],
    files: Iterable[str], gallery: Iterable[tuple[str, str]], rule: Rule, prints: Sequence[PaperEntry] = (),
) -> str:  # fmt: skip
    """gallery : caption and data URL of each picture"""
    parts = [
        _findings(record, rule),
        _prints(prints),
        _gallery(gallery),
        _pieces(record, sheets, whole, rule),
        *(_table(table, rule) + (_in_time(record) if table.name == "plan" else "") for table in tables),
        _files(files, {entry.file: entry.name for entry in prints}),
    ]
    return "".join(parts)


def _section(name: str, title: str, inner: str) -> str:
    heading = f'<h2 id="{name}-title">{escape(title)}</h2>'
    return f'<section class="part" id="{name}" aria-labelledby="{name}-title">{heading}{inner}</section>'


def _findings(record: Record, rule: Rule) -> str:
    """Cautions, then a closed list of the passed checks. Faults are at the top of the page."""
    of = {level: [f for f in record.findings if f.level == level] for level in LEVELS}
    bad, good = of["caution"], of["ok"]
    none = "The faults are at the top of this page." if of["fault"] else "Every check passed."
    first = _list(bad, rule) if bad else f"<p>{none}</p>"
    count = f"{len(good)} check{'s' if len(good) != 1 else ''} passed"
    rest = f"<details><summary>{count}</summary>{_list(good, rule)}</details>" if good else ""
    return _section("findings", "What the checks found", first + rest)


def checks(record: Record, rule: Rule) -> str:
    """Faults, then cautions, for a panel; or that there are none."""
    bad = [f for level in ("fault", "caution") for f in record.findings if f.level == level]
    return _list(bad, rule) if bad else "<p>Every check passed.</p>"


def _prints(prints: Sequence[PaperEntry]) -> str:
    """What to print and when, each with a link."""
    if not prints:
        return ""
    rows = "".join(
        f'<tr><th scope="row" data-name="paper"><a href="{escape(of.file)}">{escape(of.name)}</a></th>'
        f'<td class="number" data-name="pages">{of.pages}</td><td class="sentence" data-name="print it">'
        f"{escape(of.when)}</td></tr>"
        for of in prints
    )
    head = '<th scope="col">paper</th><th scope="col" class="number">pages</th><th scope="col">print it</th>'
    table = f'<table class="stacked"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
    lead = "<p>Print everything at 100 %, with “fit to page” switched off.</p>"
    return _section("prints", "What to print, and when", f'{lead}<div class="list">{table}</div>')


def _gallery(gallery: Iterable[tuple[str, str]]) -> str:
    figures = "".join(
        f'<figure><img alt="{escape(words)}" src="{address}" decoding="async"><figcaption>{escape(words)}</figcaption>'
        "</figure>"
        for words, address in gallery
    )
    return _section("pictures", "Pictures", f'<div class="gallery">{figures}</div>') if figures else ""


def _list(findings: Iterable[FindingEntry], rule: Rule) -> str:
    rows = ""
    for found in findings:
        words = escape(rule.both(found.sentence))
        rows += f'<li class="{found.level}"><strong>{LEVELS[found.level]}</strong> <span>{words}</span></li>'
    return f'<ul class="findings">{rows}</ul>'


def _pieces(record: Record, sheets: Mapping[str, Drawing], whole: Drawing, rule: Rule) -> str:
    seams = record.seams
    cards = "".join(_piece(p, sheets[p.id], [s for s in seams if p.id in s.pieces], rule) for p in record.pieces)
    key = (
        '<p class="key"><span class="cut">cut</span><span class="score">burn or carve, do not cut</span>'
        '<span class="seat">place of a spike</span><span class="mark">registration mark</span></p>'
    )
    together = (
        f'<details class="whole"><summary>All pieces on one sheet</summary>{sketch(whole, whole.title)}</details>'
    )
    return _section("pieces", "Pieces", key + together + f'<div class="grid">{cards}</div>')


def _piece(piece: PieceEntry, drawing: Drawing, seams: list[SeamEntry], rule: Rule) -> str:
    name = escape(piece.id)
    words = f"Template of {piece.id}, {rule.size((drawing.width, drawing.height))}"
    figures = f"{rule.both(f'{piece.area_flat_mm2 / 100:.0f} cm²')}, largest stretch {100 * piece.stretch_max:.1f} %"
    mirror = "" if piece.mirror == piece.id else f", mirror image of {_link(piece.mirror)}"
    plates = ", ".join(map(escape, piece.plates))
    return (
        f'<article class="piece" id="piece-{name}" data-piece="{name}"><h3>{name}</h3>{sketch(drawing, words)}'
        f'<p class="figures">{figures}{mirror}</p><details><summary>Seams and plates</summary>'
        f'{_joins(piece.id, seams, rule)}<p class="note">Plates: {plates}</p></details></article>'
    )


def _joins(piece: str, seams: list[SeamEntry], rule: Rule) -> str:
    rows = []
    for seam in seams:
        others = [p for p in seam.pieces if p != piece]
        what = f"to {_link(others[0])}" if others else "dart"
        marks = f"marks {seam.marks[0]} to {seam.marks[-1]}" if seam.marks else "no marks"
        rows.append(f"<li>{what}: {rule.mm(max(seam.length_mm))}, {marks}</li>")
    return f'<ul class="seams">{"".join(rows)}</ul>' if rows else "<p>No seams.</p>"


def _link(piece: str) -> str:
    return f'<a href="#piece-{escape(piece)}" data-choose="{escape(piece)}">{escape(piece)}</a>'


def _table(table: Table, rule: Rule) -> str:
    """A table; on a phone each of its rows becomes a block."""
    title = TITLES.get(table.name, table.name.replace("-", " ").replace("_", " ").capitalize())
    if not table.rows:
        return _section(f"table-{table.name}", title, "<p>None.</p>")
    table = _filled(table)
    kinds = [_kind(column) for column in zip(*table.rows, strict=True)]
    cells = [f' class="{kind}" data-name="{_markup(h)}"' for h, kind in zip(table.columns, kinds, strict=True)]
    heads = "".join(f'<th scope="col" class="{k}">{_markup(h)}</th>' for h, k in zip(table.columns, kinds, strict=True))
    rows = "".join(f"<tr>{''.join(_cells(table.columns, row, cells, rule))}</tr>" for row in table.rows)
    inner = (
        f'<div class="list"><table class="stacked"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>'
    )
    return _section(f"table-{table.name}", title, inner)


def _in_time(record: Record) -> str:
    """Sets of changes with which the work is done before the event, if it is not without them."""
    if isinstance(record.plan, NoPlanEntry) or not record.plan.offers:
        return ""
    items = ""
    for offer in record.plan.offers:
        costs = "".join(f"<li>{escape(one.change)}: {escape(one.cost)}</li>" for one in offer.changes)
        items += f"<li><ul>{costs}</ul><pre>{escape(offer.lines)}</pre></li>"
    lead = "<p>Paste the lines of one of these at the end of the preset. The least painful is first.</p>"
    return _section("in-time", "To be ready in time", f'{lead}<ol class="offers">{items}</ol>')


def _filled(table: Table) -> Table:
    """The table without empty columns, such as the dates of a plan without a day."""
    filled = [k for k, column in enumerate(zip(*table.rows, strict=True)) if any(value != "" for value in column)]
    rows = tuple(tuple(row[k] for k in filled) for row in table.rows)
    return Table(table.name, tuple(table.columns[k] for k in filled), rows)


def _kind(column: tuple[Any, ...]) -> str:
    """How a column is laid out: numbers to the right, words on one line, sentences that wrap."""
    if all(isinstance(value, int | float) or value == "" for value in column):
        return "number"
    return "word" if max(len(str(value)) for value in column) <= WORD else "sentence"


def _markup(text: str) -> str:
    """Markup of a text, with raised digits in square and cubic units."""
    return re.sub(r"\b([mc]?m)([23])\b", lambda unit: unit[1] + "²³"[unit[2] == "3"], escape(text))


def _cells(columns: Sequence[str], row: Sequence[Any], cells: Sequence[str], rule: Rule) -> Iterator[str]:
    """The other unit of a figure stands below it. How an amount is computed stays metric, as its rates are."""
    bought = str(dict(zip(columns, row, strict=True)).get("unit", ""))
    for k, (column, value, kind) in enumerate(zip(columns, row, cells, strict=True)):
        named = re.search(r" \((\w+)\)$", column)
        unit = named[1] if named else bought if column in AMOUNTS else ""
        other = rule.other(value, unit) if unit and isinstance(value, int | float) else ""
        text = _markup(str(value) if column == COMPUTED else rule.both(str(value)))
        text += f"<small>{other}</small>" if other else ""
        yield f'<th scope="row"{kind}>{text}</th>' if k == 0 else f"<td{kind}>{text}</td>"


def _files(files: Iterable[str], names: Mapping[str, str]) -> str:
    """Links to the files in the folder of the page, by folder. names : of papers, by their files"""
    rows = []
    for folder, group in groupby(sorted(files, key=lambda f: ("/" in f, f)), key=lambda f: f.rpartition("/")[0]):
        links = "".join(
            f'<li><a href="{escape(f)}">{escape(names.get(f) or f.rpartition("/")[2])}</a></li>' for f in group
        )
        if folder:
            count = links.count("<li>")
            rows.append(
                f"<details><summary>{escape(folder)} ({count})</summary><ul class='files'>{links}</ul></details>"
            )
        else:
            rows.append(f'<ul class="files">{links}</ul>')
    return _section("files", "Files of this pack", "".join(rows)) if rows else ""
