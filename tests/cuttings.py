"""Small domes and sets of cut lines on them, for tests of the seam plans."""

from __future__ import annotations

from itertools import product

import numpy as np
from polar import bowl, shell

from shellgen.dome import mesh as meshed
from shellgen.dome.surfaces import plan
from shellgen.dome.surfaces.plan import Params as PlanParams
from shellgen.pattern.plans._graph import SeamGraph, line_lengths
from shellgen.plates import turtle


def small_dome(steps=3):
    """A crown plate, then rings of 4 and 8 on half an ellipsoid: 14 choices."""
    rings = [(0.35, []), (0.7, [2, 6, 10, 14]), (1.0, [0, 2, 4, 6, 8, 10, 12, 14])]
    return shell(bowl(560.0, 460.0, 180.0), rings, around=16, steps=steps)


def turtle_dome():
    surface = plan.build(PlanParams())
    layout = turtle.build(surface, turtle.Params())
    return layout, meshed.build(surface, layout, meshed.Params(edge=40.0))


def net_of(layout, mesh):
    return SeamGraph(layout, line_lengths(mesh, mesh.points))


def all_sets(net):
    for bits in product((False, True), repeat=len(net.choices)):
        chosen = np.array(bits)
        if net.anchored(net.cut(chosen)):
            yield chosen


def random_sets(net, count, seed=0):
    random = np.random.default_rng(seed)
    return [random.random(len(net.choices)) < share for share in random.random(count)]
