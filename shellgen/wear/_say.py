"""What is to be said of a harness: what it pulls and presses, and where it can hurt."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from shellgen.model import Finding
from shellgen.params import Chosen
from shellgen.wear._hold import GRAVITY

if TYPE_CHECKING:
    from shellgen.wear import Wear

LARGEST = 160.0
"""mm: a longer patch no longer lies on the dome's curve (chosen)."""
END = 75.0
"""mm of loose strap end on a child: 16 CFR 1120 and ASTM F1816 allow 3 in (76 mm) at the waist of outerwear."""
CHILD_CORDS = (
    "EN 14682 (to age 14, costumes for dressing up in it, costumes for stage performances not) allows no cords at the "
    "neck of small children, 16 CFR 1120 with ASTM F1816 none at hood or neck from 2T to 12; whether or not they bind "
    "you, the rules where you are go before these words"
)
BETTER = "Better, hang it on a vest, or on shoulder straps with a belt (wear: harness: vest or straps)"


def findings(wear: Wear, chosen: Chosen, *, assumed: bool) -> Iterator[Finding]:
    """In the order in which a maker needs them: what may hurt, what does not hold, what it comes to."""
    if not wear.strands:
        yield Finding("ok", "wear", "No harness is planned: nothing is said of how the shell is held.")
        return
    if assumed:
        text = (
            "No wearer is named: straps and forces are those of a grown body of middle size. Name the wearer before "
            "you cut a strap, above all for a child (wearer: group, years, stature)."
        )
        yield Finding("caution", "wear", text)
    yield from _neck(wear, chosen)
    yield from _child(wear)
    yield from _holding(wear, chosen)
    yield from _pressing(wear, chosen)
    yield from _anchoring(wear, chosen)
    yield from _glue(wear, chosen)


def _neck(wear: Wear, chosen: Chosen) -> Iterator[Finding]:
    if not any(strand.on_neck for strand in wear.strands):
        return
    child = wear.body.group == "child"
    share = f"The neck carries {wear.neck_share:.0%} of the shell's {wear.load_n:.1f} N"
    lets_go = getattr(chosen.own, "breakaway", False)
    fastener = (
        "test before every wearing that its fastener lets go by a light tug"
        if lets_go
        else "it has no fastener that lets go by itself, and it must have one (wear: breakaway: yes)"
    )
    if child:
        text = f"{share}: nothing that carries load, and no cord, goes round a child's neck. {CHILD_CORDS}. {BETTER}."
        yield Finding("fault", "wear", text, safety=True)
    else:
        text = (
            f"{share}: a band round the neck can strangle when it is caught; {fastener}, wear it for minutes, never "
            f"alone, on rides, machines or ladders. {BETTER}."
        )
        yield Finding("caution" if lets_go else "fault", "wear", text, safety=True)


def _child(wear: Wear) -> Iterator[Finding]:
    if wear.body.group != "child":
        return
    text = (
        "For a child: all straps open by themselves or with one hand, none passes near the throat, and once fitted "
        f"their ends are sewn down so that no more than {END:g} mm hangs loose. {CHILD_CORDS}."
    )
    yield Finding("caution", "wear", text)


def _holding(wear: Wear, chosen: Chosen) -> Iterator[Finding]:
    lost = [case.name for case, hold in zip(wear.cases, wear.holds, strict=True) if hold is None]
    if lost:
        belt = getattr(chosen.own, "belt", None)
        advice = {
            None: "hang it on straps with a belt (wear: harness: straps)",
            False: "add a belt (wear: belt: yes)",
            True: "make the shell shallower, or hang it on a vest (wear: harness: vest)",
        }[belt]
        pads = "" if chosen.common.pads else ", let pads fill it down to the back (wear: pads: yes)"
        text = f"The straps cannot hold the shell while {' or '.join(lost)}: it swings or slides; {advice}{pads}."
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
    for anchor in wear.anchors[::2]:
        if anchor.clear < margin:
            text = (
                f"The anchor {anchor.name} (and its mirror image) stands {max(0.0, anchor.clear):.1f} mm from a seam, "
                f"groove or spike, less than {margin:g} mm: no place near has more. Back the foam there with a second "
                "layer, or move a spike."
            )
            yield Finding("caution", "wear", text)
        if anchor.short > 0.5:
            text = (
                f"The patch of {anchor.name} (and its mirror image) lacks {anchor.short:.0f} mm of room to the rim, "
                "the midline or the next patch: let it lie over them, or take narrower webbing (wear: width)."
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
    text = (
        f"{told}, but with a common strength of glue on foam that has no source. Glue a patch to an offcut, hang "
        f"{common.safety * worst.pull_n / GRAVITY:.0f} kg on it over night, close above the floor, and put "
        f"what it bore into the preset (wear: {', '.join(missing)})."
    )
    yield Finding("caution", "wear", text)
