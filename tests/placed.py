"""Places on small shells with plates of every kind, to measure where spikes are asked to stand."""

from __future__ import annotations

from functools import cache

import numpy as np

from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.fields.params import Chosen
from shellgen.geom.geodesics import shortest
from shellgen.plates import bands, cells, hexes, rays, turtle
from shellgen.spikes import spots
from shellgen.spikes.groups import Group
from shellgen.spikes.placings import line, scattered

RING = 5.0
FREE = {"clearance": -20.0, "size_at_rim": 1.0}
LAYOUTS = {"turtle": turtle, "hexes": hexes, "rays": rays, "bands": bands, "cells": cells}
SMALL = Group(profile="stud", base_diameter=14.0, height=7.0, tip_radius=7.0, ring=False)


@cache
def shell(layout: str = "turtle"):
    surface = plan.build(plan.Params(length=520, width=420, height=170, taper=-0.1, keel=9))
    module = LAYOUTS[layout]
    net = module.build(surface, module.Params())
    return surface, net, mesh.build(surface, net, mesh.Params(edge=22))


def at(name: str, **own) -> Chosen:
    members = {"line": line, "scattered": scattered}
    return Chosen(name, members[name].Params(**own) if name in members else None)


def asked(group: Group, *, layout: str = "turtle", before: tuple[Group, ...] = ()):
    surface, net, grid = shell(layout)
    every = spots.spots(surface, grid, net, (*before, group), ring_thickness=RING)
    return [spot for spot in every if spot.group == len(before)]


def uv_of(group: Group, **where):
    return np.array([spot.uv for spot in asked(group, **where)])


def geodesics(surface, first, second):
    return shortest(surface, np.asarray(first, float), np.asarray(second, float), steps=12, close=1e-7).length
