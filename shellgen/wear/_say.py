"""What the checks find in a harness: pulls, pressures, and where it can hurt."""

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
from shellgen.wear._patch import Bond
from shellgen.wear._strand import Strand

if TYPE_CHECKING:
    from shellgen.wear import Params, Wear

LARGEST = 160.0
"""mm: a longer patch no longer lies on the dome's curve (chosen)."""
LOW, LONG = 20.0, 0.5
"""A spike on a child's shell is long if it is higher than LOW mm and than this share of its base (chosen: a stud is a
third as high as wide)."""
SIZED = "The patches are sized for"
"""How the finding about the glue begins."""
SURE = 0.5
"""If the glue needs no more than this share of a common strength, no test is needed before the patches are cut
(chosen)."""
END = 75.0
"""mm of loose strap end on a child: 16 CFR 1120 and ASTM F1816 allow 3 in (76 mm) at the waist of outerwear."""
CHILD_CORDS = (
    "EN 14682 (to age 14; it covers dressing-up costumes, not stage costumes) allows no cords at the "
    "neck of small children, 16 CFR 1120 with ASTM F1816 none at hood or neck from 2T to 12; local rules come "
    "first"
)
BETTER = "It is safer to hang it on a vest, or on shoulder straps with a belt (wear: harness: vest or straps)"


def findings(
    wear: Wear, chosen: Chosen, spikes: Sequence[Spike], mend: str, *, assumed: bool, said: bool
) -> Iterator[Finding]:
    """In the order in which a maker needs them: what may hurt, what does not hold, the figures.

    mend    : what to change if the harness cannot hold the shell
    assumed : whether nobody was measured; said : whether the preset says child or adult all the same
    """
    if not wear.strands:
        yield Finding("ok", "wear", "No harness is planned: how the shell is held was not checked.")
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
    """The finding about a wearer who was not measured."""
    child = wear.body.group == "child"
    whose = "a child" if child else "an adult"
    text = f"The wearer was not measured. Straps and forces are computed for {whose} whom the dome would fit. "
    if child and not said:
        text += "A shell this small counts as a child's unless the preset says wearer: group: adult. "
    return text + "Measure the wearer before you cut a strap (wearer: years, stature)."


def _neck(wear: Wear) -> Iterator[Finding]:
    band = next((strand for strand in wear.strands if strand.on_neck), None)
    if band is None:
        return
    share = f"The neck carries {100 * wear.neck_share:.0f} % of the shell's {wear.load_n:.1f} N"
    if wear.body.group == "child":
        text = (
            f"{share}. Nothing that carries load, and no cord, may go around a child's neck. {CHILD_CORDS}. {BETTER}."
        )
        yield Finding("fault", "wear", text, safety=True)
        return
    fastener = (
        "It must have a fastener that opens by itself, and it has none (wear: breakaway: yes)"
        if band.lets_go is None
        else f"Its fastener must open by itself at {band.lets_go:.0f} N: test it every time before you wear it, as the "
        f"guide says"
    )
    text = (
        f"{share}. A band around the neck can strangle if it gets caught. {fastener}. Wear it for minutes only, and "
        f"never alone or on rides, machines or ladders. {BETTER}."
    )
    yield Finding("fault" if band.lets_go is None else "caution", "wear", text, safety=True)
    yield from _opens(wear, band)


def _opens(wear: Wear, band: Strand) -> Iterator[Finding]:
    """The finding about a band that the shell itself pulls open."""
    at = 2 * sum(strand.count for strand in wear.strands[: wear.strands.index(band)])
    own = slice(at, at + 2 * band.count)
    cases = [
        hold.case.name
        for hold in wear.holds
        if hold is not None and band.lets_go is not None and hold.pulls[own].max() > band.lets_go
    ]
    if cases:
        text = (
            f"While {' or '.join(cases)}, the shell pulls its neck band with more than {band.lets_go:.0f} N: the "
            "fastener opens and the shell drops"
        )
        only = "; do not run or jump in it" if cases == ["jumping"] else ""
        yield Finding("caution" if only else "fault", "wear", f"{text}{only}. {BETTER}, or make the shell lighter.")


def _child(wear: Wear, spikes: Sequence[Spike]) -> Iterator[Finding]:
    if wear.body.group != "child":
        return
    text = (
        "For a child, all straps must open by themselves or with one hand, and none may pass near the throat. Sew "
        f"their ends down after fitting, so that no more than {END:g} mm hangs loose. {CHILD_CORDS}."
    )
    yield Finding("caution", "wear", text)
    long = [spike for spike in spikes if spike.height > max(LOW, LONG * spike.base_diameter)]
    if long:
        highest = max(spike.height for spike in long)
        text = (
            f"Hard spikes up to {highest:.0f} mm high on a child's shell can injure an eye in a fall or a push. Make "
            f"them of soft foam, or use studs no higher than {LOW:g} mm (spikes: profile: stud)."
        )
        yield Finding("caution", "wear", text)


def _holding(wear: Wear, chosen: Chosen, mend: str) -> Iterator[Finding]:
    lost = [case.name for case, hold in zip(wear.cases, wear.holds, strict=True) if hold is None]
    if lost:
        text = f"The straps cannot hold the shell while {' or '.join(lost)}: it swings or slides. What helps: {mend}."
        yield Finding("fault", "wear", text)
    held = [(float(hold.pulls.max()), hold) for hold in wear.holds if hold is not None]
    if held:
        most, hold = max(held, key=lambda item: round(item[0], 6))
        anchor = wear.anchors[int(np.argmax(np.round(hold.pulls, 6)))].name
        pads = "pads on the back" if chosen.common.pads else "its rim alone"
        text = (
            f"The shell weighs at most {wear.load_n:.1f} N and rests on {pads}. The largest pull of a strap is "
            f"{most:.0f} N at {anchor} while {hold.case.name} ({hold.case.factor:g} times the weight)."
        )
        yield Finding("ok", "wear", text)


