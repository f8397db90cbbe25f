"""What is to be said of a harness: what it pulls and presses, and where it can hurt."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from shellgen.fields.params import Chosen
from shellgen.model import Finding, Spike
from shellgen.model.said import apart, several
from shellgen.wear._hang import BOND_KPA, PEEL
from shellgen.wear._hold import GRAVITY
from shellgen.wear._strand import Strand

if TYPE_CHECKING:
    from shellgen.wear import Wear

LARGEST = 160.0
"""mm: a longer patch no longer lies on the dome's curve (chosen)."""
LOW, LONG = 20.0, 0.5
"""A spike on a child's shell is long that is higher than LOW mm and than this share of its base (chosen: a stud is a
third as high as wide)."""
SURE = 0.5
"""Glue that bears this share of a common strength will be had, and need not be tested before the patches are cut
(chosen)."""
END = 75.0
"""mm of loose strap end on a child: 16 CFR 1120 and ASTM F1816 allow 3 in (76 mm) at the waist of outerwear."""
CHILD_CORDS = (
    "EN 14682 (to age 14; it covers costumes for dressing up, not those for the stage) allows no cords at the "
    "neck of small children, 16 CFR 1120 with ASTM F1816 none at hood or neck from 2T to 12; local rules come "
    "first"
)
BETTER = "Better, hang it on a vest, or on shoulder straps with a belt (wear: harness: vest or straps)"


def findings(
    wear: Wear, chosen: Chosen, spikes: Sequence[Spike], mend: str, *, assumed: bool, said: bool
) -> Iterator[Finding]:
    """In the order in which a maker needs them: what may hurt, what does not hold, what it comes to.

    mend    : what to change where the harness cannot hold the shell
    assumed : whether nobody was measured; said : whether the preset says child or adult even so
    """
    if not wear.strands:
        yield Finding("ok", "wear", "No harness is planned: nothing is said of how the shell is held.")
        return
    if assumed:
        yield Finding("caution", "wear", _unknown(wear, said=said))
    yield from _neck(wear)
    yield from _child(wear, spikes)
    yield from _holding(wear, chosen, mend)
    yield from _pressing(wear, chosen)
    yield from _anchoring(wear, chosen)
    yield from _glue(wear, chosen)


def _unknown(wear: Wear, *, said: bool) -> str:
    """Of a wearer whom nobody measured."""
    child = wear.body.group == "child"
    whose = "a child" if child else "a grown body"
    text = f"The wearer is not measured: straps and forces are those of {whose} that the dome would fit. "
    if child and not said:
        text += "A shell as small as this counts as a child's unless the preset says wearer: group: adult. "
    return text + "Measure the wearer before you cut a strap (wearer: years, stature)."


def _neck(wear: Wear) -> Iterator[Finding]:
    band = next((strand for strand in wear.strands if strand.on_neck), None)
    if band is None:
        return
    share = f"The neck carries {wear.neck_share:.0%} of the shell's {wear.load_n:.1f} N"
    if wear.body.group == "child":
        text = f"{share}: nothing that carries load, and no cord, goes round a child's neck. {CHILD_CORDS}. {BETTER}."
        yield Finding("fault", "wear", text, safety=True)
        return
    fastener = (
        "it has no fastener that lets go by itself, and it must have one (wear: breakaway: yes)"
        if band.lets_go is None
        else f"its fastener must open by itself at {band.lets_go:.0f} N: try it before every wearing, as the guide says"
    )
    text = (
        f"{share}: a band round the neck can strangle when it is caught; {fastener}; wear it for minutes, never "
        f"alone, on rides, machines or ladders. {BETTER}."
    )
    yield Finding("fault" if band.lets_go is None else "caution", "wear", text, safety=True)
    yield from _opens(wear, band)


def _opens(wear: Wear, band: Strand) -> Iterator[Finding]:
    """Of a band that the shell itself pulls open."""
    at = 2 * sum(strand.count for strand in wear.strands[: wear.strands.index(band)])
    own = slice(at, at + 2 * band.count)
    cases = [
        hold.case.name
        for hold in wear.holds
        if hold is not None and band.lets_go is not None and hold.pulls[own].max() > band.lets_go
    ]
    if cases:
        text = (
            f"The shell pulls its neck band with more than {band.lets_go:.0f} N while {' or '.join(cases)}: the "
            "fastener opens and the shell drops"
        )
        only = "; neither run nor jump in it" if cases == ["jumping"] else ""
        yield Finding("caution" if only else "fault", "wear", f"{text}{only}. {BETTER}, or make the shell lighter.")


