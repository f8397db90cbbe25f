"""Tables and the closing summary as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from shellgen.canvas import Table


def table(content: Table) -> str:
    """Columns under their names; figures to the right, words to the left."""
    rows = [[_cell(value) for value in row] for row in (content.columns, *content.rows)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(content.columns))]
    figures = [
        bool(content.rows) and all(isinstance(row[k], int | float) or row[k] == "" for row in content.rows)
        for k in range(len(content.columns))
    ]
    rows.insert(1, ["-" * width for width in widths])
    return "\n".join(_line(row, widths, figures) for row in rows)


def pairs(rows: Iterable[tuple[str, str]], *, indent: str = "  ") -> str:
    """Names and what belongs to them, one pair on a line."""
    listed = list(rows)
    width = max((len(name) for name, _ in listed), default=0)
    return "\n".join(f"{indent}{name:<{width}}  {text}".rstrip() for name, text in listed)


def record_table(name: str, section: Any) -> Table:
    """A section of a pack's record as a table: one row for each entry, or for each figure."""
    if isinstance(section, Mapping):
        return Table(name, ("figure", "value"), tuple((key, _flat(value)) for key, value in section.items()))
    if not isinstance(section, Sequence) or isinstance(section, str):
        return Table(name, ("value",), ((_flat(section),),))
    entries = [entry if isinstance(entry, Mapping) else {"value": entry} for entry in section]
    columns = tuple(dict.fromkeys(key for entry in entries for key in entry))
    return Table(name, columns or ("nothing",), tuple(tuple(_flat(e.get(c, "")) for c in columns) for e in entries))


def _flat(value: Any) -> str | float | int:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_flat(inner)}" for key, inner in value.items())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return " ".join(_cell(_flat(inner)) for inner in value)
    return "" if value is None else value


def _cell(value: str | float | int) -> str:
    text = f"{value:.6g}" if isinstance(value, float) else str(value)
    return "".join(c if c.isprintable() else "?" for c in text)


def _line(row: Sequence[str], widths: Sequence[int], figures: Sequence[bool]) -> str:
    cells = (
        f"{text:>{width}}" if right else f"{text:<{width}}"
        for text, width, right in zip(row, widths, figures, strict=True)
    )
    return "  ".join(cells).rstrip()
