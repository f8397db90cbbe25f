"""Full-size strips and sectors: rings around the spikes and foam cores, one sheet for all that are equal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import width, wrapped
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.draw import notes
from shellgen.draw.placing import Room
from shellgen.model import Spike
from shellgen.model.said import count as counted
from shellgen.spikes.core import Core
from shellgen.trim.rings import SAME, Params, RingPattern, RingStrip, Trims, scarf_run

MARGIN = 4.0
HEIGHT = 2.5
HEIGHTS = (5.0, 3.5, 2.5, 1.8)
ASIDE = 45.0
"""mm next to a strip in which its words have room (chosen: a name and a length on a line)."""


def ring_strips(trims: Trims, params: Params, *, rule: Rule = METRIC, across: float = 60.0) -> tuple[Drawing, ...]:
    """A strip for each pattern. across : mm of its words at least, which stand next to it if that leaves room"""
    return tuple(_strip(pattern, params, rule, across) for pattern in trims.patterns)


@remembered
def _strip(pattern: RingPattern, params: Params, rule: Rule, across: float) -> Drawing:
    name, strip = pattern.name, pattern.strip
    low = strip.outline.min(axis=0) - MARGIN
    size = np.ptp(strip.outline, axis=0) + 2 * MARGIN
    ways = [Path(mark - low, "mark", data={"quarter": str(k)}) for k, mark in enumerate(strip.marks)]
    if len(strip.chamfer):
        ways.append(Path(strip.chamfer - low, "guide", data={"line": "chamfer"}))
    ways += [Path(end - low, "guide", data={"line": "scarf"}) for end in _slants(strip, scarf_run(params))]
    items: list[Path | Text] = [Path(strip.outline - low, "cut", closed=True, data={"ring": name}), *ways]
    room = Room(strip.outline - low, [path.points for path in ways])
    for word, mark in zip(("joint", "1/4", "1/2", "3/4"), strip.marks, strict=False):
        up = (mark[1] - mark[0]) / np.hypot(*(mark[1] - mark[0]))
        aside = np.array([up[1], -up[0]])
        ahead = [(dy, s * dx) for dx in (4.0, 5.0, 6.5, 8.0, 10.0) for dy in (2.4, 3.2, 4.0) for s in (1, -1)]
        spots = mark[0] - low + np.array(ahead) @ np.array([up, aside])
        items += room.place([word], (2.5, 1.8), spots, float(np.arctan2(aside[1], aside[0])))
    names = [spike.removeprefix("spike-") for spike in pattern.spikes]
    words = f"{name}: cut {len(names)}, {rule.mm(pattern.length, 1)} from joint to joint, for {', '.join(names)}"
    drawn = Drawing(name, float(size[0]), float(size[1]), tuple(items), name)
    return captioned(drawn, words, across) if across > drawn.width + ASIDE else headed(drawn, [words], least=across)


def ring_words(trims: Trims, params: Params, *, rule: Rule = METRIC, across: float = 90.0) -> Drawing:
    """Instructions for all rings, on a separate slip."""
    joint = (
        "Cut the ends square."
        if params.joint == "butt"
        else "Cut both ends at a slant through the thickness, from the edge to the dash-dot line: one on the outer "
        "face, the other on the inner face."
    )
    strain = max((strip.strain for strip in trims.strips), default=0.0)
    lines = (
        notes.PRINT,
        f"Rings: {counted(len(trims.rings), 'strip')} of {rule.mm(params.thickness, None)} foam, "
        f"{rule.metres(1000 * trims.metres)} in all.",
        f"Rings that differ by less than {rule.mm(SAME, None)} share a strip. Lay it around its spike before you glue, "
        "and trim the joint if it is too long.",
        "The joint meets the turning line of the seat. The quarter marks follow at equal angles.",
        joint,
        f"Faint line along the strip: chamfer the outer top edge by {rule.mm(params.chamfer, None)}."
        if params.chamfer
        else "",
        f"Bending stretches or compresses the faces by up to {strain:.0%}. Warm foam bends without creasing.",
        notes.KNIFE,
        notes.HEAT,
    )
    return slip("about the rings", [text for text in lines if text], across=across)


@remembered
def slip(name: str, texts: Sequence[str], *, across: float = 90.0) -> Drawing:
    """Only words, in a frame."""
    lines = [line for text in texts for line in wrapped(text, across - 2 * MARGIN, HEIGHT)]
    up = 2 * MARGIN + notes.LEADING * HEIGHT * len(lines)
    frame = np.array([(1.0, 1.0), (across - 1, 1.0), (across - 1, up - 1), (1.0, up - 1)])
    words = [
        Text(line, (MARGIN, up - MARGIN - notes.LEADING * HEIGHT * (k + 0.7)), HEIGHT, layer="note")
        for k, line in enumerate(lines)
    ]
    return Drawing(name, across, up, (Path(frame, "guide", closed=True), *words), name)


def _slants(strip: RingStrip, run: float) -> list[Floats]:
    """Lines across both ends, one scarf's length in: from there to the end the foam is cut at a slant."""
    if not run:
        return []
    box = strip.outline
    half = len(box) // 2
    lower, upper = box[:half], box[half:][::-1]
    result = []
    for edge_low, edge_up in ((lower, upper), (lower[::-1], upper[::-1])):
        result.append(np.array([_inward(edge_low, run), _inward(edge_up, run)]))
    return result


