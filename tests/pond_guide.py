"""What the guide of a small shell is made from."""

import numpy as np
import once

from shellgen import guide, preset
from shellgen.canvas import Drawing, Path, Text
from shellgen.core.flow import Flow
from shellgen.pipeline import shell_of
from shellgen.record import record

SMALL = """
title: "The <Pond> & Co"
dome: {length: 300, width: 260, height: 100, keel: 0}
plates: {layout: turtle, vertebrals: 3, pleurals: 2, marginals: 6}
mesh: {edge: 28}
seams: {plan: plates}
spikes: [{plates: vertebral, height: 20}]
nest: {effort: quick}
"""
SHEET = Drawing("sheet", 40.0, 30.0, (Path(np.array([(1.0, 1.0), (39.0, 29.0)]), "cut"), Text("a", (5.0, 5.0))))


def kit():
    """The kit of a small shell cut into many pieces; sheets that are drawn elsewhere are stood in for by one line."""
    return once.shared("guide-pond", _kit)


def _kit(folder):
    file = folder / "pond.yaml"
    file.write_text(SMALL)
    how = preset.read(file)
    shell = shell_of(how, Flow())
    figures = record(shell)
    pages = {"templates": {piece.id: ("A1", "A2") for piece in figures.pieces}}
    drawings = {"edging-plan.svg": SHEET, **{f"sheets/{s.id}-order.svg": SHEET for s in figures.sheets}}
    return guide.kit_of(shell, how, figures, pages, drawings)
