"""Plain English: the quaintest words stay out of everything that a person reads."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
WORDS = {
    r"tolds?": "shown, named, reported",
    r"reckon(s|ed|ing)?": "compute, estimate",
    r"beside": "next to, in addition to; a worker runs in parallel",
    r"stray(s|ed|ing)?": "deviate; an outlier",
    r"astride": "a centre piece; across the midline",
    r"lest": "so that ... not",
    r"nought": "zero",
    r"amiss": "wrong",
    r"whoever": "anyone who",
    r"furniture": "page marks",
    r"laid back": "scheduled backwards",
    r"(take|takes|taken|taking) in hand": "begin",
    r"(lay|lays|laid) ready": "you need",
    r"(whence|thence|hither|thither|thereof|therein|wherein|withal|hence|thus)": "from where, so",
    r"found [^.\n]*; allowed": "say it as a sentence: X is not a paper. Choose A4 or A3.",
}
EXCEPTIONS = (
    "noise     : rms distance of the scan from the dome; strays : share of its points that did not count",
    "strays: float",
    "strays=float(1 - near.mean()),",
    "strays=round(of.strays, 6),",
    "mended.strays > _LOST,",
    'f"{mended.smoothing:.0f} mm are gone, and {mended.strays:.1%} of its points were outliers that do not count",',
)
"""Whole lines: "strays" is a published key of the record, and published keys keep their names."""
BAD = re.compile(rf"(?<![\w-])({'|'.join(WORDS)})(?![\w-])", re.IGNORECASE)
LIBRARIES = "node_modules"
READ = (".py", ".html", ".css", ".js", ".md", ".yaml")
BUILT = {ROOT / "shellgen/page/viewer.js", ROOT / "shellgen/live/workbench.js"}  # by a bundler, others' libraries too


def places(path: Path) -> list[Path]:
    if path.is_file():
        return [path]
    return sorted(p for p in path.rglob("*") if p.suffix in READ and p not in BUILT and LIBRARIES not in p.parts)


def found(paths: list[Path]) -> list[str]:
    """Each bad word by file and line."""
    return [
        f"{path.relative_to(ROOT)}:{number}: {match[0]}"
        for path in paths
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if line.strip() not in EXCEPTIONS
        for match in BAD.finditer(line)
    ]


ROOMS = [*sorted(p for p in (ROOT / "shellgen").iterdir() if p.is_dir() and p.name != "__pycache__")]
TOP = [*sorted((ROOT / "shellgen").glob("*.py")), ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "presets"]


@pytest.mark.parametrize("place", [*ROOMS, *TOP], ids=lambda p: p.name)
def test_words_are_plain(place: Path) -> None:
    bad = found(places(place))
    assert not bad, f"say it plainly (WORDS names better words): {bad}"


def test_no_exception_outlives_its_line() -> None:
    lines = {line.strip() for path in places(ROOT / "shellgen") for line in path.read_text("utf-8").splitlines()}
    assert set(EXCEPTIONS) <= lines


def test_the_list_finds_what_it_should() -> None:
    for text in ("as told by", "Reckoned from", "found 3; allowed: 2", "it strays", "lay ready"):
        assert BAD.search(text), text
    for text in ("forthright", "thistles", "besides", "untold", "retold-x", "next to the seam"):
        assert not BAD.search(text), text
