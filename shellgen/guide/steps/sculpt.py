"""Spikes are made first, because clay dries for days."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from shellgen.guide.kit import Kit, listed, plural
from shellgen.guide.leaf import Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import DUST, GLUE, KNIFE, POINTS
from shellgen.spikes.clay import TEST_CUBE
from shellgen.workshop.schedule import CUBE

PLACE = 30
AGAIN = (
    "Build the pack again with it: masters, moulds and cores come out larger by what the clay will lose. The templates "
    "stay as they are."
)


def steps(kit: Kit) -> Iterator[Step]:
    spikes = kit.figures.spikes
    if not spikes:
        return
    measured = kit.preset.making.shrinkage is not None
    yield kit.step(
        "clay-test",
        "Dry a test cube of clay",
        needs=("materials", "tools"),
        makes=("the clay's shrinkage",),
        hand=() if measured else ("foam clay", "kitchen scale", "long steel rule", "pencil", "rack"),
        tasks=(CUBE,),
        blocks=(
            Words("Your clay's shrinkage stands in the preset already." if measured else
                  "Clay shrinks in drying, every kind differently. It dries beside the next steps; only then print "
                  "masters and moulds. Skip this and the spikes come out a little small."),
            None if measured else Ticks((*TEST_CUBE[:-1], AGAIN)),
            DUST,
        ),
    )  # fmt: skip
    yield kit.step(
        "sculpt",
        "Make the spikes",
        needs=("materials", "tools", "the clay's shrinkage"),
        makes=("dry spikes",),
        hand=("foam clay", "starch", "rack", "fine sandpaper", "breathing mask"),
        tasks=("make the spikes", "buy the spikes"),
        blocks=(
            Words(
                f"{plural(len(spikes), 'spike')} of {plural(len({s.stl for s in spikes}), 'size')}. Make them "
                "beside the next steps: they dry while you cut and glue the shell. You may print a size as it is, cast "
                "it in a mould, or build it up by hand to the figures. Sizes alike but for their last letter differ in "
                "the underside, which fits the dome where they stand."
            ),
            Rows(("size", "how many", "base, height", "print it", "or cast it in"), tuple(_masters(kit))),
            Ticks(_work(kit)),
            POINTS,
            DUST,
            *((KNIFE, GLUE) if kit.cores else ()),
        ),
    )


def _masters(kit: Kit) -> Iterator[tuple[str, ...]]:
    count = Counter(spike.master for spike in kit.figures.spikes)
    for name, many in count.items():
        spike = next(s for s in kit.figures.spikes if s.master == name)
        files = listed([f"{p.id}.3mf" for p in kit.figures.prints if p.for_ == name])
        foot = next((p for p in kit.figures.prints if p.id == f"{name}-foot"), None)
        mould = f"halves of {foot.for_}, {foot.id}.3mf" if foot else ""
        measures = f"{kit.mm(spike.base_diameter_mm)}, {kit.mm(spike.height_mm)}"
        yield name, str(many), measures, files, mould


def _work(kit: Kit) -> tuple[str, ...]:
    clay = kit.figures.clay_cm3
    cores = (
        ("Cut the cores of thin foam from the pages of rings and cores, roll and glue them: clay goes over them.",)
        if kit.cores
        else ()
    )
    return (
        "Print the parts that you want from prints/ as they lie, with the nozzle and bed out of reach of children.",
        *cores,
        f"Have clay ready: all spikes take about {clay.wet:.0f} cm³.",
        "Dust the mould with starch, press clay into both halves, close them, press the foot in; surplus leaves at "
        "the tip. Open at once, set the spike on its base and smooth the joint with a wet finger.",
        "Scratch the spike's size into the underside, where it will not show, and, if no mould has pressed it, a line "
        "from the middle to the small nick at the edge: it tells how the spike is turned on its seat.",
        "Stand the spikes on a rack where air reaches them from below; turn them daily until they no longer lose "
        "weight. Do not hurry them with heat: they crack.",
        "Sand the tips round. Try each size on its seat on the template once that is cut out.",
    )  # fmt: skip
