"""The build guide: nothing is used before it is made, every join can be found, and the files hold together."""

import json
import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pond_guide
import pymupdf
import pytest
import shapely
from browsers import chromium

from shellgen import guide
from shellgen.canvas import Text
from shellgen.canvas.lettering import box
from shellgen.canvas.paper import PAPERS
from shellgen.cli import summary
from shellgen.draw import topview
from shellgen.guide import booklet, html, signs
from shellgen.guide.leaf import Gallery, Lines, Picture, Rows, Ticks, Warn, Words
from shellgen.guide.steps import form, glue
from shellgen.record.plan import NoPlanEntry


@pytest.fixture(scope="module")
def small():
    return pond_guide.kit()


def texts(step):
    """Every word of a step that is read."""
    yield from [html.equipment_words(step)] if step.equipment else []
    for block in step.blocks:
        match block:
            case Words(text) | Warn(_, text) | Lines(text):
                yield text
            case Ticks(items):
                yield from items
            case Rows(columns, rows):
                yield from (*columns, *(cell for row in rows for cell in row))
            case Picture(_, caption):
                yield caption
            case Gallery(pictures):
                yield from (p.caption for p in pictures)


@pytest.mark.parametrize("change", ["as it is", "no spikes", "not formed", "carved", "printed", "bought"])
def test_no_step_uses_what_is_not_yet_made(small, change):
    how, figures = small.preset, small.figures
    if change == "no spikes":
        figures = replace(figures, spikes=())
    elif change == "not formed":
        how = replace(how, foam=replace(how.foam, formed=False))
    elif change == "carved":
        how = replace(how, scores=replace(how.scores, way="carve"))
    elif change in ("printed", "bought"):
        how = replace(how, making=replace(how.making, way=change))
    there, steps = set(), list(guide.all_steps(replace(small, preset=how, figures=figures)))
    for step in steps:
        missing = set(step.needs) - there
        assert not missing, f"{step.title} needs {missing}"
        there |= set(step.makes)
    used = {need for step in steps for need in step.needs}
    assert there - used <= {"ringed dome", "spiked dome"} - used, "everything made is used, to the end"
    assert len({step.key for step in steps}) == len(steps)


OWN = ("templates", "spikes", "masks", "shading guide", "buckles")
"""What a maker has without buying it under that name: it was made or printed, or has a longer name on the list."""


@pytest.mark.parametrize("way", ["burn", "carve"])
def test_what_is_taken_in_hand_was_laid_ready(small, way):
    how = replace(small.preset, scores=replace(small.preset.scores, way=way))
    steps = list(guide.all_steps(replace(small, preset=how)))
    (buy,) = (step for step in steps if step.key == "buy")
    ready = " ".join(texts(buy)).lower()
    for step in steps:
        for thing in step.equipment:
            bare = thing.removeprefix("the ").removesuffix(" with a new blade").lower()
            assert bare in OWN or bare in ready, (step.title, thing)
        works = any(isinstance(block, Warn) for block in step.blocks) and step.hands_h > 0
        works = works and step.key != "try"  # it takes the shell alone
        assert step.equipment or not works, f"{step.title} asks for nothing"


def test_every_join_is_listed_once_with_all_its_marks(small):
    (glue,) = (step for step in guide.all_steps(small) if step.key == "glue")
    told = [row for block in glue.blocks if isinstance(block, Rows) for row in block.rows]
    assert [int(row[0]) for row in told] == [join.number for join in small.figures.joins]
    marks = Counter(int(m) for row in told for m in row[2].split())
    assert marks == Counter(m for seam in small.figures.seams for m in seam.marks)


def test_every_join_and_mark_is_on_the_pictures_of_both_its_pieces(small):
    (glue,) = (step for step in guide.all_steps(small) if step.key == "glue")
    shown = {}
    for block in glue.blocks:
        pictures = block.pictures if isinstance(block, Gallery) else (block,) if isinstance(block, Picture) else ()
        for picture in pictures:
            shown[picture.caption.rstrip(".")] = Counter(t.text for t in picture.drawing.items if isinstance(t, Text))
    assert {piece.id for piece in small.figures.pieces} < set(shown)
    for join in small.figures.joins:
        for name in {join.piece, join.to}:
            assert shown[name][str(join.number)], (join.number, name)
            for mark in join.marks:
                assert shown[name][str(mark)] >= 1 + join.dart, (mark, name)
    whole = next(b.drawing for b in glue.blocks if isinstance(b, Picture))
    words = [t.text for t in whole.items if isinstance(t, Text)]
    assert {str(join.number) for join in small.figures.joins} <= set(words)


