"""What the server of a folder answers: texts, new presets and packs, and nothing outside the folder."""

import asyncio
import hashlib
import io
import json
import os
import zipfile

import browsers
import numpy as np
import pytest

from shellgen import preset
from shellgen.errors import FaultError
from shellgen.fields import yamltree
from shellgen.live import pace, server, texts
from shellgen.live.builds import PackBuild
from shellgen.live.workbench import Workbench
from shellgen.live.workplace import Workplace
from shellgen.pack import contents

HOST = "127.0.0.1:8730"


class Client:
    """Asks the application without a network; the followers of presets get no time to compute."""

    def __init__(self, folder):
        self.runner = asyncio.Runner()
        self.bench = Workbench(Workplace(folder.resolve()))
        self.app = server.app(self.bench, 8730)

    def ask(self, method, path, content=None, *, body=None, token=True, kind="application/json", **headers):
        """Status, and the JSON or bytes of the answer."""
        sent = json.dumps(content).encode() if content is not None else body or b""
        given = {"host": HOST, "origin": f"http://{HOST}", "content-type": kind} | headers
        given |= {"x-token": self.bench.token} if token else {}
        path, _, query = path.partition("?")
        scope = {"type": "http", "method": method, "path": path, "raw_path": path.encode(), "root_path": "",
                 "query_string": query.encode(), "http_version": "1.1", "scheme": "http",
                 "headers": [(k.encode(), v.encode()) for k, v in given.items()]}  # fmt: skip
        told = []

        async def receive():
            return {"type": "http.request", "body": sent, "more_body": False}

        async def send(message):
            told.append(message)

        self.runner.run(self.app(scope, receive, send))
        self.headers = {k.decode(): v.decode() for k, v in told[0]["headers"]}
        data = b"".join(message.get("body", b"") for message in told[1:])
        return told[0]["status"], json.loads(data) if "json" in self.headers.get("content-type", "") else data


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "toad.yaml").write_text(browsers.TOAD)
    (tmp_path.parent / "secret.yaml").write_text("name: secret\n")
    return tmp_path


@pytest.fixture
def client(folder):
    made = Client(folder)
    yield made
    made.runner.close()


TEXT = "/presets/toad.yaml/text"


# ---- texts ---------------------------------------------------------------------------------------------------------


def test_a_text_is_written_over_the_one_that_was_read_and_no_other(client, folder):
    status, told = client.ask("GET", TEXT)
    assert (status, told["text"]) == (200, browsers.TOAD)
    assert told["digest"] == hashlib.sha256(browsers.TOAD.encode()).hexdigest()
    new = browsers.TOAD.replace("130", "140")
    status, now = client.ask("PUT", TEXT, {"text": new, "digest": told["digest"]})
    assert status == 200 and (folder / "toad.yaml").read_text() == new
    late = client.ask("PUT", TEXT, {"text": "name: mine\n", "digest": told["digest"]})
    assert late == (409, {"error": late[1]["error"], "text": new, "digest": now["digest"]})
    assert "changed meanwhile" in late[1]["error"] and (folder / "toad.yaml").read_text() == new
    assert client.ask("POST", "/presets/toad.yaml/other", {"text": "a: 1\n"}) == (201, {"file": "toad-other.yaml"})
    assert client.ask("POST", "/presets/toad.yaml/other", {"text": "b: 2\n"}) == (201, {"file": "toad-other-2.yaml"})
    assert (folder / "toad-other.yaml").read_text() == "a: 1\n"


@pytest.mark.parametrize("text", ("\ufeffname: a\r\nfoam:\r\n  thickness: 9\r\n", "# 🐢\nname: toad", "", "x: \x00\n"))
def test_bytes_come_back_as_they_were(client, folder, text):
    digest = client.ask("GET", TEXT)[1]["digest"]
    assert client.ask("PUT", TEXT, {"text": text, "digest": digest})[0] == 200
    assert (folder / "toad.yaml").read_bytes() == text.encode() and client.ask("GET", TEXT)[1]["text"] == text


