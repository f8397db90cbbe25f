"""How the shell hangs, in the record, and as lists that a maker works from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shellgen.canvas import Table
from shellgen.record.rounding import rounded
from shellgen.wear import Anchor, AnchorPatch, Case, Hold, StrapPiece, Wear


@dataclass(frozen=True, slots=True)
class CaseEntry:
    """A posture. factor : of the weight; pulls_n : at the anchors in their order, empty if the shell is not held"""

    name: str
    forward_deg: float
    sideways_deg: float
    factor: float
    held: bool
    pulls_n: tuple[float, ...]
    back_n: float | None


@dataclass(frozen=True, slots=True)
class AnchorEntry:
    """Where a strap is fastened on the inside of the shell.

    from : the middle of one edge, from which along_rim_mm and in_from_rim_mm are measured; turn_deg : of the pull from
    straight back to the rim; pull_n : that it is designed for; standing_n : upright; off_foam_deg : of the pull
    """

    id: str
    plate: str
    point_mm: tuple[float, ...]
    from_: str
    along_rim_mm: float
    in_from_rim_mm: float
    turn_deg: float
    clear_mm: float
    standing_n: float
    pull_n: float
    off_foam_deg: float
    stress_kpa: float
    peel_n_per_mm: float
    patch: str
    patch_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PressureEntry:
    """Pressure of a strap where it bends around the body. radius_mm : null if the wearer's measures are private"""

    strap: str
    where: str
    width_mm: float
    radius_mm: float | None
    standing_kpa: float
    most_kpa: float


@dataclass(frozen=True, slots=True)
class StrapPieceEntry:
    """One of the pieces of webbing of a strap. anchor : to whose patch it is sewn, without -L or -R if there is one on
    each side; to_buckle_mm : on the body, from anchor to buckle; adjusts : whether it runs through the half of the
    buckle that adjusts, else it is sewn round the bar of the other half
    """

    anchor: str
    to_buckle_mm: float
    cut_mm: float
    adjusts: bool


@dataclass(frozen=True, slots=True)
class StrapEntry:
    """`count` equal straps. cut_mm : of its pieces together, 0 for what is bought ready-made; buckles : of all of them,
    by name; pieces : of each
    """

    name: str
    count: int
    width_mm: float
    on_body_mm: float
    cut_mm: float
    buckles: Mapping[str, int]
    pieces: tuple[StrapPieceEntry, ...]


@dataclass(frozen=True, slots=True)
class WearEntry:
    """share_of_body_mass : null if the wearer's measures are private; share_on_neck : of the weight, upright"""

    harness: str
    group: str
    load_n: float
    share_of_body_mass: float | None
    share_on_neck: float
    cases: tuple[CaseEntry, ...]
    anchors: tuple[AnchorEntry, ...]
    pressures: tuple[PressureEntry, ...]
    straps: tuple[StrapEntry, ...]


def wear(of: Wear, *, private: bool) -> WearEntry:
    """private : leaves out what would reveal the wearer's measures"""
    return WearEntry(
        harness=of.harness,
        group=of.body.group,
        load_n=rounded(of.load_n, 2),
        share_of_body_mass=None if private else rounded(of.body_share, 4),
        share_on_neck=rounded(of.neck_share, 4),
        cases=tuple(_case(case, hold) for case, hold in zip(of.cases, of.holds, strict=True)),
        anchors=tuple(_anchor(anchor, of.patches[anchor.patch]) for anchor in of.anchors),
        pressures=tuple(
            PressureEntry(
                strap=p.strap,
                where=p.where,
                width_mm=rounded(p.width, 2),
                radius_mm=None if private else rounded(p.radius, 1),
                standing_kpa=rounded(p.standing_kpa, 2),
                most_kpa=rounded(p.most_kpa, 2),
            )
            for p in of.pressures
        ),
        straps=tuple(
            StrapEntry(
                name=s.name,
                count=s.count,
                width_mm=rounded(s.width, 2),
                on_body_mm=rounded(s.on_body, 0),
                cut_mm=rounded(s.cut, 0),
                buckles={name: count * s.count for name, count in s.buckles},
                pieces=tuple(_piece(piece) for piece in s.pieces),
            )
            for s in of.straps
        ),
    )


