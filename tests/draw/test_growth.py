"""Words about forming on a template lie where the foam grows or shrinks most; the small pictures name every mark."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from drawn import DEMOS, shell, templates_of
from inked import paths, words

from shellgen.canvas import Path, Text, lettering
from shellgen.draw.cards import join_card
from shellgen.draw.growth import NEAR_MOST, SHOWN, growth
from shellgen.draw.lines import sheet_of
from shellgen.pattern.joins import joins

POWER = 30


@pytest.fixture(params=DEMOS)
def darts(request: pytest.FixtureRequest):
    return shell(request.param, "darts")


def test_words_about_forming_lie_where_the_foam_changes_most(darts):
    """These shells have many darts and need little, so they are asked as if they needed much more."""
    said, pattern = 0, darts.foam.pattern
    more = tuple(replace(of, stretch=of.stretch**POWER) for of in pattern.flats)
    darts = replace(darts, foam=replace(darts.foam, pattern=replace(pattern, flats=more)))
    for index, sheet in enumerate(templates_of(darts)):
        piece, of = darts.foam.cut.pieces[index], darts.foam.pattern.flats[index]
        flat = of.flat[piece.faces].mean(axis=1)
        middles = flat - sheet_of(darts.foam.pattern, index)[0]
        change = growth(flat, of.stretch)
        leaders = [p.points for p in paths(sheet, "label") if "leader" in p.data]
        for verb, share in (("stretch here", change), ("compress here", -change)):
            found = [text for text in words(sheet) if text.text.startswith(verb)]
            assert len(found) <= (share.max() > SHOWN)
            for text in found:
                said += 1
                assert text.text == f"{verb} {100 * share.max():.1f} %"
                near = lettering.width(text.text, text.height)
                spots = np.array([text.at, *(end for start, end in leaders if np.hypot(*(start - text.at)) < near)])
                there = share[np.linalg.norm(middles[:, None] - spots, axis=2).argmin(axis=0)]
                assert there.max() >= (NEAR_MOST - 0.05) * share.max()
    assert said


def test_every_seat_has_its_name(darts):
    for index, sheet in enumerate(templates_of(darts)):
        said = {text.text for text in words(sheet)}
        missing = [name for name, _ in darts.top.seats[index] if name.removeprefix("spike-") not in said]
        assert not missing, sheet.name


def test_every_mark_has_its_number_in_the_picture_for_gluing(darts):
    of = joins(darts.foam.cut, darts.ground.mesh, darts.foam.marks)
    for index in range(len(darts.foam.cut.pieces)):
        card = join_card(darts.foam, index, of, across=170.0, up=170.0)
        said = [item.text for item in card.items if isinstance(item, Text)]
        for mark in darts.foam.marks:
            here = sum(spot[0] == index for spot in mark.at)
            assert said.count(str(mark.number)) >= here, f"mark {mark.number} on {card.name}"
        assert all(isinstance(item, Path | Text) for item in card.items)
