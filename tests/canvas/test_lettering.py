"""Lettering: sizes of the series, widths, placing, and that every letter has its own drawing."""

import unicodedata
from pathlib import Path

import numpy as np
import pytest
import yaml

from shellgen.canvas import Text, glyphs, lettering

ROWS = yaml.safe_load((Path(__file__).parents[1] / "published" / "export.yaml").read_text("utf-8"))
PUBLISHED = {row["id"]: row for row in ROWS}


def ink(text: str, height: float = 10.0) -> np.ndarray:
    return np.vstack(lettering.strokes(text, height))


def test_heights_are_the_series_of_iso_3098() -> None:
    assert list(lettering.HEIGHTS) == PUBLISHED["iso-3098-heights"]["value"]
    assert lettering.pen(3.5) == pytest.approx(3.5 * PUBLISHED["iso-3098-pen"]["value"])


@pytest.mark.parametrize("letter", "ABCDEFGHIJKLMNOPRSTUVWXYZ0123456789")
def test_capitals_and_digits_stand_on_the_line_at_the_height_asked(letter: str) -> None:
    points = ink(letter, 7.0)
    assert points[:, 1].min() == pytest.approx(0.0, abs=1e-9)
    assert points[:, 1].max() == pytest.approx(7.0, abs=1e-9)
    assert points[:, 0].min() == pytest.approx(0.0, abs=1e-9)


def test_every_printable_ascii_character_has_its_own_drawing() -> None:
    known = {c: glyphs.GLYPHS[c] for c in map(chr, range(32, 127))}
    assert len(set(known.values())) == 95


def test_width_is_the_width_of_the_ink() -> None:
    for text in ("L-mid-3", "Ærø 12½ mm", "W", "seam L-mid-2~L-rim-4"):
        points = ink(text, 3.5)
        assert lettering.width(text, 3.5) == pytest.approx(np.ptp(points[:, 0]), abs=1e-9)
    assert lettering.width("", 3.5) == 0.0


def test_size_is_a_scale() -> None:
    for small, large in zip(lettering.strokes("Scute 4°", 2.5), lettering.strokes("Scute 4°", 10.0), strict=True):
        assert np.allclose(4 * small, large, atol=1e-12)


@pytest.mark.parametrize("char", "ÀÉÎÕÜŠÇŞŐŮŻàéîõüšåçşęąžñőůż")
def test_accents_are_composed_of_the_letter_and_something_more(char: str) -> None:
    base = unicodedata.normalize("NFD", char)[0]
    more, plain = lettering.strokes(char, 10), lettering.strokes({"i": "ı"}.get(base, base), 10)
    assert len(more) > len(plain)
    assert all(np.allclose(a, b) for a, b in zip(more, plain, strict=False))
    assert np.array_equal(np.vstack(more), ink(unicodedata.normalize("NFD", char)))


def test_unknown_characters_become_a_box_and_controls_a_space() -> None:
    assert np.array_equal(ink("日"), ink("🐢"))
    assert len(lettering.strokes("日", 10)) == 1
    assert lettering.width("a\tb", 10) == lettering.width("a b", 10)


def test_anchor_and_angle() -> None:
    text, across = "R-rim-12", lettering.width("R-rim-12", 5.0)
    for anchor, share in (("start", 0.0), ("middle", 0.5), ("end", 1.0)):
        level = np.vstack(lettering.lay(Text(text, (30.0, 40.0), 5.0, anchor=anchor)))
        assert level[:, 0].min() == pytest.approx(30.0 - share * across)
        upright = np.vstack(lettering.lay(Text(text, (30.0, 40.0), 5.0, np.pi / 2, anchor)))
        assert np.allclose(upright - (30, 40), (level - (30, 40)) @ [[0, 1], [-1, 0]])


def test_the_box_holds_the_ink_with_tails_and_accents() -> None:
    text = Text("Ågjpqy(|)Ç", (3.0, 4.0), 5.0)
    points, corners = np.vstack(lettering.lay(text)), lettering.box(text)
    assert (points >= corners[0] - 1e-9).all() and (points <= corners[2] + 1e-9).all()


def test_fit_takes_the_largest_height_that_is_narrow_enough() -> None:
    height = lettering.fit("L-mid-3", 30.0)
    assert height in lettering.HEIGHTS and lettering.width("L-mid-3", height) <= 30.0
    assert lettering.width("L-mid-3", min(h for h in lettering.HEIGHTS if h > height)) > 30.0
    assert lettering.fit("L-mid-3", 1.0) is None


def test_other_scripts_are_drawn_and_what_cannot_be_is_named() -> None:
    known = "Χελώνα του έλους Болотный страж Ёжик Ґєї Őrző ả ộ ữ ş ț Ļ ř đ Հայերեն ქართული"
    assert lettering.unset(known) == ""
    assert lettering.unset("Mere 龟 🐢 שלום") == "龟🐢שלום"
    box = lettering.strokes("龟", 5.0)[0]
    for char in "Χλώυςжщыќўքჭ":
        drawn = lettering.strokes(char, 5.0)
        assert not np.array_equal(drawn[0], box)
        assert all(np.isfinite(line).all() for line in drawn)


def test_letters_of_the_font_are_as_high_as_the_alphabets() -> None:
    """Capitals of the font stand on the line and reach as high as asked, but for what thins their outline."""
    for char in "ΓЖԲ":
        points = np.vstack(lettering.strokes(char, 10.0))
        assert points[:, 1].min() == pytest.approx(0.0, abs=0.4) and points[:, 1].max() == pytest.approx(10.0, abs=0.4)
