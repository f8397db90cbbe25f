"""The step on forming says what the virtual build found; ring and rim are shown in section."""

import re
from dataclasses import replace

import numpy as np
import pond_guide
import pytest
from test_guide import texts

from shellgen import guide
from shellgen.canvas import Text
from shellgen.geom.triangles import areas
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
    crosses = {entry.plate: entry for entry in small.figures.forming}
    for pair, (_, on, share, size, along, across) in zip(named, table.rows, strict=True):
        assert share.startswith(f"{100 * growth[pair[0]]:.1f} %, ")
        of = crosses[pair[0]]
        assert [size, along, across] == [
            f"{of.cross_mm:.0f} mm",
            *(f"{of.cross_mm * (1 + grows):.1f} mm" for grows in (of.cross_along, of.cross_across)),
        ]
        assert all(pair[0] in holds[piece] for piece in on.split(", "))
    words = " ".join(texts(step))
    far = max(small.figures.heat, key=lambda row: row.stretch)
    near = max(small.figures.heat, key=lambda row: row.press)
    assert f"stretched by more than {100 * far.stretch:.1f} % ({far.stretch_plate})" in words
    assert f"more than {100 * near.press:.1f} % ({near.press_plate})" in words
    for word in ("Crosses", "Bars", "Open a window", "no open flame", "gloves", "acid vapour", "across"):
        assert word in words, word


def test_every_plate_that_a_step_names_is_on_a_map_there(small):
    plates = {plate.name for plate in small.ground.layout.plates}
    for key in ("form", "straps"):
        (step,) = (step for step in guide.all_steps(small) if step.key == key)
        said = " ".join(
            [*texts(step), *(cell for b in step.blocks if isinstance(b, Rows) for row in b.rows for cell in row)]
        )
        named = {name for name in plates if re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", said)}
        plans = [b.drawing for b in step.blocks if isinstance(b, Picture) and b.drawing.name == "plate-map"]
        assert named <= {item.text for plan in plans for item in plan.items if isinstance(item, Text)}
        assert named or key != "form"


def test_in_inches_a_cross_is_of_a_round_length_there(small):
    entry = replace(small.figures.forming[0], cross_mm=70.0, cross_along=0.05, cross_across=0.0)
    cross = list(form._cross(replace(small, inches=True), entry))
    assert cross == ["64 mm (2 1/2 in)", "66.7 mm (2 5/8 in)", "63.5 mm (2 1/2 in)"]


def test_a_cross_grows_as_its_plate_does_on_the_outside(small):
    """Two lines at right angles grow together by about as much as the area of the plate."""
    mesh, of = small.ground.mesh, np.array(small.ground.layout.cell_plate)[small.ground.mesh.face_cell]
    shell_faces = np.concatenate([piece.shell_faces for piece in small.foam.cut.pieces])
    flat = np.empty(len(of))
    flat[shell_faces] = np.concatenate(
        [
            np.abs(areas(np.pad(of.flat, ((0, 0), (0, 1))), piece.faces))
            for piece, of in zip(small.foam.cut.pieces, small.foam.pattern.flats, strict=True)
        ]
    )
    outer = areas(mesh.points, mesh.faces)
    for entry in small.figures.forming:
        mine = of == [plate.name for plate in small.ground.layout.plates].index(entry.plate)
        area = outer[mine].sum() / flat[mine].sum() - 1
        grown = (1 + entry.cross_along) * (1 + entry.cross_across) - 1
        assert entry.cross_mm > 10 and abs(grown - area) < 0.03, entry.plate


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
