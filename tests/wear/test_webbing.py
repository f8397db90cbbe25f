"""Straps on the lay figure: none runs through it, each is as wide as its webbing, and left is right's mirror image."""

from dataclasses import replace

import drawn
import numpy as np
import pytest

from shellgen.draw import webbing
from shellgen.wear.wearer import Params, body, fit, mannequin


@pytest.fixture(scope="module")
def worn():
    of, wearer = drawn.shell("marsh-warden"), body(Params())
    return replace(of.worn, body=wearer, fit=fit.build(wearer, of.ground.mesh, of.top.spikes))


def test_no_strap_runs_through_the_figure(worn):
    made = webbing.straps(worn)
    assert {part.name for part in made} == {strand.name for strand in worn.wear.strands}
    for part in made:
        clear = mannequin.clear_of(part.vertices, worn.body, worn.fit, 0.0)
        assert np.abs(clear - part.vertices).max() < 1e-9
    middle = np.array([[worn.fit.neck - 250.0, 0.0, worn.fit.back - worn.body.chest_depth / 2 - 1.0]])
    moved = mannequin.clear_of(middle, worn.body, worn.fit, 5.0)
    assert np.linalg.norm(moved - middle) > 50, "from within the chest a point is moved far"


def test_a_ribbon_is_as_wide_as_its_webbing(worn):
    width = {strand.name: strand.width for strand in worn.wear.strands}
    for part in webbing.straps(worn):
        left, _, right = np.split(part.vertices[: len(part.vertices) // 2], 3)
        assert np.median(np.linalg.norm(left - right, axis=1)) == pytest.approx(width[part.name], rel=0.05)


def test_straps_of_both_sides_are_mirror_images(worn):
    first, second, *_ = webbing.straps(worn)
    for one, other in zip(np.split(first.vertices, 6), np.split(second.vertices, 6)[2::-1], strict=False):
        assert np.abs(one - other * [1, -1, 1]).max() < 1e-6


def test_a_vest_and_an_unknown_wearer_show_no_webbing(worn):
    cloth = tuple(replace(strand, cloth=True) for strand in worn.wear.strands)
    assert not webbing.straps(replace(worn, wear=replace(worn.wear, strands=cloth)))
    assert not webbing.straps(replace(worn, body=None))
