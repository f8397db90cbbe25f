"""Lines drawn with a pen on a printed chart, read from a photo.

The photo is turned upright (`picture`), laid on the sheet by the chart's corner markers (`rectify`), the pen is told from
paper and pale print (`ink`), and its strokes become curves that meet in common points (`strokes`).
"""

from shellgen.photo.reading import Traced, read

__all__ = ["Traced", "read"]
