"""Presets from strangers, at the command line: the figures, or one clear line and exit code 2, never a traceback."""

from __future__ import annotations

import os
import random
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shellgen.cli import main
from shellgen.draw.painted_scene import tone_colours
from shellgen.draw.shell_scene import PALETTE
from shellgen.wear import _patch

HERE = Path(__file__).parents[1]
BAD = sorted((HERE / "bad_presets").glob("*"))
DEMOS = sorted((HERE.parent / "presets").glob("*.yaml"))
SOON = 10.0  # seconds: what a maker waits before the program seems to hang
FULL = 128 * 1024 - 64  # bytes: as large as a preset may be, nearly

sys.path.insert(0, str(HERE.parent / "benchmarks"))
import made_up  # noqa: E402


def check(path: Path | str) -> Result:
    """What `check` says, which is never more than one line if it is not good."""
    start = time.perf_counter()
    result = CliRunner().invoke(main, ["check", "--figures", str(path)])
    assert time.perf_counter() - start < SOON
    assert result.exception is None or isinstance(result.exception, SystemExit), repr(result.exception)
    assert result.exit_code in (0, 2), result.output
    if result.exit_code:
        told = result.stderr.removesuffix("\n")
        assert told.startswith("Error: ") and told.isprintable() and len(told) < 2000
        assert not result.stdout
    return result


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.name)
def test_bad_files_end_in_one_line(path: Path) -> None:
    assert check(path).exit_code == 2


FULL_OF = {
    "one word": "a",
    "open brackets": "[",
    "open braces": "{a: ",
    "quotes": '"',
    "colons": "a: ",
    "commas in brackets": "[,",
    "hyphens": "- ",
    "keys asked for": "? ",
    "aliases": "*a ",
    "anchors": "&a ",
    "tags": "!a ",
    "percent": "%",
    "lines": "\n",
    "keys": "{n}: 1\n",
    "sections": "dome{n}:\n  length: 1\n",
    "groups of spikes": "- {n}\n",
    "turned text": "\u202e",
    "accents": "ä\u0308\u0308",
    "block text": "|\n a\n",
    "escapes": '"\\x41',
    "comments": "# a\n",
}


@pytest.mark.parametrize("piece", FULL_OF.values(), ids=FULL_OF.keys())
def test_a_file_full_of_one_thing_is_refused_soon(piece: str, tmp_path: Path) -> None:
    path = tmp_path / "full.yaml"
    one = len(piece.encode()) + 3
    for opening in ("", "dome:\n  length: ", "title: "):
        text = opening + "".join(piece.replace("{n}", str(n)) for n in range(FULL // one))
        path.write_bytes(text.encode()[:FULL])
        assert check(path).exit_code == (0 if opening == "title: " and piece[0] in "\n#" else 2)


def test_a_scalar_of_a_megabyte_is_not_even_read(tmp_path: Path) -> None:
    path = tmp_path / "long.yaml"
    path.write_text("title: " + "x" * 2**20, encoding="utf-8")
    assert "has more than 128 kB" in check(path).stderr


def test_a_list_as_long_as_it_may_be_is_read_soon(tmp_path: Path) -> None:
    path = tmp_path / "groups.yaml"
    path.write_text("spikes:\n" + 200 * "- {plates: [nuchal], height: 20}\n", encoding="utf-8")
    assert "There may be up to 60" in check(path).stderr
    path.write_text("spikes:\n" + 201 * "- {plates: [nuchal]}\n", encoding="utf-8")
    assert "201 items are too many" in check(path).stderr


@pytest.mark.parametrize("name", ["a\x1b[2Jb.yaml", "a\nb.yaml", "a\x07.yaml", "\u202eb.yaml", "ä <b>&.yaml"])
def test_a_files_own_name_cannot_write_on_the_terminal(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text("dome: {length: 0}", encoding="utf-8")
    assert check(tmp_path / name).exit_code == 2
    assert check(tmp_path / f"no-{name}").exit_code == 2


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    (tmp_path / "loop.yaml").symlink_to(tmp_path / "loop.yaml")
    for path in (tmp_path, tmp_path / "pipe.yaml", tmp_path / "loop.yaml", "/dev/zero", "a" * 300, "a\0b", ""):
        assert check(path).exit_code == 2


WORDS = st.sampled_from(
    ["", "~", ".nan", "-.inf", "1e400", "-0", "0x10", "1_0", "12:30", "٣", "1/0 in", "9" * 400, "5 %", "3 kg", "=1+1"]
) | st.sampled_from(
    [
        "'",
        '"',
        "[",
        "]",
        "{a: 1}",
        "{a:",
        "[[1]]",
        "&a 1",
        "*a",
        "!!python/object:os.system x",
        "<<",
        "|",
        ">",
        "? a",
        "- - 1",
        "<script>",
        "../../etc/passwd",
        "C:\\con",
        "\\0",
        "\x00",
        "\u202e",
        "\x85",
        "\ufeff",
        "no",
        "none",
    ]
)
FIGURES = st.floats().map(repr) | st.integers(-(10**20), 10**20).map(str) | st.text(max_size=12)


@st.composite
def spoilt(draw: st.DrawFn) -> str:
    """A demo, or a preset made up from all that may be said, with lines changed, cut, doubled, moved or indented."""
    made = draw(st.sampled_from(DEMOS) | st.integers(1, 10**6))
    text = (
        made_up.draw(random.Random(made), bold=0.2, exact=False).text
        if isinstance(made, int)
        else made.read_text(encoding="utf-8")
    )
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, len(lines) - 1))
        head, colon, _rest = lines[at].partition(":")
        how = draw(st.sampled_from(["word", "figure", "cut", "double", "indent", "move", "put in"]))
        if how in ("word", "figure"):
            lines[at] = f"{head}{colon} {draw(WORDS if how == 'word' else FIGURES)}"
        elif how == "cut":
            lines[at] = lines[at][: draw(st.integers(0, len(lines[at])))]
        elif how == "double":
            lines.insert(at, lines[at])
        elif how == "indent":
            lines[at] = " " * draw(st.integers(0, 8)) + lines[at].strip()
        elif how == "move":
            lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(at))
        else:
            lines.insert(at, draw(WORDS))
    return "\n".join(lines)


@settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None)
@given(text=spoilt())
def test_spoilt_presets_end_well(text: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.getbasetemp() / "spoilt.yaml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    check(path)


@settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None)
@given(data=st.binary(max_size=200) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_any_bytes_end_well(data: bytes, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.yaml"
    path.write_bytes(data)
    check(path)


def test_glue_that_bears_next_to_nothing_gives_no_patch_that_fills_any_memory() -> None:
    """The patch would be fifty metres long; that the glue is too weak is found by the checks of the harness."""
    patch = _patch.patch("neck", 500.0, np.pi / 2, 40.0, edge=15.0, stress_kpa=0.05, peel=0.01)
    assert patch.length == patch.width == _patch.LARGEST
    assert _patch.bond(500.0, np.pi / 2, patch.length, patch.width).peel > 0.01


def test_a_shell_without_any_coat_of_paint_is_shown_all_the_same() -> None:
    bare = SimpleNamespace(name="plates", coats=0)
    assert tuple(tone_colours((bare,), "painted")[0]) == PALETTE["plates"]
