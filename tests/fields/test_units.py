"""What a maker writes as mm, radians, plain ratios and grams."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
import yaml

from shellgen.fields import units

PUBLISHED = yaml.safe_load((Path(__file__).parents[1] / "published" / "preset.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row["id"])
def test_units_agree_with_the_standards(row: dict) -> None:
    found = units.read(row["text"], row["kind"]).value
    assert abs(found - row["value"]) <= row["tolerance"]


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("560", 560.0),
        ("56 cm", 560.0),
        ("0.56m", 560.0),
        ("1/4 in", 6.35),
        ("1 1/2 in", 38.1),
        ("1-1/2 in", 38.1),
        ("1½ in", 38.1),
        ("½ in", 12.7),
        ('3/4"', 19.05),
        (".5 inches", 12.7),
        ("5 ft 8 in", 1727.2),
        ("5' 8\"", 1727.2),
        ("1 yd", 914.4),
        ("1.5e2 mm", 150.0),
        ("0560", 560.0),  # not octal
        ("+5", 5.0),
        ("−5 mm", -5.0),
        ("-1/4 in", -6.35),
    ],
)
def test_lengths_are_the_nearest_floats(text: str, mm: float) -> None:
    assert units.read(text, "length").value == mm


def test_other_kinds() -> None:
    assert units.read("12 deg", "angle").value == units.read("12", "angle").value == math.radians(12)
    assert units.read("1 rad", "angle").value == pytest.approx(1, abs=1e-15)
    assert units.read("3 %", "ratio").value == units.read("0.03", "ratio").value == 0.03
    assert units.read("1/2", "ratio").value == 0.5
    assert units.read("72 kg", "mass").value == 72000
    assert units.read("0.12 g/cm3", "number", unit="g/cm3").value == 0.12
    assert units.read("3", "number").value == 3


@pytest.mark.parametrize(
    ("text", "kind", "reason"),
    [
        ("", "length", "missing"),
        ("mm", "length", "not a figure"),
        (".nan", "length", "not a figure"),
        ("inf", "length", "not a figure"),
        ("-.inf", "angle", "not a figure"),
        ("12:30", "length", "not a figure"),
        ("1_000", "length", "not a figure"),
        ("٣", "length", "not a figure"),
        ("1/2/3 in", "length", "not a figure"),
        ("--1", "length", "not a figure"),
        ("0x10", "length", "does not fit here"),
        ("5 parsec", "length", "Units that fit: mm, cm, m, in, ft, yd"),
        ("12 deg", "length", "does not fit here"),
        ("12 mm", "angle", "Units that fit: deg, rad"),
        ("5 mm", "number", "Units that fit: none"),
        ("3 g/m2", "number", "does not fit here"),
        ("0,5", "length", "decimals with a point"),
        ("1,000 mm", "length", "decimals with a point"),
        ("1/4", "length", "Put the unit behind a fraction: 1/4 in"),
        ("1/0 in", "length", "0 below"),
        ("5 ft 8", "length", "several figures"),
        ("1 2 3", "length", "several figures"),
        ("9" * 70, "length", "at most 60 characters"),
    ],
)
def test_what_is_not_a_figure_is_refused_with_the_reason(text: str, kind: str, reason: str) -> None:
    with pytest.raises(ValueError, match=re.escape(reason)):
        units.read(text, kind)


def test_whatever_is_read_is_finite() -> None:
    assert math.isfinite(units.read("9" * 50 + "e99 m", "length").value)


@pytest.mark.parametrize("kind", ["length", "angle", "ratio", "mass"])
def test_bounds_written_in_any_unit_are_themselves_within_bounds(kind: str) -> None:
    for value in (0.0, 0.07, 0.1, 1 / 3, 1.0, 2.5, 30.0, 120.0, 1234.567):
        for unit in units.SCALES[kind]:
            up = units.read(units.write(value, kind, unit, rounding="up"), kind).value
            down = units.read(units.write(value, kind, unit, rounding="down"), kind).value
            assert value * (1 - 1e-9) <= up <= value * 1.0015
            assert value * 0.9985 <= down <= value * (1 + 1e-9)


def test_written_values_read_back() -> None:
    assert units.write(6.35, "length", "in") == "0.25 in"
    assert units.write(560.0, "length") == "560 mm"
    assert units.write(math.radians(12), "angle") == "12 deg"
    assert units.write(0.03, "ratio", "%") == "3 %"
    assert units.write(0.12, "number", unit="g/cm3") == "0.12 g/cm3"


def test_editors_pattern_takes_what_the_reader_takes() -> None:
    taken = ["560", "56 cm", "1 1/2 in", "1½ in", '3/4"', "5 ft 8 in", "-2 mm", " 7mm "]
    refused = ["", "mm", "nan", "1/4", "5 parsec", "12:30", "1_000", "0x10", "5 ft 8", "0,5"]
    pattern = units.pattern("length")
    assert all(re.search(pattern, text) for text in taken)
    assert not any(re.search(pattern, text) for text in refused)
    assert re.search(units.pattern("ratio"), "1/2") and re.search(units.pattern("number", unit=""), "3")
