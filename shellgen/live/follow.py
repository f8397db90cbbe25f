"""Follows a preset: builds it anew after every save, and tells what is to be shown."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import logging
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from watchfiles import awatch

from shellgen import flatten, page, preset
from shellgen.draw.shell_scene import shell_scene
from shellgen.errors import PresetError, ShellgenError
from shellgen.flow import Flow
from shellgen.live.sliders import Slider, markup, sliders
from shellgen.page import facts, solid
from shellgen.pipeline import rough, shell_of
from shellgen.preset import Preset
from shellgen.record import record
from shellgen.shell import Shell

SETTLE = 20
"""Milliseconds without a change after which a save counts as done (chosen: an editor's own two steps take less)."""

Event = tuple[str, Mapping[str, Any]]


def encoded(**blobs: bytes) -> dict[str, str]:
    """Blobs as an event carries them."""
    return {name: base64.b64encode(blob).decode() for name, blob in blobs.items()}


class Superseded(Exception):
    """The preset was saved again; what was begun is of no use."""


@dataclass(frozen=True, slots=True, eq=False)
class Good:
    """A shell that came out, and the page of it."""

    version: int
    record: Mapping[str, Any]
    content: page.Content
    sliders: tuple[Slider, ...]
    seconds: float
    changes: tuple[str, ...] = ()

    def event(self) -> Event:
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
class Follower:
    """One preset and all that watch it. `good` is the last shell that came out, `wrong` what is amiss since,
    `shape` what has been shown of a newer one."""

    path: Path
    flow: Flow = field(default_factory=Flow)
    good: Good | None = None
    wrong: str = ""
    shape: dict[str, str] | None = None
    watching: set[asyncio.Queue[Event]] = field(default_factory=set)
    _shell: Shell | None = None
    _plates: str = ""
    _rough: bool = False
    _loop: Any = None
    _stale: threading.Event = field(default_factory=threading.Event)
    _wanted: asyncio.Event = field(default_factory=asyncio.Event)

    def __post_init__(self) -> None:
        self.flow.progress = self._stage
        self.flow.finished = self._finished

    # ---- in the server's thread ----

    async def run(self, stop: asyncio.Event) -> None:
        """Builds now and after every change of the file, until `stop`."""
        self._loop = asyncio.get_running_loop()
        watcher = asyncio.create_task(self._watch(stop))
        try:
            self._wanted.set()
            while not stop.is_set():
                await self._wanted.wait()
                self._wanted.clear()
                self._stale.clear()
                if not stop.is_set():
                    await self._built(stop)
        finally:
            watcher.cancel()

    async def _built(self, stop: asyncio.Event) -> None:
        """One build, in a thread that does not hold up the end of the program."""
        done = asyncio.Event()

        def work() -> None:
            self._build()
            with contextlib.suppress(RuntimeError):  # the loop is gone: nobody waits
                self._loop.call_soon_threadsafe(done.set)

        threading.Thread(target=work, daemon=True).start()
        ends = [asyncio.create_task(event.wait()) for event in (done, stop)]
        await asyncio.wait(ends, return_when=asyncio.FIRST_COMPLETED)
        for end in ends:
            end.cancel()

    def halt(self) -> None:
        """Ends what is being computed at the next stage."""
        self._stale.set()
        self._wanted.set()

    async def _watch(self, stop: asyncio.Event) -> None:
        name = self.path.name
        changes = awatch(
            self.path.parent, watch_filter=lambda _, changed: Path(changed).name == name, stop_event=stop,
            step=SETTLE, debounce=10 * SETTLE, recursive=False,
        )  # fmt: skip
        async for _ in changes:
            self._stale.set()
            self._wanted.set()

    def _publish(self, event: Event) -> None:
        for queue in self.watching:
            queue.put_nowait(event)

    # ---- in the worker's thread ----

    def _tell(self, name: str, **told: Any) -> None:
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._publish, (name, told))

    def _stage(self, stage: str) -> None:
        if self._stale.is_set():
            raise Superseded
        self._tell("busy", text=f"Computing: {stage} …")

    def _finished(self, stage: str, _: Any) -> None:
        """New spikes or rings on a shell that is otherwise the same are shown before anything is reckoned from them."""
        old, latest = self._shell, self.flow.latest
        if stage not in ("spikes", "strips") or old is None or self._rough:
            return
        if old.cut is not latest("seams") or old.pattern is not latest("pattern"):
            return
        rings = old.rings if stage == "spikes" else latest("strips")
        new = replace(old, spikes=latest("spikes"), rings=rings)
        here = {spike.name for spike in new.spikes}
        new = replace(new, rings=tuple(ring for ring in new.rings if ring.spike in here))
        self._show(standing=solid.standing(new, shell_scene(new)))

    def _show(self, **blobs: bytes) -> None:
        self.shape = encoded(**blobs)
        self._tell("shape", **self.shape)

    def _build(self) -> None:
        start = time.perf_counter()
        try:
            text = self.path.read_text("utf-8-sig") if self.path.is_file() else ""
            wanted = preset.read(self.path)
            self._compute(wanted, text, start)
            self.wrong = ""
        except Superseded:
            return
        except ShellgenError as error:
            self._mistake(self._located(error))
        except Exception as error:  # the preview must outlive whatever a half-edited preset brings about
            logging.getLogger(__name__).exception("while computing %s", self.path)
            self._mistake(f"The program itself failed ({type(error).__name__}); the terminal shows where.")

    def _compute(self, wanted: Preset, text: str, start: float) -> None:
        plates, grid = rough(wanted, self.flow)
        if plates.key != self._plates:
            offset = flatten.mid_offset(wanted.flatten, wanted.foam.thickness)
            self._show(foam=solid.whole(grid.value, plates.value, thickness=wanted.foam.thickness, mid_offset=offset))
            self._plates, self._rough = plates.key, True
        made = shell_of(wanted, self.flow)
        shell, title = made.value, wanted.title or wanted.name or ""
        if self._rough or self._shell is None or self._shell.proof is not shell.proof:
            self._rough = False
            scene = shell_scene(shell)
            self._show(foam=solid.foam(shell, scene), standing=solid.standing(shell, scene))
        content = self.flow.run("page", lambda s, t: page.of(s, title=t), made, title).value
        figures = record(shell)
        changes = tuple(facts.changes(self.good.record, figures)) if self.good else ()
        number = self.good.version + 1 if self.good else 1
        self._shell = shell
        self.good = Good(number, figures, content, sliders(wanted, text), time.perf_counter() - start, changes)
        self.shape = None
        name, told = self.good.event()
        self._tell(name, **told)

    def _located(self, error: ShellgenError) -> str:
        if isinstance(error, PresetError):
            try:
                return str(preset.locate(error, self.path))
            except ShellgenError:
                return str(error)
        return f"{self.path}: {error}"

    def _mistake(self, text: str) -> None:
        self.wrong = text
        if self.shape and self.good:  # what was shown on the way came to nothing
            self._show(foam=self.good.content.foam, standing=self.good.content.standing)
            self.shape, self._plates, self._rough = None, "", False
        self._tell("mistake", text=text)