def test_names_on_the_dome_stand_on_their_own_pieces(small):
    """Or outside the dome, where a piece is too small for its name; by the faces of the mesh seen from above."""
    mesh, cut = small.ground.mesh, small.foam.cut
    seen = topview.view(mesh, 178.0, 120.0)
    drawing = topview.join_map("pond", small.ground, cut, small.joins, across=178.0, up=120.0)
    words = {t.text: box(t) for t in drawing.items if isinstance(t, Text)}
    where = seen.at(mesh.points)
    dome = shapely.union_all(shapely.polygons(where[mesh.faces]))
    for piece in cut.pieces:
        own = shapely.union_all(shapely.polygons(where[mesh.faces[piece.shell_faces]]))
        name = shapely.MultiPoint(words[piece.name]).convex_hull
        assert own.covers(name) or not dome.intersects(name), piece.name


def test_what_no_ball_is_large_enough_for_is_called_flat(small):
    assert form._across(small, 120.0) == f"about {small.mm(240)} across"
    assert form._across(small, 1113.0) == "almost flat"


def test_a_shell_without_a_join_has_nothing_to_glue(small):
    """Of one piece, without a dart: too flat a dome to need any, or a maker who asks for no seam."""
    alone = replace(small, joins=(), figures=replace(small.figures, joins=(), pieces=small.figures.pieces[:1]))
    (step,) = glue.steps(alone)
    assert "nothing to glue" in " ".join(texts(step)) and not step.equipment and step.makes == ("glued dome",)


def test_every_spike_and_piece_and_edging_is_named(small):
    steps = {step.key: " ".join(texts(step)) for step in guide.all_steps(small)}
    assert all(s.id.removeprefix("spike-") in steps["seat"] for s in small.figures.spikes)
    assert all(p.id in steps["paper"] for p in small.figures.pieces)
    assert all(p.id in steps["edging"] for p in small.figures.edging.pieces)
    index = guide.guide(small).index
    assert [row[0] for row in index.rows] == [p.id for p in small.figures.pieces]


CAUTIONS = {
    "cut": ("knife",), "score": ("heat", "fumes", "air"), "glue": ("fumes", "fire", "air"),
    "form": ("heat", "fumes", "fire", "air", "gloves"), "shape": ("heat", "fire", "knife"),
    "keep": ("heat", "fumes", "fire"),
    "fill": ("dust", "mask", "heat"), "edging": ("knife", "heat", "fumes", "dust"), "seat": ("point", "dust"),
    "rings": ("knife", "heat"),
    "prime": ("dust",), "paint": ("fumes", "mask"), "shade": ("fire", "fumes"), "straps": ("neck", "fumes"),
    "try": ("load",),
    "sculpt": ("point", "dust", "fire"), "measure": ("read",), "plan": ("fire", "heat"),
}  # fmt: skip


@pytest.mark.parametrize("key", CAUTIONS)
def test_cautions_stand_at_the_step_that_can_hurt(small, key):
    (step,) = (step for step in guide.all_steps(small) if step.key == key)
    shown = {name for block in step.blocks if isinstance(block, Warn) for name in block.signs}
    kinds = [isinstance(block, Warn) for block in step.blocks]
    assert kinds == sorted(kinds, reverse=True), "before any work"
    assert set(CAUTIONS[key]) <= shown and shown <= {*signs.WARNINGS, *signs.COMMANDS}


def test_times_are_those_of_the_plan(small):
    steps = list(guide.all_steps(small))
    assert sum(step.hands_h for step in steps) == pytest.approx(small.figures.plan.hands_h, abs=0.1)


@pytest.mark.parametrize("inches", [False, True])
def test_lengths_are_written_in_the_makers_units(small, inches):
    """1 in = 25.4 mm exactly; 560 mm is 22.047 in, nearest sixteenth 22 1/16. 1 lb = 453.59237 g (NIST HB 44)."""
    of = replace(small, inches=inches)
    assert of.mm(560) == ("560 mm (22 1/16 in)" if inches else "560 mm")
    assert of.grams(907.18474) == ("907 g (2.0 lb)" if inches else "907 g")
    assert of.celsius(150) == ("150 °C (302 °F)" if inches else "150 °C")
    words = " ".join(text for step in guide.all_steps(of) for text in texts(step))
    assert ("in)" in words) == inches


def test_the_plan_in_the_terminal_names_every_task_and_what_saves_time(small):
    told = summary.plan(small.figures)
    assert all(task.task in told for task in small.figures.schedule)
    assert all(way.change in told for way in small.figures.plan.ways) and "None" not in told
    assert "no plan" in summary.plan(replace(small.figures, plan=NoPlanEntry()))


class Page(HTMLParser):
    def __init__(self, data):
        super().__init__()
        self.ids, self.links, self.sources, self.boxes, self.heads, self.open = [], [], [], [], [], []
        self.feed(data.decode("utf-8"))

    def handle_starttag(self, tag, attrs):
        of = dict(attrs)
        self.ids += [of["id"]] if "id" in of else []
        self.links += [of["href"]] if "href" in of else []
        self.sources += [of["src"]] if "src" in of else []
        self.boxes += [of] if of.get("type") == "checkbox" else []
        self.heads += [tag] if re.fullmatch("h[1-6]", tag) else []


