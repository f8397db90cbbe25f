"""A dome taken from a scanned mesh: a file of triangles, mended, stood up, cut at a plane, made smooth and symmetric.

The scan becomes distances by direction from the middle of the cut (see `_radial`), fitted by smooth functions that
carry across holes and leave noise behind. The findings say what was done to it, and how much; a shape that is no dome
is refused.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.dome.surfaces import _dome, _mended, _radial, _sampling, _standing
from shellgen.dome.surfaces._dome import Dome
from shellgen.dome.surfaces._mended import Mended
from shellgen.dome.surfaces._radial import Radial
from shellgen.dome.surfaces._sampling import ScanSamples
from shellgen.dome.surfaces._standing import AUTO, AXES
from shellgen.errors import GeometryError, PresetError
from shellgen.fields import params as field
from shellgen.geom import mesh_repair, meshfiles, patches
from shellgen.model import Finding

DEGREE = 20
"""Waves that the fitted dome may have around it. Chosen: 75 mm from crest to crest on an adult's shell; foam of 10 mm
follows nothing narrower, and twice as many would cost four times as long."""
HOLES, HOLE = 0.2, np.radians(35.0)
"""Largest share of the dome, and largest angle across one hole seen from the middle of the cut, that is filled in.
Chosen: beyond, the maker would wear a guess."""
LENGTHS, HEIGHTS, FLATTEST = (120.0, 1200.0), (30.0, 500.0), 0.1
"""Sizes of a dome, mm, as for a dome from its plan; and the least height over width. Chosen."""
POINTS = 300
"""Least points. Chosen: one every 35 mm on an adult's shell."""
UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    file: field.File = field.file(
        field.REQUIRED,
        tuple(meshfiles.READERS),
        meshfiles.LARGEST,
        "The scan: an STL, OBJ or PLY mesh.",
    )
    length: float | None = field.length(
        None, *LENGTHS, "Outer length of the finished shell, to which the scan is scaled; none keeps the scan's size."
    )
    unit: str = field.choice("mm", tuple(UNITS), "What the numbers in the file mean, if length does not say it.")
    up: str = field.choice(AUTO, (AUTO, *AXES), "The file's axis that points out of the back; auto looks for the rim.")
    head: str = field.choice(
        AUTO, (AUTO, *AXES), "The file's axis that points to the wearer's head; auto takes the narrower end."
    )
    cut: float | None = field.length(
        None, 0, 1000, "Height above the scan's lowest point at which it is cut off; none finds the rim."
    )
    smoothing: float | None = field.length(
        None, 5, 400, "Waves shorter than this from crest to crest are smoothed away; none judges by the scan's noise."
    )
    offset: float = field.length(
        0.0, 0, 120, "How far the shell's outer face stands off the scan: padding and foam, if the scan is the wearer."
    )


@dataclass(frozen=True, slots=True, eq=False)
class Scanned(Dome):
    """A dome that knows what it was made from."""

    mended: Mended
    findings: tuple[Finding, ...]


def build(params: Params) -> Scanned:
    """The dome of a scan. PresetError for a file that is no sound mesh, GeometryError for a shape that is no dome."""
    points, faces = _read(params)
    try:
        cleaned = mesh_repair.clean(points, faces)
    except ValueError as error:
        raise _refused(str(error)) from error
    if len(cleaned.points) < POINTS:
        found = f"the scan's largest part has {len(cleaned.points)} points, a dome needs {POINTS}: "
        raise GeometryError(found + "scan it finer, or divide its triangles")
    scale = UNITS[params.unit]
    cut = None if params.cut is None else params.cut / scale
    stood = _standing.stand(cleaned, up=params.up, head=params.head, cut=cut)
    placed, samples = _sampling.sample(stood.points, cleaned.faces, stood.normals, floor=stood.floor)
    scale = _scale(params, samples, scale)
    samples = replace(samples, half=samples.half * scale)
    _is_dome(samples)
    dome, smoothing = _fitted(params, samples)
    mended = _mended.measured(cleaned, stood, samples, dome, placed * scale, smoothing=smoothing, scale=scale)
    if params.offset:
        dome = _offset(dome, params.offset)
    lean = _radial.check(dome)
    return Scanned(dome.embedding, mended, tuple(_mended.findings(mended, sure=stood.sure, lean=lean)))


