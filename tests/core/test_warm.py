"""A pack built again after a change, with all that was kept, is the pack that is built afresh."""

from __future__ import annotations

import pytest

from shellgen import preset
from shellgen.core.flow import Flow
from shellgen.core.memory import MEMORY
from shellgen.export import svg
from shellgen.pack import contents

PLAIN = {
    "name": "pond",
    "dome": "{length: 300, width: 260, height: 90}",
    "mesh": "{edge: 40}",
    "plates": "{layout: turtle, vertebrals: 3, pleurals: 2, marginals: 6}",
    "seams": "{plan: gores, gores: 6, stretch_limit: 15 %}",
    "shape": "{rounds: 1}",
    "spikes": (
        "[{plates: [pleural-L-1, pleural-R-1], base_diameter: 20, height: 30}, "
        "{plates: [marginal-L-1, marginal-R-1], base_diameter: 24, height: 20}]"
    ),
    "nest": "{effort: quick, sheets: [{length: 1000, width: 1000}]}",
    "print": "{paper: A2}",
}
CHANGES = (
    {},
    {"spikes": PLAIN["spikes"].replace("height: 30", "height: 33")},
    {"spikes": PLAIN["spikes"].replace("height: 20", "height: 20, profile: ridged"), "print": "{paper: A3}"},
    {},
)


@pytest.fixture(scope="module")
def presets(tmp_path_factory):
    folder = tmp_path_factory.mktemp("warm")
    read = []
    for number, change in enumerate(CHANGES):
        path = folder / f"{number}.yaml"
        path.write_text("".join(f"{name}: {value}\n" for name, value in {**PLAIN, **change}.items()))
        read.append(preset.read(path))
    return read


@pytest.fixture(scope="module")
def warm(presets):
    """The packs one after the other, with all that is kept, and the names of the drawings written for each."""
    MEMORY.clear()
    made, flow = [], Flow()
    for one in presets:
        written = []
        with pytest.MonkeyPatch.context() as patch:
            write = svg.write
            patch.setattr(
                svg, "write", lambda drawing, w=written, write=write: w.append(drawing.name) or write(drawing)
            )
            made.append((contents.build(one, flow=flow), written))
    return made


@pytest.mark.parametrize("number", (1, 2))
def test_a_warm_pack_is_the_cold_one(presets, warm, number):
    MEMORY.clear()
    fresh, made = contents.build(presets[number]), warm[number][0]
    assert made.record == fresh.record
    assert made.files.keys() == fresh.files.keys()
    assert [path for path, data in fresh.files.items() if made.files[path] != data] == []


def test_a_change_taken_back_leaves_no_trace(warm):
    assert warm[0][0].files == warm[-1][0].files
    assert warm[0][0].files != warm[1][0].files != warm[2][0].files


def test_what_did_not_change_is_not_written_again(warm):
    first, second = warm[0][1], warm[1][1]
    assert {"measuring-map", "key"} <= set(first) and not {"measuring-map", "key"} & set(second)
    assert 0 < len(second) < len(first) / 2
