"""Spikes in the record, with what is printed and how much clay they need."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.geom.curves import length
from shellgen.pipeline.shell import Shell
from shellgen.record.rounding import rounded


@dataclass(frozen=True, slots=True)
class SpikeEntry:
    """One spike. stl : file of its master, shared by equal spikes; the figures of the ring are null if it has none

    stands_over  : "plate line", "seam", both or nothing: what runs under it or its ring
    ring_pattern : name of its strip on paper, which rings of nearly one length share; ring_cut_mm : that strip's length
    """

    id: str
    plate: str
    profile: str
    base_diameter_mm: float
    height_mm: float
    tilt_deg: float
    base_curve_length_mm: float
    ring_length_mm: float | None
    ring_thickness_mm: float | None
    ring_pattern: str | None
    ring_cut_mm: float | None
    stl: str
    stands_over: tuple[str, ...] = ()

    @property
    def master(self) -> str:
        """Name of the solid that it is made from."""
        return self.stl.removeprefix("spikes/").removesuffix(".stl")


@dataclass(frozen=True, slots=True)
class PrintEntry:
    """One part for a 3D printer. for : the master that it is for; lies : which side is down

    copies : how many are printed; all figures are for one
    """

    id: str
    for_: str
    role: str
    lies: str
    overhang_deg: float
    fits_bed: bool
    volume_mm3: float
    plastic_g: float
    minutes: float
    copies: int


@dataclass(frozen=True, slots=True)
class ClayEntry:
    """Volume of the clay of all spikes, cm3."""

    dry: float
    wet: float


def spikes(shell: Shell) -> tuple[SpikeEntry, ...]:
    rings = {ring.spike: ring for ring in shell.trim.rings.rings}
    pattern = {spike: pattern for pattern in shell.trim.rings.patterns for spike in pattern.spikes}
    return tuple(
        SpikeEntry(
            id=spike.name,
            plate=shell.ground.layout.plates[spike.plate].name,
            profile=spike.profile,
            base_diameter_mm=rounded(spike.base_diameter),
            height_mm=rounded(spike.height),
            tilt_deg=rounded(np.degrees(spike.tilt), 2),
            base_curve_length_mm=rounded(length(spike.base_curve, closed=True)),
            ring_length_mm=rounded(rings[spike.name].neutral_length) if spike.name in rings else None,
            ring_thickness_mm=rounded(rings[spike.name].thickness) if spike.name in rings else None,
            ring_pattern=pattern[spike.name].name if spike.name in pattern else None,
            ring_cut_mm=rounded(pattern[spike.name].length) if spike.name in pattern else None,
            stl=f"spikes/{spike.master}.stl",
            stands_over=shell.top.beneath.of.get(spike.name, ()),
        )
        for spike in shell.top.spikes
    )


def prints(shell: Shell) -> tuple[PrintEntry, ...]:
    return tuple(
        PrintEntry(
            id=part.name,
            for_=part.serves,
            role=part.role,
            lies=part.lies,
            overhang_deg=rounded(np.degrees(part.overhang), 1),
            fits_bed=bool(part.fits),
            volume_mm3=rounded(part.volume, 1),
            plastic_g=rounded(part.plastic_g, 1),
            minutes=rounded(part.minutes, 0),
            copies=part.copies,
        )
        for part in shell.top.casting.prints
    )


def clay(shell: Shell) -> ClayEntry:
    of = shell.top.casting.clay
    return ClayEntry(dry=rounded(of.dry / 1000, 1), wet=rounded(of.wet / 1000, 1))
