"""A pack that is passed on: no measure leaks, equal input gives equal bytes, names are safe."""

import io
import re
import zipfile
import zlib
from dataclasses import replace
from datetime import date
from itertools import islice
from pathlib import Path

import pytest
from click.testing import CliRunner
from empty_record import empty
from pypdf import PdfReader
from written import preset_of

from shellgen import preset, share
from shellgen.cli import main
from shellgen.errors import FitError
from shellgen.preset import resolved
from shellgen.record import Record
from shellgen.record.dome import DomeEntry
from shellgen.record.pieces import PieceEntry
from shellgen.record.stock import SheetEntry
from shellgen.record.wear import WearEntry
from shellgen.share import cover, plain
from shellgen.wear import wearer
from shellgen.workshop import schedule

SMALL = """
name: small
title: The Small One
dome: {length: 380, width: 320, height: 120, keel: 0, flare: 8}
mesh: {edge: 25}
foam: {thickness: 6}
seams: {plan: listed, stretch_limit: 15 %, between: [marginal-L-1 / marginal-L-2, marginal-L-4 / marginal-L-5]}
shape: {rounds: 0}
plates: {vertebrals: 3, pleurals: 2, marginals: 6}
spikes: []
proof: {glued_limit: 30}
nest: {effort: quick}
share: {license: CC BY-NC 4.0, by: "A & B <workshop>"}
"""
MEASURES = {"stature": 1731.37, "mass": 81372.9, "neck_height": 1463.83}
PRIVATE = ("1731.37", "1731 mm", "173.1 cm", "81372.9", "81.37 kg", "81.4 kg", "1463.83", "1464 mm")
"""What none of the files may say. No figure of so small a shell is as large by chance."""


def worn(of, **measures):
    return replace(of, wearer=wearer.Params(**measures))


@pytest.fixture(scope="module")
def small():
    return worn(preset_of(SMALL), **MEASURES)


@pytest.fixture(scope="module")
def files(small):
    return share.build(small)


def readable(data):
    """The bytes of a file, and of every compressed stream within a PDF."""
    yield data
    if data.startswith(b"%PDF"):
        for found in re.finditer(rb"stream\r?\n(.*?)endstream", data, re.DOTALL):
            try:
                yield zlib.decompressobj().decompress(found[1])
            except zlib.error:
                yield found[1]
        if b"Helvetica" in data:
            yield "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages).encode()


LEAK = re.compile(rb"(?<![\d.])(%b)(?!\d)" % "|".join(PRIVATE).encode())


def leaks(files):
    return [
        (path, word.decode()) for path, data in files.items() for text in readable(data) for word in LEAK.findall(text)
    ]


def test_no_measure_leaks(files, small):
    assert leaks(files) == []
    assert not any(b"stature" in data and path.endswith(".yaml") for path, data in files.items())
    pdfs = [path for path in files if path.endswith(".pdf")]
    assert len(pdfs) > 6 and all(len(list(islice(readable(files[path]), 2))) > 1 for path in pdfs), (
        "streams were opened"
    )


def test_the_search_would_find_a_leak(small):
    told = share.public(small, with_measures=True)
    title = replace(told, title="stature 1731.37")
    record = replace(RECORD, name="x")
    page = cover.page(title, record, ["templates-A4.pdf"], PICTURE, "A4")
    assert ("cover.pdf", "1731.37") in leaks({"cover.pdf": page})
    assert ("small.yaml", "1731.37") in leaks({"small.yaml": plain.text(told).encode()})


def test_what_is_computed_never_sees_who_wears_it(small):
    """Presets that differ in the private alone become one and the same: so then must all that is made of them."""
    other = worn(small, years=7, share=True)
    other = replace(other, schedule=replace(schedule.Params(), event=date(2027, 5, 1)))
    child = replace(preset_of(SMALL), wearer=wearer.Params(group="child"))
    assert repr(share.public(small)) == repr(share.public(other)) == repr(share.public(child)) == repr(child)
    grown = worn(small, stature=1731.37, years=40)
    assert share.public(grown).wearer.group == "adult" and share.public(preset_of(SMALL)).wearer.group is None
    assert repr(share.public(small)) != repr(share.public(small, with_measures=True))


