"""What the preview computes for one save: the shape at once, a quick look at every figure, then the exact result."""

from __future__ import annotations

import base64
import logging
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from shellgen import flatten, page, preset
from shellgen.draw.painted_scene import zone_colours
from shellgen.draw.pictures import worn
from shellgen.draw.shell_scene import shell_scene
from shellgen.draw.template import templates
from shellgen.errors import PresetError, ShellgenError
from shellgen.flow import Flow
from shellgen.live.quick import Quick, quick
from shellgen.live.sliders import Slider, markup, sliders
from shellgen.page import facts, solid
from shellgen.pipeline import dome, shell_of
from shellgen.preset import Preset
from shellgen.record import record
from shellgen.shell import Shell

FOAM = ("dome", "plates", "seams", "foam", "mesh", "flatten", "shape", "proof", "marks", "nest", "wearer")
"""Sections of a preset that the foam is made from; with these as before, the exact result needs no quick look."""


def encoded(**blobs: bytes) -> dict[str, str]:
    """Blobs as an event carries them."""
    return {name: base64.b64encode(blob).decode() for name, blob in blobs.items()}


class Superseded(Exception):
    """The preset was saved again; what was begun is of no use."""


@dataclass(slots=True, eq=False)
class Errand:
    """One save. `stale` is set once there is a newer one; `before` is the record of the last shell before it."""

    start: float = field(default_factory=time.perf_counter)
    before: Mapping[str, Any] | None = None
    stale: threading.Event = field(default_factory=threading.Event)

    def check(self) -> None:
        if self.stale.is_set():
            raise Superseded


@dataclass(frozen=True, slots=True, eq=False)
class Good:
    """A shell that came out, and the page of it. quick : in words, what is not exact, or nothing"""

    version: int
    record: Mapping[str, Any]
    content: page.Content
    sliders: tuple[Slider, ...]
    seconds: float
    changes: tuple[str, ...] = ()
    quick: str = ""

    def event(self) -> tuple[str, dict[str, Any]]:
        done = f"Up to date, computed in {self.seconds:.1f} s."
        told = {
            "version": self.version,
            "title": self.content.title,
            "head": self.content.head,
            "body": self.content.body,
            "changes": self.changes,
            "sliders": markup(self.sliders),
            "quick": bool(self.quick),
            "text": f"A quick look, computed in {self.seconds:.1f} s. Exact figures follow." if self.quick else done,
        }
        return "full", told


