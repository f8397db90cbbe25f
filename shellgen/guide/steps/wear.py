"""Straps, the first wearing, and the days after."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Step, Ticks, Words
from shellgen.guide.steps._cautions import LOAD, NECK

PLACE = 170


def steps(kit: Kit) -> Iterator[Step]:
    yield kit.step(
        "straps",
        "Fit the straps",
        needs=("shaded shell", "materials", "tools"),
        makes=("finished shell",),
        tasks=("seal, fit the straps, try it on",),
        blocks=(
            NECK,
            Words(f"The shell weighs about {kit.grams(kit.figures['mass_g'])}. Straps 50 to 80 mm wide over both "
                  "shoulders press least; a second pair under the arms keeps it from swinging."),
            Ticks(
                (
                    "Seal the outside if your paint asks for it.",
                    "Glue a patch of foam, at least three times as wide as the strap, inside wherever a strap is held; "
                    "sew or rivet the strap through the patch, not through bare foam.",
                    "Close the straps with buckles that the wearer can open with one hand.",
                    "Pad the inside where it meets the shoulder blades and the seat.",
                )
            ),
        ),
    )  # fmt: skip
    yield kit.step(
        "try",
        "Wear it for a trial",
        needs=("finished shell",),
        makes=("tried shell",),
        blocks=(
            LOAD,
            Ticks(
                (
                    "Five minutes standing, walking, sitting, through a door sideways and straight, a look over each "
                    "shoulder, up a stair.",
                    "Then as long as it will be worn. Look for red marks and move straps or padding.",
                    "Pull at every spike, ring and strap once more.",
                    "The wearer opens all straps alone, eyes closed.",
                )
            ),
        ),
    )
    yield kit.step(
        "keep",
        "Pack, keep and mend",
        needs=("tried shell",),
        makes=(),
        blocks=(
            Ticks(
                (
                    "Carry it crown up in a box with padding under the rim; nothing lies on the spikes.",
                    "Keep it out of hot cars and sun: foam forms again where it is warm.",
                    "Repair kit: contact adhesive in a small tube, a spare spike of each size, leftover paint, tape, "
                    "needle and thread, a spare buckle.",
                    "A seam that opens: clean, glue both faces, wait, press. A dent: warm it from inside, push it out.",
                    "Wipe it with a damp cloth. Let straps and padding dry in the air after every wearing.",
                    "Keep shell.json and the preset: the same pieces can be printed again.",
                )
            ),
        ),
    )