def test_a_change_in_the_last_moment_is_noticed(folder, monkeypatch):
    """Another editor saves after the new text was written and before it is put in place."""
    path = folder / "toad.yaml"
    before = texts.read(path)
    sync = os.fsync

    def and_then(handle):
        sync(handle)
        path.write_text("name: other\n")

    monkeypatch.setattr(os, "fsync", and_then)
    with pytest.raises(texts.OvertakenError) as caught:
        texts.write(path, "name: mine\n", before.digest)
    assert caught.value.now.text == path.read_text() == "name: other\n"
    assert sorted(p.name for p in folder.iterdir()) == ["toad.yaml"]


def test_a_preset_that_is_gone_can_be_written_again_if_a_page_has_it_open(client, folder):
    (folder / "toad.yaml").unlink()
    again = {"text": browsers.TOAD, "digest": texts.GONE}
    assert client.ask("PUT", TEXT, again)[0] == 404
    (folder / "toad.yaml").write_text(browsers.TOAD)
    client.bench.followers["toad.yaml"] = type("Opened", (), {"path": folder / "toad.yaml"})
    assert client.ask("PUT", TEXT, again)[0] == 409
    (folder / "toad.yaml").unlink()
    assert client.ask("PUT", TEXT, again)[0] == 200
    assert preset.read(folder / "toad.yaml").name == "toad"


def test_a_file_that_is_not_utf_8_is_one_clear_error(client, folder):
    (folder / "toad.yaml").write_bytes(b"name: toad\ntitle: caf\xe9\n")
    status, told = client.ask("GET", TEXT)
    assert status == 422 and told["line"] == 2 and "0xe9" in told["error"]
    assert client.ask("PUT", TEXT, {"text": "a: 1", "digest": "0" * 64})[0] == 422
    (folder / "toad.yaml").write_bytes(b"#" * (yamltree.LARGEST + 1))
    assert client.ask("GET", TEXT)[0] == 422


# ---- what is refused -----------------------------------------------------------------------------------------------

HOSTILE = (
    (b"{", 400), (b"[]", 400), (b"7", 400), (b"\xff\xfe", 400), (b'{"text": "a"}', 400),
    (b"[" * 9000 + b"]" * 9000, 400), (b'{"text": 7, "digest": ""}', 400), (b'{"text": "a", "digest": null}', 400),
    (b'{"text": "a", "digest": NaN}', 400),
    (b'{"text": "\\ud800", "digest": ""}', 400), (b'{"text": "caf\xe9", "digest": ""}', 400),
    (b'{"text": "a", "digest": "\\u0000"}', 409), (b'{"text": "a", "digest": "../x"}', 409), (b" " * 800_000, 413),
    (b'{"text": "' + b"a" * 140_000 + b'", "digest": ""}', 422), (b"", 400),
    (b'{"a": ' * 900 + b"1" + b"}" * 900, 400),
)  # fmt: skip


@pytest.mark.parametrize(("body", "status"), HOSTILE, ids=lambda x: str(x)[:30])
def test_a_hostile_body_is_one_clear_error_and_changes_nothing(client, folder, body, status):
    got, told = client.ask("PUT", TEXT, body=body)
    assert got == status and told["error"] and "Traceback" not in told["error"]
    assert client.ask("POST", "/presets", body=body)[0] in (400, 413)
    assert client.ask("POST", "/presets/toad.yaml/figure", body=body)[0] in (400, 413)
    assert (folder / "toad.yaml").read_text() == browsers.TOAD
    assert [p.name for p in folder.iterdir()] == ["toad.yaml"]


def test_a_folder_that_is_gone_is_one_clear_error(client, folder):
    (folder / "toad.yaml").unlink()
    folder.rmdir()
    for path in ("/", "/presets.json", TEXT):
        got, told = client.ask("GET", path)
        assert got == 422 and told["error"] == "The folder cannot be read: No such file or directory."


