"""The page: what it holds, and what a reader meets in a browser: Chromium, from disk, without a network."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import browsers
import drawn
import numpy as np
import pytest
from scipy import ndimage

from shellgen import page
from shellgen.canvas.rule import METRIC
from shellgen.draw import order
from shellgen.export import png
from shellgen.page import facts
from shellgen.record import record
from shellgen.wear import wearer
from shellgen.wear.wearer import fit

LARGEST = 3_000_000
PRINTS = order.in_order({"wrap": 4, "templates": 6, "masks": 5, "guide": 18}, "A4", halves=True, cores=False)


@pytest.fixture(scope="module")
def shell():
    return browsers.toad()


@pytest.fixture(scope="module")
def html(shell):
    picture = png.write(drawn.scene_of(shell), size=(400, 300), samples=1)
    pictures = page.stills({"preview.png": picture, "views.png": picture})
    files = "shell.json", "guides/a.svg", "guide.html"
    return page.page(drawn.page_of(shell, "The <Toad> & sons", pictures=pictures, files=files, prints=PRINTS))


@pytest.fixture(scope="module")
def path(html, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "index.html"
    path.write_bytes(html)
    return path


@pytest.fixture(scope="module")
def chromium():
    with browsers.chromium() as browser:
        yield browser


@pytest.fixture
def tab(chromium, path):
    with browsers.tab(chromium, path.as_uri()) as made:
        yield made


class Outline(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags: list[tuple[str, dict]] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))


# ---- what it holds -------------------------------------------------------------------------------------------------


def test_page_is_one_small_file_that_asks_for_nothing(html):
    assert len(html) < LARGEST
    outline = Outline()
    outline.feed(html.decode())
    ids = [attrs["id"] for _, attrs in outline.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    for tag, attrs in outline.tags:
        for key in ("src", "href", "data", "action"):
            link = attrs.get(key, "")
            assert not re.match(r"[a-z]+:|//", link or "") or link.startswith("data:"), (tag, link)
            if link and link.startswith("#"):
                assert link[1:] in ids, link
        for key in ("for", "aria-labelledby", "aria-describedby"):
            assert set((attrs.get(key) or "").split()) <= set(ids), (tag, attrs)


def test_words_of_the_preset_stay_words(html):
    assert b"<title>The &lt;Toad&gt; &amp; sons</title>" in html
    assert b"<Toad>" not in html


def test_the_guide_is_led_to_from_the_head_of_the_page(html):
    assert 'href="guide.html"' in html.decode().split("<header")[1].split("</header>")[0]


def test_every_piece_has_its_drawing_and_its_seams(shell, html):
    text = html.decode()
    for piece in record(shell).pieces:
        card = text.split(f'id="piece-{piece.id}"')[1].split("</article>")[0]
        assert card.count('class="cut"') == 1
        beside = {p for s in record(shell).seams if piece.id in s.pieces for p in s.pieces} - {piece.id}
        assert beside <= set(re.findall(r'data-choose="([^"]+)"', card))


def test_licence_stands_in_the_script_and_beside_its_source():
    folder = Path(page.__file__).parent
    assert "MIT" in (folder / "viewer.js").read_text()[:200]
    assert "Permission is hereby granted, free of charge" in (folder / "viewer" / "LICENSES.txt").read_text()
    assert "</script" not in (folder / "viewer.js").read_text().lower()


def test_changes_are_listed_in_words(shell):
    before = record(shell)
    assert facts.changes(before, before, METRIC) == []
    dome = replace(before.dome, height_mm=150.0)
    after = replace(before, pieces=before.pieces[:-2], dome=dome, mass_g=900.0)
    lines = facts.changes(replace(before, mass_g=812.0), after, METRIC)
    assert any(line.startswith("Size ") and "150 mm" in line for line in lines)
    count = len(before.pieces)
    assert f"Pieces {count} → {count - 2}" in lines and "Mass 0.81 kg → 0.90 kg" in lines


# ---- what a reader meets -------------------------------------------------------------------------------------------


def test_shell_is_seen_turned_and_taken_apart(tab):
    seen = tab.pixels()
    assert (np.ptp(seen.reshape(-1, 3), axis=0) > 60).all()  # not one flat colour
    tab.page.focus("#canvas")
    tab.page.keyboard.press("ArrowRight")
    turned = tab.pixels()
    assert tab.differ(seen, turned) > 0.02
    tab.slide("share", 0)
    assert tab.page.input_value("#share") == "0" and tab.page.inner_text("#shown") == "flat"
    assert tab.differ(turned, tab.pixels()) > 0.05
    tab.page.check("[name=mode][value=pieces]", force=True)
    tab.settle()  # names are put up as the frame is drawn
    assert tab.page.locator("#labels span").count() > 5
    tab.no_complaint()


def test_rings_and_spikes_can_be_hidden(tab):
    seen = tab.pixels()
    tab.page.uncheck("[data-zone=spikes]")
    without = tab.pixels()
    assert tab.differ(seen, without) > 0.005
    tab.page.check("[data-zone=spikes]")
    assert tab.differ(seen, tab.pixels()) < 1e-4


def test_shading_and_stretch_recolour_what_they_must(tab):
    seen = tab.pixels()
    tab.page.check("[name=mode][value=shading]", force=True)
    shaded = tab.pixels()
    assert tab.differ(seen, shaded) > 0.1
    assert np.ptp(shaded, axis=2).mean() < np.ptp(seen, axis=2).mean()  # greys are less colourful
    tab.page.check("[name=mode][value=stretch]", force=True)
    assert tab.page.locator("#legend").is_visible() and tab.differ(shaded, tab.pixels()) > 0.05
    tab.page.check("[name=mode][value=finished]", force=True)
    assert tab.differ(seen, tab.pixels()) < 1e-4


def test_shade_lies_along_the_grooves_and_nowhere_else_in_their_stead(tab):
    """Beside the plate lines, which the viewer draws from the pieces, the chart of the shade is dark. Most of the rest
    is light, so that a chart read turned or mirrored would be found out."""
    for zone in ("spikes", "rings"):
        tab.page.uncheck(f"[data-zone={zone}]")
    tab.page.click("[data-view=top]")
    tab.page.check("[name=mode][value=pieces]", force=True)
    tab.page.evaluate("document.getElementById('labels').hidden = true")
    lines = tab.pixels().max(axis=2) < 110
    tab.page.check("[name=mode][value=shading]", force=True)
    shown = tab.pixels()[: len(lines)].max(axis=2)
    (top, left), (foot, right) = np.argwhere(lines).min(axis=0), np.argwhere(lines).max(axis=0)
    high, wide = (foot - top) // 6, (right - left) // 6  # what slopes away at the sides is left out
    middle = slice(top + high, foot - high), slice(left + wide, right - wide)
    beside, close = (ndimage.binary_dilation(lines, iterations=k)[middle] for k in (4, 2))
    dark = shown[middle] < 170
    assert dark[beside & ~close].mean() > 0.97
    assert 0.05 < dark[~beside].mean() < 0.5


def test_wearer_stands_up_when_shown_and_only_with_leave(shell, chromium, tmp_path):
    body = wearer.body(wearer.Params())
    fitted = fit.build(body, shell.ground.mesh, shell.top.spikes)
    worn = replace(shell, worn=replace(shell.worn, body=body, fit=fitted, share=True))
    private = drawn.page_of(worn, "x")
    assert not any(part["zone"] == "wearer" for part in browsers.unpacked(private.standing)["parts"])
    path = tmp_path / "worn.html"
    path.write_bytes(page.page(drawn.page_of(worn, "x", shown=True)))
    with browsers.tab(chromium, path.as_uri()) as tab:
        lying = tab.pixels()
        tab.page.check("[data-zone=wearer]")
        standing = tab.pixels()
        ground = np.median(standing.reshape(-1, 3), axis=0)
        rows, columns = np.nonzero(np.abs(standing - ground).max(axis=2) > 40)
        assert np.ptp(rows) > 1.5 * np.ptp(columns)  # a person is taller than broad
        tab.page.uncheck("[data-zone=wearer]")
        assert tab.differ(lying, tab.pixels()) < 1e-3
        tab.no_complaint()


def test_a_click_shows_a_pieces_template_and_the_seams_it_joins(tab):
    box = tab.page.locator("#canvas").bounding_box()
    tab.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.6)
    name = tab.page.input_value("#choose")
    assert name
    shown = tab.page.locator("#chosen")
    assert name in shown.inner_text() and shown.locator("svg .cut").count() == 1
    beside = shown.locator("[data-choose]").first
    other = beside.inner_text()
    beside.click()
    assert tab.page.input_value("#choose") == other
    tab.page.locator("#chosen button").click()
    assert tab.page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "only its frame scrolls"
    tab.no_complaint()


def test_lettering_of_the_drawings_stays_within_them(tab):
    tab.page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    beyond = tab.page.evaluate(
        """[...document.querySelectorAll('svg.sheet text')].filter(text => {
            const all = text.ownerSVGElement.viewBox.baseVal, own = text.getBBox();
            return own.width && (own.x < -1 || own.x + own.width > all.width + 1);
        }).map(text => text.textContent)"""
    )
    assert not beyond
    assert tab.page.locator(".whole text.note").is_visible()


def test_everything_can_be_done_on_the_keyboard(tab):
    tab.page.focus("#canvas")
    tab.page.keyboard.press("n")
    first = tab.page.input_value("#choose")
    tab.page.keyboard.press("n")
    assert first and tab.page.input_value("#choose") not in ("", first)
    tab.page.keyboard.press("Escape")
    assert tab.page.input_value("#choose") == ""
    seen = []
    for _ in range(30):  # no trap: the focus moves on, through canvas and controls
        tab.page.keyboard.press("Tab")
        seen.append(tab.page.evaluate("document.activeElement.id || document.activeElement.tagName"))
    assert {"share", "play", "choose"} <= set(seen)


WIDER = """() => [...document.querySelectorAll("#content *")].filter(of => !of.closest("svg, #labels")
    && of.clientWidth && getComputedStyle(of).display != "inline"
    && (of.scrollWidth > of.clientWidth + 1 || of.scrollHeight > of.clientHeight + 40 && of.matches("div")))
    .map(of => `${of.tagName} ${of.scrollWidth}>${of.clientWidth} ${of.textContent.slice(0, 40)}`)"""


@pytest.mark.parametrize("width", (320, 390, 768, 1280))
def test_nothing_is_cut_off_or_scrolls_sideways_or_in_a_frame(chromium, path, width):
    # 320 CSS px: WCAG 2.2, success criterion 1.4.10 Reflow
    with browsers.tab(chromium, path.as_uri(), width=width, height=844) as tab:
        assert tab.page.evaluate("document.documentElement.scrollWidth") <= width
        assert tab.page.evaluate(WIDER) == []
        tab.no_complaint()


def test_papers_are_named_with_their_pages_in_the_order_of_printing(chromium, path):
    with browsers.tab(chromium, path.as_uri()) as tab:
        rows = [row.inner_text().split("\t") for row in tab.page.locator("#prints tbody tr").all()]
        assert [(name, when) for name, _, when in rows] == [(of.name, of.when) for of in PRINTS]
        assert [int(pages) for _, pages, _ in rows] == [of.pages for of in PRINTS]
        assert tab.page.locator("#prints a").first.get_attribute("href") == PRINTS[0].file


@pytest.mark.parametrize("scheme", ("light", "dark"))
def test_accessibility_audit_finds_nothing(chromium, path, scheme):
    with browsers.tab(chromium, path.as_uri(), color_scheme=scheme) as tab:
        tab.page.select_option("#choose", index=1)
        tab.page.check("[name=mode][value=stretch]", force=True)
        tab.page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        assert tab.audit() == []


def test_without_webgl_or_scripts_the_picture_and_lists_remain(chromium, path):
    with browsers.tab(chromium, path.as_uri(), java_script_enabled=False) as tab:
        assert tab.page.locator("img.still").is_visible() and tab.page.locator("#still-note").is_visible()
        assert not tab.page.locator("#controls").is_visible()
        assert tab.page.locator(".piece svg").first.is_visible()
    blind = "HTMLCanvasElement.prototype.getContext = () => null"
    with browsers.tab(chromium, path.as_uri(), script=blind) as tab:
        assert tab.page.get_attribute("html", "data-ready") == "still"
        assert tab.page.locator("img.still").is_visible()
        tab.page.select_option("#choose", index=1)
        assert tab.page.locator("#chosen svg").is_visible()


def test_it_prints_with_picture_and_templates(chromium, path):
    import pymupdf

    with browsers.tab(chromium, path.as_uri()) as tab:
        printed = pymupdf.open(stream=tab.page.pdf(format="A4"), filetype="pdf")
    text = "".join(sheet.get_text() for sheet in printed)
    assert "Toad" in text and "Buying" in text and "Build it" not in text
    assert any(sheet.get_images() for sheet in printed)
