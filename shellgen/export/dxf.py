"""A Drawing as DXF R2010 in millimetres, for plotters, lasers and routers: layers by meaning, polylines only."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import chain

import ezdxf
import ezdxf.units
from ezdxf.document import Drawing as Document

from shellgen.canvas import Drawing, Path, Text
from shellgen.core.memory import remembered_each
from shellgen.export import _ink

_EMPTY = "  0\nSECTION\n  2\nENTITIES\n  0\nENDSEC\n"
_LINE = "  0\nLWPOLYLINE\n  5\n%s\n330\n%s\n100\nAcDbEntity\n  8\n%s\n100\nAcDbPolyline\n 90\n%d\n 70\n%d\n"
_POINT = " 10\n%r\n 20\n%r\n"
"""An LWPOLYLINE and each of its points.

References: DXF Reference, common group codes of entities (5, 330, 100, 8) and those of LWPOLYLINE (90, 70, 10, 20).
"""


def write(drawing: Drawing) -> bytes:
    """DXF of `drawing`: one LWPOLYLINE per Path, lettering as polylines on its own layer, y up, origin lower left.

    The library makes the file; its lines are written here and set into it, which takes a fraction of the time.
    """
    with _fixed_metadata():
        document = ezdxf.new("R2010", units=ezdxf.units.MM)
        document.header["$MEASUREMENT"] = 1
        document.header["$EXTMIN"], document.header["$EXTMAX"] = (0.0, 0.0, 0.0), (drawing.width, drawing.height, 0.0)
        owner, entities = document.modelspace().layout_key, list[str]()
        for layer, items in _ink.in_layers(drawing):
            _declare(document, layer)
            for closed, count, points in chain.from_iterable(_drawn(items)):
                handle = document.entitydb.next_handle()
                entities += [_LINE % (handle, owner, layer, count, closed), points]
        document.classes.add_required_classes(document.dxfversion)
        for key in sorted(document.classes.classes):  # the library takes them as a set lies
            document.classes.classes.move_to_end(key)  # type: ignore[attr-defined]  # an OrderedDict
        return _with_entities(document, "".join(entities))


def _with_entities(document: Document, entities: str) -> bytes:
    """The library's file, with the text of entities set into its empty section of entities.

    `benchmarks/writers.py` measures what it brings to write them here.
    """
    out = io.StringIO()
    document.write(out)
    before, empty, after = out.getvalue().partition(_EMPTY)
    section = empty.replace("ENTITIES\n", "ENTITIES\n" + entities)
    return (before + section + after).encode(document.output_encoding, errors="dxfreplace")


@remembered_each(_ink.key)
def _drawn(items: Sequence[Path | Text]) -> list[list[tuple[bool, int, str]]]:
    """Of each item its lines: whether it closes, how many points it has, and these."""
    out = []
    for item in items:
        closed = isinstance(item, Path) and item.closed
        lines = [item.points] if isinstance(item, Path) else _ink.lines(item)
        out.append([(closed, len(line), (_POINT * len(line)) % tuple(line.ravel().tolist())) for line in lines])
    return out


def _declare(document: Document, layer: str) -> None:
    pen, linetype = _ink.PENS[layer], "CONTINUOUS"
    if pen.dashes:
        linetype = f"SHELL-{layer.upper()}"
        pattern = [sum(pen.dashes), *(d if k % 2 == 0 else -d for k, d in enumerate(pen.dashes))]
        document.linetypes.add(linetype, pattern, description=f"{layer} line")
    entry = document.layers.add(layer, linetype=linetype, lineweight=round(100 * pen.width))
    entry.rgb = pen.colour
    # a pen that is black on paper must be colour 7, which viewers turn white on a black screen
    entry.color = 7 if pen.colour == _ink.BLACK else entry.color


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Leaves times and random identifiers out of the file, so that equal drawings give equal bytes."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
