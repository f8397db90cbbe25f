"""The step on forming says what the virtual build found; ring and rim are shown in section."""

from dataclasses import replace

import pond_guide
import pytest
from test_guide import texts

from shellgen import guide
from shellgen.guide.leaf import Gallery, Picture, Rows
from shellgen.guide.steps import form


@pytest.fixture(scope="module")
def small():
    return pond_guide.kit()


def test_one_step_explains_forming_with_the_plates_that_grow_most(small):
    """Cut into its plates this shell needs little, so it is asked as if each plate grew ten times as much."""
    more = tuple(replace(entry, growth=10 * entry.growth) for entry in small.figures.forming)
    small = replace(small, figures=replace(small.figures, forming=more))
    (step,) = (step for step in guide.all_steps(small) if step.key == "form")
    (table,) = (block for block in step.blocks if isinstance(block, Rows))
    growth = {entry.plate: entry.growth for entry in small.figures.forming}
    named = [name.split(", ") for name, *_ in table.rows]
    assert 0 < len(named) <= form.ROWS and named[0][0] == max(growth, key=growth.get)
    least = min(growth[name] for pair in named for name in pair)
    others = [share for name, share in growth.items() if name not in {name for pair in named for name in pair}]
    assert len(named) == form.ROWS or max(others) <= max(max(growth.values()) / 2, form.SMALL) < least
    assert max(others) <= least + 1e-4
    holds = {piece.id: piece.plates for piece in small.figures.pieces}
    for pair, (_, on, share, length) in zip(named, table.rows, strict=True):
        assert (
            share.startswith(f"{100 * growth[pair[0]]:.1f} %, ") and length == f"{100 + 100 * growth[pair[0]]:.1f} mm"
        )
        assert all(pair[0] in holds[piece] for piece in on.split(", "))
    words = " ".join(texts(step))
    far = max(small.figures.heat, key=lambda row: row.stretch)
    near = max(small.figures.heat, key=lambda row: row.press)
    assert f"more than {100 * far.stretch:.1f} % ({far.stretch_plate})" in words
    assert f"more than {100 * near.press:.1f} % ({near.press_plate})" in words
    for word in ("Crosses", "Bars", "Open a window", "no open flame", "gloves", "acid vapour", "across"):
        assert word in words, word


def test_where_no_plate_grows_by_much_none_is_listed(small):
    assert max(entry.growth for entry in small.figures.forming) < form.SMALL
    (step,) = (step for step in guide.all_steps(small) if step.key == "form")
    assert not any(isinstance(block, Rows) for block in step.blocks)
    assert "no plate has to grow by much" in " ".join(texts(step))


def test_ring_and_rim_are_shown_in_section(small):
    steps = {step.key: step for step in guide.all_steps(small)}
    (ring,) = (block for block in steps["rings"].blocks if isinstance(block, Picture))
    (both,) = (block for block in steps["edging"].blocks if isinstance(block, Gallery))
    assert [p.drawing.name for p in (ring, both.pictures[1])] == ["ring-section", "edging-section"]
