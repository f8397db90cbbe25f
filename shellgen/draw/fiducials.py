"""Square markers for the corners of a sheet, which a program finds in a photo and knows apart.

References: Garrido-Jurado et al., Automatic generation and detection of highly reliable fiducial markers under
occlusion, Pattern Recognition 47(6), 2014. The bits are those of OpenCV 5.0's predefined dictionary DICT_4X4_50,
numbers 0 to 3, printed by its cv2.aruco.generateImageMarker.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shellgen.canvas import Path

DICTIONARY = "DICT_4X4_50"
BITS = (
    ("1011", "0101", "0011", "0010"),
    ("0000", "1111", "1001", "1010"),
    ("0011", "0011", "0010", "1101"),
    ("1001", "1001", "0100", "0110"),
)
"""Rows from the top, 1 is white. Numbers 0 to 3 stand at the upper left, upper right, lower right and lower left."""
SIDE = 24.0
"""mm with the black border: six modules of 4 mm. Chosen: still 10 mm where the sheet is printed at 40 %."""


def marker(number: int, x: float, y: float) -> Iterator[Path]:
    """A marker with its lower left corner at x, y, mm."""
    size = SIDE / 6
    yield Path(_square(x, y, SIDE), "fill", closed=True, data={"marker": str(number)}, fill=(0, 0, 0))
    for row, bits in enumerate(BITS[number]):
        for column, bit in enumerate(bits):
            if bit == "1":
                corner = x + (1 + column) * size, y + (4 - row) * size
                yield Path(_square(*corner, size), "fill", closed=True, fill=(255, 255, 255))


def _square(x: float, y: float, side: float) -> np.ndarray:
    return np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
