"""Paper masks for painting: hoods over spikes, collars round rings, sheets for plates, bands along the rim.

Each is laid flat from the finished shell's outer face, with slits whose edges slide over each other where it must bend.
"""

from __future__ import annotations

from shellgen.finish.stencils._alike import shared
from shellgen.finish.stencils._bands import bands, bands_along
from shellgen.finish.stencils._hoods import hood
from shellgen.finish.stencils._mask import Mask
from shellgen.finish.stencils._sheets import collar, plates
from shellgen.model import Layout, Ring, Solid, Spike, Surface

__all__ = ["Mask", "bands_along", "build", "shared"]


def build(
    surface: Surface,
    layout: Layout,
    spikes: tuple[Spike, ...],
    masters: tuple[Solid, ...],
    rings: tuple[Ring, ...],
) -> tuple[Mask, ...]:
    """All masks of a shell: hoods and collars one for each master, plates and bands for both halves."""
    ring = {r.spike: r for r in rings}
    solid = {s.name: s for s in masters}
    groups: dict[str, list[Spike]] = {}
    for spike in spikes:
        groups.setdefault(spike.master, []).append(spike)
    hoods = [hood(surface, solid[name], group, ring.get(group[0].name)) for name, group in groups.items()]
    collars = [collar(surface, name, group, ring.get(group[0].name)) for name, group in groups.items()]
    return (*hoods, *collars, *plates(surface, layout, spikes, ring), *bands(surface))
