"""All that the server works on: the folder, the presets that pages have opened, and the build."""

from __future__ import annotations

import asyncio
import secrets
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from shellgen.live.builds import PackBuild
from shellgen.live.door import Refused
from shellgen.live.follow import Follower
from shellgen.live.workplace import Workplace


@dataclass(slots=True, eq=False)
class Workbench:
    """worker : another process to compute in; stop : set when the server ends; token : needed for a change"""

    place: Workplace
    worker: Executor | None = None
    stop: asyncio.Event = field(default_factory=asyncio.Event)
    token: str = field(default_factory=partial(secrets.token_urlsafe, 32))
    followers: dict[str, Follower] = field(default_factory=dict)
    builds: dict[str, PackBuild] = field(default_factory=dict)
    _tasks: set[asyncio.Task[None]] = field(default_factory=set)

    def follower(self, name: str) -> Follower:
        """Of a preset in the folder, from now on. MissingError if there is none."""
        path = self.place.preset(name)
        if name not in self.followers:
            self.followers[name] = made = Follower(path, self.worker)
            self._tasks.add(asyncio.create_task(made.run(self.stop)))
        return self.followers[name]

    def build(self, name: str, *, accept_faults: bool) -> dict[str, Any]:
        """Starts to build a preset. Refused while another build runs."""
        follower = self.follower(name)
        running = next((one for one, build in self.builds.items() if build.state == "running"), None)
        if running is not None:
            raise Refused(409, f"{running} is being built. Wait for it, or cancel it.")
        send = partial(follower.send, "build")
        self.builds[name] = made = PackBuild(follower.path, self.place, send, self.worker, accept_faults=accept_faults)
        made.start()
        return made.report

    def cancel(self, name: str) -> None:
        """Refused if there is no such build."""
        if name not in self.builds:
            raise Refused(404, f"{name} is not being built.")
        self.builds[name].cancel()

    def halt(self) -> None:
        """Ends all that runs."""
        self.stop.set()
        for follower in self.followers.values():
            follower.halt()
        for build in self.builds.values():
            build.cancel()

    async def ended(self) -> None:
        self.halt()
        await asyncio.gather(*self._tasks)
