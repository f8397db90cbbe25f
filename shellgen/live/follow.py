"""Follows a preset: starts a computation after every save, and sends the results to the pages."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from watchfiles import awatch

from shellgen.live.work import Errand, Good, Workshop

SETTLE = 20
"""Milliseconds without a change after which a save counts as done (chosen: longer than a save in two steps)."""

WORD = 500
"""Milliseconds until a new file named in the preset is noticed (chosen)."""

Event = tuple[str, Mapping[str, Any]]


def _among(names: set[str], _: Any, changed: str) -> bool:
    return Path(changed).name in names


@dataclass(slots=True, eq=False)
class Follower:
    """One preset and all pages that watch it. worker : another process to compute in"""

    path: Path
    worker: Executor | None = None
    watching: set[asyncio.Queue[Event]] = field(default_factory=set)
    workshop: Workshop = field(init=False)
    _errand: Errand = field(default_factory=Errand)
    _loop: Any = None
    _wanted: asyncio.Event = field(default_factory=asyncio.Event)

    def __post_init__(self) -> None:
        self.workshop = Workshop(self.path, self.send, self.worker)

    @property
    def good(self) -> Good | None:
        """The last shell without an error."""
        return self.workshop.good

    async def run(self, stop: asyncio.Event) -> None:
        """Builds now and after every change of the file, until `stop`."""
        self._loop = asyncio.get_running_loop()
        watcher = asyncio.create_task(self._watch(stop))
        try:
            self._wanted.set()
            while not stop.is_set():
                await self._wanted.wait()
                self._wanted.clear()
                if not stop.is_set():
                    self._errand.stale.set()
                    self._errand = Errand()
                    # a thread that delays neither the next save nor the end of the program
                    threading.Thread(target=self.workshop.do, args=(self._errand,), daemon=True).start()
        finally:
            watcher.cancel()

    def halt(self) -> None:
        """Stops the running computation at the next stage."""
        self._errand.stale.set()
        self._wanted.set()

    async def _watch(self, stop: asyncio.Event) -> None:
        while not stop.is_set():
            files = self.workshop.files
            names, folders = {file.name for file in files}, {file.parent for file in files}
            changes = awatch(
                *folders, watch_filter=partial(_among, names), stop_event=stop, step=SETTLE, debounce=10 * SETTLE,
                recursive=False, yield_on_timeout=True, rust_timeout=WORD,
            )  # fmt: skip
            async for changed in changes:
                if changed:
                    self._publish(("saved", {}))
                    self._wanted.set()
                if self.workshop.files != files:
                    break

    def send(self, name: str, content: Mapping[str, Any]) -> None:
        """Called in any thread."""
        with contextlib.suppress(RuntimeError):  # the loop has ended: nobody listens
            self._loop.call_soon_threadsafe(self._publish, (name, content))

    def _publish(self, event: Event) -> None:
        for queue in self.watching:
            queue.put_nowait(event)
