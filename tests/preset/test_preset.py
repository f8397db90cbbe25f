"""Presets bound to what the stages declare: right values, and one clear error for each mistake."""

from __future__ import annotations

import dataclasses
import datetime
import math
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from shellgen import preset
from shellgen.core import registry
from shellgen.errors import GeometryError, PresetError
from shellgen.fields import bind, params, values, yamltree

DEMOS = sorted((Path(__file__).parents[2] / "presets").glob("*.yaml"))
NO_COMMENT = {"binary.yaml": 1, "empty.yaml": 0, "only-comments.yaml": 0, "png.yaml": 1, "utf16.yaml": 1}
BAD = sorted((Path(__file__).parents[1] / "bad_presets").glob("*"))


@dataclass(frozen=True, slots=True, eq=False)
class Box:
    length: float = params.length(560, 120, 1200, "Length.")
    lean: float = params.angle(0, -30, 30, "Lean.")
    keel: float | None = params.length(None, 1, 50, "Keel.")
    limit: float = params.ratio(0.03, 0.002, 0.15, "Limit.")

    def __post_init__(self) -> None:
        if self.keel is not None and self.keel > self.length / 10:
            raise PresetError("keel", f"{self.keel:g} mm is too much.", "Give a tenth of the length.")
        if self.lean and self.length > 1000:
            raise GeometryError("a long box cannot lean")


@dataclass(frozen=True, slots=True, eq=False)
class Peg:
    base: float = params.length(params.REQUIRED, 10, 200, "Base.")
    kind: str = params.choice("cone", ("cone", "bent-horn"), "Kind.")
    rows: tuple[int, ...] = params.many(params.count(1, 1, 9, "Row."), "Rows.", most=3)


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    kind: str = params.member("plan", "shellgen.dome.surfaces", "Kind.")
    base: float = params.length(10, 10, 200, "Base.")


@dataclass(frozen=True, slots=True, eq=False)
class Whole:
    name: str | None = params.slug(None, "Name.")
    title: str = params.text("Untitled", "Title.", longest=20)
    day: datetime.date | None = params.date(None, "Day.")
    soft: bool = params.flag(False, "Soft.")
    weight: float = params.mass(0, 0, 200_000, "Weight.")
    density: float = params.number(0.1, 0.01, 0.5, "Density.", unit="g/cm3")
    box: Box = params.group(Box, "Box.")
    pegs: tuple[Peg, ...] = params.many(Peg, "Pegs.")
    dome: params.Chosen = params.family("plan", "kind", "shellgen.dome.surfaces", "Dome.")
    shared: params.Chosen = params.family("plan", "kind", "shellgen.dome.surfaces", "Dome.", common=Shared)
    plates: tuple[str, ...] = params.many(params.text(params.REQUIRED, "Plate."), "Plates.", default=("all",))


def read(text: str) -> Whole:
    return bind.bind(yamltree.parse(text.encode(), file="shell.yaml"), Whole, file="shell.yaml")


def test_values_arrive_in_mm_radians_and_grams() -> None:
    whole = read("""\
name: marsh-warden
title: "Marsh: Warden"
day: 2027-06-05
soft: yes
weight: 160 lb
density: 0.2 g/cm3
box: {length: 22 in, lean: 30, keel: none, limit: 15%}
pegs:
  - base: 1 1/2 in
    rows: [1, 2]
dome: plan
""")
    assert (whole.name, whole.title, whole.soft) == ("marsh-warden", "Marsh: Warden", True)
    assert whole.day == datetime.date(2027, 6, 5)
    assert whole.weight == pytest.approx(72574.7792)
    assert (whole.box.length, whole.box.keel, whole.box.limit) == (pytest.approx(558.8), None, 0.15)
    assert whole.box.lean == math.radians(30)
    assert [(peg.base, peg.kind, peg.rows) for peg in whole.pegs] == [(38.1, "cone", (1, 2))]
    assert whole.dome.name == "plan" and whole.dome.own.length == 560.0


def test_a_family_section_holds_what_is_shared_and_the_members_own() -> None:
    chosen = read("shared: {kind: plan, base: 20, length: 30 cm}").shared
    assert (chosen.name, chosen.common.base, chosen.common.kind, chosen.own.length) == ("plan", 20.0, "plan", 300.0)


