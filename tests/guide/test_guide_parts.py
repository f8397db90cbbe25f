"""What the guide is put together from: its units, its published limits, its signs."""

from pathlib import Path

import pytest
import shapely
import yaml

from shellgen.canvas import rule
from shellgen.draw import notes
from shellgen.guide import signs
from shellgen.guide.steps import edging, form


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (25.4, "1 in"),
        (12.7, "1/2 in"),
        (0, "0 in"),
        (0.1, "under 1/16 in"),
        (-0.7, "under 1/16 in"),
        (1.5875, "1/16 in"),
        (-38.1, "-1 1/2 in"),
    ],
)
def test_inches_as_a_rule_reads_them(mm, text):
    assert rule.inch(mm) == text


def test_sizes_and_volumes_follow_the_units():
    """1 in = 25.4 mm exactly, 560 mm is 22.047 in, nearest sixteenth 22 1/16 (NIST HB 44)."""
    metric, both = rule.Rule(False), rule.Rule(True)
    assert (metric.size((560, 25.4)), both.size((560, 25.4))) == ("560 × 25 mm", "560 × 25 mm (22 1/16 × 1 in)")
    assert (metric.volume(25.4**3), both.volume(25.4**3)) == ("16 cm³", "16 cm³ (1.0 in³)")


def test_edging_of_one_piece_has_no_others():
    assert "others" not in edging._glued(1) and "ends press together" in edging._glued(1)
    assert "the other," in edging._glued(2) and "the others," in edging._glued(3)


def test_units_and_limits_are_those_published():
    rows = {row["id"]: row["value"] for row in yaml.safe_load(Path("tests/published/guide.yaml").read_text("utf-8"))}
    assert rows["inch"] == rule.INCH and pytest.approx(rows["fluid-ounce"], abs=1e-9) == 231 * rule.INCH**3 / 1000 / 128
    for name, value in (("ounce", rule.OUNCE), ("pound", rule.POUND), ("fluid-ounce", rule.FLUID_OUNCE)):
        assert value == pytest.approx(rows[name], abs=1e-9)
    assert rows["acetic-acid"] == form.ACID


@pytest.mark.parametrize("name", [*signs.WARNINGS, *signs.COMMANDS])
def test_signs_stay_in_their_frame(name):
    """The picture of a warning stays inside the yellow, that of a command inside the disc."""
    drawn = signs.sign(name)
    outer = shapely.Polygon(drawn.items[1 if name in signs.WARNINGS else 0].points)
    for item in drawn.items[2 if name in signs.WARNINGS else 1 :]:
        shape = shapely.Polygon(item.points)
        assert shape.is_valid and shape.area > 0.3 and outer.buffer(0.05).contains(shape), name
    assert signs.meaning(name)


def test_a_volume_in_cubic_inches():
    """1 in = 25.4 mm exactly, so a cube of 40 mm has 64000 / 16387.064 = 3.905 cubic inches."""
    assert rule.Rule(inches=True).volume(40.0**3) == "64 cm³ (3.9 in³)"
    assert rule.METRIC.volume(40.0**3) == "64 cm³"


def test_a_vest_has_no_straps_to_sew_or_to_hang_it_by():
    sewn, glued, tested = notes.fastening(vest=True)
    assert "strap" not in sewn + tested and "vest" in sewn and "vest" in tested
    assert glued == notes.fastening(vest=False)[1]
