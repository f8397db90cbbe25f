"""The sheet seen straight from above: a camera with one term of radial distortion, fitted to the corner markers.

References: the camera: Brown, Close-range camera calibration, Photogrammetric Engineering 37(8), 1971, with its first
radial term; the markers: OpenCV's aruco module. Four markers of a few cm show the distortion by their own shape: it
scales them otherwise along the radius of the photo than across.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.optimize import least_squares

from shellgen.core.arrays import Floats
from shellgen.photo.picture import Grey, UnreadPhoto

PLACES = ("upper left", "upper right", "lower right", "lower left")
LEAST_DETAIL = 1.6
"""Pixels per mm of the chart that the photo must have (chosen: a pen of 0.8 mm is then seen at all)."""
MOST_DETAIL = 5.0
LEAST_ANGLE = np.radians(35)
"""Between line of sight and sheet (chosen: flatter than this, the far side is blurred on any phone)."""
FLAT = 0.0015
"""Largest misfit of a marker's corner over the sheet's diagonal: more is a sheet that is curled or creased."""


@dataclass(frozen=True, slots=True, eq=False)
class MarkedSheet:
    """width, height : mm; markers : (4, 4, 2) corners of the markers 0 to 3, each from its own upper left clockwise,
    mm from the upper left corner of the sheet, y down"""

    width: float
    height: float
    markers: Floats


@dataclass(frozen=True, slots=True, eq=False)
class FlatSheet:
    """A sheet seen from above. image : rows from the top; detail : pixels per mm"""

    image: Grey
    detail: float


@dataclass(frozen=True, slots=True, eq=False)
class MarkedPhoto:
    """A photo with its four markers. corners : (4, 4, 2) pixels, as of a `MarkedSheet`"""

    photo: Grey
    corners: Floats


def flat(seen: MarkedPhoto, lens: Lens, sheet: MarkedSheet) -> FlatSheet:
    """The sheet in the photo. UnreadPhoto if it is not flat, or seen too coarse or from too low."""
    diagonal = float(np.linalg.norm(seen.corners[0, 0] - seen.corners[2, 2]))
    if lens.misfit > FLAT * diagonal:
        raise UnreadPhoto(
            "its markers do not lie as on the chart of this preset. Lay the sheet flat, edges taped down; and print "
            "the chart again if the dome has changed"
        )
    detail = _detail(lens, sheet)
    if detail < LEAST_DETAIL:
        raise UnreadPhoto(
            f"it shows {detail:.1f} pixels per mm of the chart, and {LEAST_DETAIL} are needed. Go nearer, so that "
            "the sheet fills the photo, or take it at full size"
        )
    detail = min(detail, MOST_DETAIL)
    x, y = (np.arange(round(side * detail)) + 0.5 for side in (sheet.width, sheet.height))
    grid = np.stack(np.meshgrid(x / detail, y / detail), axis=-1)
    at = lens.pixels(grid.reshape(-1, 2)).reshape(grid.shape).astype(np.float32)
    return FlatSheet(np.asarray(cv2.remap(seen.photo, at[..., 0], at[..., 1], cv2.INTER_AREA)), detail)


def markers(photo: Grey, dictionary: str) -> MarkedPhoto:
    """The photo with its markers. UnreadPhoto if one is missing."""
    how = cv2.aruco.DetectorParameters()
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    finder = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary)), how)
    corners, numbers, _ = finder.detectMarkers(photo)
    found: dict[int, Floats] = {}
    for number, corner in zip(() if numbers is None else numbers.ravel(), corners, strict=True):
        if number in found:
            raise UnreadPhoto("two charts are on it. Photograph one sheet alone")
        found[int(number)] = corner.reshape(4, 2).astype(float)
    missing = [place for number, place in enumerate(PLACES) if number not in found]
    if missing:
        raise UnreadPhoto(
            f"the square marker at the {' and '.join(missing)} is not seen. All four corners must be on the photo, "
            "sharp and without a hard shadow across them"
        )
    return MarkedPhoto(photo, np.stack([found[number] for number in range(4)]))


@dataclass(frozen=True, slots=True, eq=False)
class Lens:
    """From the sheet to the photo. plane : (3, 3) homography to pixels without distortion, from the middle of the photo
    and over half its diagonal; bend : first radial term; misfit : largest distance of a marker's corner, pixels"""

    plane: Floats
    bend: float
    middle: Floats
    half: float
    misfit: float = 0.0

    def pixels(self, mm: Floats) -> Floats:
        """(n, 2) from (n, 2)."""
        ideal = np.column_stack([mm, np.ones(len(mm))]) @ self.plane.T
        ideal = ideal[:, :2] / ideal[:, 2:]
        seen = ideal * (1 + self.bend * (ideal**2).sum(axis=1, keepdims=True))
        return np.asarray(self.middle + self.half * seen)


def fitted(seen: MarkedPhoto, sheet: MarkedSheet) -> Lens:
    """The camera that brings the sheet's markers nearest to those of the photo."""
    mm, pixels, shape = sheet.markers.reshape(-1, 2), seen.corners.reshape(-1, 2), seen.photo.shape
    middle, half = 0.5 * np.array([shape[1] - 1.0, shape[0] - 1.0]), 0.5 * float(np.hypot(*shape))
    start, _ = cv2.findHomography(mm, (pixels - middle) / half)
    if start is None:
        raise UnreadPhoto("its markers do not lie like those of a chart")

    def lens(x: Floats) -> Lens:
        return Lens(np.append(x[:8], 1.0).reshape(3, 3), float(x[8]), middle, half)

    first = np.append(np.asarray(start, float).ravel()[:8], 0.0)
    found = least_squares(lambda x: (lens(x).pixels(mm) - pixels).ravel(), first, x_scale="jac")
    return replace(lens(found.x), misfit=float(np.abs(found.fun).max()))


def _detail(lens: Lens, sheet: MarkedSheet) -> float:
    """The fewest pixels per mm in any direction at the corners of the sheet. UnreadPhoto if it is seen too flat."""
    size = np.array([sheet.width, sheet.height])
    least, ratios = np.inf, []
    for corner in size * [(0.05, 0.05), (0.95, 0.05), (0.95, 0.95), (0.05, 0.95), (0.5, 0.5)]:
        at = lens.pixels(corner + np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]))
        stretch = np.linalg.svd((at[1:] - at[0]).T, compute_uv=False)
        least = min(least, float(stretch[1]))
        ratios.append(float(stretch[1] / stretch[0]))
    if min(ratios) < np.sin(LEAST_ANGLE):
        raise UnreadPhoto("it was taken from too low. Hold the camera above the middle of the sheet")
    return least
