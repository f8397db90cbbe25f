"""Chains of edges whose flat lengths must agree: the two sides of a seam between two marks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from shellgen.core.arrays import Complexes, Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Mates:
    """Linear conditions on edge lengths: each row of `weights` times the flat lengths must vanish.

    edges   : (e, 2) int, vertices
    weights : (k, e) sparse; +1 on one side of a stretch of seam, -1 on the other, a fraction where a mark
              falls within an edge
    """

    edges: Ints
    weights: sparse.csr_array


@dataclass(frozen=True, slots=True, eq=False)
class Stations:
    """The vertices on which each condition depends, once for every condition and vertex.

    condition, vertex : (s,) int, sorted by condition
    edge, row  : (w,) the conditions' entries: which edge, which condition
    weight     : (w,) their weights
    tail, head : (w,) station of the edge's first and second vertex
    pairs      : (2, p) all ordered pairs of stations of one condition
    """

    condition: Ints
    vertex: Ints
    edge: Ints
    row: Ints
    weight: Floats
    tail: Ints
    head: Ints
    pairs: Ints


def stations(mates: Mates) -> Stations:
    """Prepares the conditions for repeated differentiation."""
    entries = mates.weights.tocoo()
    row, edge = entries.coords
    size = int(mates.edges.max(initial=0)) + 1
    key = np.concatenate([row * size + mates.edges[edge, 0], row * size + mates.edges[edge, 1]]).astype(np.int64)
    unique, place = np.unique(key, return_inverse=True)
    condition = unique // size
    starts = np.searchsorted(condition, np.arange(mates.weights.shape[0] + 1))
    counts = np.diff(starts)[condition]
    first = np.repeat(np.arange(len(unique)), counts)
    rank = np.arange(len(first)) - np.repeat(np.cumsum(counts) - counts, counts)
    second = starts[condition[first]] + rank
    tail, head = np.split(place, 2)
    return Stations(condition, unique % size, edge, row, entries.data, tail, head, np.stack([first, second]))


def differences(mates: Mates, flat: Complexes) -> Floats:
    """(k,) difference of length of the mates, mm; flat : (n,) complex."""
    return np.asarray(mates.weights @ np.abs(flat[mates.edges[:, 1]] - flat[mates.edges[:, 0]]))


def gradients(mates: Mates, at: Stations, flat: Complexes) -> Complexes:
    """(s,) complex: gradient of each condition by the position of the station's vertex; flat : (n,) complex."""
    along = flat[mates.edges[:, 1]] - flat[mates.edges[:, 0]]
    pull = at.weight * (along / np.abs(along))[at.edge]
    count = len(at.vertex)
    real = np.bincount(at.head, pull.real, minlength=count) - np.bincount(at.tail, pull.real, minlength=count)
    imaginary = np.bincount(at.head, pull.imag, minlength=count) - np.bincount(at.tail, pull.imag, minlength=count)
    return real + 1j * imaginary
