"""Plates from drawings: laws of the round trip, what a hand does wrong, and words for what cannot be understood."""

from __future__ import annotations

import re
from pathlib import Path

import charts
import measures
import numpy as np
import pytest

from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.errors import PresetError
from shellgen.export import svg
from shellgen.plates import drawn

ACROSS = '<path d="M 60 -3 L 60 400" /><path d="M -80 -3 L -80 400" />'
"""Two lines from the midline past the rim: three plates across the back."""


def test_two_lines_make_three_plates() -> None:
    layout = charts.read(ACROSS)
    assert [plate.name for plate in layout.plates] == ["plate-1", "plate-2", "plate-3"]
    assert {plate.side for plate in layout.plates} == {"C"}


@pytest.mark.parametrize(
    "body",
    [
        '<line x1="60" y1="0" x2="60" y2="400" /><polyline points="-80,0 -80,100 -80,400" />',
        '<path d="M60 0v400M-80 0V400" />',
        '<g transform="translate(60 0)"><g transform="rotate(90)"><path d="M0 0h200h200" />'
        '<path d="M0 140 q 100 0 200 0 t 200 0" /></g></g>',
        '<rect x="-80" y="-500" width="140" height="1000" />',
        '<polygon points="60,-500 60,500 -80,500 -80,-500" />',
        '<defs><path id="one" d="M0 0V400" /></defs><use href="#one" x="60" /><use href="#one" x="-80" />',
        '<svg x="-80" y="0" width="140" height="400" viewBox="0 0 14 40"><path d="M0 0V40M14 0V40" /></svg>',
        '<path d="M60 0 C60 100 60 200 60 400M-80 0A1e6 1e6 0 0 1 -80 400" />',
    ],
    ids=["lines", "path", "groups", "rect", "polygon", "use", "svg", "curves"],
)
def test_every_kind_of_shape_draws_the_same(body: str) -> None:
    assert charts.apart(charts.dome(), charts.read(ACROSS), charts.read(body)) < 0.1


@pytest.mark.parametrize(
    "body",
    [
        '<path d="M 60 2 L 60 150 M 60 152.5 L 60 400 M -80 -10 V 400" />',
        '<path d="M 60 2 L 60 150 M 60.5 147 L 60 400 M -80 0 V 339" />',
        ACROSS + '<path d="M 60.6 0 L 59.6 400" />',
        ACROSS + '<path d="M -80 100 h 2.5" />',
    ],
    ids=["gap", "overlap", "twice", "stub"],
)
def test_what_a_hand_misses_is_mended(body: str) -> None:
    layout = charts.read(body)
    assert len(layout.plates) == 3 and charts.apart(charts.dome(), charts.read(ACROSS), layout) < 3.0


def test_a_whole_drawing_is_its_own_mirror_image_or_refused() -> None:
    both = '<path d="M60 -400V400M-80 -400V400" />'
    assert charts.apart(charts.dome(), charts.read(ACROSS), charts.read(both, whole=True)) < 0.1
    askew = '<path d="M60 -400L60 0L95 400M-80 -400V400" />'
    with pytest.raises(PresetError, match=r"differ by \d+ mm here.*half: left or half: right below plates") as found:
        charts.read(askew, whole=True)
    assert str(found.value).count(". ") <= 2 and found.value.picture is not None
    right = charts.read(askew, whole=True, half="right")
    assert charts.apart(charts.dome(), charts.read(ACROSS), right) < 0.1
    assert charts.apart(charts.dome(), charts.read(ACROSS), charts.read(askew, whole=True, half="left")) > 5


@pytest.mark.parametrize(
    ("body", "words", "spot"),
    [
        (ACROSS + '<path d="M60 100H100" />', "a line ends here, more than 3 mm", (100, 100)),
        (ACROSS + '<path d="M66 0V400" />', r"only \d\.\d mm wide", (63, 154)),
        ('<path d="M60 0V600M80 300L40 420M20 300L100 420" />', "two lines cross outside the rim", (60, 360)),
        (ACROSS + '<circle cx="10" cy="150" r="40" />', "a closed line touches no other", (40, 150)),
        (ACROSS + '<path d="M700 600h100" />', "a line lies outside the rim", (700, 600)),
        ('<path d="M100 0 A 100 100 0 0 1 -100 0" />' + '<path d="M0 100V400M30 0V-4" />', "", (0, 0)),
        ('<path d="M200 0 V 100 H 20 V 0" />', "reaches the midline twice", (0, 0)),
    ],
    ids=["dangling", "sliver", "crossing", "island", "outside", "fine", "twice"],
)
def test_what_cannot_be_understood_is_one_error_with_a_place(
    body: str, words: str, spot: tuple[float, float], tmp_path: Path
) -> None:
    if not words:
        assert charts.read(body).plates
        return
    with pytest.raises(PresetError, match=words) as found:
        charts.read(body)
    path, picture = found.value.picture
    assert str(found.value).startswith("plates.file: lines.svg: ") and "on the chart" in str(found.value)
    assert path.name == "lines-problem.svg" and b"data" in svg.write(picture) + b"data"
    if spot != (0, 0):
        placed = {way: int(n) for n, way in re.findall(r"(\d+) mm (ahead|left)", str(found.value))}
        assert np.hypot(placed.get("ahead", 0) - spot[0], placed.get("left", 0) - spot[1]) < 60


def test_words_in_plates_are_their_names() -> None:
    text = '<g transform="matrix(0 -1 -1 0 0 0)"><text x="-20" y="-150" font-size="6">Head</text></g>'
    layout = charts.read(ACROSS + text)
    assert [plate.name for plate in layout.plates] == ["head", "plate-1", "plate-2"]


def test_circles_in_their_layer_are_places_for_spikes() -> None:
    dots = '<g inkscape:label="Spikes"><circle cx="0" cy="120" r="20" /><ellipse cx="150" cy="1" rx="15" ry="15" /></g>'
    layout = charts.read(ACROSS + dots)
    assert [(round(spot.size), spot.kind, spot.uv[1] == 0) for spot in layout.spots] == [
        (40, "spikes", False), (40, "spikes", False), (30, "spikes", True)
    ]  # fmt: skip
    assert len(layout.plates) == 3
    assert np.array_equal(layout.spots[0].uv, layout.spots[1].uv * (1, -1))


def test_a_drawing_follows_another_dome_rim_to_rim() -> None:
    surface = plan.build(measures.DOMES["long"])
    layout = drawn.build(surface, drawn.Params(file=charts.named(charts.drawing(ACROSS))))
    mesh.build(surface, layout, mesh.Params(edge=25.0))
    assert len(layout.plates) == 3
