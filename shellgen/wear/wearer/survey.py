"""Measures of many people by percentile, to estimate measures that are missing.

References
----------
ANSUR II, Natick/TR-15/007 (2012): 4082 men and 1986 women of the US Army. Percentiles of the public files, unweighted:
soldiers, not the general public. Stature, weight, biacromial and chest breadth, chest depth, waist back length, hip
breadth (standing), neck circumference, cervicale and sitting height.
CDC growth charts, US 2000: stature for age and weight for age, at half a month past each birthday named.
"""

from __future__ import annotations

from collections.abc import Mapping
from statistics import NormalDist

import numpy as np

from shellgen.model import Body

MEASURES = tuple(name for name in Body.__dataclass_fields__ if name not in ("group", "stated"))
"""Of a `Body`."""

FRAME = ("stature", "shoulder_breadth", "back_length", "neck_height", "sitting_height")
BULK = ("mass_kg", "chest_depth", "chest_breadth", "hip_breadth", "neck_girth")

Column = tuple[float, float, float]
"""The 5th, 50th and 95th percentile, mm or kg."""

Percentiles = Mapping[str, Column]

ADULTS: Mapping[str, Percentiles] = {
    "male": {
        "stature": (1648, 1755, 1870),
        "mass_kg": (64.4, 84.6, 110.69),
        "shoulder_breadth": (384, 415, 447),
        "back_length": (433, 477, 524),
        "chest_depth": (211, 253, 298),
        "chest_breadth": (261, 289, 320),
        "hip_breadth": (308, 344, 387),
        "neck_girth": (360, 395, 443),
        "neck_height": (1416, 1517, 1622.9),
        "sitting_height": (860, 918, 977),
    },
    "female": {
        "stature": (1525, 1626, 1740),
        "mass_kg": (51.3, 66.8, 87.08),
        "shoulder_breadth": (335, 365, 396),
        "back_length": (384, 424.5, 470),
        "chest_depth": (205, 245, 295.8),
        "chest_breadth": (241, 268, 302),
        "hip_breadth": (311, 353, 400),
        "neck_girth": (302, 328, 363),
        "neck_height": (1300.2, 1393, 1498),
        "sitting_height": (803, 857, 912),
    },
}

YEARS = (4, 6, 8, 10, 12, 14)

CHILDREN: Mapping[str, Mapping[str, tuple[Column, ...]]] = {  # by YEARS
    "male": {
        "stature": (
            (956, 1025, 1095), (1073, 1157, 1239), (1188, 1281, 1378),
            (1282, 1388, 1499), (1373, 1493, 1619), (1505, 1641, 1770),
        ),
        "mass_kg": (
            (13.610, 16.317, 20.283), (16.937, 20.778, 27.033), (20.662, 25.753, 35.290),
            (24.944, 32.088, 46.158), (31.552, 40.674, 59.304), (38.476, 51.231, 72.687),
        ),
    },
    "female": {
        "stature": (
            (940, 1010, 1084), (1069, 1150, 1239), (1185, 1278, 1379),
            (1275, 1382, 1496), (1392, 1515, 1635), (1497, 1605, 1713),
        ),
        "mass_kg": (
            (13.090, 15.878, 20.394), (16.436, 20.336, 27.393), (20.145, 25.757, 36.227),
            (24.865, 33.064, 48.175), (31.151, 41.828, 61.627), (37.913, 49.491, 72.398),
        ),
    },
}  # fmt: skip
"""The outer weights of 14-year-old girls are computed from the chart's L, M and S."""

AT_TWO: Mapping[str, float] = {"male": 868.6, "female": 854.0}
"""Median stature half a month past the second birthday, from the same charts."""

SEXES = {"both": ("male", "female"), "male": ("male",), "female": ("female",)}

_TAIL = NormalDist().inv_cdf(0.95)


def score(percentile: float) -> float:
    """Standard deviations from the middle."""
    return NormalDist().inv_cdf(percentile / 100)


def value(column: Column, z: float) -> float:
    """The measure at `z` standard deviations: a normal distribution on either side of the median, each with its own
    spread, so that the three percentiles given are met exactly."""
    low, middle, high = column
    return middle + z * ((high - middle) if z > 0 else (middle - low)) / _TAIL


def standing(column: Column, measure: float) -> float:
    """The inverse of `value`."""
    low, middle, high = column
    return (measure - middle) * _TAIL / ((high - middle) if measure > middle else (middle - low))


def adults(survey: str) -> Percentiles:
    """Columns by measure; "both" is halfway between those of men and of women."""
    of = [ADULTS[sex] for sex in SEXES[survey]]
    return {name: _mean([rows[name] for rows in of]) for name in of[0]}


def children(survey: str, years: float) -> Percentiles:
    """Columns by measure at an age, interpolated between birthdays. Only stature and mass were surveyed: the rest are
    an adult's, both sexes together, in proportion to the median stature, which makes them rough."""
    of = [CHILDREN[sex] for sex in SEXES[survey]]
    grown = adults("both")
    known = {name: _mean([_at(rows[name], years) for rows in of]) for name in of[0]}
    share = known["stature"][1] / grown["stature"][1]
    scaled = {name: (share * low, share * middle, share * high) for name, (low, middle, high) in grown.items()}
    return {**scaled, **known}


def years_of(survey: str, stature: float) -> float:
    """The age at which the median child has this stature, within YEARS."""
    medians = [children(survey, year)["stature"][1] for year in YEARS]
    return float(np.interp(stature, medians, YEARS))


def usual_stature(survey: str, years: float) -> float:
    """The median stature at an age from two years on, mm; that of grown people is reached at 18."""
    medians = [children(survey, year)["stature"][1] for year in YEARS]
    first = float(np.mean([AT_TWO[sex] for sex in SEXES[survey]]))
    return float(np.interp(years, (2, *YEARS, 18), (first, *medians, adults(survey)["stature"][1])))


def _at(columns: tuple[Column, ...], years: float) -> Column:
    low, middle, high = (float(np.interp(years, YEARS, row)) for row in zip(*columns, strict=True))
    return low, middle, high


def _mean(columns: list[Column]) -> Column:
    low, middle, high = (float(np.mean(row)) for row in zip(*columns, strict=True))
    return low, middle, high
