"""The machine-readable record of a shell, as it stands in `shell.json`. Every page takes its figures from here."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import numpy as np

from shellgen import wear
from shellgen.core.memory import remembered
from shellgen.finish import paint
from shellgen.geom.curves import length
from shellgen.geom.triangles import areas, total_curvature
from shellgen.model import Piece, Schedule
from shellgen.pipeline.shell import Shell
from shellgen.record import handwork
from shellgen.wear.wearer.survey import MEASURES
from shellgen.workshop import buying
from shellgen.workshop.stock import CutList


@lru_cache(maxsize=1)  # guide, page and lists ask for that of one shell
def record(shell: Shell) -> Mapping[str, Any]:
    """Plain numbers, strings, lists and dictionaries; mm, mm2, radians and degrees as the names say."""
    return {
        "name": shell.name,
        "foam_thickness_mm": _round(shell.thickness),
        "dome": _dome(shell),
        "plates": _plates(shell),
        "pieces": [_piece(shell, index) for index in range(len(shell.cut.pieces))],
        "proof": _proof(shell),
        "seams": [_seam(shell, index) for index in range(len(shell.cut.seams))],
        "spikes": _spikes(shell),
        "prints": _prints(shell),
        "clay_cm3": {"dry": _round(shell.casting.clay.dry / 1000, 1), "wet": _round(shell.casting.clay.wet / 1000, 1)},
        "ring_stock": _stock(shell.ring_stock),
        "edging": _edging(shell),
        "edging_stock": _stock(shell.edging_stock),
        "materials": buying.record(shell.buying),
        "cost": {"currency": shell.buying.currency, "total": shell.buying.total},
        "mass_g": _round(shell.materials.mass_g, 1),
        "mass_uncertainty_g": _round(shell.materials.mass_uncertainty_g, 1),
        "mass_parts_g": {name: _round(mass, 1) for name, mass in shell.materials.mass_parts},
        "centre_of_mass_mm": [_round(x, 1) for x in shell.materials.centre],
        "sheets": _sheets(shell),
        "sheets_at_least": int(shell.nest.bound),
        "sheets_cost": shell.nest.cost,
        "schedule": _schedule(shell.plan),
        "plan": _plan(shell.plan),
        **handwork.record(shell),
        "paint": paint.record(shell.paint),
        "wearer": _wearer(shell),
        "wear": wear.figures(shell.wear, private=shell.body is not None and not shell.measures_shared),
        "findings": [{"level": f.level, "stage": f.stage, "text": f.text, "safety": f.safety} for f in shell.findings],
    }


def _round(value: float, digits: int = 4) -> float:
    return round(float(value), digits) + 0.0  # no minus before a zero


def _dome(shell: Shell) -> dict[str, Any]:
    """Outer face as designed, and the mid surface on which the pattern is developed."""
    mesh, mid = shell.mesh, shell.mesh.offset(shell.pattern.mid_offset)
    rims = [line for of, line in zip(shell.layout.lines, mesh.line_vertices, strict=True) if of.kind == "rim"]

    def figures(points: Any) -> dict[str, float]:
        area, curvature = _face(points, mesh.faces, mesh.normals)
        rim = sum(length(points[line]) for line in rims)
        return {"area_mm2": _round(area), "rim_length_mm": _round(rim), "total_curvature_rad": _round(curvature, 6)}

    size = zip(("length", "width", "height"), np.ptp(mesh.points, axis=0), strict=True)
    return {
        **figures(mesh.points),
        "surface": "outer face",
        **{f"{side}_mm": _round(of) for side, of in size},
        "mid_surface": figures(mid),
        "scan": shell.surface.scan() if hasattr(shell.surface, "scan") else None,
    }


@remembered
def _face(points: Any, faces: Any, normals: Any) -> tuple[float, float]:
    """Area and total curvature of the dome."""
    return float(areas(points, faces).sum()), total_curvature(points, faces, normals)


def _wearer(shell: Shell) -> dict[str, Any] | None:
    """Who it is for. The measures stand here only if the maker said that they may be read by others."""
    body, fit = shell.body, shell.fit
    if body is None or fit is None:
        return None
    told = {
        "group": body.group,
        "measures": {name: _round(getattr(body, name), 1) for name in MEASURES},
        "measured": list(body.stated),
        "neck_x_mm": _round(fit.neck, 1),
        "seat_x_mm": _round(fit.seat, 1),
        "back_z_mm": _round(fit.back, 1),
        "advised_mm": [fit.advised.length, fit.advised.width, fit.advised.height],
    }
    return {
        "measures_given": bool(body.stated),
        "fits": fit.fits,
        "findings": [{"level": f.level, "text": f.text} for f in fit.findings],
        **(told if shell.measures_shared else {}),
    }


def _plates(shell: Shell) -> list[dict[str, Any]]:
    cell_area = np.bincount(
        shell.mesh.face_cell, areas(shell.mesh.points, shell.mesh.faces), minlength=len(shell.layout.cells)
    )
    return [
        {
            "id": plate.name,
            "kind": plate.kind,
            "side": plate.side,
            "sides": int(plate.sides),
            "area_mm2": _round(cell_area[list(plate.cells)].sum()),
            "neighbours": [shell.layout.plates[k].name for k in plate.neighbours],
        }
        for plate in shell.layout.plates
    ]


def _piece(shell: Shell, index: int) -> dict[str, Any]:
    piece, flat = shell.cut.pieces[index], shell.pattern.flats[index]
    return {
        "id": piece.name,
        "mirror": shell.cut.pieces[piece.mirror].name,
        "plates": plates_of(shell, piece),
        "area_flat_mm2": _round(flat.area_flat),
        "area_surface_mm2": _round(flat.area_surface),
        "stretch_max": _round(max(flat.stretch[:, 1].max() - 1, 1 - flat.stretch[:, 0].min()), 6),
        "stretch_rms": _round(stretch_rms(shell, index), 6),
        "template": f"templates/{piece.name}.svg",
    }


def plates_of(shell: Shell, piece: Piece) -> list[str]:
    """Names of the plates that a piece holds, whole or in part, in the layout's order."""
    found = {shell.layout.cell_plate[cell] for cell in piece.cells}
    return [shell.layout.plates[k].name for k in sorted(found)]


