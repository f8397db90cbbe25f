"""The foam ring round each spike: its cut length, its template, how hard it is bent, which rings share a template."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats
from shellgen.fields import params as field
from shellgen.geom import loops, strips
from shellgen.model import Finding, Ring, Spike, Surface
from shellgen.model.said import count, several, shares_apart

FINE = 8
"""Times finer than the base curve a strip is unrolled: its length is then right to 0.001 mm."""
QUARTERS = 4
"""Joint and quarter marks on each strip, which meet four ticks on the seat (chosen)."""

SAME = 1.0
"""mm by which strips may differ to share a pattern, which is as long as the longest (chosen: a knife follows a line to
about half a mm, and what is too long is trimmed at the joint once the strip lies around its spike)."""
THINNEST = 2.0
"""mm: the thinnest foam sheet sold everywhere (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    """Rings of foam strip."""

    thickness: float = field.length(5.0, 1, 20, "Thickness of the strip, measured away from the spike.")
    width: float = field.length(8.0, 3, 60, "How far the ring stands up from the shell.")
    neutral: float = field.ratio(
        0.5,
        0.0,
        1.0,
        "Where in its thickness a bent strip keeps its length: 0 inside, 1 outside; measure a test ring.",
    )
    joint: str = field.choice("scarf", ("butt", "scarf"), "How the ends meet: square, or slanted over each other.")
    scarf: float = field.ratio(1.5, 0.5, 5.0, "Length of a scarf over the strip's thickness.")
    chamfer: float = field.length(2.0, 0, 15, "Width cut off slantwise along the outer top edge.")
    lies: str = field.choice(
        "upright",
        ("upright", "flank"),
        "Upright on the shell, cut straight; or against the spike's side, cut curved.",
    )
    strain_limit: float = field.ratio(
        0.25,
        0.02,
        1.0,
        "Strain at its faces that the foam takes cold without creasing (common practice, no source).",
    )
    stock: float = field.length(1000.0, 100, 5000, "Length of the strips that the rings are cut from.")
    kerf: float = field.length(0.5, 0, 5, "Lost at each cut.")


@dataclass(frozen=True, slots=True, eq=False)
class RingStrip:
    """One ring laid flat, outer face up, its lower edge along x.

    outline : (n, 2) mm, counter-clockwise, not closed
    chamfer : (m, 2) mm polyline to cut slantwise from, along the top; empty without a chamfer
    marks   : (k, 2, 2) mm, short lines across the lower edge at the quarters
    strain  : greatest strain of its faces
    """

    spike: str
    outline: Floats
    chamfer: Floats
    marks: Floats
    strain: float

    def __post_init__(self) -> None:
        for name in ("outline", "chamfer", "marks"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


@dataclass(frozen=True, slots=True, eq=False)
class RingPattern:
    """One strip to cut for several rings. length : mm from joint to joint, of the longest; spikes : all it is for"""

    name: str
    length: float
    strip: RingStrip
    spikes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Trims:
    """All rings with their strips; `metres` of strip in the rings themselves, `lost` mm per length of stock cut.

    patterns : strips that are nearly the same once, the longest first
    """

    rings: tuple[Ring, ...]
    strips: tuple[RingStrip, ...]
    patterns: tuple[RingPattern, ...]
    metres: float
    lost: float
    findings: tuple[Finding, ...]


def neutral_curve(surface: Surface, spike: Spike, *, thickness: float, neutral: float) -> Floats:
    """(n, 3) the strip's neutral fibre: the base curve moved outward by K t in the plane that touches the shell.

    References: bend allowance, L = angle (R + K t); K = 0.5 for foam is common practice, no source.
    """
    return loops.offset(spike.base_curve, surface.normals(spike.seat_uv), neutral * thickness)


def build(surface: Surface, spikes: tuple[Spike, ...], params: Params) -> Trims:
    """Rings and strips of all spikes that have one, in their order."""
    wanted = [spike for spike in spikes if spike.ring]
    made = [_ring(surface, spike, params) for spike in wanted]
    rings, strips_ = tuple(r for r, _ in made), tuple(s for _, s in made)
    metres = sum(r.neutral_length for r in rings) / 1000
    findings = (*_strained(strips_, params), *_buried(wanted, params))
    return Trims(rings, strips_, _patterns(rings, strips_), metres, scarf_run(params), findings)


def _patterns(rings: tuple[Ring, ...], strips_: tuple[RingStrip, ...]) -> tuple[RingPattern, ...]:
    """Each strip goes with the longest one that it is like."""
    groups: list[list[tuple[Ring, RingStrip]]] = []
    for ring, strip in sorted(zip(rings, strips_, strict=True), key=lambda made: -made[0].neutral_length):
        group = next((group for group in groups if _apart(group[0][1], strip) <= SAME), None)
        if group is None:
            groups.append([(ring, strip)])
        else:
            group.append((ring, strip))
    found, names = list[RingPattern](), list[str]()
    for group in groups:
        ring, strip = group[0]
        names.append(f"ring-{ring.neutral_length:.0f}")
        name = names[-1] + (f"-{names.count(names[-1])}" if names.count(names[-1]) > 1 else "")
        spikes = {ring.spike for ring, _ in group}
        found.append(RingPattern(name, ring.neutral_length, strip, tuple(r.spike for r in rings if r.spike in spikes)))
    return tuple(found)


def _apart(one: RingStrip, other: RingStrip) -> float:
    """By how many mm two strips that begin at the same place differ at most, their quarter marks included."""
    if one.marks.shape != other.marks.shape:
        return np.inf
    start, begin = one.marks[0, 0], other.marks[0, 0]
    edge, line = shapely.LinearRing(one.outline - start), shapely.LinearRing(other.outline - begin)
    marks = np.hypot(*((one.marks - start) - (other.marks - begin)).reshape(-1, 2).T).max()
    return max(float(shapely.hausdorff_distance(edge, line)), float(marks))


def scarf_run(params: Params) -> float:
    """How far the slanted ends of a strip reach over each other; 0 for a butt joint."""
    return params.scarf * params.thickness if params.joint == "scarf" else 0.0


def _ring(surface: Surface, spike: Spike, params: Params) -> tuple[Ring, RingStrip]:
    if params.lies == "flank":
        lower, upper = _on_flank(spike, params)
    else:
        lower, upper = _upright(surface, spike, params)
    neutral = float(np.linalg.norm(np.diff(lower, axis=0), axis=1).sum())
    strain = bending(surface, spike, params)
    strip = _strip(spike.name, lower, upper, strain, params)
    return Ring(spike.name, neutral, params.thickness, params.width), strip


def bending(surface: Surface, spike: Spike, params: Params) -> float:
    """Greatest strain at the strip's faces: t k (1 - K) / (1 + K k t) outside, t k K / (1 + K k t) inside, k being the
    base curve's greatest curvature in the plane that touches the shell.

    References: Euler-Bernoulli bending about the neutral fibre; for K = 0.5 it is t / (D + t).
    """
    curvature = loops.curvatures(spike.base_curve, surface.normals(spike.seat_uv))[0].max()
    bent = curvature * params.thickness
    return float(bent * max(params.neutral, 1 - params.neutral) / (1 + params.neutral * bent))


def _upright(surface: Surface, spike: Spike, params: Params) -> tuple[Floats, Floats]:
    """Lower and upper edge of the straight strip, flat, with the quarter points' true spacing."""
    curve = neutral_curve(surface, spike, thickness=params.thickness, neutral=params.neutral)
    along = loops.arc_length(curve)
    return np.column_stack([along, 0 * along]), np.column_stack([along, 0 * along + params.width])


def _on_flank(spike: Spike, params: Params) -> tuple[Floats, Floats]:
    """Lower and upper edge of the strip that lies against the spike's side, laid flat at its neutral fibre."""
    count = FINE * len(spike.base_curve)
    base, up = loops.refine(spike.base_curve, count), loops.refine(spike.flank, count)
    tangent = loops.derivative(base)
    outward = np.cross(tangent, up)
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    square = np.cross(outward, tangent / np.linalg.norm(tangent, axis=1, keepdims=True))
    lower = base + params.neutral * params.thickness * outward
    upper = lower + params.width * up / (up * square).sum(axis=1, keepdims=True)
    return strips.unroll(np.vstack([lower, lower[:1]]), np.vstack([upper, upper[:1]]))


def _strip(name: str, lower: Floats, upper: Floats, strain: float, params: Params) -> RingStrip:
    """The template, its ends lengthened by half a scarf each."""
    run = scarf_run(params) / 2
    if run:
        lower, upper = _lengthened(lower, run), _lengthened(upper, run)
    inner = slice(1, -1) if run else slice(None)
    quarters = np.linspace(0, len(lower[inner]) - 1, QUARTERS + 1).astype(int)
    feet, heads = lower[inner][quarters], upper[inner][quarters]
    marks = np.stack([feet, feet + 0.35 * (heads - feet)], axis=1)
    share = 1 - params.chamfer / params.width
    chamfer = lower + share * (upper - lower) if 0 < params.chamfer < params.width else np.zeros((0, 2))
    outline = np.vstack([_thinned(lower), _thinned(upper)[::-1]])
    return RingStrip(name, outline, _thinned(chamfer), marks, strain)


def _lengthened(edge: Floats, run: float) -> Floats:
    """The edge with `run` added at both ends, straight on."""
    start, end = edge[0] - edge[1], edge[-1] - edge[-2]
    return np.vstack([edge[0] + run * start / np.hypot(*start), edge, edge[-1] + run * end / np.hypot(*end)])


def _thinned(edge: Floats) -> Floats:
    """Without the points that lie on a straight line with their neighbours."""
    if len(edge) < 3:
        return edge
    before, after = edge[1:-1] - edge[:-2], edge[2:] - edge[1:-1]
    bent = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) > 1e-9
    return np.asarray(edge[np.concatenate([[True], bent, [True]])])


def _strained(made: tuple[RingStrip, ...], params: Params) -> tuple[Finding, ...]:
    """A caution for strips bent harder than the foam takes."""
    over = [s for s in made if s.strain > params.strain_limit]
    if not over:
        return ()
    worst = max(over, key=lambda s: s.strain)
    limit, most = shares_apart(params.strain_limit, worst.strain)
    thinner = _thinner(worst, params)
    other = f"take strip of {thinner:g} mm" if thinner >= THINNEST else "model these rings from clay (ring: no)"
    text = (
        f"{count(len(over), 'ring')} would be strained at the faces by more than {limit}, the most by {most} at "
        f"{worst.spike}: warm the strip over a former first, or {other}."
    )
    return (Finding("caution", "trims", text),)


def _thinner(worst: RingStrip, params: Params) -> float:
    """The thickest strip, to half a mm, that bends round the tightest base within the limit.

    References: the strain of `bending`, e = b m / (1 + K b) with b = k t, solved for t.
    """
    share, neutral = max(params.neutral, 1 - params.neutral), params.neutral

    def bent(strain: float) -> float:
        return strain / (share - strain * neutral)

    if params.strain_limit * neutral >= share:
        return params.thickness
    return float(max(0.5, np.floor(2 * params.thickness * bent(params.strain_limit) / bent(worst.strain)) / 2))


def _buried(spikes: list[Spike], params: Params) -> tuple[Finding, ...]:
    """A caution for spikes that stand no higher than the ring round them."""
    low = [spike for spike in spikes if spike.height * np.cos(spike.tilt) <= params.width]
    if not low:
        return ()
    least = min(spike.height * np.cos(spike.tilt) for spike in low)
    width, them = max(3.0, np.floor(least / 2)), "it" if len(low) == 1 else "them"
    text = (
        f"{several(spike.name for spike in low)}: no higher than the ring of {params.width:g} mm, the lowest "
        f"{least:.1f} mm, so the ring hides {them}. Leave it off (ring: no) or make it at most {width:g} mm wide."
    )
    return (Finding("caution", "trims", text),)
