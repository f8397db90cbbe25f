"""Balances found against balances worked by hand, and laws that every one of them keeps."""

import numpy as np
import pytest
from scipy.optimize import linprog

from shellgen.geom.equilibrium import least_work, wrench

X, Z = np.array([1.0, 0, 0]), np.array([0, 0, 1.0])


def test_wrench_of_a_force_is_the_force_and_its_moment():
    columns = wrench(np.array([[2.0, 3.0, 5.0]]), np.array([[0.0, 0.0, 7.0]]))
    assert columns[:, 0] == pytest.approx([0, 0, 7, 21, -14, 0])


def test_a_plank_on_two_props():
    """10 N a quarter of the way along: by moments about either prop they bear 7.5 N and 2.5 N."""
    props = wrench(np.array([[0.0, 0, 0], [400.0, 0, 0]]), np.array([Z, Z]))
    load = wrench(np.array([[100.0, 0, 0]]), -10 * Z[None])[:, 0]
    assert least_work(props, load, np.ones(2), np.eye(2), span=400) == pytest.approx([7.5, 2.5])


def test_three_props_share_as_springs_do():
    """Equal springs at 0, 1 and 2 under a rigid plank loaded at its end: it tilts, so they bear -1/6, 2/6 and 5/6. They
    cannot pull: the first lets go, and the others would have to bear -0 and 1."""
    props = wrench(np.array([[0.0, 0, 0], [1.0, 0, 0], [2.0, 0, 0]]), np.array([Z, Z, Z]))
    load = wrench(np.array([[2.0, 0, 0]]), -Z[None])[:, 0]
    both_ways = np.zeros((1, 3))
    both_ways[0, 2] = 1
    assert least_work(props, load, np.ones(3), both_ways) == pytest.approx([-1 / 6, 2 / 6, 5 / 6])
    assert least_work(props, load, np.ones(3), np.eye(3)) == pytest.approx([0, 0, 1])


def test_forces_that_statics_alone_settle_may_be_nothing():
    """A load right over one of two props leaves the other bare: no rounding may turn that into no balance."""
    props = wrench(np.array([[0.3, 0, 0], [0.7, 0, 0]]), np.array([Z, Z]))
    load = wrench(np.array([[0.7, 0, 0]]), -0.1 * Z[None])[:, 0]
    assert least_work(props, load, np.array([0.3, 0.7]), np.eye(2)) == pytest.approx([0, 0.1])


def least_largest(wrenches, load, counted, signs, *, span=1.0):
    """The smallest that the largest of the `counted` (n,) bool forces can be, however the rest share; None where no
    forces balance the load. No way of holding the body has a lower one. Arguments as for `least_work`.
    """
    size = np.repeat([1.0, span], 3)
    count = wrenches.shape[1]
    weight = max(float(np.linalg.norm(load / size)), 1e-300)
    under = np.hstack([np.eye(count)[counted], -np.ones((int(counted.sum()), 1))])
    under = np.vstack([under, np.hstack([-signs, np.zeros((len(signs), 1))])])
    found = linprog(
        np.append(np.zeros(count), 1.0),
        A_ub=under,
        b_ub=np.zeros(len(under)),
        A_eq=np.hstack([wrenches / size[:, None], np.zeros((6, 1))]),
        b_eq=-load / size / weight,
        bounds=(None, None),
        method="highs",
    )
    return float(found.x[-1] * weight) if found.status == 0 else None


def test_none_where_nothing_balances():
    props = wrench(np.array([[0.0, 0, 0], [1.0, 0, 0]]), np.array([Z, Z]))
    beyond = wrench(np.array([[1.5, 0, 0]]), -Z[None])[:, 0]
    sideways = wrench(np.array([[0.5, 0, 0]]), X[None])[:, 0]
    for load in (beyond, sideways):
        assert least_work(props, load, np.ones(2), np.eye(2)) is None
        assert least_largest(props, load, np.ones(2, bool), np.eye(2)) is None
    assert least_work(props, np.zeros(6), np.ones(2), np.eye(2)) == pytest.approx([0, 0])


def random_case(seed):
    """Pulls from above, props below, a load between: some can be balanced, some cannot."""
    rng = np.random.default_rng(seed)
    ropes, props = rng.integers(2, 6), rng.integers(1, 8)
    start = rng.uniform(-200, 200, (ropes, 3))
    way = rng.normal(size=(ropes, 3)) + np.array([1.5, 0, -0.5])
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    feet = np.column_stack([rng.uniform(-200, 200, (props, 2)), np.zeros(props)])
    columns = np.hstack(
        [wrench(start, way), wrench(feet, np.tile(Z, (props, 1))), wrench(feet, np.tile([0, 1.0, 0], (props, 1)))]
    )
    one, no = np.eye(props), np.zeros((props, ropes))
    signs = np.block([[np.eye(ropes), np.zeros((ropes, 2 * props))], [no, 0.5 * one, one], [no, 0.5 * one, -one]])
    load = wrench(rng.uniform(-60, 60, (1, 3)), np.array([[-8.0, rng.uniform(-2, 2), -1.0]]))[:, 0]
    return columns, load, rng.uniform(0.02, 2.0, ropes + 2 * props), signs, ropes


def test_every_balance_balances_and_is_the_cheapest():
    """Against a linear program of a reference library: both find a balance, or neither does; and among neighbours that
    balance as well, none takes less work."""
    found = 0
    for seed in range(150):
        columns, load, give, signs, ropes = random_case(seed)
        counted = np.arange(len(give)) < ropes
        forces = least_work(columns, load, give, signs, span=200)
        least = least_largest(columns, load, counted, signs, span=200)
        assert (forces is None) == (least is None), seed
        if forces is None:
            continue
        found += 1
        size = np.repeat([1.0, 200.0], 3)
        assert np.abs((columns @ forces + load) / size).max() < 1e-9
        assert (signs @ forces > -1e-7).all()
        assert forces[counted].max() > least - 1e-7
        _, s, vt = np.linalg.svd(columns / size[:, None])
        free = vt[(s > 1e-10 * s[0]).sum() :]
        rng = np.random.default_rng(seed)
        for step in (1e-3, 1e-1, 1.0):
            other = forces + step * rng.normal(size=(20, len(free))) @ free
            allowed = other[(other @ signs.T > 0).all(axis=1)]
            assert (allowed**2 @ give > forces**2 @ give - 1e-9).all()
    assert 30 < found < 140, "both kinds of cases were tried"