def test_every_writing_request_needs_the_token_and_a_known_host_and_origin(client, folder):
    writing = (("PUT", TEXT), ("POST", "/presets"), ("POST", "/presets/toad.yaml/other"),
               ("POST", "/presets/toad.yaml/figure"), ("POST", "/presets/toad.yaml/build"),
               ("DELETE", "/presets/toad.yaml/build"))  # fmt: skip
    routes = {(method, route.path) for route in client.app.app.routes for method in route.methods - {"GET", "HEAD"}}
    assert len(routes) == len(writing), "a new writing request: name it here"
    good = {"text": "a: 1", "digest": texts.read(folder / "toad.yaml").digest}
    for method, path in writing:
        assert client.ask(method, path, good, token=False)[0] == 403
        assert client.ask(method, path, good, **{"x-token": "x"}, token=False)[0] == 403
        assert client.ask(method, path, good, origin="http://marsh.example")[0] == 403
        assert client.ask(method, path, good, host="marsh.example:8730")[0] == 403
        assert client.ask(method, path, good, kind="text/plain")[0] in (415, 404)
    assert client.ask("GET", "/", host="marsh.example:8730")[0] == 403
    assert client.ask("GET", TEXT, origin="null")[0] == 403
    assert [p.name for p in folder.iterdir()] == ["toad.yaml"]


OUTSIDE = ("../secret.yaml", "..", ".", "/etc/passwd", "link.yaml", "loop.yaml", "pipe.yaml", "folder.yaml", "CON.yaml",
           "nul", "toad.yaml\0", "toad.yaml/../../secret.yaml", ".hidden.yaml", "toad", "x" * 300, "a.txt")  # fmt: skip


@pytest.mark.skipif(os.name == "nt", reason="needs links and pipes of POSIX")
def test_nothing_but_the_folders_presets_is_read_or_written(client, folder):
    (folder / "link.yaml").symlink_to(folder.parent / "secret.yaml")
    (folder / "loop.yaml").symlink_to(folder / "loop.yaml")
    os.mkfifo(folder / "pipe.yaml")
    (folder / "folder.yaml").mkdir()
    for name in (".hidden.yaml", "a.txt"):
        (folder / name).write_text("name: a\n")
    assert [one["file"] for one in client.ask("GET", "/presets.json")[1]["presets"]] == ["toad.yaml"]
    for name in OUTSIDE:
        for method, path in (("GET", "text"), ("PUT", "text"), ("POST", "other"), ("GET", "picture"), ("GET", "check")):
            got, told = client.ask(method, f"/presets/{name}/{path}", {"text": "a: 1", "digest": texts.GONE})
            assert got == 404, (name, path, told)
    for name in ("../evil", "/tmp/evil", "con", "a/b", "..", "", "a\0", "Évil", "toad", "x" * 300):
        got, told = client.ask("POST", "/presets", {"name": name, "like": "", "unit": "mm", "answers": {}})
        assert got == 422 and told["error"], name
    assert (folder.parent / "secret.yaml").read_text() == "name: secret\n"
    assert not list(folder.parent.rglob("evil*")) and not list(folder.glob("*-other*"))


# ---- new presets ---------------------------------------------------------------------------------------------------


def begun(client, **more):
    return client.ask("POST", "/presets", {"name": "newt", "like": "", "unit": "mm", "answers": {}} | more)


def test_a_new_preset_holds_the_answers(client, folder):
    given = {"wearer.group": "child", "wearer.years": "8", "print.paper": "Letter", "schedule.event": "2027-06-19",
             "nest.sheets[].length": "24", "nest.sheets[].width": "broad", "making.printer.bed_x": "7"}  # fmt: skip
    status, told = begun(client, unit="in", answers=given)
    assert (status, told["field"]) == (422, "nest.sheets[].width") and not (folder / "newt.yaml").exists()
    given["nest.sheets[].width"] = "22 1/2"
    assert begun(client, unit="in", answers=given) == (201, {"address": "/presets/newt.yaml"})
    of = preset.read(folder / "newt.yaml")
    assert (of.wearer.group, of.wearer.years, of.print.paper) == ("child", 8, "Letter")
    assert of.nest.sheets[0].length == pytest.approx(24 * 25.4) and of.nest.sheets[0].width == pytest.approx(571.5)
    assert of.making.printer.bed_x == pytest.approx(7 * 25.4) and of.schedule.event.isoformat() == "2027-06-19"
    assert begun(client, unit="ell")[0] == begun(client, answers={"mesh.edge": "3"})[0] == 400
    assert begun(client, like="../toad")[0] == begun(client, answers={"wearer.group": 3})[0] == 400


