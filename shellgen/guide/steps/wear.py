"""Straps, the first trial, and care afterwards."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.draw import notes
from shellgen.draw.plate_map import plate_map
from shellgen.draw.wearing import wearing_views
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Block, Gallery, Picture, Rows, Step, Ticks, Warn, Words
from shellgen.guide.steps._cautions import DUST, FLAME, GLUE, HEAT, LOAD, NECK
from shellgen.record.wear import StrapEntry, WearEntry
from shellgen.wear import GRAVITY

PLACE = 170
TALL = 90.0
"""mm, height of the map of the plates."""
HALF = 0.48
"""Share of the page's width for each of two pictures side by side (chosen: the rest is the gap)."""


def steps(kit: Kit) -> Iterator[Step]:
    of = kit.figures.wear
    harnessed = bool(of.straps)
    webbing = ("the vest",) if _vest(of) else ("strap webbing", "the buckles")
    found = [entry for entry in kit.figures.findings if entry.stage == "wear" and entry.level != "ok"]
    yield kit.step(
        "straps",
        "Fit the straps",
        needs=("shaded shell", "materials", "tools"),
        makes=("finished shell",),
        equipment=(
            *((*webbing, "strong cloth", "thick needle", "strong thread", *_pads(kit)) if harnessed else ()),
            "soft tape measure",
            "pencil",
            "scissors",
            "fine sandpaper",
            "contact adhesive",
            "brush for glue",
        ),
        tasks=("seal, fit the straps, try it on",),
        blocks=(
            *(Warn(("general",), f"{entry.level.capitalize()}: {entry.sentence}") for entry in found),
            NECK,
            *(_harness(kit, of) if harnessed else (_no_harness(kit),)),
            *_ticks(kit, of),
            GLUE,
            DUST,
        ),
    )
    yield kit.step(
        "try",
        "Try it on",
        needs=("finished shell",),
        makes=("shell that fits",),
        blocks=(
            LOAD,
            FLAME,
            Ticks(
                (
                    "Wear it for five minutes: stand, walk, sit, go through a door straight and sideways, look over "
                    "each shoulder, climb some stairs.",
                    "Then wear it as long as you will on the day. Look for red marks and move straps or padding.",
                    "Pull at every spike, ring and strap once more.",
                    "The wearer must be able to open all straps alone, with eyes closed.",
                )
            ),
        ),
    )
    yield _keep(kit)


def _harness(kit: Kit, of: WearEntry) -> Iterator[Block]:
    """Where the patches go, how long the straps are and what they carry."""
    paper = kit.preset.print.paper
    yield Words(
        f"The shell weighs about {kit.grams(kit.figures.mass_g)}. Full-size patches: patches-{paper}.pdf. "
        "To find an anchor, measure along the inner rim from the middle of the edge named, then straight in."
    )
    views = wearing_views(kit.ground, kit.foam, kit.centre, kit.wear, across=HALF * kit.across, rule=kit.rule)
    yield Gallery(tuple(Picture(view, f"{view.title[0].upper()}{view.title[1:]}.") for view in views))
    yield Rows(
        ("anchor", "plate", "from", "along the rim", "in from the rim", "patch"),
        tuple((a.id, a.plate, a.from_, kit.mm(a.along_rim_mm), kit.mm(a.in_from_rim_mm), a.patch) for a in of.anchors),
    )
    yield Picture(plate_map(kit.name, kit.ground, [a.plate for a in of.anchors], across=kit.across, up=TALL),
                  "The plates of the anchors, from above.")  # fmt: skip
    yield Rows(("strap", "how many", "width", "cut to", "buckles on each"), tuple(_strap(kit, s) for s in of.straps))
    if of.pressures:
        rows = tuple((p.strap, p.where, *(f"{kpa:.1f} kPa" if kpa >= 0.05 else "almost none"
                      for kpa in (p.standing_kpa, p.most_kpa))) for p in of.pressures)  # fmt: skip
        yield Words("Computed pressure under the straps. A wider strap presses less.")
        yield Rows(("strap", "where", "standing", "largest"), rows, tick=False)


