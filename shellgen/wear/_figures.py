"""A harness as figures for the record, and as lists that a maker works from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from shellgen.canvas import Table

if TYPE_CHECKING:
    from shellgen.wear import Anchor, Case, Hold, Patch, Wear


def figures(wear: Wear, *, private: bool) -> dict[str, Any]:
    """For the record: mm, N, kPa, degrees and shares as the names say.

    private : leaves out figures that only concern people who may know the wearer's measures
    """
    return {
        "harness": wear.harness,
        "group": wear.body.group,
        "load_n": _round(wear.load_n),
        "share_of_body_mass": None if private else _round(wear.body_share, 4),
        "share_on_neck": _round(wear.neck_share, 4),
        "cases": [_case(case, hold) for case, hold in zip(wear.cases, wear.holds, strict=True)],
        "anchors": [_anchor(anchor, wear.patches[anchor.patch]) for anchor in wear.anchors],
        "pressures": [
            {
                "strap": p.strap,
                "where": p.where,
                "width_mm": _round(p.width),
                "radius_mm": None if private else _round(p.radius, 1),
                "standing_kpa": _round(p.standing_kpa),
                "most_kpa": _round(p.most_kpa),
            }
            for p in wear.pressures
        ],
        "straps": [
            {
                "name": s.name,
                "count": s.count,
                "width_mm": _round(s.width),
                "on_body_mm": _round(s.on_body, 0),
                "cut_mm": _round(s.cut, 0),
                "buckles": {name: count * s.count for name, count in s.buckles},
            }
            for s in wear.straps
        ],
    }


def _case(case: Case, hold: Hold | None) -> dict[str, Any]:
    return {
        "name": case.name,
        "forward_deg": _round(np.degrees(case.forward), 1),
        "sideways_deg": _round(np.degrees(case.sideways), 1),
        "factor": _round(case.factor),
        "held": hold is not None,
        "pulls_n": [] if hold is None else [_round(pull) for pull in hold.pulls],
        "back_n": None if hold is None else _round(hold.back),
    }


def _anchor(anchor: Anchor, patch: Patch) -> dict[str, Any]:
    return {
        "id": anchor.name,
        "plate": anchor.plate,
        "point_mm": [_round(x) for x in anchor.point],
        "from": f"middle of the {anchor.edge} edge",
        "along_rim_mm": _round(anchor.along, 2),
        "in_from_rim_mm": _round(anchor.up, 2),
        "turn_deg": _round(np.degrees(anchor.turn), 1),
        "clear_mm": _round(anchor.clear, 1),
        "standing_n": _round(anchor.standing_n),
        "pull_n": _round(anchor.pull_n),
        "off_foam_deg": _round(np.degrees(anchor.bond.angle), 1),
        "stress_kpa": _round(anchor.bond.stress_kpa),
        "peel_n_per_mm": _round(anchor.bond.peel, 4),
        "patch": f"patch-{patch.role}",
        "patch_mm": [patch.length, patch.width],
    }


def tables(record: Mapping[str, Any]) -> tuple[Table, ...]:
    """Anchors, straps, pulls and pressures, from the result of `figures`; empty without a harness."""
    if not record["anchors"]:
        return ()
    names = [a["id"] for a in record["anchors"]]
    anchors = [
        (a["id"], a["plate"], a["from"], round(a["along_rim_mm"]), round(a["in_from_rim_mm"]),
         " x ".join(f"{side:g}" for side in a["patch_mm"]), a["pull_n"])
        for a in record["anchors"]
    ]  # fmt: skip
    straps = [
        (s["name"], s["count"], s["width_mm"], s["on_body_mm"], s["cut_mm"] or "bought whole",
         ", ".join(f"{count} {name}" for name, count in s["buckles"].items()))
        for s in record["straps"]
    ]  # fmt: skip
    pulls = [
        (
            c["name"],
            c["factor"],
            *(c["pulls_n"] or ["not held"] * len(names)),
            "" if c["back_n"] is None else c["back_n"],
        )
        for c in record["cases"]
    ]
    pressures = [(p["strap"], p["where"], p["width_mm"], p["standing_kpa"], p["most_kpa"]) for p in record["pressures"]]
    return (
        Table(
            "anchors",
            ("anchor", "plate", "from", "along the rim (mm)", "in from the rim (mm)", "patch (mm)", "made for (N)"),
            tuple(anchors),
        ),
        Table(
            "straps",
            ("strap", "count", "width (mm)", "anchor to anchor (mm)", "cut (mm)", "buckles in all"),
            tuple(straps),
        ),
        Table("pulls", ("case", "times the weight", *(f"{n} (N)" for n in names), "back (N)"), tuple(pulls)),
        Table(
            "strap-pressures",
            ("strap", "where", "width (mm)", "standing (kPa)", "largest (kPa)"),
            tuple(pressures),
        ),
    )


def _round(value: float, digits: int = 2) -> float:
    return round(float(value), digits) + 0.0
