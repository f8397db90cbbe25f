"""Every figure of every layout matters: on the odd sections, where none is its default or equals another of its layout,
putting one back to its default, or two in each other's place, gives other plates."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import charts
import measures
import numpy as np
import pytest
import yaml

from shellgen import preset
from shellgen.core import registry
from shellgen.core.content import digest
from shellgen.dome.surfaces import plan
from shellgen.errors import PresetError
from shellgen.fields.params import Chosen, specs
from shellgen.plates import drawn

PATH = Path(__file__).parents[1] / "odd_presets" / "layouts.yaml"
SECTIONS = {section["layout"]: section for section in yaml.safe_load(PATH.read_text("utf-8"))}
ELSEWHERE = {"turtle"}
"""In odd-newt.yaml."""
LINES = '<path d="M60 2.2V400M-80 2.2V400"/><path d="M20 -2.2V-400M-110 0V-400"/>'
"""On the left two lines and on the right two others, the ends of three just within the odd gap."""


@cache
def odd(name: str, folder: Path) -> Any:
    """The figures of a section, as a preset reads them."""
    (folder / "lines.svg").write_text(charts.drawing(LINES, whole=True), encoding="utf-8")
    (folder / f"{name}.yaml").write_text(yaml.safe_dump({"name": "odd", "plates": SECTIONS[name]}), encoding="utf-8")
    chosen: Chosen = preset.read(folder / f"{name}.yaml").plates
    return chosen.own


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("odd")


def plates(name: str, figures: Any) -> str:
    """The content of the layout with these figures; of an error, its words."""
    try:
        return digest(registry.load("shellgen.plates", name).build(plan.build(measures.DOMES["adult"]), figures)).hex()
    except PresetError as error:
        return str(error)


def test_every_layout_has_an_odd_section_without_defaults_or_equals() -> None:
    assert SECTIONS.keys() | ELSEWHERE == set(registry.names("shellgen.plates"))
    for name, section in SECTIONS.items():
        declared = specs(registry.load("shellgen.plates", name).Params)
        assert section.keys() - {"layout"} == declared.keys()
        values = [section[field] for field in declared]
        assert all(section[field] != of.default for field, of in declared.items()) and len(set(values)) == len(values)


@pytest.mark.parametrize("name", sorted(SECTIONS.keys() - {"drawn"}))
def test_every_figure_makes_a_difference(name: str, folder: Path) -> None:
    own = odd(name, folder)
    declared = specs(type(own))
    tried = [own, *(replace(own, **{field: of.default}) for field, of in declared.items())]
    for one, other in combinations((field for field, of in declared.items() if isinstance(of.default, float)), 2):
        values = getattr(own, other), getattr(own, one)
        if all(declared[f].metadata["low"] <= value <= declared[f].metadata["high"]
               for f, value in zip((one, other), values, strict=True)):  # fmt: skip
            tried.append(replace(own, **dict(zip((one, other), values, strict=True))))
    assert len({plates(name, figures) for figures in tried}) == len(tried)


def test_the_half_and_the_gap_of_a_drawing_arrive_where_they_count(folder: Path) -> None:
    own, surface = odd("drawn", folder), plan.build(measures.DOMES["adult"])
    right = drawn.build(surface, own)
    left = drawn.build(surface, replace(own, half="left"))
    wanted = [charts.read(f'<path d="M{a} 0V400M{b} 0V400"/>', whole=True) for a, b in ((20, -110), (60, -80))]
    assert [charts.apart(surface, one, two) < 0.1 for one, two in zip((right, left), wanted, strict=True)] == [True] * 2
    with pytest.raises(PresetError, match=r"more than 2\.1 mm from any other"):
        drawn.build(surface, replace(own, gap=2.1))
    assert np.isclose(own.gap, 2.3) and own.half == "right"