def _child(wear: Wear, spikes: Sequence[Spike]) -> Iterator[Finding]:
    if wear.body.group != "child":
        return
    text = (
        "For a child: all straps open by themselves or with one hand, none passes near the throat, and once fitted "
        f"their ends are sewn down so that no more than {END:g} mm hangs loose. {CHILD_CORDS}."
    )
    yield Finding("caution", "wear", text)
    long = [spike for spike in spikes if spike.height > max(LOW, LONG * spike.base_diameter)]
    if long:
        highest = max(spike.height for spike in long)
        text = (
            f"Hard spikes up to {highest:.0f} mm high on a child's shell can put out an eye in a fall or a push: make "
            f"them of soft foam, or studs no higher than {LOW:g} mm (spikes: profile: stud)."
        )
        yield Finding("caution", "wear", text)


def _holding(wear: Wear, chosen: Chosen, mend: str) -> Iterator[Finding]:
    lost = [case.name for case, hold in zip(wear.cases, wear.holds, strict=True) if hold is None]
    if lost:
        text = f"The straps cannot hold the shell while {' or '.join(lost)}: it swings or slides; {mend}."
        yield Finding("fault", "wear", text)
    held = [(float(hold.pulls.max()), hold) for hold in wear.holds if hold is not None]
    if held:
        most, hold = max(held, key=lambda item: round(item[0], 6))
        anchor = wear.anchors[int(np.argmax(np.round(hold.pulls, 6)))].name
        pads = "pads down to the back" if chosen.common.pads else "the rim alone"
        text = (
            f"The shell weighs {wear.load_n:.1f} N at the most and rests on {pads}. Its straps pull hardest at "
            f"{anchor}, with {most:.0f} N while {hold.case.name} ({hold.case.factor:g} times its weight)."
        )
        yield Finding("ok", "wear", text)


def _pressing(wear: Wear, chosen: Chosen) -> Iterator[Finding]:
    worst = max(wear.pressures, key=lambda one: one.standing_kpa, default=None)
    if worst is None:
        return
    limit = chosen.common.pressure
    told = f"The {worst.strap} presses the {worst.where} with {worst.standing_kpa:.1f} kPa standing"
    if worst.standing_kpa <= limit:
        yield Finding("ok", "wear", f"{told}, {worst.most_kpa:.1f} kPa at the most; limit for hours {limit:g} kPa.")
        return
    wide = 5 * ceil(worst.width * worst.standing_kpa / limit / 5)
    text = f"{told}: above {limit:g} kPa the skin goes numb in time. Make it {wide} mm wide, or pad it as broadly."
    yield Finding("caution", "wear", text)


def _anchoring(wear: Wear, chosen: Chosen) -> Iterator[Finding]:
    margin = chosen.common.margin
    near = [anchor for anchor in wear.anchors[::2] if anchor.clear < margin]
    if near:
        worst = min(near, key=lambda anchor: anchor.clear)
        clear, wanted = apart(max(0.0, worst.clear), margin, digits=1)
        text = (
            f"{several((anchor.name for anchor in near), 'Anchor')} and mirror images: only {clear} mm from a seam, "
            f"groove or spike, where {wanted} mm are wanted; no place near has more. Back the foam there with a second "
            "layer, or move a spike."
        )
        yield Finding("caution", "wear", text)
    short = [anchor for anchor in wear.anchors[::2] if anchor.short > 0.5]
    if short:
        text = (
            f"Patches of {several(anchor.name for anchor in short)} and the mirror images lack up to "
            f"{max(anchor.short for anchor in short):.0f} mm of room to the rim, the midline or the next patch: let "
            "them lie over those, or take narrower webbing (wear: width)."
        )
        yield Finding("caution", "wear", text)
    for patch in wear.patches:
        if patch.length > LARGEST:
            text = (
                f"The patch at {patch.role} must be {patch.length:g} x {patch.width:g} mm for the glue, too large to "
                "lie on the curve: use a stronger glue and test it (wear: bond, peel), or a lighter shell."
            )
            yield Finding("caution", "wear", text)


def _glue(wear: Wear, chosen: Chosen) -> Iterator[Finding]:
    common = chosen.common
    missing = [name for name in ("bond", "peel") if getattr(common, name) is None]
    worst = max(wear.anchors, key=lambda anchor: anchor.pull_n)
    told = f"Patches are made for {worst.pull_n:.0f} N at {worst.name} with {common.safety:g} times to spare"
    if not missing:
        yield Finding("ok", "wear", f"{told}, by the strength of glue that you tested.")
        return
    needed = max(common.safety * anchor.bond.stress_kpa / BOND_KPA for anchor in wear.anchors)
    needed = max(needed, *(common.safety * anchor.bond.peel / PEEL for anchor in wear.anchors))
    if needed <= SURE:
        yield Finding("ok", "wear", f"{told}, even with glue that bears {needed:.0%} of what is common on foam.")
        return
    text = (
        f"{told}, but with a common strength of glue on foam that has no source. Glue a patch to an offcut, hang "
        f"{common.safety * worst.pull_n / GRAVITY:.0f} kg on it over night, close above the floor, and put "
        f"what it bore into the preset (wear: {', '.join(missing)})."
    )
    yield Finding("caution", "wear", text)
