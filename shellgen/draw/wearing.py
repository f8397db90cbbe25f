"""The wearing plan: how the shell hangs, seen from three sides, with its forces, and all figures in words."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import wrapped
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.arrays import Floats, Geometries
from shellgen.core.memory import remembered
from shellgen.draw.hanging import BodyView, from_inside, front, side
from shellgen.draw.notes import raised
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.wear import Wear

SHEET = (297.0, 210.0)  # ISO 216 A4, landscape
BORDER = 10.0
HEAD = 12.0
WORDS = 48.0
"""Height in mm under the views for figures in words."""
GAP = 6.0
AROUND = 6.0
"""Least width in mm of a view, without its column of names."""
TITLE = 7.0
"""mm above a view for its title."""
EDGE = 2.0
SCALES = (2, 2.5, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 15, 20)
PITCH = 4.4
"""Line spacing in mm of lettering 2.5 mm high."""
APART = 1.0
"""Least distance in mm between a leader line and other lines."""
NEGLIGIBLE = 0.05
"""N or kPa: smaller values would be shown as 0.0."""

Items = list[Path | Text]
Name = tuple[str, Floats]


def wearing_plan(ground: Ground, foam: Foam, centre: Floats, wear: Wear, *, title: str, rule: Rule = METRIC) -> Drawing:
    """One A4 sheet."""
    views = _views(ground, foam, centre, wear, rule.inches)
    sizes, columns = _sizes(views), np.array([view.column for view in views])
    room = np.array([SHEET[0] - 2 * BORDER, SHEET[1] - 2 * BORDER - HEAD - WORDS])
    least = np.array([columns.sum() + len(views) * AROUND, TITLE])
    across = np.array([sizes[:, 0].sum(), sizes[:, 1].max()])
    scale = next((k for k in SCALES if (across / k + least <= room).all()), SCALES[-1])
    widths = sizes[:, 0] / scale + columns
    edges = BORDER + np.concatenate([[0.0], np.cumsum(widths + (room[0] - widths.sum()) / len(views))])
    head = f"{title}: how it is worn, scale 1:{scale:g}"
    items: Items = [Text(head, (BORDER, SHEET[1] - BORDER - 5), 5.0, layer="note")]
    level = BORDER + WORDS + (room[1] - TITLE) / 2
    for view, left, right in zip(views, edges[:-1], edges[1:], strict=True):
        middle = np.array([(left + right - view.column) / 2, level])
        items += _placed(view, scale, middle, above=across[1] / scale / 2)
    return Drawing("wearing-plan", *SHEET, (*items, *_words(wear, rule)), f"{title}: wearing plan")


def wearing_views(
    ground: Ground, foam: Foam, centre: Floats, wear: Wear, *, across: float, rule: Rule = METRIC
) -> tuple[Drawing, ...]:
    """Each view on a sheet of its own, `across` mm wide at most, all at one scale."""
    views = _views(ground, foam, centre, wear, rule.inches)
    sizes, columns = _sizes(views), np.array([view.column for view in views])
    scale = next((k for k in SCALES if (sizes[:, 0] / k + columns + 2 * EDGE <= across).all()), SCALES[-1])
    return tuple(_alone(view, scale, size / scale) for view, size in zip(views, sizes, strict=True))


def _alone(view: BodyView, scale: float, size: Floats) -> Drawing:
    """A view without its title, as high as it and its names need."""
    items = _placed(view, scale, size / 2 + EDGE, above=size[1] / 2)[:-1]
    up = max(0.0, EDGE - min(item.at[1] - item.height / 2 for item in items if isinstance(item, Text)))
    across = float(size[0]) + 2 * EDGE + view.column
    return Drawing("worn", across, float(size[1]) + 2 * EDGE + up, tuple(raised(items, up)), view.title)


@remembered  # used by the plan and the guide
def _views(ground: Ground, foam: Foam, centre: Floats, wear: Wear, inches: bool) -> tuple[BodyView, ...]:
    rule = Rule(inches)
    return (
        side(ground.mesh, foam.thickness, centre, wear),
        from_inside(ground, foam, wear, rule),
        front(ground.mesh, wear, rule),
    )


def _sizes(views: Sequence[BodyView]) -> Floats:
    return np.array([high - low for low, high in (view.box() for view in views)])


def _placed(view: BodyView, scale: float, middle: Floats, *, above: float) -> Items:
    """A view around its middle, its names on its right, and last its title, `above` mm above the middle."""
    low, high = view.box()
    shift = middle - (low + high) / 2 / scale
    paths = [Path(p.points / scale + shift, p.layer, p.closed, p.data, p.fill) for p in view.paths]
    head = Text(view.title, (float(middle[0]), float(middle[1] + above + 3.0)), 3.5, anchor="middle", layer="note")
    names = [(name, at / scale + shift) for name, at in view.names]
    return [*paths, *_column(names, float(high[0] / scale + shift[0])), head]


def _column(names: Sequence[Name], edge: float) -> Items:
    """Names to the right of x = `edge`, the highest first, each with a line to one of its places, chosen so that
    the lines keep clear of arrows and each other, else the first."""
    if not names:
        return []
    arrows = shapely.linestrings([places[[0, -1]] for _, places in names])
    choices = product(*(range(len(places)) for _, places in names))
    best = min(choices, key=lambda choice: (_clashes(_leaders(names, choice, edge), arrows), sum(choice)))
    items: Items = []
    for (words, _), line in zip(names, _leaders(names, best, edge), strict=True):
        x, y = line[0] + [1.0, 0.6]
        items += [Text(part, (float(x), float(y) - PITCH * k), 2.5) for k, part in enumerate(words.split(", "))]
        items.append(Path(line, "label"))
    return items


def _leaders(names: Sequence[Name], choice: Sequence[int], edge: float) -> Floats:
    """(n, 2, 2) the line from each name to the chosen one of its places."""
    ends = np.array([places[k] for (_, places), k in zip(names, choice, strict=True)]).reshape(-1, 2)
    starts = np.full_like(ends, edge + 4.0)
    y = np.inf
    for k in np.argsort(-ends[:, 1], kind="stable"):
        y = min(float(ends[k, 1]), y)
        starts[k, 1] = y
        y -= PITCH * (names[k][0].count(", ") + 1.5)
    return np.stack([starts, ends], axis=1)


def _clashes(lines: Floats, arrows: Geometries) -> int:
    """How many times a line comes near an arrow that it does not lead to, or another line."""
    leaders = shapely.linestrings(lines)
    other = ~np.eye(len(leaders), dtype=bool)
    near = [shapely.dwithin(leaders[:, None], those, APART) & other for those in (arrows, leaders)]
    return int(np.sum(near))


def _words(wear: Wear, rule: Rule) -> Items:
    """Figures of every case, pressures and straps, in three columns under the views."""
    columns = (_cases(wear), _pressure_words(wear), _straps(wear, rule))
    across = (SHEET[0] - 2 * BORDER - 2 * GAP) / 3
    items: Items = []
    for k, lines in enumerate(columns):
        x, y = BORDER + k * (across + GAP), BORDER + WORDS - 8.0
        for text in lines:
            for line in wrapped(text, across, 2.5):
                items.append(Text(line, (x, y), 2.5, layer="note"))
                y -= PITCH
    return items


def _cases(wear: Wear) -> Sequence[str]:
    roles = [anchor.name[:-2] for anchor in wear.anchors[::2]]
    most = np.max([hold.pulls.reshape(-1, 2).max(axis=1) for hold in wear.holds if hold is not None], axis=0, initial=0)
    pulled = np.broadcast_to(most >= NEGLIGIBLE, len(roles))
    lines = ["Pull at each anchor (N), the larger of left and right, and of the back:"]
    for case, hold in zip(wear.cases, wear.holds, strict=True):
        if hold is None:
            lines.append(f"{case.name}: not held")
            continue
        greater = hold.pulls.reshape(-1, 2).max(axis=1)
        pulls = ", ".join(f"{role} {pull:.1f}" for role, pull, own in zip(roles, greater, pulled, strict=True) if own)
        lines.append(f"{case.name}: {pulls}; back {hold.back:.1f}")
    resting = ", ".join(role for role, own in zip(roles, pulled, strict=True) if not own)
    return [*lines, f"{resting}: almost no pull"] if resting else lines


def _pressure_words(wear: Wear) -> Sequence[str]:
    lines = ["Pressure under the straps (kPa), standing and largest:"]
    for p in wear.pressures:
        pressed = f"{p.standing_kpa:.1f}, {p.most_kpa:.1f}" if p.most_kpa >= NEGLIGIBLE else "almost none"
        lines.append(f"{p.strap} on the {p.where}: {pressed}")
    return (*lines, f"Share of the weight on the neck: {100 * wear.neck_share:.0f} %")


def _straps(wear: Wear, rule: Rule) -> Sequence[str]:
    lines = ["Straps, with tabs and extra length to adjust:"]
    for s in wear.straps:
        buckles = ", ".join(f"{count} {name}" for name, count in s.buckles)
        cut = f"cut {rule.mm(s.cut)}" if s.cut else "bought ready-made"
        lines.append(
            f"{s.count} x {s.name} {rule.mm(s.width, None)}, {cut}, {rule.mm(s.on_body)} on the body; "
            f"each with {buckles}"
        )
    lines.append(
        "To place a patch, measure along the inner rim from the middle of the edge named on it, then straight in."
    )
    return lines
