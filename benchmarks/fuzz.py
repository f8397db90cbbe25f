"""A search guided by coverage for presets and domes that are neither good nor refused in one clear error.

    python benchmarks/fuzz.py reader|surface [-max_total_time=3600] [-runs=N] [FOLDER]

`reader` takes any bytes for a preset file; it begins from the demos and the corpus of bad presets. `surface` takes
bytes as the throws of the dice by which `made_up` writes dome, plates and mesh of a preset: these are read, and the
dome is built and measured, divided into plates and meshed as far as the first byte says. What is found is written as
crash-* by libFuzzer.
"""

from __future__ import annotations

import math
import random
import sys
import tempfile
import time
from pathlib import Path

import atheris
from smallest import SMALLEST, pick

with atheris.instrument_imports(include=pick(["shellgen", "yaml"], ["shellgen.fields"])):
    from shellgen import preset
    from shellgen.core import flow, registry
    from shellgen.dome import mesh
    from shellgen.errors import PresetError, ShellgenError
    from shellgen.fields import bind, params, yamltree
    from shellgen.geom import patches
    from shellgen.pipeline import dome

    for family in ("shellgen.dome.surfaces", "shellgen.plates"):
        for name in registry.names(family):
            registry.load(family, name)

import made_up

ROOT = Path(__file__).parent.parent
SOON = 10.0  # seconds of processor for one input
LATE = "-timeout=300"  # seconds on the clock, however busy the computer is


class Dice(random.Random):
    """Chance that comes from bytes, and is nought once they are used up."""

    def __init__(self, source: atheris.FuzzedDataProvider) -> None:
        super().__init__(0)
        self.source = source

    def random(self) -> float:
        return self.source.ConsumeIntInRange(0, 2**16 - 1) / 2**16

    def getrandbits(self, k: int) -> int:
        return self.source.ConsumeIntInRange(0, 2**k - 1)


def reader(data: bytes) -> None:
    try:
        bind.bind(yamltree.parse(data, file="a.yaml"), preset.Preset, file="a.yaml")
    except PresetError as error:
        assert str(error).isprintable() and error.problem and error.remedy


def surface(data: bytes) -> None:
    source = atheris.FuzzedDataProvider(data)
    deep = source.ConsumeIntInRange(0, 7)
    text = made_up.draw(Dice(source), only=("dome", "plates", "mesh"), exact=False).text
    try:
        content = bind.bind(yamltree.parse(text.encode(), file="a.yaml"), preset.Preset, file="a.yaml")
        surface = dome.asked(content, flow.Flow())[0]
        area, round_ = patches.area(surface), patches.area(surface, rings=48, spokes=128)
        assert math.isfinite(area) and abs(area / round_ - 1) < 0.01, (text, area, round_)
        if deep < 3:
            layout = registry.load("shellgen.plates", content.plates.name).build(surface, content.plates.own)
        if deep < 1:
            mesh.build(surface, layout, content.mesh)  # which holds itself against Euler's number and the rim
    except ShellgenError as error:
        assert str(error).isprintable()


def soon(target):  # type: ignore[no-untyped-def]
    """The same, with an end to its patience."""

    def timed(data: bytes) -> None:
        start = time.process_time()
        target(data)
        spent = time.process_time() - start
        assert spent < SOON, f"{spent:.1f} s"

    return timed


def main() -> None:
    what, *words = ["reader", "-runs=100"] if SMALLEST else sys.argv[1:]
    with tempfile.TemporaryDirectory() as folder:
        if what == "reader":
            for path in [*(ROOT / "presets").glob("*.yaml"), *(ROOT / "tests" / "bad_presets").glob("*")]:
                (Path(folder) / path.name).write_bytes(path.read_bytes())
            names = {name for at in (preset.Preset, *_groups()) for name in params.specs(at)}
            (Path(folder) / "names.txt").write_text("".join(f'"{name}:"\n' for name in sorted(names)), encoding="utf-8")
            words = [f"-dict={folder}/names.txt", "-max_len=4096", *words]
        else:
            for number in range(40):
                (Path(folder) / str(number)).write_bytes(random.Random(number).randbytes(200))
            words = ["-max_len=200", "-len_control=0", *words]
        atheris.Setup([sys.argv[0], LATE, *words, folder], soon({"reader": reader, "surface": surface}[what]))
        atheris.Fuzz()


def _groups() -> list[type]:
    """The sections that a preset has one of."""
    return [f.metadata["of"] for f in params.specs(preset.Preset).values() if f.metadata["kind"] == "group"]


if __name__ == "__main__":
    main()
