"""The card model and the seam test of small shells, as they are printed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import cards
import numpy as np
import once
import pytest
import shapely
from inked import paths, words

from shellgen import preset
from shellgen.core.flow import Flow
from shellgen.draw.lines import ticks
from shellgen.draw.model import PAGES, SCALES, PaperModel, paper_model
from shellgen.draw.shelf import on_sheets
from shellgen.geom.curves import length
from shellgen.model import Spike
from shellgen.pack.papers import card_model
from shellgen.pack.stack import PrintJob
from shellgen.pattern.flatmap import seats
from shellgen.pipeline import foam
from shellgen.pipeline.dome import Ground, ground
from shellgen.pipeline.foam import Foam
from shellgen.pipeline.spikes import placed
from shellgen.preset import Preset

SMALL = "dome: {length: 300, width: 260, height: 100, keel: 0}\nmesh: {edge: 28}\nshape: {rounds: 0}\n"
TURTLE = "plates: {layout: turtle, vertebrals: 3, pleurals: 2, marginals: 6}\n"
SHELLS = {
    "plates": TURTLE + "seams: {plan: plates}\nspikes: [{plates: vertebral, height: 40, base_diameter: 36}]",
    "hexes": "plates: {layout: hexes, size: 80}",
    "gores": "plates: {layout: hexes, size: 90}\nseams: {plan: gores}\nprint: {paper: Letter, page: lying}",
}


@dataclass(frozen=True, slots=True, eq=False)
class Small:
    """A shell with its model and the PDF of it."""

    how: Preset
    on: Ground
    foam: Foam
    spikes: tuple[Spike, ...]
    model: PaperModel
    data: bytes

    @property
    def flats(self) -> list[cards.Flat]:
        names, flats = [seam.name for seam in self.foam.cut.seams], []
        for k, (piece, of) in enumerate(zip(self.foam.cut.pieces, self.foam.pattern.flats, strict=True)):
            sides = [(names[s.seam] if s.seam >= 0 else None, of.flat[s.vertices]) for s in piece.sides]
            marks = [(tick.seam, tick.number, tick.at) for tick in ticks(self.foam, k, np.zeros(2))]
            flats.append(cards.Flat(piece.name, sides, marks))
        return flats


def made(folder: Path, name: str) -> Small:
    file = folder / f"{name}.yaml"
    file.write_text(SMALL + SHELLS[name])
    how = preset.read(file)
    on = ground(how, Flow())
    flat = foam.foam(how, Flow(), on).foam
    spikes = placed(how, Flow(), on)[0]
    model = paper_model(on, flat, spikes, how.print)
    assert model is not None
    papers = card_model(PrintJob(name, (), how.print), on, flat, spikes)
    assert max(papers.off.values()) < 0.001
    return Small(how, on, flat, spikes, model, papers.files[f"model-{how.print.paper}.pdf"])


@pytest.fixture(scope="module", params=SHELLS)
def small(request: pytest.FixtureRequest) -> Small:
    return once.shared(f"model-{request.param}", lambda folder: made(folder, request.param))


def test_printed_edges_are_equal_and_have_tabs_on_one_side(small: Small) -> None:
    pages = cards.sheets(small.data)
    found = [cards.find(flat, small.model.scale, pages) for flat in small.flats]
    assert len({(id(of.sheet), of.part.wkb) for of in found}) == len(found), "each piece is printed"
    assert cards.check_seams(found) == set(small.model.taped)
    cards.check(pages)


def test_no_larger_scale_fits_and_pages_are_few(small: Small) -> None:
    pages = cards.sheets(small.data)
    model = small.model
    assert len(pages) <= PAGES + 1 and model.scale in SCALES
    assert model.length * model.scale == pytest.approx(np.ptp(small.on.mesh.points[:, 0]))
    if model.scale > SCALES[0]:
        areas = sum(shapely.Polygon(flat.outline).area for flat in small.flats) / (model.scale - 1) ** 2
        sizes = [shapely.minimum_rotated_rectangle(shapely.Polygon(flat.outline / (model.scale - 1))).length / 2
                 for flat in small.flats]  # fmt: skip
        window = on_sheets(model.groups[0], **small.how.print.layout).frame.window[2:]
        assert areas > 0.4 * PAGES * np.prod(window) or max(sizes) > 0.75 * sum(window)


def test_every_part_has_its_name_scale_and_marks_in_words(small: Small) -> None:
    scale = f"card model 1:{small.model.scale}"
    sheets = {sheet.name: sheet for group in small.model.groups for sheet in group}
    for flat in small.flats:
        said = [text.text for text in words(sheets[flat.name])]
        assert flat.name in said
        assert scale in said or len(small.flats) > 10, "there is room on pieces that are not tiny"
    slip = " ".join(text.text for text in words(sheets["about the model"]))
    assert f"scale 1:{small.model.scale}, " in slip and "Caution, knife" in slip and "First score" in slip


def test_both_ends_of_every_seam_have_their_numbers_on_both_edges(small: Small) -> None:
    sheets = {sheet.name: sheet for group in small.model.groups for sheet in group}
    for k, flat in enumerate(small.flats):
        said = [text.text for text in words(sheets[flat.name])]
        ends = {tick.written for tick in ticks(small.foam, k, np.zeros(2)) if tick.end}
        assert ends and all(said.count(number) >= 1 for number in ends)


def test_what_has_no_tab_says_tape(small: Small) -> None:
    """Tabs and folds are read from the sheet: next to every long cut on the edge with the tabs, and at every tip."""
    sheets = {sheet.name: sheet for group in small.model.groups for sheet in group}
    for flat in small.flats:
        sheet = sheets[flat.name]
        said = sum(text.text == "tape" for text in words(sheet))
        bare = 0
        for seam in {name for name, _ in flat.sides if name}:
            lines = [path for path in (*paths(sheet, "cut"), *paths(sheet, "score")) if path.data.get("seam") == seam]
            sides = {path.data["side"] for path in lines}
            tabbed = {path.data["side"] for path in lines if path.layer == "score"}
            if len(sides) < 2:  # a seam to another piece
                continue
            spots = {side: [p.points[k] for p in lines if p.data["side"] == side for k in (0, -1)] for side in sides}
            for path in lines:
                if path.layer == "cut" and path.data["side"] in (tabbed or {min(sides)}):
                    other = np.array(spots[next(iter(sides - {path.data["side"]}))])
                    tip = min(np.hypot(*(other - end).T).min() for end in path.points[[0, -1]]) < 0.01
                    bare += bool(not tabbed or length(path.points) > (4.6 if tip else 9.1))
        assert said >= bare


def test_where_spikes_stand_is_drawn_with_its_sign(small: Small) -> None:
    sheets = {sheet.name: sheet for group in small.model.groups for sheet in group}
    places = seats(small.on.mesh, small.foam.cut, small.foam.pattern, small.spikes)
    for flat, own in zip(small.flats, places, strict=True):
        drawn = {(path.data["spike"], round(length(path.points), 3)) for path in paths(sheets[flat.name], "seat")}
        assert drawn == {(name, round(length(points) / small.model.scale, 3)) for name, points in own}
    slip = sheets["about the model"]
    assert ("spike" in " ".join(text.text for text in words(slip))) == bool(small.spikes) == bool(paths(slip, "seat"))


def test_the_seam_test_is_one_seam_at_full_size(small: Small) -> None:
    test = small.model.test
    assert test is not None
    (seam,) = (seam for seam in small.foam.cut.seams if seam.name == test.seam)
    sides: dict[str, float] = {}
    tabbed = set()
    for sheet in test.sheets[1:]:
        for path in (*paths(sheet, "cut"), *paths(sheet, "score")):
            if path.data.get("seam") == test.seam:
                side = path.data["side"]
                sides[side] = sides.get(side, 0.0) + length(path.points)
                tabbed |= {side} if path.layer == "score" else set()
    assert set(sides) == {"0", "1"} and abs(sides["0"] - sides["1"]) < 0.1 and len(tabbed) <= 1
    assert sides["0"] == pytest.approx(test.length, abs=0.01)
    whole = {
        mark.number: mark.fraction for mark in small.foam.marks if small.foam.cut.seams[mark.seam].name == test.seam
    }
    first, last = (whole[number] for number in test.marks)
    assert test.length == pytest.approx(abs(last - first) * seam.design_length, rel=0.03), "to what foam stretches"
    assert 0 < test.apart < test.length / 2


def test_mirrored_seams_have_their_tabs_on_mirrored_pieces(small: Small) -> None:
    sheets = {sheet.name: sheet for group in small.model.groups for sheet in group}
    pieces, tabs = small.foam.cut.pieces, dict[frozenset[str], dict[str, float]]()
    for seam in small.foam.cut.seams:
        names = [pieces[k].name for k, _ in seam.sides]
        tabs[frozenset(names)] = {
            name: sum(length(p.points) for p in paths(sheets[name], "score") if p.data["seam"] == seam.name)
            for name in names
        }
    twin = {piece.name: pieces[piece.mirror].name for piece in pieces}
    for names, here in tabs.items():
        there = tabs[frozenset(twin[name] for name in names)]
        if there is not here:
            assert {twin[name] for name, long in here.items() if long} == {name for name, long in there.items() if long}
            assert sum(here.values()) == pytest.approx(sum(there.values()), rel=0.1, abs=3.0)


def test_a_shell_without_a_seam_has_no_model(small: Small) -> None:
    bare = replace(small.foam, cut=replace(small.foam.cut, seams=()))
    assert paper_model(small.on, bare, (), small.how.print) is None
    assert not card_model(PrintJob("x", (), small.how.print), small.on, bare, ()).files
