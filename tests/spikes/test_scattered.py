"""Scattered spikes: never nearer than asked, and no room left for one more."""

from __future__ import annotations

from dataclasses import replace

import igl
import numpy as np
import pytest
from placed import FREE, RING, SMALL, asked, at, geodesics, shell, uv_of
from scipy.spatial import cKDTree
from spiked import ball

from shellgen.dome import mesh
from shellgen.geom.poisson_discs import scatter
from shellgen.spikes import place


def all_round(surface, found):
    return np.concatenate([found, found[found[:, 1] > 0] * (1, -1)])


@pytest.mark.parametrize("seed", [1, 2])
def test_discs_on_a_half_sphere_by_great_circles(seed):
    """Neither nearer than asked, nor room for one more, by angles between radii."""
    radius, apart = 250.0, 62.0
    found = scatter(
        ball(radius), apart, lambda uv: radius * (np.pi / 2) * (1 - np.hypot(*uv.T)), taken=np.zeros((0, 2)),
        rng=np.random.default_rng(seed),
    )  # fmt: skip
    every = ball(radius).points(all_round(None, found)) / radius
    angle = np.arccos(np.clip(every @ every.T, -1, 1)) + 9 * np.eye(len(every))
    assert radius * angle.min() >= apart - 1e-3
    turn, out = np.meshgrid(np.linspace(-np.pi, np.pi, 241), np.linspace(0, 1, 121))
    grid = np.column_stack([(out * np.cos(turn)).ravel(), (out * np.sin(turn)).ravel()])
    dense = ball(radius).points(grid) / radius
    mirrored = np.abs(dense[:, 1]) * radius
    # a new place must also keep its distance from its own mirror image, or lie on the midline
    free = (np.arcsin(np.clip(mirrored / radius, 0, 1)) * radius >= apart / 2) | (grid[:, 1] == 0)
    nearest = radius * np.arccos(np.clip(dense[free] @ every.T, -1, 1)).min(axis=1)
    assert nearest.max() < 1.02 * apart
    covered = len(every) * np.pi * (apart / 2) ** 2 / (2 * np.pi * radius**2)
    assert 0.45 < covered < 0.75, "as points without order usually cover it"


def test_scattered_spikes_keep_their_distance_by_exact_geodesics_of_the_mesh():
    """libigl's exact geodesics (Mitchell, Mount and Papadimitriou) on a fine mesh, to the nearest vertices."""
    surface, net, _ = shell("hexes")
    fine = mesh.build(surface, net, mesh.Params(edge=9))
    group = replace(SMALL, place=at("scattered", apart=48.0), **FREE)
    uv = uv_of(group, layout="hexes")
    assert len(uv) > 60
    off, vertex = cKDTree(fine.points).query(surface.points(uv))
    near = cKDTree(surface.points(uv)).query_pairs(60.0)
    points, faces = np.asarray(fine.points, order="C"), np.asarray(fine.faces, np.int64, order="C")
    none = np.zeros(0, np.int64)
    for i in sorted({i for i, _ in near})[::6]:
        others = [k for pair in near for k in pair if i in pair and k != i]
        far = igl.exact_geodesic(points, faces, np.array([vertex[i]]), none, vertex[others].astype(np.int64), none)
        assert (far + off[i] + off[others] >= 48.0 - 0.2).all()
    pairs = np.array(sorted(near))
    assert geodesics(surface, uv[pairs[:, 0]], uv[pairs[:, 1]]).min() >= 48.0 - 0.01


@pytest.mark.parametrize("layout, options", [("rays", FREE), ("turtle", {})])
def test_no_further_spike_fits_between_the_scattered(layout, options):
    """Anywhere with room for base, ring and clearance, the nearest is nearer than asked, and 2 %."""
    surface, net, grid = shell(layout)
    apart, group = 55.0, replace(SMALL, place=at("scattered", apart=55.0), size_at_rim=1.0)
    group = replace(group, **options)
    uv = uv_of(group, layout=layout)
    turn, out = np.meshgrid(np.linspace(0, np.pi, 91), np.sqrt(np.linspace(0.001, 0.99, 60)))
    tried = np.column_stack([(out * np.cos(turn)).ravel(), (out * np.sin(turn)).ravel()])
    tried[:, 1] = np.where(tried[:, 1] < 1e-9, 0.0, tried[:, 1])
    net_lines = {kind: np.concatenate([grid.points[v] for one, v in zip(net.lines, grid.line_vertices, strict=True)
                                       if one.kind == kind]) for kind in ("plate", "rim")}  # fmt: skip
    clear = {kind: cKDTree(points).query(surface.points(tried))[0] for kind, points in net_lines.items()}
    needed = 1.04 * 7.0 + group.clearance
    free = (clear["plate"] > needed + 0.5) & (clear["rim"] > max(needed, 1.04 * 7.0) + 0.5)
    own = 2 * geodesics(surface, tried, tried * (1, 0))
    free &= (own >= 1.02 * apart) | (tried[:, 1] == 0)
    near = cKDTree(surface.points(uv)).query(surface.points(tried[free]), k=3)[1]
    ways = [geodesics(surface, tried[free], uv[k]) for k in near.T]
    assert free.sum() > 500 and np.min(ways, axis=0).max() < 1.02 * apart


def test_scattered_spikes_keep_to_their_clearance_and_are_not_made_smaller():
    surface, net, grid = shell()
    group = replace(SMALL, place=at("scattered", apart=40.0), ring=True)
    made, findings = place.build(surface, grid, net, (group,), ring_thickness=RING)
    assert len(made) == len(asked(group)) and not [f for f in findings if "tip" not in f.text]


def test_scattered_spikes_keep_their_distance_from_groups_before():
    surface, _, _ = shell()
    first = replace(SMALL, place=at("corners"))
    uv = uv_of(replace(SMALL, place=at("scattered", apart=50.0), **FREE), before=(first,))
    there = uv_of(first)
    pairs = cKDTree(surface.points(uv)).sparse_distance_matrix(cKDTree(surface.points(there)), 60.0).keys()
    one, other = np.array([*pairs]).T
    assert geodesics(surface, uv[one], there[other]).min() >= 50.0 - 0.01


def test_a_seed_gives_the_same_places_again():
    group = replace(SMALL, place=at("scattered", apart=60.0, seed=7))
    assert np.array_equal(uv_of(group), uv_of(group))
