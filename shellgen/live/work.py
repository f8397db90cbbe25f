"""Computes the preview after a save: first the shape, then every figure."""

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

import numpy as np

from shellgen import page, preset
from shellgen.canvas import rule
from shellgen.core.content import digest
from shellgen.core.flow import Flow
from shellgen.draw.overview import overview
from shellgen.draw.painted_scene import zone_colours
from shellgen.draw.pictures import with_wearer
from shellgen.draw.shell_scene import shell_scene
from shellgen.draw.template import templates
from shellgen.errors import FitError, GeometryError, PresetError, ShellgenError
from shellgen.export import _problem
from shellgen.fields import yamltree
from shellgen.live.sliders import Slider, markup, sliders
from shellgen.model import Ring, ShellMesh, Spike
from shellgen.page import facts, sections, solid
from shellgen.pipeline import Shell, shell_of
from shellgen.pipeline.dome import coarse_mesh, foam_of, ground, plated
from shellgen.pipeline.finish import zones
from shellgen.pipeline.spikes import placed, standing, trimmed
from shellgen.preset import Preset
from shellgen.record import Record, record
from shellgen.record.tables import tables


def encoded(**blobs: bytes) -> dict[str, str]:
    """Blobs as text for an event."""
    return {name: base64.b64encode(blob).decode() for name, blob in blobs.items()}


class Superseded(Exception):
    """The preset was saved again, so this computation is no longer needed."""


@dataclass(slots=True, eq=False)
class Errand:
    """One save. `stale` is set when there is a newer one."""

    start: float = field(default_factory=time.perf_counter)
    stale: threading.Event = field(default_factory=threading.Event)

    def check(self) -> None:
        if self.stale.is_set():
            raise Superseded


@dataclass(frozen=True, slots=True, eq=False)
class Good:
    """A shell without an error, and its page. checks : what the checks found, as markup"""

    version: int
    record: Record
    content: page.PageContent
    sliders: tuple[Slider, ...]
    checks: str
    seconds: float
    changes: tuple[str, ...] = ()

    def heading(self) -> dict[str, str]:
        return {"title": self.content.title, "head": self.content.head}

    def event(self) -> tuple[str, dict[str, Any]]:
        content = {
            "version": self.version,
            **self.heading(),
            "body": self.content.body,
            "changes": self.changes,
            "sliders": markup(self.sliders),
            "checks": self.checks,
            "text": f"Up to date, computed in {self.seconds:.1f} s.",
        }
        return "full", content


