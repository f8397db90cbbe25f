"""How the foam behaves in the virtual build, and how large its errors may be."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.fields import params as field


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    poisson: float = field.ratio(
        0.3, 0.0, 0.49, "How much the foam narrows when it is pulled; 0 like cork, near 0.5 like rubber."
    )
    kept_curvature: float = field.ratio(
        0.9, 0.0, 0.99, "The share of its curvature that a formed piece keeps once it has cooled."
    )
    forming_step: float = field.ratio(
        0.01,
        0.001,
        0.05,
        "The finest step of heat-stretching that you can judge by eye; the foam absorbs smaller ones.",
    )
    glued_limit: float = field.length(
        5.0, 0.5, 50.0, "How far the glued, unheated shell may deviate from the dome (root mean square)."
    )
    formed_limit: float = field.length(
        2.0, 0.2, 50.0, "How far the formed shell may deviate from the dome (root mean square)."
    )
    gap_limit: float = field.length(
        1.0, 0.05, 10.0, "How much the two edges of a seam may differ in length; glued foam absorbs that much."
    )
