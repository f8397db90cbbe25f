"""The painting in the record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shellgen.canvas import hexadecimal
from shellgen.finish.paint.figures import TONES
from shellgen.geom.triangles import areas
from shellgen.model import Paint, Shading


@dataclass(frozen=True, slots=True)
class ZoneEntry:
    """A part of the shell with a colour of its own. coats : 0 if it stays bare"""

    id: str
    area_mm2: float
    coats: int
    volume_ml: float
    colour: str
    hex: str
    how: str


@dataclass(frozen=True, slots=True)
class NeighboursEntry:
    """Two zones that meet. sight : the kind of colour vision for which their colours differ least"""

    zones: tuple[str, ...]
    contrast: float
    difference_ciede2000: float
    sight: str


@dataclass(frozen=True, slots=True)
class CoatEntry:
    """One step of the painting."""

    title: str
    zone: str
    colour: str
    coats: int
    volume_ml: float
    masks: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class ShadingEntry:
    """The shade in the grooves. tones : share of the outer face in each"""

    paint: str
    tones: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class PaintEntry:
    """Zones, which of them meet, and the coats in their order."""

    zones: tuple[ZoneEntry, ...]
    neighbours: tuple[NeighboursEntry, ...]
    steps: tuple[CoatEntry, ...]
    shading: ShadingEntry


def paint(of: Paint) -> PaintEntry:
    return PaintEntry(
        zones=tuple(
            ZoneEntry(
                id=zone.name,
                area_mm2=round(zone.area, 1),
                coats=zone.coats,
                volume_ml=round(zone.volume_ml, 2),
                colour=zone.colour,
                hex=hexadecimal(zone.rgb),
                how=zone.how,
            )
            for zone in of.zones
        ),
        neighbours=tuple(
            NeighboursEntry(tuple(pair.zones), round(pair.contrast, 2), round(pair.difference, 1), pair.sight)
            for pair in of.pairs
        ),
        steps=tuple(
            CoatEntry(
                title=coat.title,
                zone=coat.zone,
                colour=coat.colour,
                coats=coat.coats,
                volume_ml=round(coat.volume_ml, 2),
                masks=tuple(coat.masks),
                text=coat.instruction,
            )
            for coat in of.coats
        ),
        shading=ShadingEntry(of.kind, _shares(of.shading)),
    )


def _shares(shading: Shading) -> Mapping[str, float]:
    """Share of the outer face in each tone; the area under the spikes has the tone around it."""
    middle = shading.shade[shading.faces].mean(axis=1)
    tone = (middle[:, None] >= np.array(shading.levels)).sum(axis=1)
    area = np.bincount(tone, areas(shading.points, shading.faces), minlength=len(TONES))
    return {name: round(float(share), 3) for name, share in zip(TONES, area / area.sum(), strict=True)}
