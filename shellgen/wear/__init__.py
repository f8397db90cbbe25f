"""How the finished shell hangs on its wearer: harness, anchors, pull and pressure of every strap, and what holds it.

A member of this family lists the straps of a harness; everything else is common. The forces are those of a rigid shell
at rest on a smooth back that leans with its wearer; walking and jumping multiply its weight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shellgen.core import registry
from shellgen.fields import params as field
from shellgen.fields.params import Chosen
from shellgen.model import Amount, Body, Cut, Finding, FoamSheet, Layout, Materials, ShellMesh, Spike, Surface
from shellgen.wear import _anchor, _pad, _place, _say, _straps, _torso
from shellgen.wear._anchor import Anchor, Pressure
from shellgen.wear._hang import Hung, hang
from shellgen.wear._hold import GRAVITY, Case, Hold
from shellgen.wear._patch import AnchorPatch
from shellgen.wear._remedy import remedy
from shellgen.wear._say import SIZED
from shellgen.wear._strand import Run, Strand
from shellgen.wear._straps import LOOP, Strap, StrapPiece, together

__all__ = [
    "GRAVITY", "LOOP", "SIZED", "Anchor", "AnchorPatch", "Case", "Hold", "Params", "Pressure", "Run", "Strand", "Strap",
    "StrapPiece", "Wear", "build", "together",
]  # fmt: skip

HEAVY = 2.0
"""Standard uncertainties by which the shell may be heavier than computed (chosen: one shell in forty is)."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    """How the wearer carries the shell."""

    harness: str = field.member("straps", "shellgen.wear.harnesses", "What carries the shell.")
    pads: bool = field.flag(
        True, "Whether pads fill the gap between shell and back; without pads, only the rim touches the back."
    )
    pad_width: float = field.length(
        60.0, 20, 200, "Width of the three strips of soft foam that fill that gap, down the spine and on both sides."
    )
    lean: float = field.angle(45.0, 0, 80, "How far the wearer leans forward in the shell.")
    sway: float = field.angle(15.0, 0, 45, "How far the wearer leans to either side.")
    walk: float = field.number(
        1.5, 1, 3, "Weight while walking, over standing: 1.2 on the level (Keller 1996), the rest for stairs."
    )
    jump: float = field.number(
        3.0, 1, 8, "Weight while jumping or running, over standing: running gives 2.5 (Keller 1996), landing more."
    )
    friction: float = field.number(0.3, 0.02, 1, "Friction of straps and pads on clothes (common practice).")
    spare: float = field.length(150.0, 0, 600, "Extra length of each strap, to adjust it.")
    margin: float = field.length(
        12.0, 0, 60, "Least distance from the middle of an anchor to seams, grooves and spikes."
    )
    edge: float = field.length(15.0, 5, 60, "How far a patch extends beyond the webbing sewn to it.")
    least_pull: float = field.number(
        40.0,
        0,
        500,
        "Pull that every anchor must bear, however light the shell: a strap pulled tight, someone grabbing it.",
        "N",
    )
    bond: float | None = field.number(
        None, 1, 3000, "Pull per area that your glue bears on this foam, tested; 100 if left out (no source).", "kPa"
    )
    peel: float | None = field.number(
        None, 0.01, 20, "Pull per width at which a glued strip of this foam peels, tested; 1 if left out (no source).",
        "N/mm",
    )  # fmt: skip
    safety: float = field.number(4.0, 1, 20, "Strength of the glue over the largest pull on it.")
    pressure: float = field.number(
        14.0,
        1,
        60,
        "Highest pressure on the skin for hours of wear (from memory: it stops the blood flow near this).",
        "kPa",
    )


@dataclass(frozen=True, slots=True, eq=False)
class Wear:
    """holds : one for each case, None if the harness cannot hold the shell.

    load_n     : weight used for the forces, of a shell heavier than expected
    body_share : expected mass of the shell over the body's
    neck_share : share of the weight that the neck carries, upright
    runs, patches : of the left half, in the order of the strands' ends
    trial      : whether the glue of the patches is still to be tested
    """

    harness: str
    body: Body
    torso: _torso.Torso
    strands: tuple[Strand, ...]
    runs: tuple[Run, ...]
    cases: tuple[Case, ...]
    holds: tuple[Hold | None, ...]
    load_n: float
    body_share: float
    neck_share: float
    anchors: tuple[Anchor, ...]
    patches: tuple[AnchorPatch, ...]
    pressures: tuple[Pressure, ...]
    straps: tuple[Strap, ...]
    amounts: tuple[Amount, ...]
    findings: tuple[Finding, ...]
    trial: bool = False


def build(
    surface: Surface,
    layout: Layout,
    mesh: ShellMesh,
    cut: Cut,
    spikes: Sequence[Spike],
    made: Materials,
    body: Body,
    chosen: Chosen,
    foam: FoamSheet,
    *,
    neck: float,
    back: float,
    adhesive: float,
    assumed: bool = False,
    said: bool = False,
) -> Wear:
    """The harness of a shell on a body whose neck bone is at x = `neck` and whose back touches z = `back`.

    adhesive : g/m2 on each glued face of the patches
    assumed  : whether nobody was measured and the body is one that the dome would fit; said : whether the preset says
    child or adult all the same
    """
    params: Params = chosen.common
    torso = _torso.torso_behind(body, neck, back, float(mesh.points[:, 0].min()))
    strands = _strands(torso, chosen)
    on = _place.anchor_sites(layout, mesh, cut.cut_lines, spikes, foam)
    cases = _cases(params)
    weight = (made.mass_g + HEAVY * made.mass_uncertainty_g) / 1000 * GRAVITY
    rim = _anchor.inner_rim(mesh, foam)

    def hanging(how: Chosen) -> Hung:
        supports = _torso.supports(torso, rim[1], pads=how.common.pads)
        return hang(_strands(torso, how), on, cases, supports, made.centre, weight, how.common)

    hung = hanging(chosen)
    pads = []
    if strands and chosen.common.pads:
        rows = _torso.supports(torso, rim[1], pads=True).reshape(_torso.ROWS, -1, 3)
        pads.append(_pad.amount(rows, mesh.offset(foam.inner_offset), back=back, width=params.pad_width))
    listed = _straps.straps(strands, hung.runs, hung.patches, spare=params.spare)
    worn = Wear(
        harness=chosen.name,
        body=body,
        torso=torso,
        strands=strands,
        runs=hung.runs,
        cases=cases,
        holds=hung.holds,
        load_n=weight,
        body_share=made.mass_g / 1000 / body.mass_kg,
        neck_share=_anchor.neck_share(strands, hung, weight),
        anchors=_anchor.anchors(surface, layout, strands, on, hung, rim, params, foam),
        patches=hung.patches,
        pressures=tuple(_anchor.pressures(strands, hung)),
        straps=listed,
        amounts=(*_straps.amounts(strands, listed, hung.patches, adhesive=adhesive), *pads),
        findings=(),
    )
    mend = remedy(chosen, lambda how: None not in hanging(how).holds) if None in hung.holds else ""
    worn = replace(worn, trial=_say.untested(worn, chosen.common))
    return replace(worn, findings=tuple(_say.findings(worn, chosen, spikes, mend, assumed=assumed, said=said)))


def _strands(torso: _torso.Torso, chosen: Chosen) -> tuple[Strand, ...]:
    made: tuple[Strand, ...] = registry.load("shellgen.wear.harnesses", chosen.name).strands(torso, chosen.own)
    return made


def items(body: Body, chosen: Chosen) -> tuple[str, ...]:
    """Names of everything that the harness adds to the buying list, wherever the shell hangs on the body."""
    torso = _torso.torso_behind(body, 0.0, 0.0, -body.stature)
    strands = _strands(torso, chosen)
    return (*_straps.items(strands), *((_pad.ITEM,) if strands and chosen.common.pads else ()))


def _cases(params: Params) -> tuple[Case, ...]:
    cases = [Case("standing", 0.0, 0.0, 1.0), Case("bowing", params.lean, 0.0, 1.0)]
    cases += [Case(f"leaning {word}", 0.0, side * params.sway, 1.0) for word, side in (("left", 1), ("right", -1))]
    return (*cases, Case("walking", 0.0, 0.0, params.walk), Case("jumping", 0.0, 0.0, params.jump))
