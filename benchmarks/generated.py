"""Presets made up from all that the schema allows, computed one after another: what comes of them?

    python benchmarks/generated.py [--count 3000] [--seed 1] [--packs 25] [--overturn] [--log FILE]

Every preset must give a sound shell (see `sound.py`), with its masks, lists and record, or one clear refusal; anything
else is printed with the number of the preset. Of every so many presets (`--packs`) the whole pack is built, and `check`
and `build` must find the same faults. `--overturn` computes what was refused again, with other seams and a finer mesh.
The log takes a line of JSON for each preset; a run with the same log goes on with the numbers that it lacks.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import signal
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from types import FrameType
from typing import Any

import sound
from click.testing import CliRunner
from made_up import MadeUp, draw

from shellgen import cli, pipeline, preset
from shellgen.core import flow, registry
from shellgen.errors import PresetError, ShellgenError
from shellgen.fields import params
from shellgen.pack import contents
from shellgen.pattern.plans import _search, petals
from shellgen.pipeline.shell import Shell
from shellgen.workshop import nest

PATIENCE = 60.0
"""Seconds of processor after which a shell counts as hanging; a pack may take as much again for its files."""
REFUSED, GOOD = "refused", "good"


def hurry() -> None:
    """Nesting and the search for seams look less far: any sound layout and any sound seams will do here."""
    nest.parts.EFFORT.update(dict.fromkeys(nest.parts.EFFORT, (1, 5)))
    _search.FIRST_STEPS, _search.AROUND, _search.ATTEMPTS, petals.STEPS = 300, 3, 2, 300


class Hang(Exception):
    """A preset that took longer than anyone waits."""


class Unsound(Exception):
    """A finished shell, or its pack, that is not as it must be."""


@contextmanager
def patience(seconds: float) -> Iterator[None]:
    """Raises Hang in the block once it has used so many seconds of processor."""

    def ended(number: int, frame: FrameType | None) -> None:
        raise Hang(f"more than {seconds:g} s of processor")

    signal.signal(signal.SIGPROF, ended)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one preset.

    outcome  : "good", "refused", or the name of an exception that is our mistake
    kind     : of a refusal or mistake: its text without figures and names, or the line of the code
    findings : stages of the faults and cautions that the shell carries; other : what overturned the refusal
    """

    number: int
    outcome: str
    kind: str = ""
    text: str = ""
    findings: tuple[str, ...] = ()
    other: str = ""
    seconds: float = 0.0


def tried(number: int, folder: Path, *, pack: bool = False, overturn: bool = False) -> Outcome:
    """What comes of the preset with this number, which is written into the folder."""
    start, made = time.process_time(), draw(random.Random(number))
    try:
        with warnings.catch_warnings(action="error"), patience(PATIENCE * (3 if pack else 1)):
            shell = build(made, folder, pack=pack)
        found = tuple(f"{f.level} {f.stage}" for f in shell.findings if f.level != "ok")
        outcome = Outcome(number, GOOD, findings=tuple(dict.fromkeys(found)))
    except ShellgenError as error:
        other = overturned(made, folder) if overturn and not isinstance(error, PresetError) else ""
        outcome = Outcome(number, REFUSED, kind(error), str(error), other=other)
    except Exception as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        name = type(error).__name__
        at = str(error) if isinstance(error, Unsound) else f"{Path(place.filename).name}:{place.lineno}"
        outcome = Outcome(number, name, f"{name} {blurred(at)}", str(error))
    return replace(outcome, seconds=round(time.process_time() - start, 2))


def build(made: MadeUp, folder: Path, *, pack: bool = False) -> Shell:
    """The shell. ShellgenError if it is refused, Unsound if it is not as it must be, or refused only as a pack."""
    path = made.write(folder)
    content, memory = preset.read(path), flow.Flow()
    shell: Shell = pipeline.shell_of(content, memory)
    try:
        found = (*sound.faults(shell), *sound.lists(shell, content))
        if pack:
            contents.build(content, flow=memory, accept_faults=True)
    except ShellgenError as error:
        raise Unsound(f"a shell whose files are refused: {error}") from error
    if found:
        raise Unsound("; ".join(found))
    if pack and (told := disagreement(path, shell)):
        raise Unsound(told)
    return shell


