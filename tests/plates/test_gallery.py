"""The presets of the gallery: each reads, has the plates that its picture in the README shows, and a mesh; whole packs
are built of the demos alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shellgen import preset
from shellgen.core.flow import Flow
from shellgen.pipeline import dome

ROOT = Path(__file__).parents[2]
GALLERY = sorted((ROOT / "presets" / "gallery").glob("*.yaml"))
PLATES = {"bog-stone": 44, "ditch-louse": 13, "lagoon-scallop": 14}


@pytest.mark.parametrize("path", GALLERY, ids=lambda path: path.stem)
def test_it_has_the_plates_of_its_picture(path: Path) -> None:
    of = preset.read(path)
    surface, layout = dome.plated(of, Flow())
    assert of.name == path.stem and len(layout.plates) == PLATES[path.stem]
    assert len(dome.coarse_mesh(of, Flow(), surface, layout).points) > 100


def test_the_readme_shows_each() -> None:
    shown = re.findall(r"presets/gallery/([\w-]+)\.png", (ROOT / "README.md").read_text("utf-8"))
    assert sorted(shown) == [path.stem for path in GALLERY] and PLATES.keys() == set(shown)
    assert all(path.with_suffix(".png").stat().st_size > 10_000 for path in GALLERY)