def _strap(kit: Kit, strap: StrapEntry) -> tuple[str, ...]:
    cut = kit.mm(strap.cut_mm) if strap.cut_mm else "bought ready-made"
    buckles = ", ".join(
        f"{count / strap.count:g} {name}" if strap.cut_mm else name for name, count in strap.buckles.items()
    )
    return strap.name, str(strap.count), kit.mm(strap.width_mm), cut, buckles or "none"


def _no_harness(kit: Kit) -> Block:
    return Words(f"The shell weighs about {kit.grams(kit.figures.mass_g)}. The preset plans no harness.")


def _vest(of: WearEntry) -> bool:
    """Whether the shell hangs on a vest, which has no straps to cut."""
    return bool(of.straps) and not any(strap.cut_mm for strap in of.straps)


def _ticks(kit: Kit, of: WearEntry) -> Iterator[Block]:
    band = next((strand for strand in kit.wear.strands if strand.lets_go), None)
    vest = _vest(of)
    cut = f"Cut the patches to their templates{'' if vest else ' and the straps to length'}."
    steps = (cut, *notes.fastening(vest=vest)) if of.straps else ()
    yield Ticks(
        (
            *steps,
            f"{'The vest must close with a zip or' if vest else 'Close the straps with'} buckles that the wearer can "
            "open with one hand.",
            *((_breakaway(kit, band.lets_go),) if band is not None and band.lets_go else ()),
            *_padding(kit),
        )
    )


def _pads(kit: Kit) -> tuple[str, ...]:
    return tuple(item for item in ("soft foam for pads", "shoulder pad") if kit.bought(item))


def _padding(kit: Kit) -> Iterator[str]:
    if "shoulder pad" in _pads(kit):
        yield "Slide a shoulder pad onto each shoulder strap, to where it lies on the shoulder."
    if "soft foam for pads" in _pads(kit):
        width = kit.mm(kit.preset.wear.common.pad_width)
        yield (
            f"Fill the gap to the back with strips of soft foam, {width} wide, down the spine and on both sides, in "
            f"layers as deep as the shell there. You need {kit.bought('soft foam for pads')}. The loads are computed "
            "for a back that rests on them. Glue them in, and trim them with scissors until the rim just lies on the "
            "back."
        )
    else:
        yield "Pad the inside where it touches the wearer's shoulder blades and bottom."


def _breakaway(kit: Kit, force: float) -> str:
    mass = force / GRAVITY
    return (
        "Put the breakaway fastener of the neck band on the wearer's left, next to the middle of the throat, where the "
        f"front view shows a square. It must open by itself at {force:.0f} N. Test it every time before the shell is "
        f"worn: close it, hold one half of the band and hang {kit.grams(1000 * mass)} on the other half. It must open. "
        "If it holds, use a weaker one. Never sew, tape or knot it shut."
    )


def _keep(kit: Kit) -> Step:
    spare = "a spare spike of each size, " if kit.figures.spikes else ""
    return kit.step(
        "keep",
        "Store and repair",
        needs=("shell that fits",),
        makes=(),
        equipment=("heat gun with a stand", "contact adhesive", "brush for glue"),
        blocks=(
            HEAT,
            GLUE,
            Ticks(
                (
                    "Carry it crown up in a box, with padding under the rim and nothing on the spikes.",
                    "Keep it out of hot cars and strong sun: warm foam changes its shape.",
                    f"Repair kit: contact adhesive in a small tube, {spare}leftover paint, tape, needle and thread, a "
                    "spare buckle.",
                    "If a seam opens, clean it, glue both faces, wait and press. Warm a dent from inside and push it "
                    "out.",
                    "Wipe it with a damp cloth. Let straps and padding dry in the air after every wearing.",
                    "Keep shell.json and the preset, so that you can print the same pieces again.",
                )
            ),
        ),
    )
