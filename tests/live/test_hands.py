"""Several hands on one preset: pages, other editors, and a server that is killed. What was saved stays, whole."""

import contextlib
import hashlib
import http.client
import json
import re
import threading
import time

import browsers
import pytest
from test_whole_job import serving

PATIENCE = 60_000  # ms

TEXT = "# one: \n# two: \n# three: \nname: 7 8\n"
"""Of a preset with a mistake, so that nothing is computed."""


@pytest.fixture
def path(tmp_path):
    made = tmp_path / "newt.yaml"
    made.write_text(TEXT)
    return made


@pytest.fixture(scope="module")
def browser():
    with browsers.chromium() as made:
        yield made


def at_line(tab, number):
    """The cursor at the end of a line, by keyboard."""
    tab.page.wait_for_selector("html[data-ready] .cm-content", timeout=PATIENCE)
    tab.page.locator(".cm-content").click()
    tab.page.keyboard.press("Control+Home")
    for _ in range(number - 1):
        tab.page.keyboard.press("ArrowDown")
    tab.page.keyboard.press("End")


def saved(tab, text):
    tab.page.wait_for_function(
        "(text) => document.querySelector('.cm-content').innerText.includes(text)", arg=text, timeout=PATIENCE
    )


def test_two_pages_and_another_editor_lose_nothing_that_was_saved(path, browser):
    with serving(path.parent, path.name) as (address, _), browsers.tab(browser, address) as one:
        with browsers.tab(browser, address) as two:
            at_line(one, 1)
            at_line(two, 2)
            for number in range(8):
                one.page.keyboard.type(f"a{number} ", delay=15)
                two.page.keyboard.type(f"b{number} ", delay=15)
                with path.open("a") as stream:
                    stream.write(f"# c{number}\n")
                time.sleep(0.2 * (number % 3))
            first, second = ("".join(f"{letter}{number} " for number in range(8)) for letter in "ab")
            for tab in (one, two):
                saved(tab, f"# one: {first}".rstrip())
                saved(tab, f"# two: {second}".rstrip())
                saved(tab, "# c7")
            for tab in (one, two):
                tab.page.wait_for_selector("#saved.good", timeout=PATIENCE)
                assert tab.page.locator("#both").is_hidden()
        text = path.read_text()
        assert text.startswith(f"# one: {first}\n# two: {second}\n# three: \nname: 7 8\n")
        assert [line for line in text.splitlines() if line.startswith("# c")] == [f"# c{n}" for n in range(8)]
        assert [p.name for p in path.parent.iterdir()] == ["newt.yaml"]


@pytest.mark.parametrize("choice", ("keep", "take"))
def test_where_both_changed_the_same_place_the_maker_chooses_and_the_other_is_kept(path, browser, choice):
    with serving(path.parent, path.name) as (address, _), browsers.tab(browser, address) as tab:
        at_line(tab, 3)
        theirs = TEXT.replace("three: ", "three: theirs")
        tab.page.route("**/text", lambda route: (path.write_text(theirs), route.continue_()), times=1)
        tab.page.keyboard.type("mine")
        tab.page.wait_for_selector("#both:not([hidden])", timeout=PATIENCE)
        assert tab.page.locator("#mine").inner_text() == "# three: mine"
        assert tab.page.locator("#theirs").inner_text() == "# three: theirs"
        assert tab.audit() == []
        assert path.read_text() == theirs
        assert tab.page.evaluate("document.activeElement.id") == "keep"
        tab.page.locator(f"#{choice}").press("Enter")
        tab.page.wait_for_selector("#both", state="hidden", timeout=PATIENCE)
        won, lost = ("mine", "theirs") if choice == "keep" else ("theirs", "mine")
        saved(tab, f"three: {won}")
        deadline = time.monotonic() + 30
        while path.read_text() != TEXT.replace("three: ", f"three: {won}") and time.monotonic() < deadline:
            time.sleep(0.05)
        assert path.read_text() == TEXT.replace("three: ", f"three: {won}")
        assert path.with_name("newt-other.yaml").read_text() == TEXT.replace("three: ", f"three: {lost}")


def test_line_ends_and_the_mark_at_the_start_stay(path, browser):
    before = ("\ufeff" + TEXT.replace("\n", "\r\n")).encode()
    path.write_bytes(before)
    with serving(path.parent, path.name) as (address, _), browsers.tab(browser, address) as tab:
        at_line(tab, 3)
        tab.page.keyboard.type("so")
        tab.page.keyboard.press("Enter")
        tab.page.keyboard.type("# four")
        tab.page.keyboard.press("Control+End")
        for line in ("instead:", "foam:", "thickness: 9"):
            tab.page.keyboard.type(line)
            tab.page.keyboard.press("Enter")  # indents below the name of a section
        deadline = time.monotonic() + 30
        wanted = before.replace(b"three: ", b"three: so\r\n# four")
        wanted += b"instead:\r\n  foam:\r\n    thickness: 9\r\n    "
        while path.read_bytes() != wanted and time.monotonic() < deadline:
            time.sleep(0.05)
        assert path.read_bytes() == wanted


def test_a_server_killed_at_any_time_leaves_a_whole_file(path):
    """Texts of very different lengths are written one after another until the server is gone."""
    texts = [f"# {letter * size}\nname: 7 8\n" for letter, size in (("a", 100_000), ("b", 3), ("c", 60_000))]
    with serving(path.parent, path.name) as (address, process):
        host, port = re.match(r"http://(.*):(\d+)/", address).groups()
        line = http.client.HTTPConnection(host, int(port), timeout=30)
        line.request("GET", "/presets/newt.yaml")
        token = re.search(r'data-token="([^"]+)"', line.getresponse().read().decode())[1]
        headers = {"Content-Type": "application/json", "X-Token": token, "Origin": f"http://{host}:{port}"}
        threading.Timer(0.7, process.kill).start()
        before, written = TEXT, 0
        with contextlib.suppress(OSError, http.client.HTTPException):
            while True:
                text = texts[written % 3]
                digest = hashlib.sha256(before.encode()).hexdigest()
                line.request("PUT", "/presets/newt.yaml/text", json.dumps({"text": text, "digest": digest}), headers)
                assert line.getresponse().read()
                before, written = text, written + 1
    assert written > 2 and path.read_text() in (before, texts[written % 3])
