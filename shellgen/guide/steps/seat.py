"""Spikes on their seats, and a ring around each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shellgen.canvas.rule import Rule
from shellgen.draw.sections import ring_section
from shellgen.draw.topview import seat_map
from shellgen.guide.kit import Kit, plural
from shellgen.guide.leaf import Picture, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import DUST, GLUE, HEAT, KNIFE, POINTS
from shellgen.model import SpikeShape
from shellgen.record.spikes import SpikeEntry
from shellgen.trim.beneath import SEAM

PLACE = 120
TALL = 130.0


def steps(kit: Kit) -> Iterator[Step]:
    spikes = kit.figures.spikes
    if not spikes:
        return
    yield kit.step(
        "seat",
        "Set the spikes",
        needs=("edged dome", "dry spikes", "materials"),
        makes=("spiked dome",),
        equipment=("the spikes", "fine sandpaper", "contact adhesive", "brush for glue"),
        tasks=("glue on the spikes",),
        blocks=(
            Picture(seat_map(kit.name, kit.ground, kit.spikes, across=kit.across, up=TALL),
                    "The seats from above, numbered as in the list."),
            Rows(("size of spike", "how many", "leans, as its line points",
                  "seats: number in the picture and name on the template"),
                 tuple(_sizes(spikes))),
            Ticks(
                (
                    *(["Sand the seams level where a spike stands over one: its outline is on both edges of the seam."]
                      if any(SEAM in s.stands_over for s in spikes) else []),
                    "Put every spike on its seat without glue. Turn it until the line on its underside meets the short "
                    "line at the seat: then it leans and curves as designed.",
                    "Roughen the underside and the seat and brush glue on both. Wait, set the spike down and press.",
                    "Pull at each spike when the glue has set. If one moves, take it off and glue it again.",
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
    """One row for each size, with the numbers and names of its seats."""
    for size in dict.fromkeys(spike.master for spike in spikes):
        mine = [(k, s) for k, s in enumerate(spikes, 1) if s.master == size]
        tilts = sorted({f"{s.tilt_deg:.0f}°" for _, s in mine})
        yield size, str(len(mine)), " ".join(tilts), "; ".join(f"{k} {s.id.removeprefix('spike-')}" for k, s in mine)


def _rings(kit: Kit, ringed: Sequence[SpikeEntry]) -> Step:
    how, paper, every = kit.preset.rings, kit.preset.print.paper, kit.figures.spikes
    bare, around = len(every) - len(ringed), plural(len(ringed), "spike")
    rest = f" The other {plural(bare, 'spike')} {'has' if bare == 1 else 'have'} none." if bare else ""
    joint = (
        "Cut the strips one after another, with every cut at the same slant, over "
        f"{kit.mm(how.scarf * how.thickness, 1)}. Each cut ends one strip and starts the next, so that the two ends "
        "of a strip overlap. Measure lengths along one face."
        if how.joint == "scarf"
        else "Cut the strips to length with square ends."
    )
    return kit.step(
        "rings",
        f"Put a ring around {around if bare else 'each spike'}",
        needs=("spiked dome", "materials", "tools"),
        makes=("ringed dome",),
        equipment=("ring strip", "knife", "cutting mat", "long steel rule", "heat gun with a stand", "contact adhesive",
              "brush for glue"),
        tasks=("cut, chamfer and glue the rings",),
        blocks=(
            KNIFE,
            HEAT,
            Words(f"{plural(len(ringed), 'ring')} of strip {kit.mm(how.thickness, 1)} thick and "
                  f"{kit.mm(how.width, 1)} high. The patterns are in rings-{paper}.pdf; ring-cuts.svg shows how to cut "
                  f"them from the strips.{rest}"),
            Picture(ring_section(how, _shape(kit), kit.foam.thickness, Rule(kit.inches)), "Cut through a spike."),
            Rows(("strip", "cut to", "how many", "for the spikes"), tuple(_patterns(kit, ringed))),
            Ticks(
                (
                    joint,
                    *([f"Chamfer the outer top edge by {kit.mm(how.chamfer, 1)}: strip against the rule, blade at 45°."]
                      if how.chamfer else []),
                    "Warm a strip, roll it around a spike of its size and let it cool: it keeps the curve. Shape all "
                    "rings before you open the glue.",
                    "Glue the underside and the joint. Turn the joint towards the tail, where it shows least.",
                )
            ),
            GLUE,
        ),
    )  # fmt: skip


def _shape(kit: Kit) -> SpikeShape:
    """The figures of the ringed spikes that are most."""
    shapes = [spike.shape for spike in kit.spikes if spike.ring]
    return max(shapes, key=shapes.count)


def _patterns(kit: Kit, ringed: Sequence[SpikeEntry]) -> Iterator[tuple[str, ...]]:
    """The strips on paper, the longest first, with all rings that are cut from each."""
    for name in dict.fromkeys(s.ring_pattern for s in sorted(ringed, key=lambda s: -(s.ring_cut_mm or 0.0))):
        mine = [spike for spike in ringed if spike.ring_pattern == name]
        spikes = ", ".join(spike.id.removeprefix("spike-") for spike in mine)
        yield name or "", kit.mm(mine[0].ring_cut_mm or 0.0, 1), str(len(mine)), spikes
