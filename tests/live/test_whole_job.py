"""The whole job in the browser, with mouse and keyboard: begin, edit, mend, slide, build, and take the pack away."""

import contextlib
import io
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import browsers

from shellgen import preset
from shellgen.live import pace

ROOT = Path(__file__).parents[2]
PATIENCE = 120_000  # ms; the machine may be busy

QUICK = """
instead:
  plates: {vertebrals: 3, pleurals: 2, marginals: 6}
  seams: plates
  mesh: {edge: 40}
  shape: {rounds: 0}
  nest: {effort: quick}
  spikes:
    - {plates: vertebral-2, base_diameter: 20, height: 30}
  dome:
    length: 305
    width: 260
"""
"""Typed at the end of the starter, so that everything is computed in seconds."""


@contextlib.contextmanager
def serving(folder, *words):
    """Address and process of a server for a folder."""
    line = [sys.executable, "-m", "shellgen", "live", *words, "--port", "0"]
    clean = os.environ | {"PYTHONPATH": str(ROOT)}
    with subprocess.Popen(line, cwd=folder, env=clean, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield re.search(r"http://\S+", process.stdout.readline())[0], process
        finally:
            process.kill()


def shown(page, selector):
    return page.wait_for_selector(selector, timeout=PATIENCE)


def test_from_nothing_to_a_pack(tmp_path):
    with serving(tmp_path) as (address, _), browsers.chromium() as browser, browsers.tab(browser, address) as tab:
        page = tab.page
        begin(page)
        assert tab.audit() == []
        page.keyboard.press("Enter")
        page.wait_for_url("**/presets/newt.yaml")
        path = tmp_path / "newt.yaml"
        assert "group: adult" in path.read_text()

        edit(page, path)
        mend(page, path)
        slide(page, path)
        assert tab.audit() == []
        build(page, tab, path)
        assert {re.match(r"[a-z]+://[^/]*/|data:|blob:", url)[0] for url in tab.asked} <= {address, "data:"}
        tab.no_complaint()


def begin(page):
    """The form by keyboard alone."""
    shown(page, "html[data-ready=start]")
    page.locator("#name").focus()
    page.keyboard.type("newt")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "unit"
    page.keyboard.press("Tab")
    page.keyboard.type("a")  # of the choices: adult
    assert page.evaluate("document.activeElement.dataset.field") == "wearer.group"
    assert page.evaluate("document.activeElement.value") == "adult"
    page.get_by_role("button", name="Begin").focus()


def edit(page, path):
    """Lines that make it quick, then the height with a completion."""
    shown(page, "html[data-ready] .cm-content")
    page.locator(".cm-content").click()
    page.keyboard.press("Control+End")
    page.keyboard.insert_text(QUICK + "    ")
    page.keyboard.type("hei")
    shown(page, ".cm-tooltip-autocomplete li[aria-selected]:has-text('height')")
    page.wait_for_timeout(150)  # an offer is not taken in its first moment, so that no typing takes it by chance
    page.keyboard.press("Enter")
    page.keyboard.type("95")
    assert page.locator("#about").inner_text().startswith("instead.dome.height: Outside, from the plane")
    shown(page, "#saved.good")
    assert path.read_text().endswith("    width: 260\n    height: 95")
    shown(page, "[data-field='dome.height'][value='95']")  # its slider comes with the figures


def mend(page, path):
    """A wrong field is marked at its line, and undone."""
    page.keyboard.press("Enter")
    page.keyboard.type("keal: 4")
    shown(page, "#mistake:has-text('keal: There is no such line.')")
    last = len(path.read_text().splitlines())
    assert f"newt.yaml:{last}:" in page.locator("#mistake").inner_text()
    assert page.locator("#go").inner_text() == f"Go to line {last}"
    assert page.locator(".cm-lintRange-error").inner_text() == "keal: 4"
    page.locator("#go").click()
    page.keyboard.press("End")
    for _ in "keal: 4":
        page.keyboard.press("Backspace")
    page.keyboard.press("Backspace")
    page.wait_for_selector("#mistake", state="hidden", timeout=PATIENCE)
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+s")
    shown(page, "#mistake:not([hidden])")
    page.keyboard.press("Control+y")
    page.wait_for_selector("#mistake", state="hidden", timeout=PATIENCE)
    page.keyboard.press("Tab")  # leaves the text
    assert page.evaluate("!document.activeElement.closest('.cm-editor')")


def slide(page, path):
    shown(page, "html[data-version] [data-field='dome.height']")
    page.locator("[data-field='dome.height']").focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    shown(page, "[data-field='dome.height'][value='98']")
    page.wait_for_function("document.querySelector('.cm-content').innerText.includes('height: 98')", timeout=PATIENCE)
    assert path.read_text().rstrip().endswith("height: 98") and preset.read(path).dome.own.height == 98


def build(page, tab, path):
    """Cancelled once, then to the end: the files are those of the command line."""
    made = path.parent / "out" / "newt"
    page.get_by_role("button", name="Build the pack").click()
    page.get_by_role("button", name="Cancel").click()
    shown(page, "#stage.cancelled")
    assert not made.exists()
    page.keyboard.press("Enter")  # on the button to build, which has the focus again
    shown(page, "#progress:not([value='0'])")
    assert page.locator("#left").inner_text().endswith("left")
    shown(page, "#stage.done")
    assert page.locator("#made code").inner_text() == str(made)
    first = page.locator("#made tbody th").first
    assert first.inner_text() == "Card model and seam test"
    assert tab.audit() == []
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Download as one zip").click()
    data = Path(waiting.value.path()).read_bytes()
    other = path.parent / "elsewhere"
    words = [sys.executable, "-m", "shellgen", "build", str(path), "--out", str(other)]
    clean = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(words, cwd=path.parent, env=clean, capture_output=True, text=True, check=False)
    assert done.returncode in (0, 1), done.stderr
    stages = re.findall(r"^ *[\d.]+ s  (.+)$", done.stderr, re.MULTILINE)
    assert len(stages) > 40 and set(stages) <= set(pace.STAGES)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        zipped = {name.removeprefix("newt/"): archive.read(name) for name in archive.namelist()}
    for folder in (made, other):
        files = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
        assert files == zipped
