"""A browser for the tests of pages, and a small preset that is quick to build."""

import contextlib
import io
import json
import shutil
import zlib

import numpy as np
import once
import pytest
from PIL import Image
from written import preset_of

from shellgen import pipeline
from shellgen.core import flow

TOAD = """\
# A toad, quick to compute
name: toad
dome:
  length: 420   # neck to tail
  width: 360
  height: 130
plates:
  vertebrals: 4
  pleurals: 3
  marginals: 6
seams:
  plan: plates
  stretch_limit: 10 %
mesh:
  edge: 24
shape:
  rounds: 0
spikes:
  - profile: cone
    plates: pleural
    base_diameter: 40
    height: 40
    size_at_rim: 1
    sizes: 1
nest:
  effort: quick
"""


def toad():
    """The shell of that preset."""
    return once.shared("toad", lambda _: pipeline.shell_of(preset_of(TOAD), flow.Flow()))


def unpacked(blob: bytes):
    """The header of a blob with its arrays in place: read here as the viewer reads it."""
    raw = zlib.decompress(blob)
    start = 4 + int(np.frombuffer(raw, "<u4", 1)[0])

    def filled(value):
        if isinstance(value, list):
            return [filled(v) for v in value]
        if not isinstance(value, dict):
            return value
        if {"at", "kind", "shape", "scale"} == set(value):
            count = int(np.prod(value["shape"]))
            stored = np.frombuffer(raw, "<" + value["kind"], count, start + value["at"])
            return stored.reshape(value["shape"]) * value["scale"]
        return {k: filled(v) for k, v in value.items()}

    return filled(json.loads(raw[4:start]))


SOFTWARE = ("--no-sandbox", "--disable-gpu", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")
"""No graphics card is needed: Chromium draws WebGL itself."""

HARMLESS = "GL Driver Message"  # Chromium's own remark that reading pixels back is slow


@contextlib.contextmanager
def chromium():
    """A headless Chromium; the test is skipped where there is none."""
    playwright = pytest.importorskip("playwright.sync_api", reason="needs playwright")
    where = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if where is None:
        pytest.skip("needs Chromium on the PATH")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=where, args=list(SOFTWARE))
        yield browser
        browser.close()


@contextlib.contextmanager
def tab(browser, url, *, width=1280, height=900, script="", **options):
    """A page that has opened, offline; `options` are Playwright's for a context."""
    context = browser.new_context(viewport={"width": width, "height": height}, reduced_motion="reduce", **options)
    made = Tab(context.new_page())
    if script:
        made.page.add_init_script(script)
    made.page.goto(url)
    if options.get("java_script_enabled", True):
        made.page.wait_for_selector("html[data-ready]", timeout=60_000)
    yield made
    context.close()


class Tab:
    def __init__(self, page):
        self.page, self.complaints, self.asked = page, [], []
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", lambda request: self.asked.append(request.url))

    def _console(self, message):
        if message.type in ("error", "warning") and HARMLESS not in message.text:
            self.complaints.append(message.text)

    def no_complaint(self):
        assert not self.complaints, self.complaints

    def settle(self):
        """Waits until what was asked for has been drawn: two frames."""
        self.page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")

    def pixels(self):
        """(h, w, 3) of the stage as it is on the screen."""
        self.settle()
        shot = Image.open(io.BytesIO(self.page.locator("#view").screenshot())).convert("RGB")
        return np.asarray(shot, int)

    def differ(self, one, other):
        """Share of the pixels that differ visibly; by where it stands a stage may be a row of pixels higher."""
        rows = min(len(one), len(other))
        assert abs(len(one) - len(other)) <= 1
        return float((np.abs(one[:rows] - other[:rows]).max(axis=2) > 24).mean())

    def slide(self, name, value):
        self.page.evaluate(
            "([id, v]) => { const e = document.getElementById(id); e.value = v; e.dispatchEvent(new Event('input')) }",
            [name, value],
        )

    def audit(self):
        """Breaches of WCAG 2.2 A and AA, and of good practice, that axe-core finds."""
        axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe-playwright-python").Axe()
        rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
        found = axe.run(self.page, options=rules).response["violations"]
        return [
            f"{v['impact']} {v['id']}: {v['nodes'][0]['html'][:160]} {v['nodes'][0]['failureSummary']}" for v in found
        ]