@dataclass(slots=True, eq=False)
class Workshop:
    """Computes one preset after each save; a new computation may start before an old one has noticed that it is stale.

    good  : the last shell without an error; wrong, wrong_at : the error since then, its line and field
    shape, head : shape, and title with size, that are shown of a newer one
    send  : called with the name and content of every event
    worker : another process, for work that nothing waits for
    files : the preset and those it names
    """

    path: Path
    send: Callable[[str, Mapping[str, Any]], None]
    worker: Executor | None = None
    good: Good | None = None
    wrong: str = ""
    wrong_at: dict[str, Any] = field(default_factory=dict)
    shape: dict[str, str] | None = None
    head: dict[str, str] | None = None
    files: tuple[Path, ...] = ()
    _before: Shell | None = None
    _headed: str = ""
    _plates: bytes = b""
    _shown: Shell | None = None
    _working: Any = field(default_factory=threading.Lock)
    _telling: Any = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.files = (self.path,)

    def do(self, errand: Errand) -> None:
        """Everything for one save, unless there is a newer one."""
        both = rule.METRIC.both
        try:
            text = yamltree.content(self.path).decode("utf-8-sig", errors="replace")
            wanted = preset.read(self.path)
            both = rule.of(wanted.print.paper).both
            self.files = (self.path, *preset.files(wanted))
            with self._working:
                self._compute(errand, wanted, text)
        except Superseded:
            return
        except ShellgenError as error:
            found = located(error, self.path)
            self._mistake(errand, both(str(found)) + _problem.shown(error), found)
        except Exception as error:  # a half-edited preset must not end the preview
            logging.getLogger(__name__).exception("while computing %s", self.path)
            self._mistake(errand, f"The program failed ({type(error).__name__}). The terminal shows where.")

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
        """Shows a new dome with its plates, before it is cut."""
        surface, plates = plated(wanted, flow)
        grid, foam = coarse_mesh(wanted, flow, surface, plates), foam_of(wanted)
        self._entitle(errand, wanted, grid)
        now = digest((surface, plates))
        if now == self._plates:
            return
        self._plates, self._shown = now, None
        self._show(errand, foam=solid.whole(grid, plates, thickness=foam.thickness, mid_offset=foam.mid_offset))

    def _entitle(self, errand: Errand, wanted: Preset, grid: ShellMesh) -> None:
        """Shows a new title, and a new size, before anything else is computed."""
        title, written = wanted.title or wanted.name or "", rule.of(wanted.print.paper)
        head = sections.title_and_size(title, np.ptp(grid.points, axis=0), wanted.foam.thickness, written)
        errand.check()
        if head != self._headed:
            self._headed = head
            self.head = {"title": title, "head": f'{head}<p class="note">The other figures follow.</p>'}
            self.send("head", self.head)

    def _busy(self, errand: Errand, text: str) -> None:
        errand.check()
        self.send("busy", {"text": text})

    def _standing(self, errand: Errand, wanted: Preset, flow: Flow) -> None:
        """Shows new spikes, rings or colours of an otherwise unchanged shell, each as soon as it is computed."""
        old = self._before
        if old is None or self._shown is not old:
            return
        on = ground(wanted, flow)
        spikes, _ = placed(wanted, flow, on)
        here = {spike.name for spike in spikes}
        rings = tuple(ring for ring in old.trim.rings.rings if ring.spike in here)
        if digest(spikes) != digest(old.top.spikes):
            self._show(errand, standing=_upon(old, spikes, rings))
        top = standing(wanted, flow, on)
        trim = trimmed(wanted, flow, on.surface, spikes)
        rings = trim.rings.rings
        if digest(rings) != digest(old.trim.rings.rings):
            self._show(errand, standing=_upon(old, spikes, rings))
        paint = replace(old.paint, zones=zones(wanted, flow, on, top, trim))
        if zone_colours(paint.zones) != zone_colours(old.paint.zones):
            foam, upon = page.solids_of(old.ground, old.foam, old.proof, spikes, rings, trim.bevel, paint, old.worn)
            self._show(errand, foam=foam, standing=upon)

    def _came_out(self, errand: Errand, wanted: Preset, text: str, shell: Shell, flow: Flow) -> None:
        top, rings, written = shell.top, shell.trim.rings.rings, rule.of(wanted.print.paper)
        solids = flow.named("solids of the page").run(
            page.solids_of,
            shell.ground,
            shell.foam,
            shell.proof,
            top.spikes,
            rings,
            shell.trim.bevel,
            shell.paint,
            shell.worn,
        )
        if self._shown is None or self._shown.proof is not shell.proof or self._shown.paint is not shell.paint:
            self._show(errand, **dict(zip(("foam", "standing"), solids, strict=True)))
        anchors = shell.worn.wear.anchors
        drawn = flow.named("templates").run(
            templates, shell.name, shell.ground, shell.foam, top.seats, top.spikes, anchors, rule=written
        )
        title = wanted.title or wanted.name or ""
        figures, whole = record(shell), overview(shell.ground, shell.foam, top.seats, title=title)
        content = flow.named("page").run(
            page.of, figures, tables(shell), drawn, whole, solids, title=title, rule=written
        )
        changes = tuple(facts.changes(self.good.record, figures, written)) if self.good else ()
        number = self.good.version + 1 if self.good else 1
        with self._telling:
            errand.check()
            seconds = time.perf_counter() - errand.start
            shown = sections.checks(figures, written)
            self.good = Good(number, figures, content, sliders(wanted, text), shown, seconds, changes)
            self._shown, self.shape, self.head, self.wrong = shell, None, None, ""
            self.send(*self.good.event())

    def _show(self, errand: Errand, **blobs: bytes) -> None:
        errand.check()
        self.shape = encoded(**blobs)
        self.send("shape", self.shape)

    def _mistake(self, errand: Errand, text: str, error: ShellgenError | None = None) -> None:
        with self._telling:
            if errand.stale.is_set():
                return
            self.wrong = text
            self.wrong_at = {"line": error.line, "field": error.where} if isinstance(error, PresetError) else {}
            if self.shape and self.good:  # the intermediate shape is no longer valid
                self._show(errand, foam=self.good.content.foam, standing=self.good.content.standing)
                self.shape, self._plates, self._shown = None, b"", None
            if self.head and self.good:
                self.head, self._headed = None, ""
                self.send("head", self.good.heading())
            self.send("mistake", self.mistake())

    def mistake(self) -> dict[str, Any]:
        return {"text": self.wrong, **self.wrong_at}


def located(error: ShellgenError, path: Path) -> ShellgenError:
    """The error with the file, and the line if it names one field."""
    if isinstance(error, PresetError):
        try:
            return preset.locate(error, path)
        except ShellgenError:
            return error
    return type(error)(f"{path}: {error}") if type(error) in (GeometryError, FitError) else error


def _upon(of: Shell, spikes: tuple[Spike, ...], rings: tuple[Ring, ...]) -> bytes:
    """What stands on a shell that has come out, with other spikes and rings."""
    scene = with_wearer(
        of.worn, shell_scene(of.name, of.ground, of.foam.thickness, spikes, rings, of.trim.bevel, smooth=False)
    )
    return solid.standing(of.ground.mesh, of.foam.pattern, of.proof.formed, of.paint.zones, scene)