def disagreement(path: Path, shell: Shell) -> str:
    """What `check` leaves out of the faults that the build found, or adds to them."""
    told = CliRunner().invoke(cli.main, ["check", str(path)])
    faulty = [finding.text for finding in shell.findings if finding.level == "fault"]
    if bool(faulty) != (told.exit_code == 1):
        return f"check ends with {told.exit_code}, the build finds {len(faulty)} faults"
    shown = re.sub(r"\s+", "", told.output).lower()
    missed = [text for text in faulty if re.sub(r"\s+", "", text).lower() not in shown]
    return f"check does not show: {missed[0]}" if missed else ""


def overturned(made: MadeUp, folder: Path) -> str:
    """Other seams or a finer mesh with which a refused preset is built after all; empty if there are none."""
    read = preset.read(made.write(folder))
    seams = params.specs(preset.Preset)["seams"].metadata
    for name in registry.names(seams["package"]):
        own = params.own_params(seams["package"], name)
        if name == read.seams.name or any(map(params.is_required, params.specs(own).values())):
            continue
        chosen = params.Chosen(name, own() if own else None, replace(read.seams.common, plan=name))
        if _builds(replace(read, seams=chosen)):
            return f"seams: {name}"
    finer = replace(read.mesh, edge=max(read.mesh.edge / 1.6, 2.0))
    return f"mesh: {finer.edge:.1f}" if _builds(replace(read, mesh=finer)) else ""


def _builds(content: preset.Preset) -> bool:
    try:
        with patience(PATIENCE):
            pipeline.shell_of(content, flow.Flow())
    except (ShellgenError, Hang):
        return False
    return True


def kind(error: ShellgenError) -> str:
    """The text of a refusal without what changes from preset to preset."""
    text = str(error)
    if isinstance(error, PresetError):
        text = f"{error.where}: {error.problem} {error.remedy}"
    return f"{type(error).__name__} {blurred(text)}"


def blurred(text: str) -> str:
    """Without figures, quotations and names of pieces."""
    text = re.sub(r"\"[^\"]*\"|'[^']*'", "...", text)
    return re.sub(r"[\w./-]*\d[\w.]*", "#", text)[:100]


def report(outcomes: Mapping[int, Outcome]) -> str:
    """The counts of outcomes, and of refusals and mistakes by their kind, each with its first numbers."""
    counts = Counter(outcome.outcome for outcome in outcomes.values())
    lines = [f"{len(outcomes)} presets: " + ", ".join(f"{n} {name}" for name, n in counts.most_common())]
    kinds: dict[str, list[int]] = {}
    for number, outcome in sorted(outcomes.items()):
        if outcome.outcome != GOOD:
            kinds.setdefault(outcome.kind, []).append(number)
        if outcome.other:
            kinds.setdefault(f"overturned by {outcome.other.split(': ')[0]}: {outcome.kind}", []).append(number)
    ordered = sorted(kinds.items(), key=lambda item: -len(item[1]))
    lines += [f"{len(numbers):5}  {of}  ({', '.join(map(str, numbers[:4]))})" for of, numbers in ordered]
    return "\n".join(lines)


def _logged(log: Path) -> dict[int, Outcome]:
    lines = log.read_text(encoding="utf-8").splitlines() if log.is_file() else []
    read: list[dict[str, Any]] = [json.loads(line) for line in lines]
    return {one["number"]: Outcome(**one) for one in read}


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=3000)
    parser.add_argument("--seed", type=int, default=1, help="number of the first preset")
    parser.add_argument("--packs", type=int, default=25, help="build the whole pack of every so many; 0 for none")
    parser.add_argument("--overturn", action="store_true", help="try refused presets with other seams and finer meshes")
    parser.add_argument("--log", type=Path, help="what came of each preset; if it is there already, go on behind it")
    chosen = parser.parse_args()
    hurry()
    log = chosen.log or Path(os.devnull)
    outcomes = _logged(log)
    with tempfile.TemporaryDirectory() as folder, log.open("a", encoding="utf-8") as kept:
        for number in range(chosen.seed, chosen.seed + chosen.count):
            if number in outcomes:
                continue
            pack = chosen.packs > 0 and number % chosen.packs == 0
            outcome = outcomes[number] = tried(number, Path(folder), pack=pack, overturn=chosen.overturn)
            print(json.dumps(asdict(outcome)), file=kept, flush=True)
            if outcome.outcome not in (GOOD, REFUSED):
                print(f"preset {number}: {outcome.kind}: {outcome.text}", flush=True)
    print(report(outcomes))


if __name__ == "__main__":
    main()
