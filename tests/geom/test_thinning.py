"""Thinning: as many parts and holes as before, one pixel wide; chains cover it. Parts are counted by scipy's label."""

import numpy as np
import pytest
from scipy import ndimage

from shellgen.geom.thinning import skeleton, traced


def parts_and_holes(mask):
    """Of the ink with eight neighbours, of the rest with four, its frame included."""
    return ndimage.label(mask, np.ones((3, 3)))[1], ndimage.label(~np.pad(mask, 1))[1]


@pytest.mark.parametrize("seed", range(20))
def test_thinning_keeps_parts_and_holes_and_leaves_no_square(seed):
    noise = ndimage.gaussian_filter(np.random.default_rng(seed).normal(size=(90, 120)), 2.5)
    mask = noise > 0.02
    thin = skeleton(mask)
    assert parts_and_holes(thin) == parts_and_holes(mask)
    assert not (thin & ~mask).any()
    assert not (thin[1:, 1:] & thin[:-1, 1:] & thin[1:, :-1] & thin[:-1, :-1]).all()


def test_chains_cover_every_pixel_and_end_at_nodes():
    mask = np.zeros((60, 80), bool)
    mask[30, 5:75] = mask[10:50, 40] = True
    mask[np.arange(5, 25), np.arange(5, 25)] = True
    found = traced(mask)
    assert sorted(tuple(np.round(node)) for node in found.nodes.tolist()) == sorted(
        [(30, 5), (30, 74), (10, 40), (49, 40), (5, 5), (24, 24), (30, 40)]
    )
    assert len(found.chains) == 5
    covered = {tuple(map(int, point)) for chain in found.chains for point in chain.points}
    assert len({tuple(p) for p in np.argwhere(mask).tolist()} - covered) <= 1  # the middle of the crossing


def test_a_ring_is_one_chain_without_ends():
    y, x = np.mgrid[:40, :40]
    ring = np.abs(np.hypot(x - 20, y - 20) - 12) < 2
    (chain,) = traced(skeleton(ring)).chains
    assert chain.start == chain.end == -1
    radius = np.hypot(*(chain.points - 20).T)
    assert np.abs(radius - 12).max() < 1.5
