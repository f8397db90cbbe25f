"""Lettering is read from the foot of a sheet or from its right, however the sheet was turned."""

import numpy as np
import pytest
import shapely

from shellgen.canvas import Path, Text, lettering
from shellgen.canvas.reading import overturned, stood, upright
from shellgen.draw.placing import texts

TURNS = np.radians([-170, -90, -40, 0, 35, 90, 120, 180, 250])


@pytest.mark.parametrize("turn", TURNS)
def test_no_lettering_stands_on_its_head(turn):
    items = [Text("17", (10.0, 20.0), 2.5, angle) for angle in TURNS]
    for item in stood(items, turn):
        assert -np.pi / 2 - 1e-6 <= (item.angle + turn + np.pi) % (2 * np.pi) - np.pi <= np.pi / 2 + 1e-6


@pytest.mark.parametrize("angle", TURNS)
def test_a_direction_made_upright_is_the_same_line(angle):
    assert abs(np.sin(upright(angle) - angle)) < 1e-9
    assert not overturned(upright(angle))


@pytest.mark.parametrize("lines", [["head"], ["C-mid-2", "cut 1, textured side up", "10 mm foam"]])
def test_lettering_keeps_its_room_and_the_order_of_its_lines(lines):
    words = texts(lines, np.array([30.0, 40.0]), 3.5, 0.4)
    room = shapely.union_all([shapely.Polygon(lettering.box(word)) for word in words]).minimum_rotated_rectangle
    edge = Path(np.array([(0.0, 0.0), (1.0, 0.0)]), "cut")
    first, *turned = stood([edge, *words], np.pi)
    assert first is edge
    assert [word.text for word in turned] == lines
    assert all(room.buffer(1e-6).covers(shapely.Polygon(lettering.box(word))) for word in turned)
    read = np.array([word.at for word in turned])
    below = np.array([np.sin(turned[0].angle), -np.cos(turned[0].angle)])
    assert (np.diff(read @ below) > 3.5).all()


def test_what_can_be_read_stays_as_it_is():
    words = texts(["to C-mid-1"], np.array([0.0, 0.0]), 2.5, 0.2)
    assert tuple(stood(words, np.pi / 2 - 0.2)) == words


def test_words_apart_are_turned_each_by_itself():
    """Two numbers side by side are no lines of one paragraph: each stays beside its own mark."""
    numbers = [Text("6", (0.0, 0.0), 2.5, anchor="middle"), Text("9", (30.0, -3.0), 2.5, anchor="middle")]
    for before, after in zip(numbers, stood(numbers, np.pi), strict=True):
        assert np.allclose(lettering.box(before).mean(axis=0), lettering.box(after).mean(axis=0))