def _pressing(wear: Wear, chosen: Chosen) -> Iterator[Finding]:
    worst = max(wear.pressures, key=lambda one: one.standing_kpa, default=None)
    if worst is None:
        return
    limit = chosen.common.pressure
    opening = f"The {worst.strap} presses the {worst.where} with {worst.standing_kpa:.1f} kPa while standing"
    if worst.standing_kpa <= limit:
        yield Finding(
            "ok", "wear", f"{opening}, {worst.most_kpa:.1f} kPa at most. The limit for hours of wear is {limit:g} kPa."
        )
        return
    wide = 5 * ceil(worst.width * worst.standing_kpa / limit / 5)
    text = (
        f"{opening}. Above {limit:g} kPa the skin goes numb after a while. Make it {wide} mm wide, or pad it as wide."
    )
    yield Finding("caution", "wear", text)


def _anchoring(wear: Wear, chosen: Chosen) -> Iterator[Finding]:
    common = chosen.common
    margin = common.margin
    near = [anchor for anchor in wear.anchors[::2] if anchor.clear < margin]
    if near:
        worst = min(near, key=lambda anchor: anchor.clear)
        clear, wanted = apart(max(0.0, worst.clear), margin, digits=1)
        text = (
            f"{several((anchor.name for anchor in near), 'Anchor')} and mirror images: only {clear} mm to a seam, "
            f"groove or spike instead of {wanted} mm, and no place nearby has more. Glue a second layer of foam behind "
            "the place, or move a spike."
        )
        yield Finding("caution", "wear", text)
    short = [anchor for anchor in wear.anchors[::2] if anchor.short > 0.5]
    if short:
        text = (
            f"The patches of {several(anchor.name for anchor in short)} and mirror images overlap the rim, the midline "
            f"or the next patch by up to {max(anchor.short for anchor in short):.0f} mm. Let them overlap, or use "
            "narrower webbing (wear: width)."
        )
        yield Finding("caution", "wear", text)
    for k, patch in enumerate(wear.patches):
        over = common.safety * _share(wear.anchors[2 * k].bond, common.bond or BOND_KPA, common.peel or PEEL)
        if over > 1.001:
            text = (
                f"The glue is too weak at {patch.role}: even a patch of {patch.length:g} x {patch.width:g} mm would "
                f"need glue that bears {over:.1f} times as much. Use a stronger glue and test it (wear: bond, peel), "
                "or ask less of it (wear: safety, least_pull)."
            )
            yield Finding("fault", "wear", text)
        elif patch.length > LARGEST:
            text = (
                f"The patch at {patch.role} must be {patch.length:g} x {patch.width:g} mm for the glue, too large to "
                "follow the curve. Use a stronger glue and test it (wear: bond, peel), or make the shell lighter."
            )
            yield Finding("caution", "wear", text)


def _share(bond: Bond, stress_kpa: float, peel: float) -> float:
    """Share of a glue's strength that a pull needs, the greater of stress and peel."""
    return max(bond.stress_kpa / stress_kpa, bond.peel / peel)


def untested(wear: Wear, params: Params) -> bool:
    """Whether so much is asked of a glue of unknown strength that a patch must be tried first."""
    return params.safety * _needed(wear) > SURE and not (params.bond and params.peel)


def _needed(wear: Wear) -> float:
    """Share of a common glue's strength that the largest load on a patch needs."""
    return max((_share(anchor.bond, BOND_KPA, PEEL) for anchor in wear.anchors), default=0.0)


def _glue(wear: Wear, chosen: Chosen) -> Iterator[Finding]:
    common = chosen.common
    missing = [name for name in ("bond", "peel") if getattr(common, name) is None]
    worst = max(wear.anchors, key=lambda anchor: anchor.pull_n)
    opening = f"{SIZED} {common.safety:g} times "
    if worst.pull_n > common.least_pull:
        opening += f"the largest pull, {worst.pull_n:.0f} N at {worst.name}"
    else:
        opening += f"{worst.pull_n:.0f} N, which every anchor must bear even if the shell pulls less (wear: least_pull)"
    if not missing:
        yield Finding("ok", "wear", f"{opening}, with the strength of the glue that you tested.")
        return
    if not wear.trial:
        share = 100 * common.safety * _needed(wear)
        yield Finding("ok", "wear", f"{opening}. Glue with {share:.0f} % of the common strength on foam is enough.")
        return
    text = (
        f"{opening}, but the strength of the glue is a common figure with no source. Before you sew the straps, glue a "
        "patch to an offcut and let it set for a day. Then hang "
        f"{common.safety * worst.pull_n / GRAVITY:.0f} kg from it overnight, just above the floor, and write the load "
        f"that it held into the preset ({_units(missing)})."
    )
    yield Finding("caution", "wear", text)


def _units(missing: Sequence[str]) -> str:
    """The fields in which a tested strength is written, and how to compute it from the load."""
    of = {
        "bond": "bond, in kPa: kg x 9810 / mm2 of the patch",
        "peel": "peel, in N/mm: kg x 9.81 / mm of its width, hung at a right angle to the foam",
    }
    return f"wear: {'; '.join(of[name] for name in missing)}"
