"""YAML as a tree of text with lines, safe from strangers."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from shellgen.errors import PresetError
from shellgen.fields import yamltree
from shellgen.fields.yamltree import Scalar, Section, YamlList

TRAPS = """\
# a comment
answer: no
time: 12:30
octal: 0123
score: 1_000
list:
  - a
  - {b: "yes"}
"""


def test_scalars_stay_as_written_with_their_lines() -> None:
    tree = yamltree.parse(TRAPS.encode())
    texts = {key: node.text for key, node in tree.entries.items() if isinstance(node, Scalar)}
    assert texts == {"answer": "no", "time": "12:30", "octal": "0123", "score": "1_000"}
    assert [tree.key_lines[key] for key in tree.entries] == [2, 3, 4, 5, 6]
    listed = tree.entries["list"]
    assert isinstance(listed, YamlList) and [item.line for item in listed.items] == [7, 8]
    inner = listed.items[1]
    assert isinstance(inner, Section) and inner.entries["b"] == Scalar("yes", 8, plain=False)


def test_a_byte_order_mark_and_windows_line_ends_are_harmless() -> None:
    tree = yamltree.parse(b"\xef\xbb\xbfa: 1\r\nb: 2\r\n")
    assert tree.key_lines == {"a": 1, "b": 2}


@pytest.mark.parametrize(
    ("data", "line", "found"),
    [
        (b"", 0, "file is empty"),
        (b"# only\n# comments\n", 0, "file is empty"),
        (b"---\n", 0, "only comments"),
        (b"- a\n", 1, "a list"),
        (b"word\n", 1, '"word"'),
        (b"a: 1\nb: 2\na: 3\n", 3, '"a" stands here twice, first in line 1'),
        (b"a:\n  b: 1\n  b: 1\n", 3, '"b" stands here twice'),
        (b"a: !!python/object/apply:os.system ['x']\n", 1, "The tag"),
        (b"a: 1\nb: !local x\n", 2, "The tag"),
        (b"a: &x 1\nb: *x\n", 1, '"&x"'),
        (b"a: 1\nb: *x\n", 2, '"*x"'),
        (b"a: 1\n---\nb: 2\n", 2, "A second document"),
        (b"a:\n\tb: 1\n", 2, "a tab"),
        (b"a: b: c\n", 1, '"a: b: c"'),
        (b"a: 1\n  b: 2\n", 2, '"b: 2"'),
        (b"a: 1\nb: [1, 2\n", 2, "brackets that do not close"),
        (b"a: 1\nb: 'x\n", 2, "quotes that do not close"),
        (b"a: 1\nb 2\nc: 3\n", 2, '"b 2"'),
        (b"a:\n  b: 1\n c: 2\n", 3, '"c: 2"'),
        (b"a: @x\n", 1, '"a: @x"'),
        (b"[a]: 1\n", 1, "key is not a word"),
        (b"a: 1\nb: \x07\n", 2, "control character U+0007"),
        (b"a: 1\nb: \x1b[31m\n", 2, "control character U+001B"),
        ("a: 1\nb: \u2028\n".encode(), 2, "control character U+2028"),
        (b"a: 1\nb: caf\xe9\n", 2, "the byte 0xe9"),
        ("a: 1\n".encode("utf-16"), 1, "UTF-16"),
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", 2, "the byte 0xe2"),
        (b"a: " + b"[" * 21 + b"]" * 21, 1, "more than 20 levels"),
        (b"[" * 100_000, 1, "more than 20 levels"),
        (b"- " * 100, 1, "more than 20 levels"),
        (b"a: " + b"x" * 2**20, 0, "more than 128 kB"),
    ],
)
def test_what_is_refused_names_line_and_finding(data: bytes, line: int, found: str) -> None:
    with pytest.raises(PresetError) as caught:
        yamltree.parse(data, file="shell.yaml")
    error = caught.value
    assert error.line == line and found in error.problem and error.remedy
    assert str(error).startswith(f"shell.yaml:{line}: " if line else "shell.yaml: ")
    assert "\n" not in str(error) and str(error).isprintable() and len(str(error)) < 400


def test_a_bomb_of_aliases_is_refused_at_its_first_anchor() -> None:
    levels = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    levels += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 10)]
    with pytest.raises(PresetError, match=r"shell\.yaml:1: "):
        yamltree.parse("\n".join(levels).encode(), file="shell.yaml")


def test_files_that_are_none(tmp_path: Path) -> None:
    for path, found in ((tmp_path, "a folder"), (tmp_path / "none.yaml", "no such file")):
        with pytest.raises(PresetError, match=found):
            yamltree.read(path)
    if sys.platform != "win32":
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(PresetError, match="not a file"):
            yamltree.read(tmp_path / "pipe")


def test_quotes_show_nothing_unprintable() -> None:
    assert yamltree.quote("a\x1b[31m\u202eb\n") == '"a\\x1b[31m\\u202eb\\n"'
    assert yamltree.quote('say "x"') == "'say \"x\"'"
    assert yamltree.quote("x" * 100).endswith('…" (100 characters)')
