"""What an error of one figure says: a unit that was forgotten, what the figure means, and a dozen names at most."""

from __future__ import annotations

from pathlib import Path

import pytest

from shellgen import preset
from shellgen.errors import PresetError
from shellgen.fields import params
from shellgen.fields.values import MOST, either, explained, listing


@pytest.fixture
def mistake(tmp_path: Path):
    def of(text: str) -> PresetError:
        path = tmp_path / "pond.yaml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(PresetError) as caught:
            preset.read(path)
        return caught.value

    return of


BARE = "A figure without a unit is in mm. "


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("dome: {length: 22}", BARE + '22 in would be 559 mm, 22 cm would be 220 mm: write "22 in" or "22 cm".'),
        ("dome: {length: 9.5}", BARE + '9.5 in would be 241 mm: write "9.5 in".'),
        ("dome: {length: 56}", BARE + '56 cm would be 560 mm: write "56 cm".'),
        ("dome: {height: 7}", BARE + '7 in would be 178 mm, 7 cm would be 70 mm: write "7 in" or "7 cm".'),
        ("wearer: {stature: 1.72}", BARE + '1.72 m would be 1720 mm: write "1.72 m".'),
        (
            "wearer: {mass: 72}",
            BARE.replace("mm", "g") + '72 kg would be 72000 g, 72 lb would be 32659 g: write "72 kg" or "72 lb".',
        ),
    ],
)  # fmt: skip
def test_a_bare_figure_that_fits_in_another_unit_is_asked_about(mistake, text: str, hint: str) -> None:
    assert mistake(text).hint == hint


@pytest.mark.parametrize("figure", ("22 mm", "2 cm", "2200", "2", "-22", "0"))
def test_nothing_is_asked_where_no_unit_would_help(mistake, figure: str) -> None:
    """A unit is written, or the figure is out of bounds in inches and centimetres too."""
    error = mistake(f"dome: {{length: {figure}}}")
    assert "without a unit" not in str(error) and error.hint == mistake("dome: {length: 9 m}").hint


def test_a_figure_out_of_bounds_is_explained_in_the_words_of_the_list(mistake) -> None:
    doc = params.specs(preset.FoamSection)["thickness"].metadata["doc"]
    error = mistake("foam: {thickness: 90}")
    assert error.hint == doc and explained(params.specs(preset.FoamSection)["thickness"].metadata).startswith(doc)


def test_many_names_are_cut_to_a_dozen_with_the_command_that_lists_the_rest(mistake) -> None:
    for count in (1, 2, MOST):
        names = [f"n{k}" for k in range(count)]
        assert listing(names) == ", ".join(names) and all(name in either(names) for name in names)
    names = [f"n{k}" for k in range(30)]
    for shown in (listing(names, rest="there"), either(names, rest="there")):
        assert shown == f"{', '.join(names[:12])} and 18 more: there"
    for text, command in (
        ("nam: pond", "shellgen list fields."),
        ("spikes: [{hight: 30}]", "shellgen list fields spikes."),
        ("dome: {lenth: 300}", ""),
    ):
        error = mistake(text)
        assert command in error.remedy and error.remedy.count(",") <= MOST and error.hint.startswith("Did you mean")