def test_a_word_may_stand_for_a_list_of_one() -> None:
    assert read("plates: nuchal").plates == ("nuchal",)
    assert read("plates: [nuchal, hex]").plates == ("nuchal", "hex")


def test_sections_with_nothing_but_comments_are_all_defaults() -> None:
    whole = read("box:\n  # length: 3\npegs:\ndome:\n")
    assert whole.box.length == 560 and whole.pegs == () and whole.dome.name == "plan"


@pytest.mark.parametrize(
    ("text", "line", "where", "found", "allowed", "hint"),
    [
        ("name: Marsh Warden", 1, "name", '"Marsh Warden"', "small letters", "marsh-warden"),
        ("name: ../../etc", 1, "name", '"../../etc"', "small letters", "Try etc"),
        ("name: a/b", 1, "name", '"a/b"', "small letters", "Try a-b"),
        ("name: con", 1, "name", '"con"', "small letters", ""),
        ('name: "a\\0b"', 1, "name", '"a\\x00b"', "small letters", ""),
        ("name: <b>", 1, "name", '"<b>"', "small letters", "Try b"),
        ("name: ~x", 1, "name", '"~x"', "small letters", "Try x"),
        ("name: " + "x" * 61, 1, "name", "(61 characters)", "up to 60 small letters", ""),
        ('title: "a\\nb"', 1, "title", '"a\\nb"', "one line of 1 to 20", ""),
        ('title: "\\u202egnp.exe"', 1, "title", '"\\u202egnp.exe"', "plain characters", ""),
        ("title: " + "long " * 11, 1, "title", "(54 characters)", "1 to 20", ""),
        ('title: ""', 1, "title", '""', "1 to 20", ""),
        ("tilte: x", 1, "tilte", "no such line", "name, title", "Did you mean title?"),
        ("Box: {}", 1, "Box", "no such line", "name, title", "Did you mean box?"),
        ("a b: {}", 1, '"a b"', "no such line", "name, title", ""),
        ("box:\n  length: 5", 2, "box.length", '"5"', "120 mm to 1200 mm", ""),
        ("box:\n  length: 4 in", 2, "box.length", '"4 in"', "4.725 in to 47.24 in", ""),
        ("box:\n  length: 2 m", 2, "box.length", '"2 m"', "0.12 m to 1.2 m", ""),
        ("box:\n  length: .nan", 2, "box.length", '".nan"', "120 mm to 1200 mm", "not a figure"),
        ("box:\n  length: -.inf", 2, "box.length", '"-.inf"', "120 mm to 1200 mm", "not a figure"),
        ("box:\n  length: 1e40", 2, "box.length", '"1e40"', "120 mm to 1200 mm", ""),
        ("box:\n  length: 12 deg", 2, "box.length", '"12 deg"', "120 mm to 1200 mm", "deg does not fit"),
        ("box:\n  length:", 2, "box.length", "no value", "120 mm to 1200 mm", "Leave the line out"),
        ("box:\n  length: none", 2, "box.length", '"none"', "120 mm to 1200 mm", ""),
        ("box:\n  length: [1]", 2, "box.length", "This is a list", "one value: 120 mm", ""),
        ("box:\n  length: {mm: 1}", 2, "box.length", "This is a section", "one value: 120 mm", ""),
        ("box:\n  lenght: 5", 2, "box.lenght", "no such line", "length, lean", "Did you mean length?"),
        ("box:\n  keel: 60", 2, "box.keel", '"60"', "1 mm to 50 mm, or none", ""),
        ("box:\n  lean: 31 deg", 2, "box.lean", '"31 deg"', "-30 deg to 30 deg", ""),
        ("box:\n  limit: 20 %", 2, "box.limit", '"20 %"', "0.2 % to 15 %", ""),
        ("box: 560", 1, "box", '"560"', "lines below it, indented", ""),
        ("box: [560]", 1, "box", "A list", "lines below it, indented", ""),
        ("box:\n  length: 200\n  keel: 21", 3, "box.keel", "21 mm", "a tenth of the length", ""),
        ("box:\n  length: 1100\n  lean: 3", 2, "box", "figures do not fit", "A long box cannot lean", ""),
        ("pegs:\n  - base: 20\n  - kind: cone", 3, "pegs[2].base", "line is missing", "10 mm to 200 mm", "Base."),
        ("pegs:\n  base: 20", 2, "pegs", "A section", "behind a hyphen", ""),
        ("pegs: 3", 1, "pegs", '"3"', "behind a hyphen", ""),
        ("pegs:\n- {base: 20, kind: bent horn}", 2, "pegs[1].kind", '"bent horn"', "cone", "mean bent-horn?"),
        ("pegs:\n- {base: 20, rows: [1, 12]}", 2, "pegs[1].rows[2]", '"12"', "whole number from 1 to 9", ""),
        ("pegs:\n- {base: 20, rows: [1, 1, 1, 1]}", 2, "pegs[1].rows", "4 items", "up to 3", ""),
        ("pegs:\n- {base: 20, rows: [1.5]}", 2, "pegs[1].rows[1]", '"1.5"', "whole number", ""),
        ("day: 2027-02-30", 1, "day", '"2027-02-30"', "YYYY-MM-DD", ""),
        ("day: 5.6.2027", 1, "day", '"5.6.2027"', "YYYY-MM-DD", ""),
        ("day: 0001-01-01", 1, "day", '"0001-01-01"', "2000-01-01 to", ""),
        ("soft: 1", 1, "soft", '"1"', "yes or no", ""),
        ("weight: 500 lb", 1, "weight", '"500 lb"', "0 lb to 440.9 lb", ""),
        ("density: 3 kg/m3", 1, "density", '"3 kg/m3"', "0.01 g/cm3 to 0.5 g/cm3", "kg/m3 does not fit"),
        ("dome: plam", 1, "dome", '"plam"', "girths, plan or scan", "Did you mean plan?"),
        ("dome:\n  kind: plan\n  lenght: 3", 3, "dome.lenght", "no such line", "length", "Did you mean length?"),
        ("dome: [plan]", 1, "dome", "A list", "any of: kind, length", ""),
    ],
)
def test_each_mistake_gives_one_clear_error(
    text: str, line: int, where: str, found: str, allowed: str, hint: str
) -> None:
    with pytest.raises(PresetError) as caught:
        read(text)
    error = caught.value
    assert (error.line, error.where, error.file) == (line, where, "shell.yaml")
    assert found in error.problem and allowed in error.remedy and hint in error.hint
    said = [error.problem, error.remedy, *([error.hint] if error.hint else [])]
    assert all(re.fullmatch(r"[A-Z0-9\"'(].*[.?]", sentence) for sentence in said), said
    assert str(error).isprintable()