def test_page_holds_together_and_fetches_nothing(small):
    listed = ("tables/buying.csv", "shell.json", "templates-A4.pdf")
    made = guide.guide(small)
    data = html.write(made, listed)
    page = Page(data)
    assert max(Counter(page.ids).values()) == 1
    inner = {link[1:] for link in page.links if link.startswith("#")}
    assert inner <= set(page.ids)
    outer = {link for link in page.links if not link.startswith(("#", "data:"))}
    assert outer <= set(listed) and "templates-A4.pdf" in outer
    assert all(source.startswith("data:") for source in page.sources)
    assert not re.search(rb"https?://", data.replace(b"http://www.w3.org", b""))
    assert page.heads[0] == "h1" and set(page.heads[1:]) == {"h2"}
    assert b"The &lt;Pond&gt; &amp; Co" in data and b"<Pond>" not in data
    ticks = sum(len(b.items) if isinstance(b, Ticks) else len(b.rows) if isinstance(b, Rows) and b.tick else 0
                for step in made.steps for b in step.blocks)  # fmt: skip
    assert len(page.boxes) == ticks + len(made.steps) and all("id" in box for box in page.boxes)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_booklet_says_the_same_on_paper(small, paper):
    made = guide.guide(small)
    data = booklet.write(made, PAPERS[paper])
    assert data == booklet.write(made, PAPERS[paper]), "the same every time"
    book = pymupdf.open(stream=data, filetype="pdf")
    size = np.array(PAPERS[paper]) * 72 / 25.4
    said = ""
    for page in book:
        assert np.allclose([page.rect.width, page.rect.height], size, atol=0.1)
        for word in page.get_text("words"):
            assert 0.03 * size[0] < word[0] and word[2] < size[0] * 0.97 and word[3] < size[1], word
        said += page.get_text()
    said = " ".join(said.split())
    named = [entry[1].split("  ")[-1] for entry in book.get_toc()]
    assert named == [*(s.title for s in made.steps), "Index of the pieces"]
    for step, (_, _, number) in zip(made.steps, book.get_toc(), strict=False):
        page = " ".join(book[number - 1].get_text().split())
        lead = sum(isinstance(block, Warn) for block in step.blocks) + bool(step.equipment)
        drawn = {b.caption for b in step.blocks if isinstance(b, Picture)}  # text can come before its picture
        drawn -= {caption for caption in drawn if " ".join(caption.split())[:18] in page}
        told = (text for text in texts(step) if text not in drawn)
        for k, text in enumerate(told):  # cautions are on one page with the first work
            assert " ".join(text.split())[:18] in (page if k <= lead else said), (step.title, text)


def test_the_guides_of_the_demos_name_every_join_of_their_record(packs, demo):
    folder, figures = packs(demo)
    page = (folder / "guide.html").read_text("utf-8")
    listed = {item["path"] for item in figures["files"]}
    links = {link for link in Page(page.encode()).links if not link.startswith(("#", "data:"))}
    assert links <= listed | {"shell.json"} and "key.svg" in links
    assert json.loads((folder / "shell.json").read_text())["joins"] == figures["joins"]
    for join in figures["joins"]:
        assert f">{join['number']}</th>" in page and " ".join(map(str, join["marks"])) in page
    assert list(Path(folder).glob("guide-*.pdf")) and (folder / "plan.svg").is_file()


WIDER = """() => [...document.querySelectorAll("body *")].filter(of => !of.closest("svg, .unseen, .skip")
    && of.clientWidth && getComputedStyle(of).display != "inline" && of.scrollWidth > of.clientWidth + 1)
    .map(of => `${of.tagName} ${of.scrollWidth}>${of.clientWidth} ${of.textContent.slice(0, 40)}`)"""


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_page_in_a_browser_is_accessible_fits_and_keeps_its_ticks(small, tmp_path, browser, width):
    """Rules of axe-core, which follow WCAG 2; no sideways scrolling of the page; a tick survives closing the page."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    (tmp_path / "guide.html").write_bytes(html.write(guide.guide(small)))
    with browser.new_context(viewport={"width": width, "height": 844}, bypass_csp=True) as context:
        page = context.new_page()
        page.goto((tmp_path / "guide.html").as_uri())
        found = axe.run(page).response["violations"]
        assert not found, [(rule["id"], rule["nodes"][0]["html"][:100]) for rule in found]
        assert page.evaluate("document.documentElement.scrollWidth") <= width and page.evaluate(WIDER) == []
        page.check("#buy-done")
        page.reload()
        assert page.is_checked("#buy-done") and not page.is_checked("#cut-done")
        page.click("#clear")
        page.reload()
        assert not page.is_checked("#buy-done")
