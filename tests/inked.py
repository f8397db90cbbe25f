"""What stands on a sheet: its lines, its words, and the strokes that these are written with."""

import shapely

from shellgen.canvas import Drawing, Path, Text, lettering


def paths(sheet: Drawing, layer: str) -> list[Path]:
    return [item for item in sheet.items if isinstance(item, Path) and item.layer == layer]


def words(sheet: Drawing) -> list[Text]:
    return [item for item in sheet.items if isinstance(item, Text)]


def ink(text: Text) -> shapely.Geometry:
    return shapely.MultiLineString([line for line in lettering.lay(text) if len(line) > 1])
