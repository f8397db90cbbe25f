"""Spikes on their seats, and a ring round each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from shellgen.draw.topview import seat_map
from shellgen.guide.kit import Kit, plural
from shellgen.guide.leaf import Picture, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import DUST, GLUE, HEAT, KNIFE, POINTS
from shellgen.record.spikes import SpikeEntry

PLACE = 120
TALL = 165.0


def steps(kit: Kit) -> Iterator[Step]:
    spikes = kit.figures.spikes
    if not spikes:
        return
    yield kit.step(
        "seat",
        "Set the spikes",
        needs=("edged dome", "dry spikes", "materials"),
        makes=("spiked dome",),
        hand=("the spikes", "fine sandpaper", "breathing mask", "contact adhesive", "brush for glue"),
        tasks=("glue on the spikes",),
        blocks=(
            Picture(seat_map(kit.name, kit.ground, kit.spikes, across=kit.across, up=TALL),
                    "The seats from above; numbers as in the list."),
            Rows(("size of spike", "how many", "leans", "seats: number in the picture and name on the template"),
                 tuple(_sizes(spikes))),
            Ticks(
                (
                    "Lay every spike on its seat dry. The line under its foot meets the short line at the seat: so it "
                    "leans and curves the way it was drawn.",
                    "Roughen the underside and the seat, glue both, wait, set it down straight and press.",
                    "Pull at each when the glue has set. What moves comes off and is glued again.",
                )
            ),
            POINTS,
            DUST,
            GLUE,
        ),
    )  # fmt: skip
    rings = [s for s in spikes if s.ring_length_mm]
    if rings:
        yield _rings(kit, rings)


def _sizes(spikes: Sequence[SpikeEntry]) -> Iterator[tuple[str, str, str, str]]:
    """A row for each size, its seats by number and name."""
    for size in dict.fromkeys(spike.master for spike in spikes):
        mine = [(k, s) for k, s in enumerate(spikes, 1) if s.master == size]
        tilts = sorted({f"{s.tilt_deg:.0f}°" for _, s in mine})
        yield size, str(len(mine)), " ".join(tilts), "; ".join(f"{k} {s.id.removeprefix('spike-')}" for k, s in mine)


def _rings(kit: Kit, ringed: Sequence[SpikeEntry]) -> Step:
    how, paper = kit.preset.rings, kit.preset.print.paper
    joint = (
        "Cut the strips one after another, every cut slanted alike over "
        f"{kit.mm(how.scarf * how.thickness, 1)}: it ends one strip and begins the next, so that a strip's ends lie "
        "one on the other. Lengths are measured along one face."
        if how.joint == "scarf"
        else "Cut the strips to length, their ends square."
    )
    return kit.step(
        "rings",
        "Put a ring round each spike",
        needs=("spiked dome", "materials", "tools"),
        makes=("ringed dome",),
        hand=("ring strip", "knife", "cutting mat", "long steel rule", "heat gun with a stand", "contact adhesive",
              "brush for glue"),
        tasks=("cut, chamfer and glue the rings",),
        blocks=(
            KNIFE,
            HEAT,
            Words(f"{plural(len(ringed), 'ring')} of strip {kit.mm(how.thickness, 1)} thick, standing "
                  f"{kit.mm(how.width, 1)} high. Patterns: rings-{paper}.pdf; what to cut from which length: "
                  "ring-cuts.svg."),
            Rows(("cut to", "how many", "for the spikes"), tuple(_lengths(kit, ringed))),
            Ticks(
                (
                    joint,
                    *([f"Chamfer the outer top edge by {kit.mm(how.chamfer, 1)}: blade at 45°, strip against the rule."]
                      if how.chamfer else []),
                    "Warm a strip, roll it round a spike of its size, let it cool: it keeps the curve. Shape all "
                    "before you open the glue.",
                    "Glue foot and joint; put the joint towards the tail, where it shows least.",
                )
            ),
            GLUE,
        ),
    )  # fmt: skip


def _lengths(kit: Kit, ringed: Sequence[SpikeEntry]) -> Iterator[tuple[str, str, str]]:
    """Rings of equal length, to the millimetre, the longest first."""

    def key(spike: SpikeEntry) -> int:
        return -round(spike.ring_length_mm or 0.0)

    for length, group in groupby(sorted(ringed, key=key), key=key):
        names = [spike.id.removeprefix("spike-") for spike in group]
        yield kit.mm(-length), str(len(names)), ", ".join(names)