def _inward(edge: Floats, run: float) -> Floats:
    """The point `run` mm in from an edge's first point."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge, axis=0).T))])
    return np.array([np.interp(run, along, edge[:, 0]), np.interp(run, along, edge[:, 1])])


def headed(drawing: Drawing, texts: Sequence[str], *, least: float = 60.0) -> Drawing:
    """The drawing with its words under it, as wide as the longest word and at least `least` mm."""
    longest = max(width(word, HEIGHT) for text in texts for word in text.split())
    across = max(drawing.width, longest + 2 * MARGIN, least)
    lines = [line for text in texts for line in wrapped(text, across - 2 * MARGIN, HEIGHT)]
    up = MARGIN + notes.LEADING * HEIGHT * len(lines)
    under = [
        Text(line, (MARGIN, up - notes.LEADING * HEIGHT * (k + 0.7)), HEIGHT, layer="note")
        for k, line in enumerate(lines)
    ]
    moved = notes.raised(drawing.items, up)
    return Drawing(drawing.name, across, drawing.height + up, (*moved, *under), drawing.title)


def captioned(drawing: Drawing, text: str, across: float) -> Drawing:
    """The drawing with its words on the right, in `across` mm for both."""
    lines, line = wrapped(text, across - drawing.width - MARGIN, HEIGHT), notes.LEADING * HEIGHT
    up = max(drawing.height, line * len(lines) + 1)
    top = (up + line * len(lines)) / 2
    words = [Text(said, (drawing.width, top - line * (k + 0.8)), HEIGHT, layer="note") for k, said in enumerate(lines)]
    moved = notes.raised(drawing.items, (up - drawing.height) / 2)
    return Drawing(drawing.name, across, up, (*moved, *words), drawing.title)


def core_sectors(cores: Mapping[str, Core], spikes: Sequence[Spike], *, rule: Rule = METRIC) -> tuple[Drawing, ...]:
    """The flat foam of each hollow core, by its master."""
    result = []
    for name, core in cores.items():
        count = sum(spike.master == name for spike in spikes)
        low = core.outline.min(axis=0) - MARGIN
        size = np.ptp(core.outline, axis=0) + 2 * MARGIN
        half = len(core.outline) // 2
        first = core.outline[[0, -1]] - low
        tick = Path(np.array([first[0], first[0] + 0.2 * (first[1] - first[0])]), "mark", data={"turning": name})
        room = Room(core.outline - low, [tick.points])
        label = room.place(
            [f"core-{name}", f"cut {count}"], HEIGHTS, room.spots(core.outline.mean(axis=0) - low, step=2.0)
        )
        items: tuple[Path | Text, ...] = (
            Path(core.outline - low, "cut", closed=True, data={"core": name, "foot": str(half)}),
            tick,
            *label,
        )
        lines = [
            f"core-{name}: cut {count} from {rule.mm(core.thickness, None)} foam, roll it, "
            "glue edge to edge on the turning line",
            f"{rule.mm(core.height)} high, saves " + rule.both(f"{core.volume / 1000:.0f} cm3") + " of clay",
        ]
        result.append(headed(Drawing(f"core-{name}", float(size[0]), float(size[1]), items, f"core {name}"), lines))
    return tuple(result)