def stretch_rms(shell: Shell, index: int) -> float:
    """Root mean square of both principal stretches less one, weighted by area."""
    piece, flat = shell.cut.pieces[index], shell.pattern.flats[index]
    mid = shell.mesh.offset(shell.pattern.mid_offset)
    weight = areas(mid[piece.shell_vertices], piece.faces)
    return float(np.sqrt(np.average(((flat.stretch - 1) ** 2).mean(axis=1), weights=weight)))


def _prints(shell: Shell) -> list[dict[str, Any]]:
    return [
        {
            "id": part.name,
            "for": part.serves,
            "role": part.role,
            "lies": part.lies,
            "overhang_deg": _round(np.degrees(part.overhang), 1),
            "fits_bed": bool(part.fits),
            "volume_mm3": _round(part.volume, 1),
            "plastic_g": _round(part.plastic_g, 1),
            "minutes": _round(part.minutes, 0),
        }
        for part in shell.casting.prints
    ]


def _stock(cuts: CutList) -> dict[str, Any]:
    return {
        "stock_mm": _round(cuts.stock),
        "lengths": [{"pieces": list(one.pieces), "left_mm": _round(one.left)} for one in cuts.lengths],
        "least_lengths": int(cuts.bound),
        "waste": _round(cuts.waste),
    }


def _edging(shell: Shell) -> dict[str, Any]:
    of = shell.edging
    return {
        "length_mm": _round(of.length),
        "strain_max": _round(of.strain),
        "pieces": [
            {"id": p.name, "start_mm": _round(p.start), "end_mm": _round(p.end), "length_mm": _round(p.length)}
            for p in of.pieces
        ],
        "relief_cuts": [
            {"from_mm": _round(r.start), "to_mm": _round(r.end), "count": r.count, "depth_mm": _round(r.depth)}
            for r in of.reliefs
        ],
        "mitres": [{"at_mm": _round(c.at), "mitre_deg": _round(np.degrees(c.mitre), 1)} for c in of.corners],
    }


