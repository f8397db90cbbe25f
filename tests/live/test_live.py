"""The preview: follows the file, outlives mistakes, writes one figure at a time, and answers nobody else."""

import asyncio
import base64
import contextlib
import http.client
import io
import json
import os
import re
import signal
import socket
import stat
import subprocess
import sys
import time
import zlib
from pathlib import Path

import browsers
import node
import pytest
from click.testing import CliRunner
from ruamel.yaml import YAML
from starlette.responses import PlainTextResponse

from shellgen import preset
from shellgen.canvas import rule
from shellgen.cli import main
from shellgen.errors import PresetError
from shellgen.live import rewrite
from shellgen.live.door import Doorkeeper
from shellgen.live.sliders import markup, sliders
from shellgen.live.work import Errand, Superseded, Workshop

PATIENCE = 120_000  # ms; the machine may be busy
PAGE = "/presets/toad.yaml"


@pytest.fixture
def toad(tmp_path):
    path = tmp_path / "toad.yaml"
    path.write_text(browsers.TOAD)
    return path


@contextlib.contextmanager
def running(path):
    """A preview of its own process on a free port: (address, process)."""
    words = [sys.executable, "-c", "from shellgen.cli import main; main()", "live", str(path), "--port", "0"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        try:
            yield re.search(r"http://\S+", process.stdout.readline())[0], process
        finally:
            process.kill()


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """One preview for the tests that ask it for things."""
    path = tmp_path_factory.mktemp("served") / "toad.yaml"
    path.write_text(browsers.TOAD)
    with running(path) as (address, _):
        yield path, address


def origin_of(address):
    return address.removesuffix(PAGE)


def ask(address, method="GET", path=PAGE, body=None, **headers):
    """Status and text of an answer; `Host` and the rest as given and nothing else."""
    host, port = re.match(r"http://(.*):(\d+)/", address).groups()
    with contextlib.closing(http.client.HTTPConnection(host, int(port), timeout=30)) as line:
        line.putrequest(method, path, skip_host=True)
        for name, value in {"Host": f"{host}:{port}", **headers}.items():
            if value is not None:
                line.putheader(name.replace("_", "-"), value)
        if body is not None:
            line.putheader("Content-Length", str(len(body)))
        line.endheaders(body)
        answer = line.getresponse()
        return answer.status, answer.read().decode()


# ---- writing one figure --------------------------------------------------------------------------------------------


def test_only_the_figure_changes():
    after = rewrite.put_in(browsers.TOAD, ("dome", "length"), 455.0)
    before = browsers.TOAD.splitlines()
    differ = [(a, b) for a, b in zip(before, after.splitlines(), strict=True) if a != b]
    assert differ == [("  length: 420   # neck to tail", "  length: 455   # neck to tail")]


@pytest.mark.parametrize(
    ("text", "steps", "wanted"),
    (
        ("dome:\n  length: 22 1/2 in  # tall\n", ("dome", "length"), "dome:\n  length: 20 in  # tall\n"),
        ("dome: {length: '56 cm', width: 4}", ("dome", "length"), "dome: {length: 50.8 cm, width: 4}"),
        ("\ufeffdome:\r\n  length: 560\r\n", ("dome", "length"), "\ufeffdome:\r\n  length: 508\r\n"),
        ("dome:\r\n   width: 4\r\n", ("dome", "length"), "dome:\r\n   length: 508\r\n   width: 4\r\n"),
        ("spikes:\n- profile: cone # a\n", ("spikes", 0, "height"), "spikes:\n- height: 508\n  profile: cone # a\n"),
        ("# €🐢\ndome: # x\n # y\n length:  7 # z", ("dome", "length"), "# €🐢\ndome: # x\n # y\n length:  508 # z"),
        ("dome: {length: 4}\ninstead:\n  dome:\n    length: 5\n", ("dome", "length"),
         "dome: {length: 4}\ninstead:\n  dome:\n    length: 508\n"),
    ),
)  # fmt: skip
def test_unit_place_and_line_ends_are_kept(text, steps, wanted):
    assert rewrite.put_in(text, steps, 508.0) == wanted  # 508 mm is 20 in: 1 in = 25.4 mm exactly


@pytest.mark.parametrize("demo_preset", ("marsh-warden", "puddle-hatchling", "reed-knight"))
def test_a_round_trip_reader_finds_one_value_changed(demo_preset):
    # ruamel.yaml is asked what the file says, comments and all
    text = Path(f"presets/{demo_preset}.yaml").read_text("utf-8")
    yaml = YAML()

    def read(text):
        out = io.StringIO()
        yaml.dump(yaml.load(text), out)
        return out.getvalue().splitlines()

    after = rewrite.put_in(text, ("dome", "width"), 411.0)
    differ = [(a, b) for a, b in zip(read(text), read(after), strict=True) if a != b]
    assert len(differ) == 1 and "width" in differ[0][1]
    assert differ[0][0].partition("#")[2] == differ[0][1].partition("#")[2]


def test_what_has_no_place_is_refused(toad):
    for steps in (("rings", "kerf"), ("spikes", 7, "height"), ("dome",)):
        with pytest.raises(PresetError):
            rewrite.put(toad, steps, 5.0)
    assert toad.read_text() == browsers.TOAD


def test_file_is_replaced_whole_with_its_permissions_and_nothing_left_behind(toad):
    toad.chmod(0o640)
    link = toad.with_name("link.yaml")
    link.symlink_to(toad)
    rewrite.put(link, ("dome", "height"), 99.0)
    assert "height: 99" in toad.read_text() and link.is_symlink()
    assert stat.S_IMODE(toad.stat().st_mode) == 0o640
    assert sorted(p.name for p in toad.parent.iterdir()) == ["link.yaml", "toad.yaml"]


def test_sliders_span_the_figure_within_what_is_allowed(toad):
    shown = sliders(preset.read(toad), toad.read_text())
    assert [s.field for s in shown] == [
        "dome.length", "dome.width", "dome.height", "spikes[1].height", "spikes[1].base_diameter",
    ]  # fmt: skip
    for slider in shown:
        low, high = slider.ends
        assert slider.bounds[0] <= low < slider.value < high <= slider.bounds[1]
    assert markup(shown).count("<label") == len(shown) and " in)" not in markup(shown)


def test_sliders_speak_inches_too_on_letter_also_while_one_is_moved(toad):
    toad.write_text(toad.read_text() + "print: {paper: Letter}\n")
    shown = sliders(preset.read(toad), toad.read_text())
    assert markup(shown).count(" in)</output>") == markup(shown).count("data-inches") == len(shown)
    script = 'import {written} from "./src/live.js"; for (let i = 1; i < 700; i++) console.log(written(i, true))'
    run = [node.program(), "--input-type=module", "-e", script]
    ran = subprocess.run(run, cwd=node.FOLDER, capture_output=True, text=True, check=True)
    assert ran.stdout.splitlines() == [rule.Rule(True).mm(mm, None) for mm in range(1, 700)]


# ---- answering nobody else -----------------------------------------------------------------------------------------


def test_other_hosts_and_origins_are_refused(served):
    _, address = served
    own = origin_of(address)
    assert ask(address)[0] == 200
    port = own.rpartition(":")[2]
    for host in ("marsh.example", f"marsh.example:{port}", "127.0.0.1", f"127.0.0.1:{int(port) + 1}", ""):
        assert ask(address, Host=host)[0] in (400, 403), host
    for origin in ("http://marsh.example", "null", f"https://127.0.0.1:{port}", f"http://127.0.0.1:{port}.example"):
        assert ask(address, Origin=origin)[0] == 403, origin
        assert ask(address, path=f"{PAGE}/events", Origin=origin)[0] == 403, origin


@pytest.mark.parametrize(("port", "status"), ((80, 200), (8730, 403)))
def test_port_80_is_left_out_of_the_host(port, status):
    """As every browser does (RFC 9110, 4.2.1)."""

    async def page(_scope, _receive, send):
        await PlainTextResponse("page")(_scope, _receive, send)

    async def answered():
        told = []

        async def send(message):
            told.append(message)

        scope = {"type": "http", "method": "GET", "headers": [(b"host", b"127.0.0.1")]}
        await Doorkeeper(page, port, "token")(scope, None, send)
        return told[0]["status"]

    assert asyncio.run(answered()) == status


def test_only_sliders_figures_are_written(served):
    path, address = served
    before = path.read_bytes()
    token = re.search(r'data-token="([^"]{40,})"', ask(address)[1])[1]
    own = {"Origin": origin_of(address), "Content_Type": "application/json", "X_Token": token}
    good = b'{"field": "dome.height", "value": 140}'
    for forged in (None, "", token[:-1], token + "x", "\u00e9"):  # a process that knows the address, not the page
        assert ask(address, "POST", f"{PAGE}/figure", good, **{**own, "X_Token": forged})[0] == 403, forged
    assert ask(address, "POST", f"{PAGE}/figure", good, Content_Type="application/json")[0] == 403  # no Origin
    assert ask(address, "POST", f"{PAGE}/figure", good, **{**own, "Origin": "http://marsh.example"})[0] == 403
    assert ask(address, "POST", f"{PAGE}/figure", good, **{**own, "Content_Type": "text/plain"})[0] == 415
    for body, status in (
        (b"{", 400), (b"[]", 400), (b'{"field": "dome.height"}', 400), (b'{"field": "name", "value": 3}', 404),
        (b"x" * 5000, 413), (b"[" * 490 + b"]" * 490, 400), (b'{"field": ' + b"[" * 480 + b"]" * 480 + b"}", 400),
        (b'{"field": "dome.height", "value": ' + b"9" * 900 + b"}", 400),
    ):  # fmt: skip
        assert ask(address, "POST", f"{PAGE}/figure", body, **own)[0] == status, body[:40]
    assert ask(address, "PUT", f"{PAGE}/figure", good, **own)[0] == 405
    assert ask(address, path="/../toad.yaml")[0] == 404
    assert path.read_bytes() == before and [p.name for p in path.parent.iterdir()] == ["toad.yaml"]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs the whole of 127/8 on the loopback")
def test_it_listens_on_this_computer_alone(served):
    """What listened on every address would answer at another one of the loopback, too (RFC 1122, 3.2.1.3)."""
    port = int(origin_of(served[1]).rpartition(":")[2])
    with socket.create_server(("", 0)) as everywhere:
        socket.create_connection(("127.0.0.2", everywhere.getsockname()[1]), timeout=30).close()
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.2", port), timeout=30)


# ---- following -----------------------------------------------------------------------------------------------------


def test_page_follows_the_file_and_outlives_a_mistake(served):
    path, address = served
    with browsers.chromium() as browser, browsers.tab(browser, address) as tab:
        page, told = tab.page, tab.page.locator
        page.wait_for_selector("html[data-version]", timeout=PATIENCE)
        assert "420 × 360 × 130 mm" in told("#head").inner_text() and page.title() == "toad"
        seen = tab.pixels()

        path.write_text("title: Great Toad\n" + browsers.TOAD.replace("height: 130", "height: 170"))
        page.wait_for_selector("#head:has-text('170 mm')", timeout=PATIENCE)
        assert told("#head h1").inner_text() == page.title() == "Great Toad"
        page.wait_for_selector("#changes:has-text('130 mm → 420 × 360 × 170 mm')", timeout=PATIENCE)
        assert tab.differ(seen, tab.pixels()) > 0.02

        path.write_text(browsers.TOAD.replace("height: 130", "height: 170").replace("width: 360", "width: broad"))
        page.wait_for_selector("#mistake:not([hidden])", timeout=PATIENCE)
        mistake = told("#mistake").inner_text()
        assert f"{path}:5" in mistake and '"broad"' in mistake and "100 mm to 1000 mm" in mistake
        assert "170 mm" in told("#head").inner_text() and told(".piece").count() > 3  # the last good one stays

        path.write_text(browsers.TOAD + "  sheets:\n    - {thickness: 3, length: 900, width: 900}\n")
        page.wait_for_selector("#mistake:has-text('Name at least one')", timeout=PATIENCE)  # found while computing
        assert "170 mm" in told("#head").inner_text()

        path.write_text(browsers.TOAD)
        page.wait_for_selector("#mistake", state="hidden", timeout=PATIENCE)
        page.wait_for_selector("#head:has-text('130 mm')", timeout=PATIENCE)

        page.evaluate(
            "() => { const e = document.querySelector('[data-field=\"spikes[1].height\"]');"
            "e.value = 52; e.dispatchEvent(new Event('change')) }"
        )
        page.wait_for_selector("#table-spikes td:text-is('52.0')", timeout=PATIENCE)
        assert path.read_text() == browsers.TOAD.replace("    height: 40", "    height: 52")
        assert tab.audit() == []
        assert {re.match(r"[a-z]+://[^/]*/|data:", url)[0] for url in tab.asked} <= {f"{origin_of(address)}/", "data:"}
        tab.no_complaint()


def test_new_colours_are_seen_before_anything_is_reckoned_and_at_no_other_time(toad):
    """What the viewer gets is read as it reads it: the colours of the plates in the foam's header."""
    told = []
    works = Workshop(toad, lambda name, content: told.append((name, content)))
    works.do(Errand())
    first = [dict(content) for name, content in told if name == "shape" and "foam" in content]
    for text, seen in (
        (browsers.TOAD + "paint: {plates: bone}\n", 1),
        (browsers.TOAD + "paint: {plates: bone} # so\n", 0),
    ):
        told.clear()
        toad.write_text(text)
        works.do(Errand())
        names = [name for name, _ in told if name != "busy"]
        assert names == ["shape"] * 2 * seen + ["full"]  # the shade follows once it is worked out
        shapes = [content for name, content in told if name == "shape"]
        assert all(tones(content) != tones(first[-1]) for content in shapes)


def test_what_cannot_be_followed_is_one_line(tmp_path):
    (tmp_path / "loop.yaml").symlink_to(tmp_path / "loop.yaml")
    for name in ("none.yaml", "loop.yaml", "x" * 300, str(tmp_path), "a\0b.yaml"):
        told = CliRunner().invoke(main, ["live", str(tmp_path / name), "--port", "0"])
        assert told.exit_code == 2 and told.stderr.startswith("Error: ") and told.stderr.count("\n") == 1


def test_a_file_that_is_not_utf_8_is_a_mistake_and_no_failure(toad):
    """As an old editor saves it; nothing is to be said in the terminal."""
    toad.write_bytes(b"title: caf\xe9\n")
    told = []
    Workshop(toad, lambda name, event: told.append((name, event))).do(Errand())
    assert [name for name, _ in told] == ["mistake"]
    assert f"{toad}:1: Here is the byte 0xe9" in told[0][1]["text"]


def heads(works, toad, text):
    """What the head shows after each event of one save, without markup, and the event."""
    told = []
    works.send = lambda name, content: told.append((name, content))
    toad.write_text(text)
    works.do(Errand())
    return [
        (name, content["title"], re.sub("<[^>]*>", " ", content["head"])) for name, content in told if "head" in content
    ]


def test_title_and_size_are_shown_before_the_figures_and_go_back_with_a_mistake(toad):
    works = Workshop(toad, lambda *_: None)
    first, then = heads(works, toad, browsers.TOAD)
    assert (first[0], then[0]) == ("head", "full") and "420 × 360 × 130 mm" in first[2] and "follow" in first[2]
    wide = browsers.TOAD.replace("width: 360", "width: 380")
    (name, title, head), full = heads(works, toad, "title: Great Toad\n" + wide)
    assert (name, title) == ("head", "Great Toad") and "420 × 380 × 130 mm" in head
    assert full[:2] == ("full", "Great Toad") and "follow" not in full[2] and works.head is None
    (named,) = heads(works, toad, "title: Great Toad\n" + wide + "paint: {plates: bone}\n")
    assert named[0] == "full", "neither title nor size is new"
    wrong = "title: Small Toad\n" + browsers.TOAD + "  sheets: [{thickness: 3, length: 900, width: 900}]\n"
    new, old = heads(works, toad, wrong)
    assert (new[:2], old[:2]) == (("head", "Small Toad"), ("head", "Great Toad")) and "380" in old[2]
    assert "thickness" in works.wrong or "Name" in works.wrong


def test_a_stale_errand_tells_nothing_more(toad):
    told = []
    works, errand = Workshop(toad, lambda *event: told.append(event)), Errand()
    errand.stale.set()
    with pytest.raises(Superseded):
        errand.check()
    for text in (browsers.TOAD, "dome: 7\n"):
        toad.write_text(text)
        works.do(errand)
        assert told == [] and works.good is None and works.wrong == ""
    works.do(Errand())
    assert [name for name, _ in told] == ["mistake"] and "toad.yaml:1" in works.wrong


def tones(shape):
    data = zlib.decompress(base64.b64decode(shape["foam"]))
    length = int.from_bytes(data[:4], "little")
    return json.loads(data[4 : 4 + length])["looks"]["finished"]["tones"]


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGINT")
def test_ctrl_c_ends_it_cleanly_even_while_it_computes(toad):
    with running(toad) as (address, process):
        host, port = re.match(r"http://(.*):(\d+)/", address).groups()
        with socket.create_connection((host, int(port)), timeout=30) as line:  # a page that is open
            line.sendall(f"GET {PAGE}/events HTTP/1.1\r\nHost: {host}:{port}\r\n\r\n".encode())
            assert line.recv(100)
            start = time.monotonic()
            os.kill(process.pid, signal.SIGINT)
            assert process.wait(timeout=30) == 0
        assert time.monotonic() - start < 10
        assert "Traceback" not in process.stderr.read()
    assert [p.name for p in toad.parent.iterdir()] == ["toad.yaml"]
