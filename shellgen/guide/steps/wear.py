"""Straps, the first trial, and care afterwards."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.draw import notes
from shellgen.draw.sewn import strap_drawing
from shellgen.draw.wearing import wearing_views
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Block, Gallery, Picture, Rows, Step, Ticks, Warn, Words
from shellgen.guide.steps._cautions import DUST, FLAME, GLUE, HEAT, LOAD, NECK
from shellgen.record.wear import StrapEntry, WearEntry
from shellgen.wear import GRAVITY, LOOP
from shellgen.workshop import schedule

PLACE = 170
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
            *(
                (*webbing, "strong cloth", "thick needle", "strong thread", *_glued_ends(of), *_pads(kit))
                if harnessed
                else ()
            ),
            "soft tape measure",
            "pencil",
            "scissors",
            "fine sandpaper",
            "contact adhesive",
            "brush for glue",
        ),
        tasks=(schedule.TRIAL, schedule.SEW, schedule.HANG) if harnessed else (),
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
        tasks=(schedule.TRY,),
        blocks=(
            LOAD,
            FLAME,
            Ticks(
                (
                    "Wear it for five minutes: stand, walk, sit, go through a door straight and sideways, look over "
                    "each shoulder, climb some stairs.",
                    "Then wear it as long as you will on the day. Look for red marks and move straps or padding.",
                    "Pull at every spike, ring and strap once more.",
                    "The wearer must be able to open all that holds the shell, alone and with eyes closed.",
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
        ("anchor", "from", "along the rim", "in from the rim", "patch"),
        tuple((a.id, a.from_, kit.mm(a.along_rim_mm), kit.mm(a.in_from_rim_mm), a.patch) for a in of.anchors),
    )
    sewn = strap_drawing(kit.wear, across=min(kit.across, 120.0), rule=kit.rule)
    if sewn:
        yield Picture(sewn, "The straps, laid out flat. Each is two pieces of webbing that open at a buckle.")
    columns = ("strap", "piece sewn to", "how many", "width", "cut to", "at the buckle")
    yield Rows(columns, tuple(row for strap in of.straps for row in _strap(kit, strap)))
    if of.pressures:
        rows = tuple((p.strap, p.where, *(f"{kpa:.1f} kPa" if kpa >= 0.05 else "almost none"
                      for kpa in (p.standing_kpa, p.most_kpa))) for p in of.pressures)  # fmt: skip
        yield Words("Computed pressure under the straps. A wider strap presses less.")
        yield Rows(("strap", "where", "standing", "largest"), rows, tick=False)


def _strap(kit: Kit, strap: StrapEntry) -> Iterator[tuple[str, ...]]:
    names = " and ".join(strap.buckles)
    many, width = str(strap.count), kit.mm(strap.width_mm)
    if not strap.pieces:
        yield strap.name, "every patch", many, width, "bought ready-made", names
    for piece in strap.pieces:
        ends = f"the half of the {names} that adjusts" if piece.adjusts else f"the other half of the {names}"
        yield strap.name, f"patch at {piece.anchor}", many, width, kit.mm(piece.cut_mm), ends


def _no_harness(kit: Kit) -> Block:
    return Words(f"The shell weighs about {kit.grams(kit.figures.mass_g)}. The preset plans no harness.")


def _vest(of: WearEntry) -> bool:
    """Whether the shell hangs on a vest, which has no straps to cut."""
    return bool(of.straps) and not any(strap.cut_mm for strap in of.straps)


def _ticks(kit: Kit, of: WearEntry) -> Iterator[Block]:
    if not of.straps:
        yield Ticks(tuple(_padding(kit)))
        return
    vest = _vest(of)
    sewn, glued, tested = notes.fastening(vest=vest)
    cut = "Cut the patches to their templates." if vest else (
        "Cut the patches to their templates, and the webbing to the lengths in the table. Brush PVA wood glue on its "
        "cut ends, so that they do not fray (common practice, no source)."
    )  # fmt: skip
    closes = "The vest must close with a zip or buckles that the wearer can open with one hand."
    yield Ticks((cut, *((closes,) if vest else _buckled(kit)), sewn, glued, tested, *_padding(kit)))


def _buckled(kit: Kit) -> Iterator[str]:
    """What is done to the pieces of webbing before they are sewn to a patch."""
    if "shoulder pad" in _pads(kit):
        yield (
            "Slide a shoulder pad onto each piece that is sewn to a patch at the shoulder, before both its ends are "
            "sewn. It lies on the shoulder later."
        )
    yield (
        f"Fold {kit.mm(LOOP)} of each piece for the other half round the bar of that half, and sew them down. Thread "
        "each piece for the half that adjusts through it: its loose end is what you pull. Fold that end over twice and "
        "sew it, so that it cannot slip out."
    )
    yield "Every strap must open at its buckle with one hand. Try each before you sew it on."
    band = next((strand for strand in kit.wear.strands if strand.lets_go), None)
    if band is not None and band.lets_go:
        yield _breakaway(kit, band.lets_go)


def _glued_ends(of: WearEntry) -> tuple[str, ...]:
    return () if _vest(of) else ("PVA wood glue",)


def _pads(kit: Kit) -> tuple[str, ...]:
    return tuple(item for item in ("soft foam for pads", "shoulder pad") if kit.bought(item))


def _padding(kit: Kit) -> Iterator[str]:
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