@dataclass(slots=True, eq=False)
class Workshop:
    """Does errands for one preset; a new one may begin before an old one has noticed that it is stale.

    good  : the last shell that came out; wrong : what is amiss since; shape : what was shown of a newer one
    tell  : called with the name and content of every event
    files : the preset and those it names
    """

    path: Path
    tell: Callable[[str, Mapping[str, Any]], None]
    good: Good | None = None
    wrong: str = ""
    shape: dict[str, str] | None = None
    exact: Flow = field(default_factory=Flow)
    rough: Flow = field(default_factory=Flow)
    files: tuple[Path, ...] = ()
    _before: tuple[Preset, Shell] | None = None
    _plates: str = ""
    _shown: Shell | None = None
    _locks: tuple[Any, Any] = field(default_factory=lambda: (threading.Lock(), threading.Lock()))

    def __post_init__(self) -> None:
        self.files = (self.path,)

    def do(self, errand: Errand) -> None:
        """Everything for one save, unless it is superseded."""
        errand.before = self.good.record if self.good else None
        try:
            text = self.path.read_text("utf-8-sig") if self.path.is_file() else ""
            wanted = preset.read(self.path)
            self.files = (self.path, *preset.files(wanted))
            if self._before is None or _foam(wanted) != _foam(self._before[0]):
                self._quickly(errand, wanted, text)
            self._exactly(errand, wanted, text)
        except Superseded:
            return
        except ShellgenError as error:
            self._mistake(errand, self._located(error))
        except Exception as error:  # the preview must outlive whatever a half-edited preset brings about
            logging.getLogger(__name__).exception("while computing %s", self.path)
            self._mistake(errand, f"The program itself failed ({type(error).__name__}); the terminal shows where.")

    def _quickly(self, errand: Errand, wanted: Preset, text: str) -> None:
        with self._locks[0]:
            errand.check()
            self.rough.progress = lambda stage: self._stage(errand, f"Quick look: {stage} …")
            self.rough.finished = lambda *_: None
            plates = dome(wanted, self.rough)[1]
            look = quick(wanted, plates.value, self._before)
            if plates.key != self._plates:
                self._plates = plates.key
                self.rough.finished = lambda stage, grid: self._bare(errand, wanted, plates, stage, grid)
            made = shell_of(look.preset, self.rough)
            self._came_out(errand, wanted, text, made, self.rough, look)

    def _exactly(self, errand: Errand, wanted: Preset, text: str) -> None:
        with self._locks[1]:
            errand.check()
            self.exact.progress = lambda stage: self._stage(errand, f"Computing exactly: {stage} …")
            self.exact.finished = lambda stage, _: self._standing(errand, stage)
            made = shell_of(wanted, self.exact)
            self._came_out(errand, wanted, text, made, self.exact, None)
            self._before = wanted, made.value

    def _stage(self, errand: Errand, told: str) -> None:
        errand.check()
        self.tell("busy", {"text": told})

    def _bare(self, errand: Errand, wanted: Preset, plates: Any, stage: str, grid: Any) -> None:
        """The new dome with its plates as soon as it is meshed, before anything is cut."""
        if stage != "mesh":
            return
        thickness = wanted.foam.thickness
        offset = flatten.mid_offset(wanted.flatten, thickness)
        self._shown = None
        self._show(errand, foam=solid.whole(grid, plates.value, thickness=thickness, mid_offset=offset))

    def _standing(self, errand: Errand, stage: str) -> None:
        """New spikes, rings or colours of a shell that is otherwise the same, shown before anything is reckoned."""
        old, latest = self._before and self._before[1], self.exact.latest
        if stage not in ("spikes", "strips", "zones") or old is None or self._shown is not old:
            return
        if old.cut is not latest("seams") or old.pattern is not latest("pattern"):
            return
        spikes = latest("spikes")
        here = {spike.name for spike in spikes}
        rings = tuple(r for r in (old.rings if stage == "spikes" else latest("strips")) if r.spike in here)
        new = replace(old, spikes=spikes, rings=rings)
        if stage == "zones":
            new = replace(new, paint=replace(old.paint, zones=latest("zones")))
            if zone_colours(new) == zone_colours(old):
                return
        self._show_whole(errand, new, foam=stage == "zones")

    def _came_out(self, errand: Errand, wanted: Preset, text: str, made: Any, flow: Flow, look: Quick | None) -> None:
        shell, title = made.value, wanted.title or wanted.name or ""
        if self._shown is None or self._shown.proof is not shell.proof or self._shown.paint is not shell.paint:
            self._show_whole(errand, shell)
        drawn = flow.run("templates", templates, made)
        content = flow.run("page", lambda s, t, d: page.of(s, d, title=t, at_home=True), made, title, drawn).value
        figures = record(shell)
        errand.check()
        if look:
            words = f'<p class="quick">Quick figures: {look.told}. The exact ones follow.</p>'
            content = replace(content, head=content.head + words)
        changes = tuple(facts.changes(errand.before, figures)) if errand.before else ()
        number = self.good.version + 1 if self.good else 1
        seconds = time.perf_counter() - errand.start
        told = look.told if look else ""
        self.good = Good(number, figures, content, sliders(wanted, text), seconds, changes, told)
        self.shape, self.wrong, self._shown = None, "", shell
        self.tell(*self.good.event())

    def _show_whole(self, errand: Errand, shell: Shell, *, foam: bool = True) -> None:
        """All that stands on the foam, and the foam itself."""
        scene = worn(shell, shell_scene(shell, smooth=False))
        blobs = {"foam": solid.foam(shell, scene)} if foam else {}
        self._show(errand, **blobs, standing=solid.standing(shell, scene))

    def _show(self, errand: Errand, **blobs: bytes) -> None:
        errand.check()
        self.shape = encoded(**blobs)
        self.tell("shape", self.shape)

    def _located(self, error: ShellgenError) -> str:
        if isinstance(error, PresetError):
            try:
                return str(preset.locate(error, self.path))
            except ShellgenError:
                return str(error)
        return f"{self.path}: {error}"

    def _mistake(self, errand: Errand, text: str) -> None:
        if errand.stale.is_set():
            return
        self.wrong = text
        if self.shape and self.good:  # what was shown on the way came to nothing
            self._show(errand, foam=self.good.content.foam, standing=self.good.content.standing)
            self.shape, self._plates, self._shown = None, "", None
        self.tell("mistake", {"text": text})


def _foam(wanted: Preset) -> str:
    return repr([getattr(wanted, section) for section in FOAM])