def test_it_holds_both_papers_cover_licence_and_preset(files, small):
    for paper, size in (("A4", (595.276, 841.89)), ("Letter", (612, 792))):
        for name in ("cover", "templates", "wrap", "masks", "guide"):
            page = PdfReader(io.BytesIO(files[f"{name}-{paper}.pdf"])).pages[0]
            assert sorted(map(float, page.mediabox[2:])) == pytest.approx(size, abs=0.01)
        reader = PdfReader(io.BytesIO(files[f"cover-{paper}.pdf"]))
        text = " ".join(reader.pages[0].extract_text().split())
        assert len(reader.pages) == 1 and len(reader.pages[0].images) == 1
        for words in ("The Small One", "380 x 320 x 120 mm", "A4 and Letter", "A & B <workshop>. Licence: CC BY-NC",
                      "Caution", "templates/"):  # fmt: skip
            assert words in text
    assert files["LICENSE.txt"] == b"Made by A & B <workshop>. Licence: CC BY-NC 4.0\n"
    again = preset_of(files["small.yaml"].decode())
    assert resolved.resolved(again).rows == resolved.resolved(share.public(small)).rows
    assert cover.licence(preset.ShareSection()) == cover.NO_LICENCE


def test_equal_input_gives_equal_bytes_and_safe_names(files):
    data = share.zipped(files, "small")
    assert data == share.zipped(dict(reversed(list(files.items()))), "small")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        entries = archive.infolist()
        assert [e.filename for e in entries] == sorted(f"small/{path}" for path in files)
        assert {e.date_time for e in entries} == {share.EPOCH}
        assert all(re.fullmatch(r"[A-Za-z0-9._/-]+", e.filename) and ".." not in e.filename for e in entries)
    for bad in ("../x", "/x", "a\\b", "c:x", ""):
        with pytest.raises(FitError, match="leads out of the folder"):
            share.zipped({bad: b""}, "small")


@pytest.mark.parametrize("name", ["marsh-warden", "puddle-hatchling", "reed-knight"])
def test_presets_are_written_out_whole(name):
    of = preset.read(Path("presets") / f"{name}.yaml")
    again = preset_of(plain.text(of))
    for (field, was, _), (same, now, _) in zip(resolved.resolved(of).rows, resolved.resolved(again).rows, strict=True):
        assert (field, was) == (same, now)


def test_awkward_text_survives_being_written_out():
    of = replace(preset_of(SMALL), title='\'#: - [x] {y} "z" no')
    assert preset_of(plain.text(of)).title == of.title


def test_the_command_writes_one_file(files, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(share, "build", lambda *_, **__: files)
    Path("small.yaml").write_text(SMALL, encoding="utf-8")
    result = CliRunner().invoke(main, ["share", "small.yaml"])
    assert result.exit_code == 0, result.output
    assert [p.name for p in Path("out").iterdir()] == ["small.zip"] and "Licence: CC BY-NC 4.0" in result.stdout
    assert Path("out/small.zip").read_bytes() == share.zipped(files, "small")


RECORD = empty(
    Record,
    foam_thickness_mm=6.0,
    sheets=(empty(SheetEntry),),
    pieces=(empty(PieceEntry), empty(PieceEntry)),
    mass_g=400.0,
    wear=empty(WearEntry, group="child"),
    dome=empty(DomeEntry, length_mm=380.0, width_mm=320.0, height_mm=120.0),
)
PICTURE = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de0000000c4944415408d763f8ffff3f0005fe02fe"
    "dccc59e70000000049454e44ae426082"
)  # a PNG of one white point