def every_params() -> Iterator[type]:
    """The Params of every section and of every member of every family."""
    waiting = [preset.Preset]
    while waiting:
        at = waiting.pop()
        yield at
        for field in params.specs(at).values():
            spec = field.metadata
            inner = spec["of"].metadata if isinstance(spec.get("of"), dataclasses.Field) else spec
            own = (
                [params.own_params(inner["package"], n) for n in registry.names(inner["package"])]
                if (inner["kind"] == "family")
                else []
            )
            waiting += [p for p in (inner.get("of"), inner.get("common"), *own) if isinstance(p, type)]


@pytest.mark.parametrize("declared", list(every_params()), ids=lambda p: f"{p.__module__}.{p.__name__}")
def test_every_declared_default_is_one_that_may_be_written(declared: type) -> None:
    for name, field in params.specs(declared).items():
        spec = field.metadata
        assert spec["doc"].endswith((".", ".)", ")")), f"{name}: teach in a whole sentence"
        if spec["kind"] in ("group", "family", "many") or params.is_required(field) or field.default is None:
            continue
        text = values.written(field.default, spec)
        back = values.read(text, spec, values.Place("", name, 0))
        assert back == pytest.approx(field.default, rel=1e-3) if isinstance(back, float) else back == field.default


def test_families_keep_shared_and_own_names_apart() -> None:
    for declared in every_params():
        for field in params.specs(declared).values():
            of = field.metadata.get("of")
            spec = of.metadata if isinstance(of, dataclasses.Field) else field.metadata
            if spec["kind"] != "family":
                continue
            shared = {spec["key"], *params.specs(spec["common"])}
            for name in registry.names(spec["package"]):
                assert not shared & set(params.specs(params.own_params(spec["package"], name)))


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demos_are_read_and_named_after_their_files(path: Path) -> None:
    assert preset.read(path).name == path.stem


