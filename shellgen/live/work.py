"""What the preview computes for one save: the shape at once, then every figure."""

from __future__ import annotations

import base64
import logging
import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from shellgen import page, preset
from shellgen.canvas import Scene
from shellgen.core.content import digest
from shellgen.core.flow import Flow
from shellgen.draw.painted_scene import zone_colours
from shellgen.draw.pictures import worn
from shellgen.draw.shell_scene import shell_scene
from shellgen.draw.template import templates
from shellgen.errors import PresetError, ShellgenError
from shellgen.fields import yamltree
from shellgen.live.sliders import Slider, markup, sliders
from shellgen.page import facts, solid
from shellgen.pipeline import Shell, shell_of
from shellgen.pipeline.dome import coarse_mesh, foam_of, ground, plated
from shellgen.pipeline.finish import zones
from shellgen.pipeline.spikes import placed, standing, trimmed
from shellgen.preset import Preset
from shellgen.record import record


def encoded(**blobs: bytes) -> dict[str, str]:
    """Blobs as an event carries them."""
    return {name: base64.b64encode(blob).decode() for name, blob in blobs.items()}


class Superseded(Exception):
    """The preset was saved again; what was begun is of no use."""


@dataclass(slots=True, eq=False)
class Errand:
    """One save. `stale` is set once there is a newer one."""

    start: float = field(default_factory=time.perf_counter)
    stale: threading.Event = field(default_factory=threading.Event)

    def check(self) -> None:
        if self.stale.is_set():
            raise Superseded


@dataclass(frozen=True, slots=True, eq=False)
class Good:
    """A shell that came out, and the page of it."""

    version: int
    record: Mapping[str, Any]
    content: page.Content
    sliders: tuple[Slider, ...]
    seconds: float
    changes: tuple[str, ...] = ()

    def event(self) -> tuple[str, dict[str, Any]]:
        told = {
            "version": self.version,
            "title": self.content.title,
            "head": self.content.head,
            "body": self.content.body,
            "changes": self.changes,
            "sliders": markup(self.sliders),
            "text": f"Up to date, computed in {self.seconds:.1f} s.",
        }
        return "full", told


@dataclass(slots=True, eq=False)
class Workshop:
    """Does errands for one preset; a new one may begin before an old one has noticed that it is stale.

    good  : the last shell that came out; wrong : what is amiss since; shape : what was shown of a newer one
    tell  : called with the name and content of every event
    worker : another process, for what does not hold up the rest
    files : the preset and those it names
    """

    path: Path
    tell: Callable[[str, Mapping[str, Any]], None]
    worker: Executor | None = None
    good: Good | None = None
    wrong: str = ""
    shape: dict[str, str] | None = None
    files: tuple[Path, ...] = ()
    _before: Shell | None = None
    _plates: bytes = b""
    _shown: Shell | None = None
    _working: Any = field(default_factory=threading.Lock)
    _telling: Any = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.files = (self.path,)

    def do(self, errand: Errand) -> None:
        """Everything for one save, unless it is superseded."""
        try:
            text = yamltree.content(self.path).decode("utf-8-sig", errors="replace")
            wanted = preset.read(self.path)
            self.files = (self.path, *preset.files(wanted))
            with self._working:
                self._compute(errand, wanted, text)
        except Superseded:
            return
        except ShellgenError as error:
            self._mistake(errand, self._located(error))
        except Exception as error:  # the preview must outlive whatever a half-edited preset brings about
            logging.getLogger(__name__).exception("while computing %s", self.path)
            self._mistake(errand, f"The program itself failed ({type(error).__name__}); the terminal shows where.")

    def _compute(self, errand: Errand, wanted: Preset, text: str) -> None:
        errand.check()
        flow = Flow(lambda title: self._busy(errand, f"Computing: {title} …"), self.worker)
        self._bare(errand, wanted, flow)
        self._standing(errand, wanted, flow)
        made = shell_of(wanted, flow)
        self._came_out(errand, wanted, text, made, flow)
        self._before = made
        flow.finish()

    def _bare(self, errand: Errand, wanted: Preset, flow: Flow) -> None:
        """A new dome with its plates, before anything is cut."""
        surface, plates = plated(wanted, flow)
        grid, foam = coarse_mesh(wanted, flow, surface, plates), foam_of(wanted)
        now = digest((surface, plates))
        if now == self._plates:
            return
        self._plates, self._shown = now, None
        self._show(errand, foam=solid.whole(grid, plates, thickness=foam.thickness, mid_offset=foam.mid_offset))

    def _busy(self, errand: Errand, text: str) -> None:
        errand.check()
        self.tell("busy", {"text": text})

    def _standing(self, errand: Errand, wanted: Preset, flow: Flow) -> None:
        """New spikes, rings or colours of a shell that is otherwise the same, each as soon as it is there."""
        old = self._before
        if old is None or self._shown is not old:
            return
        on = ground(wanted, flow)
        new = replace(old, spikes=placed(wanted, flow, on)[0])
        here = {spike.name for spike in new.spikes}
        new = replace(new, rings=tuple(ring for ring in old.rings if ring.spike in here))
        if digest(new.spikes) != digest(old.spikes):
            self._show(errand, standing=solid.standing(new, _worn(new)))
        top = standing(wanted, flow, on)
        trim = trimmed(wanted, flow, on.surface, top.spikes)
        new = replace(new, rings=trim.rings.rings)
        if digest(new.rings) != digest(old.rings):
            self._show(errand, standing=solid.standing(new, _worn(new)))
        new = replace(new, paint=replace(old.paint, zones=zones(wanted, flow, on, top, trim)))
        if zone_colours(new) != zone_colours(old):
            scene = _worn(new)
            self._show(errand, foam=solid.foam(new, scene), standing=solid.standing(new, scene))

    def _came_out(self, errand: Errand, wanted: Preset, text: str, shell: Shell, flow: Flow) -> None:
        solids = flow.named("solids of the page").run(page.solids_of, shell, figure=True)
        if self._shown is None or self._shown.proof is not shell.proof or self._shown.paint is not shell.paint:
            self._show(errand, **dict(zip(("foam", "standing"), solids, strict=True)))
        drawn = flow.named("templates").run(templates, shell)
        title = wanted.title or wanted.name or ""
        content = flow.named("page").run(page.of, shell, drawn, title=title, solids=solids)
        figures = record(shell)
        changes = tuple(facts.changes(self.good.record, figures)) if self.good else ()
        number = self.good.version + 1 if self.good else 1
        with self._telling:
            errand.check()
            seconds = time.perf_counter() - errand.start
            self.good = Good(number, figures, content, sliders(wanted, text), seconds, changes)
            self._shown, self.shape, self.wrong = shell, None, ""
            self.tell(*self.good.event())

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
        with self._telling:
            if errand.stale.is_set():
                return
            self.wrong = text
            if self.shape and self.good:  # what was shown on the way came to nothing
                self._show(errand, foam=self.good.content.foam, standing=self.good.content.standing)
                self.shape, self._plates, self._shown = None, b"", None
            self.tell("mistake", {"text": text})


def _worn(shell: Shell) -> Scene:
    return worn(shell, shell_scene(shell, smooth=False))