def _sheets(shell: Shell) -> list[dict[str, Any]]:
    return [
        {
            "id": sheet.name,
            "length_mm": _round(sheet.stock.length),
            "width_mm": _round(sheet.stock.width),
            "thickness_mm": _round(sheet.thickness),
            "pieces": [placement.part.name for placement in sheet.placements],
            "utilisation": _round(sheet.utilisation),
            "used_mm": _round(sheet.used),
            "gap_mm": _round(sheet.gap) if np.isfinite(sheet.gap) else None,
            "edge_mm": _round(sheet.edge),
        }
        for sheet in shell.nest.sheets
    ]


def _schedule(plan: Schedule | None) -> list[dict[str, Any]]:
    """The tasks by their beginning; without a day to end on, only the numbers of the days."""
    if plan is None:
        return []
    dated = plan.event is not None
    return [
        {
            "task": job.task.name,
            "begin": job.begin.isoformat(timespec="minutes") if dated else None,
            "end": job.end.isoformat(timespec="minutes") if dated else None,
            "dry": job.dry.isoformat(timespec="minutes") if dated else None,
            "hands_h": _round(job.task.hands_h, 2),
            "dry_h": _round(job.task.dry_h, 2),
            "critical": job.task.name in plan.chain,
            "day": plan.day(job.begin),
            "dry_day": plan.day(job.dry),
            "after": list(job.task.after),
        }
        for job in plan.jobs
    ]


def _plan(plan: Schedule | None) -> dict[str, Any]:
    """The whole of it, and what would save time."""
    if plan is None:
        return {}
    dated = plan.event is not None
    return {
        "event": plan.event.isoformat() if plan.event else None,
        "begin": plan.begin.isoformat(timespec="minutes") if dated else None,
        "ready": plan.ready.isoformat(timespec="minutes") if dated else None,
        "days": plan.day(plan.ready),
        "hands_h": _round(plan.hands_h, 2),
        "longest_chain_h": _round(plan.chain_h, 2),
        "longest_chain": list(plan.chain),
        "ways": [{"change": w.change, "gained_days": w.gained_days, "enough": w.enough} for w in plan.ways],
    }


def _proof(shell: Shell) -> dict[str, Any]:
    """How the virtual build strays from the dome: as glued, and once formed with heat."""
    of = shell.proof
    return {
        "distance_max_mm": _round(of.glued.most),
        "distance_rms_mm": _round(of.glued.rms),
        "formed_distance_max_mm": _round(of.formed.most),
        "formed_distance_rms_mm": _round(of.formed.rms),
        "flawless_distance_rms_mm": _round(of.flawless.rms),
        "pattern_rms_mm": _round(of.pattern_rms),
        "rim_gap_mm": [_round(gap) for gap in of.rim_gap],
        "seam_strain_max": _round(np.abs(of.seam_strain).max(initial=0.0), 6),
        "caught": bool(of.caught),
    }


def _seam(shell: Shell, index: int) -> dict[str, Any]:
    seam, gaps = shell.cut.seams[index], shell.intervals[index]
    return {
        "id": seam.name,
        "pieces": [shell.cut.pieces[piece].name for piece, _ in seam.sides],
        "dart": seam.dart,
        "length_mm": [_round(total) for total in gaps.sum(axis=1)],
        "mark_difference_max_mm": _round(np.abs(gaps[0] - gaps[1]).max(), 5),
        "bevel_deg": _round(np.degrees(shell.bevels[index]), 2),
        "marks": [mark.number for mark in shell.marks if mark.seam == index],
    }


def _spikes(shell: Shell) -> list[dict[str, Any]]:
    rings = {ring.spike: ring for ring in shell.rings}
    return [
        {
            "id": spike.name,
            "plate": shell.layout.plates[spike.plate].name,
            "profile": spike.profile,
            "base_diameter_mm": _round(spike.base_diameter),
            "height_mm": _round(spike.height),
            "tilt_deg": _round(np.degrees(spike.tilt), 2),
            "base_curve_length_mm": _round(length(spike.base_curve, closed=True)),
            "ring_length_mm": _round(rings[spike.name].neutral_length) if spike.name in rings else None,
            "ring_thickness_mm": _round(rings[spike.name].thickness) if spike.name in rings else None,
            "stl": f"spikes/{spike.master}.stl",
        }
        for spike in shell.spikes
    ]