def test_ten_lines_are_enough(tmp_path: Path) -> None:
    path = tmp_path / "Pond Guard.yaml"
    path.write_text("dome: {length: 20 in, width: 16 in, height: 6 1/2 in}\nplates: turtle\n", encoding="utf-8")
    read_back = preset.read(path)
    assert read_back.name == "pond-guard" and read_back.dome.own.length == 508.0


def test_a_file_name_that_gives_no_name(tmp_path: Path) -> None:
    for stem in ("con", "???", "鎧"):
        (tmp_path / f"{stem}.yaml").write_text("dome: plan\n", encoding="utf-8")
        assert preset.read(tmp_path / f"{stem}.yaml").name == "shell"


def test_errors_of_a_stage_are_given_their_line(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("plates:\n  pleurals: 9\nspikes:\n- plates: [a]\n- plates: [b]\n  gap: 3\n", encoding="utf-8")
    for raised, where, line in (
        ("layout.pleurals", "plates.pleurals", 2),
        ("spikes[2].plates", "spikes[2].plates", 5),
        ("spikes[1].gap", "spikes[1].gap", 0),
        ("groups.gap", "spikes[2].gap", 6),
        ("plates", "plates", 1),
        ("dome.length", "dome.length", 0),
        ("", "", 0),
    ):
        placed = preset.locate(PresetError(raised, "9 is too many.", "Give 4 to 6."), path)
        assert (placed.where, placed.line, placed.file) == (where, line, str(path))


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.name)
def test_bad_files_give_one_clear_error_with_the_expected_line(path: Path) -> None:
    """Each file says in its first line which line is at fault, where it can hold a comment."""
    with pytest.raises(PresetError) as caught:
        preset.read(path)
    message = str(caught.value)
    assert message.isprintable() and len(message) < 600
    stated = re.search(rb"fault in line (\d+)", path.read_bytes()[:200])
    assert caught.value.line == (int(stated[1]) if stated else NO_COMMENT[path.name])


PIECES = [
    "\t",
    "\0",
    ": ",
    "- ",
    "{",
    "]",
    '"',
    "'",
    "&a ",
    "*a",
    "!x ",
    "|",
    "#",
    "\n",
    "  ",
    "ü",
    "\u202e",
    "~",
    ".inf",
]
FIGURES = ["-1", "0", "1e99", ".nan", "1/0 in", "yes", "9" * 200, "5 %", "3 kg", "[1]", "{a: 1}", "", "none", "560"]


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_a_demo_spoilt_anywhere_is_read_or_refused_in_one_line(path: Path) -> None:
    whole = path.read_text(encoding="utf-8")
    lines = [line for line in whole.splitlines() if line.strip() and not line.strip().startswith("#")]
    rng = random.Random(path.stem)
    refused = 0
    for _ in range(150):
        spoilt = list(lines)
        at = rng.randrange(len(lines))
        head, colon, _rest = lines[at].partition(":")
        cut = rng.randrange(len(lines[at]) + 1)
        spoilt[at] = rng.choice(
            [
                f"{head}{colon} {rng.choice(FIGURES)}",
                lines[at][:cut] + rng.choice(PIECES) + lines[at][cut:],
                lines[at][:cut],
                f"{lines[at]}\n{lines[at]}",
                " " * rng.randrange(8) + lines[at].strip(),
            ]
        )
        try:
            file = str(path.with_name("a.yaml"))  # in the folder of what the demo names
            bind.bind(yamltree.parse("\n".join(spoilt).encode(), file=file), preset.Preset, file=file)
        except PresetError as error:
            refused += 1
            assert str(error).isprintable() and 0 < error.line <= len(spoilt) + 1, spoilt[at]
    assert 60 < refused < 150  # the spoiling spoils, and not everything