def test_a_copy_of_a_demo_has_the_answers_in_place_of_its_own(client, folder):
    given = {"wearer.group": "child", "wearer.years": "9", "nest.sheets[].length": "900", "nest.sheets[].width": "600"}
    assert begun(client, like="marsh-warden", answers=given)[0] == 201
    of = preset.read(folder / "newt.yaml")
    assert (of.name, of.title, of.wearer.group, of.wearer.stature, of.wearer.share) == (
        "newt", "The Marsh Warden", "child", None, False
    )  # fmt: skip
    assert [(sheet.length, sheet.width) for sheet in of.nest.sheets] == [(900, 600)]
    assert "# Your answers" in (folder / "newt.yaml").read_text()


def test_the_start_page_lists_what_there_is_and_asks_in_the_words_of_the_fields(client, folder):
    (folder / "wrong.yaml").write_text("dome: {lenght: 3}\n")
    status, page = client.ask("GET", "/")
    text = page.decode()
    assert status == 200 and text.count('class="card"') == 2 and text.count("has a mistake") == 1
    assert 'data-field="wearer.years"' in text and "Age in years" in text and "<script>" in text
    assert "$" not in text.partition("<body")[2].partition("<script")[0]


# ---- packs ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def packed(folder):
    """A small folder that looks like a pack."""
    home = folder / "out" / "toad"
    (home / "tables").mkdir(parents=True)
    files = {"index.html": b"<p>toad", "tables/a.csv": b"a,b\n", "plan-A4.pdf": b"%PDF-1.4\n", "key.svg": b"<svg/>"}
    entries = [{"path": p, "sha256": hashlib.sha256(d).hexdigest(), "bytes": len(d)} for p, d in files.items()]
    for path, data in files.items():
        (home / path).write_bytes(data)
    record = json.dumps({"name": "toad", "files": entries}).encode()
    (home / "shell.json").write_bytes(record)
    (home / "notes.txt").write_text("mine")
    return {**files, "shell.json": record}


def test_a_zip_holds_the_files_of_the_pack_and_has_the_same_bytes_each_time(client, folder, packed):
    status, data = client.ask("GET", "/packs/toad.zip")
    assert status == 200 and "toad.zip" in client.headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert {name: archive.read(name) for name in archive.namelist()} == {f"toad/{k}": v for k, v in packed.items()}
    os.utime(folder / "out" / "toad" / "key.svg", (1, 1))
    assert client.ask("GET", "/packs/toad.zip")[1] == data
    (folder / "out" / "toad" / "key.svg").write_text("<svg>mine</svg>")
    status, told = client.ask("GET", "/packs/toad.zip")
    assert status == 422 and "key.svg" in told["error"] and "not as it was built" in told["error"]


def test_files_of_a_pack_are_shown_but_reach_nothing(client, folder, packed):
    """A pack may be a stranger's: its page is a document of its own origin, which gets no token."""
    for path, boxed in (("index.html", True), ("key.svg", True), ("tables/a.csv", True), ("plan-A4.pdf", False)):
        assert client.ask("GET", f"/packs/toad/{path}") == (200, packed[path])
        policy = client.headers["content-security-policy"]
        assert ("sandbox" in policy) == boxed and "allow-same-origin" not in policy
    for path in ("notes.txt", "../../toad.yaml", "tables", "", "/etc/passwd", "index.html/", "a\0"):
        assert client.ask("GET", f"/packs/toad/{path}")[0] == 404, path
    for name in ("none", "..", ".", "toad\0"):
        assert client.ask("GET", f"/packs/{name}.zip")[0] == 404


@pytest.mark.skipif(os.name == "nt", reason="needs links of POSIX")
def test_a_pack_leads_nowhere_else(client, folder, packed):
    home = folder / "out" / "toad"
    record = json.loads(packed["shell.json"])
    for name in ("../../../secret.yaml", str(folder.parent / "secret.yaml"), "link", "loop", "a\0b", "x" * 400):
        record["files"].append({"path": name, "sha256": hashlib.sha256(b"name: secret\n").hexdigest(), "bytes": 13})
    (home / "shell.json").write_text(json.dumps(record))
    (home / "link").symlink_to(folder.parent / "secret.yaml")
    (home / "loop").symlink_to(home / "loop")
    for entry in record["files"][4:]:
        status, told = client.ask("GET", f"/packs/toad/{entry['path']}")
        assert status == 404 and "secret\n" not in str(told)
    assert client.ask("GET", "/packs/toad.zip")[0] == 404
    (folder / "out" / "gone").symlink_to(folder.parent)
    (folder.parent / "shell.json").write_text("{}")
    assert client.ask("GET", "/presets.json")[1]["packs"] == ["toad"]
    for bad in ("[]", '{"files": 7}', '{"files": [{}]}', "[" * 5000, ""):
        (home / "shell.json").write_text(bad)
        assert client.ask("GET", "/packs/toad/index.html")[0] == 404