def _read(params: Params) -> tuple[Floats, Ints]:
    try:
        return meshfiles.read(params.file.path.read_bytes(), params.file.path.suffix)
    except OSError as error:
        raise _refused(error.strerror or "it cannot be read") from error
    except ValueError as error:
        raise _refused(str(error)) from error


def _refused(reason: str) -> PresetError:
    remedy = f"Give a whole STL, OBJ or PLY mesh of 1 to {meshfiles.MOST} triangles."
    return PresetError("dome.file", f"The scan cannot be used: {reason}.", remedy)


def _scale(params: Params, samples: ScanSamples, unit: float) -> float:
    if params.length is None:
        return unit
    length = params.length - 2 * params.offset
    if length < LENGTHS[0] / 2:
        raise GeometryError(f"an offset of {params.offset:g} mm leaves nothing of a length of {params.length:g} mm")
    return length / (2 * float(samples.half[0]))


def _is_dome(samples: ScanSamples) -> None:
    """GeometryError if size, flatness or holes forbid it."""
    length, width, height = samples.half * [2, 2, 1]
    size = f"{length:.3g} x {width:.3g} x {height:.3g} mm (length, width, height)"
    sides = sorted((length, width))
    if height < FLATTEST * width:
        raise GeometryError(f"the scan above the cut measures {size}: too flat for a dome; cut it lower or set up")
    if not (LENGTHS[0] * 0.8 <= sides[0] and sides[1] <= LENGTHS[1] and HEIGHTS[0] <= height <= HEIGHTS[1]):
        raise GeometryError(
            f"the scan above the cut measures {size}; allowed are 100 to 1200 mm across and 30 to 500 mm in height: "
            "set unit (mm, cm, m, in), or length"
        )
    share = float(_sampling.HOLES.sizes()[~samples.filled].sum() / (2 * np.pi))
    across = _sampling.widest_hole(samples.filled)
    if share > HOLES or across > HOLE:
        raise GeometryError(
            f"{share:.0%} of the dome above the cut was not scanned, and the widest hole spans {np.degrees(across):.0f}"
            f" degrees seen from the middle of the cut; allowed are {HOLES:.0%} and {np.degrees(HOLE):.0f} degrees: "
            "scan it again, or set cut, up"
        )


def _fitted(params: Params, samples: ScanSamples) -> tuple[Dome, float]:
    """The dome and its smoothing length: longer where noise leaves the dome too sharp for foam, unless the preset sets
    it."""
    fitter = _radial.prepared(*_sampling.per_cell(samples), degree=DEGREE)
    around = 2 * np.pi * float(np.prod(samples.half) ** (1 / 3))
    strength = fitter.best() if params.smoothing is None else (params.smoothing / around) ** 4
    for _ in range(12 if params.smoothing is None else 1):
        dome = Dome(Radial(fitter.basis.series(fitter.fit(strength)), samples.half))
        bend, smoothing = _radial.tightest(dome), around * strength**0.25
        if bend >= _dome.TIGHTEST:
            return dome, smoothing
        strength = max(4 * strength, 1e-8)
    raise GeometryError(
        f"the scan bends as tightly as a radius of {bend:.1f} mm, foam allows {_dome.TIGHTEST:g} mm: "
        f"ask for more smoothing than {smoothing:.0f} mm, or cut it higher"
    )


def _offset(dome: Dome, offset: float) -> Dome:
    """The dome at a distance, again as one seen from the middle of the rim."""
    old = dome.embedding
    assert isinstance(old, Radial)
    uv = patches.polar_grid(np.linspace(0, 1, 46)[1:], 180)
    points = np.concatenate([dome.points(np.zeros((1, 2)), offset=offset), dome.points(uv, offset=offset)])
    half = old.half + offset
    scaled = points / half
    r = np.linalg.norm(scaled, axis=1)
    polar = np.concatenate([[0.0], np.hypot(*uv.T)]) * np.pi / 2
    weight = np.maximum(np.sin(polar), 0.01)
    weight *= 2 * np.pi / weight.sum()
    fitter = _radial.prepared(scaled / r[:, None], r, weight, degree=DEGREE)
    return Dome(Radial(fitter.basis.series(fitter.fit(1e-12)), half))
