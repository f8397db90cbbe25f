"""A search guided by coverage for presets and domes that are neither good nor refused in one clear error.

    pip install atheris
    python benchmarks/fuzz.py reader|surface [-max_total_time=3600] [-runs=N] [FOLDER]

`reader` takes any bytes for a preset file; it begins from the demos and the corpus of bad presets. `surface` takes
bytes for the figures of a dome, and also measures what was built. What is found is written as crash-* by libFuzzer.
"""

from __future__ import annotations

import dataclasses
import math
import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["shellgen", "yaml"]):
    from shellgen import bind, params, preset, registry, yamltree
    from shellgen.errors import PresetError, ShellgenError
    from shellgen.geom import patches

ROOT = Path(__file__).parent.parent
SOON = "-timeout=10"  # seconds for one input


def reader(data: bytes) -> None:
    try:
        bind.bind(yamltree.parse(data, file="a.yaml"), preset.Preset, file="a.yaml")
    except PresetError as error:
        assert str(error).isprintable() and error.found and error.allowed


def surface(data: bytes) -> None:
    source = atheris.FuzzedDataProvider(data)
    kind = registry.names("shellgen.surfaces").index("plan")
    member = registry.load("shellgen.surfaces", registry.names("shellgen.surfaces")[kind])
    figures = {}
    for field in dataclasses.fields(member.Params):
        low, high = field.metadata["low"], field.metadata["high"]
        share = source.ConsumeIntInRange(0, 255) / 255
        figures[field.name] = low + share * (high - low)
    try:
        dome = member.build(member.Params(**figures))
    except ShellgenError as error:
        assert str(error).isprintable()
        return
    area = patches.area(dome, rings=24, spokes=64)
    floor = math.pi / 4 * figures["length"] * figures["width"]
    assert math.isfinite(area) and 0.5 * floor < area < 12 * floor, (figures, area)


def main() -> None:
    what, *words = sys.argv[1:]
    with tempfile.TemporaryDirectory() as folder:
        if what == "reader":
            for path in [*(ROOT / "presets").glob("*.yaml"), *(ROOT / "tests" / "bad_presets").glob("*")]:
                (Path(folder) / path.name).write_bytes(path.read_bytes())
            names = {name for at in (preset.Preset, *_groups()) for name in params.specs(at)}
            (Path(folder) / "names.txt").write_text("".join(f'"{name}:"\n' for name in sorted(names)), encoding="utf-8")
            words = [f"-dict={folder}/names.txt", "-max_len=4096", *words]
        atheris.Setup([sys.argv[0], SOON, *words, folder], {"reader": reader, "surface": surface}[what])
        atheris.Fuzz()


def _groups() -> list[type]:
    """The sections that a preset has one of."""
    return [f.metadata["of"] for f in params.specs(preset.Preset).values() if f.metadata["kind"] == "group"]


if __name__ == "__main__":
    main()