@pytest.mark.skipif(os.name == "nt", reason="needs links of POSIX")
def test_no_pack_is_written_through_a_link(folder):
    (folder.parent / "elsewhere").mkdir()
    (folder / "out").symlink_to(folder.parent / "elsewhere")
    with pytest.raises(Exception, match="leads out of the folder"):
        Workplace(folder.resolve()).place_of_pack("toad")
    assert Workplace(folder.resolve()).packs() == {}


def test_a_build_that_fails_says_why_and_writes_nothing(folder, monkeypatch):
    reports = []

    def built():
        reports.clear()
        made = PackBuild(folder / "toad.yaml", Workplace(folder.resolve()), reports.append)
        made._run()
        return reports[-1]

    (folder / "toad.yaml").write_text("name: toad\nfoam:\n  thick: 9\n")
    assert built()["state"] == "failed" and "toad.yaml:3: foam.thick" in reports[-1]["text"]
    (folder / "toad.yaml").write_text(browsers.TOAD)

    def hurts(*_, **__):
        raise FaultError("This shell could hurt somebody.", ("A cord is 9 mm from the throat.",))

    monkeypatch.setattr(contents, "build", hurts)
    assert built()["faults"] and "from the throat" in reports[-1]["text"]
    (folder / "out").mkdir()
    (folder / "out" / "toad").write_text("mine")
    assert built()["state"] == "failed" and "not a folder" in reports[-1]["text"]
    assert [p.name for p in (folder / "out").iterdir()] == ["toad"]


def test_a_cancelled_build_ends_at_the_next_stage_and_leaves_the_pack(folder, packed, monkeypatch):
    reports = []
    made = PackBuild(folder / "toad.yaml", Workplace(folder.resolve()), reports.append)

    def build(*_, progress, **__):
        progress("surface")
        made.cancel()
        progress("plates")
        raise AssertionError

    monkeypatch.setattr(contents, "build", build)
    made._run()
    assert [report["state"] for report in reports] == ["running", "cancelled"]
    assert (folder / "out" / "toad" / "shell.json").read_bytes() == packed["shell.json"]


def test_one_build_at_a_time(client, folder):
    running = PackBuild(folder / "toad.yaml", client.bench.place, print)
    client.bench.builds["newt.yaml"] = running
    client.bench.followers["toad.yaml"] = type("Opened", (), {"path": folder / "toad.yaml", "send": print})
    status, told = client.ask("POST", "/presets/toad.yaml/build", {"accept_faults": False})
    assert status == 409 and "newt.yaml is being built" in told["error"]
    assert client.ask("DELETE", "/presets/newt.yaml/build")[0] == 204 and running._cancelled.is_set()
    assert client.ask("DELETE", "/presets/none.yaml/build")[0] == 404


# ---- how far a build has come --------------------------------------------------------------------------------------


def test_the_share_grows_and_the_time_left_follows_the_pace():
    names = list(pace.STAGES)
    assert pace.at([], 0.0) == (0.0, pytest.approx(sum(pace.STAGES.values())))
    for slower in (0.5, 1.0, 3.0):
        now, begun_, shares = 0.0, [], []
        for name in names:
            begun_.append((name, now))
            share, left = pace.at(begun_, now)
            shares.append(share)
            if now >= slower * pace.MEASURED:
                rest = sum(list(pace.STAGES.values())[names.index(name) :])
                assert left == pytest.approx(slower * rest, rel=0.01)
            now += slower * pace.STAGES[name]
        assert np.diff(shares).min() > -1e-9 and shares[0] == 0 and 0.85 < shares[-1] < 1
        assert pace.at(begun_, now)[0] == pytest.approx(1)
    warm = [("templates", 0.0)]  # all before it is remembered
    assert pace.at(warm, 0.0)[0] > 0.3 and pace.at([*warm, ("masks", 1.0), ("new stage", 2.0)], 2.0)[1] > 0
