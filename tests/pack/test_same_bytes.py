"""One preset and one version give one pack, byte for byte, whoever builds it, where and when; and a safe one."""

from __future__ import annotations

import csv
import hashlib
import io
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import ezdxf
import pypdf
import pytest

PRESET = """\
name: pond
title: "=1+1</title><script>alert(1)</script> & ü"
dome: {length: 300, width: 260, height: 90}
mesh: {edge: 40}
plates: {layout: turtle, vertebrals: 3, pleurals: 2, marginals: 6}
seams: {plan: gores, gores: 4, stretch_limit: 15 %}
shape: {rounds: 1}
spikes:
- {plates: pleural, base_diameter: 20, height: 30}
nest: {effort: quick, sheets: [{length: 1000, width: 1000, name: "=HYPERLINK(\\"x\\")<b>&"}]}
schedule: {event: 2027-06-05}
print: {paper: A2}
"""
PROGRAM = """\
import datetime, os, sys, time
os.umask(int(sys.argv[1], 8))
late = float(sys.argv[2])
if late:
    clock, day = time.time, datetime.datetime
    class Kind(type(day)):
        def __instancecheck__(cls, value): return isinstance(value, day)
    class Later(day, metaclass=Kind):
        @classmethod
        def now(cls, tz=None): return day.now(tz) + datetime.timedelta(seconds=late)
        @classmethod
        def utcnow(cls): return day.utcfromtimestamp(clock() + late)
        @classmethod
        def today(cls): return cls.now()
    time.time, datetime.datetime = lambda: clock() + late, Later
from shellgen.cli import main
try: main(sys.argv[3:])
finally: open("loaded.txt", "w").write(" ".join(sys.modules))
"""
ELSEWHERE = (
    {"umask": "022", "late": "0", "LC_ALL": "C", "TZ": "UTC", "PYTHONHASHSEED": "0", "OMP_NUM_THREADS": "1"},
    {"umask": "077", "late": "9e8", "LC_ALL": "C.UTF-8", "TZ": "Asia/Kathmandu", "PYTHONHASHSEED": "7"},
)


@pytest.fixture(scope="module")
def packs(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The pack of one preset, built at the same time by two processes that have little in common."""
    made, running = [], []
    for number, how in enumerate(ELSEWHERE):
        here = tmp_path_factory.mktemp(f"{'deep/' * number}place".replace("/", "-"))
        (here / "pond.yaml").write_text(PRESET, encoding="utf-8")
        environment = {**os.environ, "OMP_NUM_THREADS": "2", **{k: v for k, v in how.items() if k.isupper()}}
        out = here / ("out" if number else "a longer way/to the pack")
        words = [sys.executable, "-c", PROGRAM, how["umask"], how["late"], "build", "pond.yaml", "--out", str(out)]
        running.append(subprocess.Popen(words, cwd=here, env=environment, stderr=subprocess.PIPE))
        made.append(out)
    for process in running:
        _, told = process.communicate(timeout=400)
        assert process.returncode == 0, told.decode()[-2000:]
    return made[0], made[1]


def digests(folder: Path) -> dict[str, str]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_two_processes_give_the_same_bytes(packs: tuple[Path, Path]) -> None:
    first, second = map(digests, packs)
    assert len(first) > 20
    assert first == second, [name for name in first if first[name] != second.get(name)]


def test_a_build_loads_no_library_that_it_does_not_use(packs: tuple[Path, Path]) -> None:
    loaded = set((packs[1].parent / "loaded.txt").read_text().split())
    assert "reportlab" in loaded
    assert not {"cadquery", "cv2", "distributed", "starlette", "svgpathtools", "uvicorn", "watchfiles"} & loaded


def test_nothing_in_the_pack_says_where_or_when_it_was_made(packs: tuple[Path, Path]) -> None:
    for folder in packs:
        for path in folder.rglob("*"):
            if path.is_file():
                data = path.read_bytes()
                assert str(folder.parent).encode() not in data and b"/tmp/" not in data, path


def test_text_of_strangers_stays_text(packs: tuple[Path, Path]) -> None:
    """The title and a sheet's name hold markup and a formula."""
    told, readers = set(), {".svg": ET.parse, ".dxf": ezdxf.readfile, ".pdf": pypdf.PdfReader}
    for path in sorted(packs[0].rglob("*")):
        if path.suffix in readers:
            readers[path.suffix](path)
        if path.suffix == ".svg":
            assert not [e.tag for e in ET.parse(path).iter() if re.search("script|foreignObject|[}]a$", e.tag)]
        elif path.suffix == ".html":
            told.add(path.suffix)
            text = path.read_text(encoding="utf-8")
            assert "<script>alert" not in text and "</title><script" not in text and '")<b>' not in text
            assert "=1+1&lt;/title&gt;&lt;script&gt;" in text
        elif path.suffix == ".csv":
            for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")):
                for cell in row:
                    assert cell[:1] not in ("=", "@", "\t", "\r") and not re.match("[+-][^0-9.]", cell), (path, cell)
                    told |= {".csv"} if "HYPERLINK" in cell else set()
        elif path.suffix == ".pdf":
            info = pypdf.PdfReader(path)
            assert "/JavaScript" not in str(info.trailer["/Root"]) and "/OpenAction" not in info.trailer["/Root"]
    assert ".html" in told