def _piece(of: StrapPiece) -> StrapPieceEntry:
    side = f"-{of.side[0].upper()}" if of.side else ""
    return StrapPieceEntry(f"{of.role}{side}", rounded(of.to_buckle, 0), rounded(of.length, 0), of.adjusts)


def _case(case: Case, hold: Hold | None) -> CaseEntry:
    return CaseEntry(
        name=case.name,
        forward_deg=rounded(np.degrees(case.forward), 1),
        sideways_deg=rounded(np.degrees(case.sideways), 1),
        factor=rounded(case.factor, 2),
        held=hold is not None,
        pulls_n=() if hold is None else tuple(rounded(pull, 2) for pull in hold.pulls),
        back_n=None if hold is None else rounded(hold.back, 2),
    )


def _anchor(anchor: Anchor, patch: AnchorPatch) -> AnchorEntry:
    return AnchorEntry(
        id=anchor.name,
        plate=anchor.plate,
        point_mm=tuple(rounded(x, 2) for x in anchor.point),
        from_=f"middle of the {anchor.edge} edge",
        along_rim_mm=rounded(anchor.along, 2),
        in_from_rim_mm=rounded(anchor.up, 2),
        turn_deg=rounded(np.degrees(anchor.turn), 1),
        clear_mm=rounded(anchor.clear, 1),
        standing_n=rounded(anchor.standing_n, 2),
        pull_n=rounded(anchor.pull_n, 2),
        off_foam_deg=rounded(np.degrees(anchor.bond.angle), 1),
        stress_kpa=rounded(anchor.bond.stress_kpa, 2),
        peel_n_per_mm=rounded(anchor.bond.peel, 4),
        patch=f"patch-{patch.role}",
        patch_mm=(patch.length, patch.width),
    )


def tables(of: WearEntry) -> tuple[Table, ...]:
    """Anchors, straps, pulls and pressures; none without a harness."""
    if not of.anchors:
        return ()
    names = [a.id for a in of.anchors]
    anchors = [
        (a.id, a.plate, a.from_, round(a.along_rim_mm), round(a.in_from_rim_mm),
         " x ".join(f"{side:g}" for side in a.patch_mm), a.pull_n)
        for a in of.anchors
    ]  # fmt: skip
    straps = [
        (s.name, s.count, s.width_mm, s.on_body_mm, s.cut_mm or "bought ready-made",
         ", ".join(f"{count} {name}" for name, count in s.buckles.items()))
        for s in of.straps
    ]  # fmt: skip
    pieces = [
        (s.name, s.count, piece.anchor, piece.cut_mm, "runs through the half that adjusts" if piece.adjusts
         else "sewn round the bar of the other half")
        for s in of.straps for piece in s.pieces
    ]  # fmt: skip
    pulls = [
        (
            c.name,
            c.factor,
            *(c.pulls_n or ["not held"] * len(names)),
            "" if c.back_n is None else c.back_n,
        )
        for c in of.cases
    ]
    pressures = [(p.strap, p.where, p.width_mm, p.standing_kpa, p.most_kpa) for p in of.pressures]
    return (
        Table(
            "anchors",
            ("anchor", "plate", "from", "along the rim (mm)", "in from the rim (mm)", "patch (mm)", "designed for (N)"),
            tuple(anchors),
        ),
        Table(
            "straps",
            ("strap", "count", "width (mm)", "anchor to anchor (mm)", "cut (mm)", "buckles in all"),
            tuple(straps),
        ),
        *(
            (Table("strap-pieces", ("strap", "count", "sewn to", "cut (mm)", "at the buckle"), tuple(pieces)),)
            if pieces
            else ()
        ),
        Table("pulls", ("case", "times the weight", *(f"{n} (N)" for n in names), "back (N)"), tuple(pulls)),
        Table(
            "strap-pressures",
            ("strap", "where", "width (mm)", "standing (kPa)", "largest (kPa)"),
            tuple(pressures),
        ),
    )
