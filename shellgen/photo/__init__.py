"""Lines drawn with a pen on a printed chart, read from a photo.

The photo is turned upright (`picture`) and laid on the sheet by the chart's corner markers (`rectify`); ink is parted
from paper and pale print (`ink`), and its strokes become lines that meet in common points (`strokes`).
"""

from shellgen.photo.reading import PenLines, read, sheet_of

__all__ = ["PenLines", "read", "sheet_of"]
