"""Which points of the sheet a dark pen has covered, by uneven light, next to pale print.

References: background by grey closing (Serra, Image Analysis and Mathematical Morphology, 1982), which keeps the edge
of a shadow; two thresholds with hysteresis: Canny, IEEE PAMI 8(6), 1986.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from shellgen.photo.picture import UnreadPhoto
from shellgen.photo.rectify import FlatSheet

Mask = NDArray[np.bool_]

WIDEST = 9.0
"""mm on the chart of the widest pen: 3 mm on a sheet printed at a third."""
SPECK = 4.0
"""mm: a mark smaller than this is dust."""
STRONG, WEAK = 0.5, 0.68
"""Shares of the way from black to paper: what is darker than the first is ink, with all that hangs on it and is darker
than the second. Chosen between the pale print, above 0.75, and any dark pen, under 0.4."""
DIM = 40.0
"""Least difference of paper and black print, of 255."""
BLOT = 0.25
"""Share of the way from black to paper: what is darker over more than the widest pen is no shadow (chosen: hard
shadows of photos were above 0.4)."""
MOST = 0.2
"""Share of the sheet that may be covered."""


def ink(of: FlatSheet, printed: Mask, black: Mask) -> Mask:
    """Where there is ink. printed : what is known not to be drawn; black : where black was printed, for its tone

    UnreadPhoto if the light is too poor or much of the sheet is dark.
    """
    size = _odd(1.5 * WIDEST * of.detail / 4)
    small = cv2.resize(of.image, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    closed = cv2.morphologyEx(cv2.medianBlur(small, 5), cv2.MORPH_CLOSE, disc)
    paper = np.asarray(cv2.resize(closed, of.image.shape[::-1], interpolation=cv2.INTER_LINEAR), np.float32)
    _refuse_blots(paper, printed, float(np.median(of.image[black])), of.detail)
    soft = cv2.GaussianBlur(of.image, (0, 0), 0.25 * of.detail).astype(np.float32)
    share = soft / np.maximum(paper, 1.0)
    if float(np.median(paper)) * (1 - _tone(share, black)) < DIM:
        raise UnreadPhoto("it is too dark or has too little contrast. Take it by daylight, without flash")
    level = (share - _tone(share, black)) / (1 - _tone(share, black))
    level[printed] = 1.0
    found = _hanging_on(level < STRONG, level < WEAK)
    if found.mean() > MOST:
        raise UnreadPhoto("much of the sheet is dark. Take it by even light, and only draw lines")
    return _without_specks(found, SPECK * of.detail)


def _refuse_blots(paper: NDArray[np.floating[Any]], printed: Mask, black: float, detail: float) -> None:
    """UnreadPhoto where the paper itself is nearly black: a filled area, or a thing that lies on it."""
    dark = (paper < black + BLOT * (np.median(paper) - black)) & ~printed
    blot = ndimage.binary_erosion(dark, iterations=round(WIDEST * detail / 2))
    if blot.any():
        row, column = ndimage.center_of_mass(blot)
        raise UnreadPhoto(no_line(column / detail, row / detail))


def no_line(x: float, y: float) -> str:
    """What is said of something else than a line at x, y mm."""
    return (
        f"what lies {x:.0f} mm from the left edge of the chart and {y:.0f} mm from its top is no line. Draw lines "
        "only, fill nothing, and take the photo without shadows of hands and things"
    )


def _tone(share: NDArray[np.floating[Any]], black: Mask) -> float:
    return float(np.median(share[black]))


def _odd(size: float) -> int:
    return 2 * round(size / 2) + 1


def _hanging_on(strong: Mask, weak: Mask) -> Mask:
    labels, count = ndimage.label(weak, np.ones((3, 3)))
    kept = np.zeros(count + 1, bool)
    kept[labels[strong & weak]] = True
    kept[0] = False
    return np.asarray(kept[labels])


def _without_specks(mask: Mask, size: float) -> Mask:
    labels, _ = ndimage.label(mask, np.ones((3, 3)))
    small = [
        number + 1
        for number, box in enumerate(ndimage.find_objects(labels))
        if np.hypot(*(part.stop - part.start for part in box)) < size
    ]
    return mask & ~np.isin(labels, small)
