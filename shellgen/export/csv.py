"""A Table as CSV (RFC 4180), safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io

from shellgen.canvas import Table

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def write(table: Table) -> bytes:
    """CSV of `table` in UTF-8 with a header row and CRLF line ends; numbers stand with a decimal point.

    Text that a spreadsheet would take for a formula is led by an apostrophe; numbers are left alone.

    References: RFC 4180; OWASP, "CSV Injection".
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in (table.columns, *table.rows):
        if len(row) != len(table.columns):
            raise ValueError(f"a row of {len(row)} values in a table of {len(table.columns)} columns: {row}")
        writer.writerow([_cell(value) for value in row])
    return out.getvalue().encode("utf-8")


def _cell(value: str | float | int) -> str | float | int:
    return "'" + value if isinstance(value, str) and value.startswith(_FORMULA) else value
