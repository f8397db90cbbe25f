"""Spikes, which are made first because clay takes days to dry."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from shellgen.guide.kit import Kit, plural
from shellgen.guide.leaf import Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import DUST, GLUE, KNIFE, POINTS, PRINTER
from shellgen.guide.steps._prints import lists, printed
from shellgen.spikes.clay import cube_steps
from shellgen.workshop.schedule import CUBE

PLACE = 30
AGAIN = (
    "Build the pack again with it. Masters, moulds and cores then become larger, to allow for the shrinkage. The "
    "templates do not change."
)


def steps(kit: Kit) -> Iterator[Step]:
    spikes = kit.figures.spikes
    if not spikes:
        return
    if kit.preset.making.way != "clay":
        yield _bought(kit) if kit.preset.making.way == "bought" else _printed(kit)
        return
    measured = kit.preset.making.shrinkage is not None
    yield kit.step(
        "clay-test",
        "Dry a test cube of clay",
        needs=("materials", "tools"),
        makes=("the clay's shrinkage",),
        equipment=() if measured else ("foam clay", "kitchen scale", "long steel rule", "pencil", "rack"),
        tasks=(CUBE,),
        blocks=(
            Words("The preset already has your clay's shrinkage." if measured else
                  "Every kind of clay shrinks differently as it dries. The cube dries while you do the next steps; "
                  "print masters and moulds after that. If you skip this test, the spikes will be slightly too small."),
            None if measured else Ticks((*cube_steps(kit.rule)[:-1], AGAIN)),
        ),
    )  # fmt: skip
    yield kit.step(
        "sculpt",
        "Make the spikes",
        needs=("materials", "tools", "the clay's shrinkage"),
        makes=("dry spikes",),
        equipment=("foam clay", "starch", "rack", "3D printer", "fine sandpaper", *_glue(kit)),
        tasks=("print masters", "make the spikes"),
        blocks=(
            Words(
                f"{plural(len(spikes), 'spike')} of {plural(len({s.stl for s in spikes}), 'size')}. Make them "
                "early: they dry while you cut and glue the shell. You can print a spike, cast it in a mould, or model "
                "it by hand to the measures below. Sizes whose names differ only in the last letter have different "
                "undersides, each shaped to its place on the dome."
            ),
            Rows(("size", "how many", "base, height", "cast it in"), tuple(_masters(kit))),
            *lists(kit),
            Ticks(_work(kit)),
            POINTS,
            PRINTER,
            DUST,
            *((KNIFE,) if kit.cores else ()),
            *((GLUE,) if _glue(kit) else ()),
        ),
    )


def _halved(kit: Kit) -> bool:
    """Whether a spike is printed in two halves."""
    names = {spike.master for spike in kit.figures.spikes}
    return any(p.for_ in names and p.id.endswith("-left") for p in kit.figures.prints)


def _glue(kit: Kit) -> tuple[str, ...]:
    return ("contact adhesive", "brush for glue") if kit.cores or _halved(kit) else ()


def _printed(kit: Kit) -> Step:
    spikes = kit.figures.spikes
    names = Counter(spike.master for spike in spikes)
    return kit.step(
        "sculpt",
        "Print the spikes",
        needs=("materials", "tools"),
        makes=("dry spikes",),
        equipment=("3D printer", "gap filler", "contact adhesive", "brush for glue", "fine sandpaper"),
        tasks=("print the spikes", "finish the printed spikes"),
        blocks=(
            Words(f"{plural(len(spikes), 'spike')} of {plural(len(names), 'size')}, printed from the folder prints "
                  "and glued on as they are."),
            printed(kit),
            Ticks(
                (
                    "Print every part without turning it, as often as the table says. Write the name of the size on "
                    "the underside.",
                    "Glue halves together on their pins. Fill joints and layers with gap filler, and let it dry.",
                    "Sand the spikes smooth and every tip round. Try each on its seat when the templates are cut out.",
                )
            ),
            POINTS,
            PRINTER,
            DUST,
            GLUE,
        ),
    )  # fmt: skip


def _bought(kit: Kit) -> Step:
    names = Counter(spike.master for spike in kit.figures.spikes)
    rows = []
    for name, many in names.items():
        spike = next(s for s in kit.figures.spikes if s.master == name)
        rows.append((name, str(many), f"{kit.mm(spike.base_diameter_mm)}, {kit.mm(spike.height_mm)}"))
    return kit.step(
        "sculpt",
        "Buy the spikes",
        needs=("materials", "tools"),
        makes=("dry spikes",),
        equipment=("fine sandpaper",),
        tasks=("buy the spikes",),
        blocks=(
            Words("Look for ready-made spikes near these sizes. If a base differs, change base_diameter and height "
                  "under spikes in the preset and build the pack again, so that seats and rings fit."),
            Rows(("size", "how many", "base, height"), tuple(rows)),
            Ticks(("Sand the undersides until they sit on the curve of the shell, and every tip round.",)),
            POINTS,
            DUST,
        ),
    )  # fmt: skip


def _masters(kit: Kit) -> Iterator[tuple[str, ...]]:
    count = Counter(spike.master for spike in kit.figures.spikes)
    for name, many in count.items():
        spike = next(s for s in kit.figures.spikes if s.master == name)
        foot = next((p for p in kit.figures.prints if p.id == f"{name}-foot"), None)
        mould = f"{foot.for_}, with {foot.id}" if foot else ""
        measures = f"{kit.mm(spike.base_diameter_mm)}, {kit.mm(spike.height_mm)}"
        yield name, str(many), measures, mould


def _work(kit: Kit) -> tuple[str, ...]:
    clay = kit.figures.clay_cm3
    cores = (
        (
            "Cut the cores from thin foam with the pages of rings and cores, roll them up and glue them. The clay goes "
            "over them.",
        )
        if kit.cores
        else ()
    )
    return (
        "Print the parts of one of the lists, without turning them."
        + (" Glue the halves of a printed spike together on their pins." if _halved(kit) else ""),
        *cores,
        f"Get the clay ready: all spikes together need about {kit.rule.volume(1000 * clay.wet)}.",
        "Dust the mould with starch, press clay into both halves, close them and press the foot in. Surplus clay comes "
        "out at the tip. Open the mould at once, stand the spike on its base and smooth the joint with a wet finger.",
        "Scratch the name of the size into the underside, where it will not show. If the spike has no line from a "
        "mould, scratch one from the middle to the small notch at the edge. It shows which way the spike faces on its "
        "seat.",
        "Dry the spikes on a rack, so that air reaches them from below. Turn them daily until they stop losing weight. "
        "Do not speed this up with heat: they would crack.",
        "Sand the tips round. When the templates are cut out, try each size on its seat.",
    )  # fmt: skip
