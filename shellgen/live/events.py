"""What happens to a preset, as a stream of events for its page."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

from shellgen.live.follow import Event, Follower
from shellgen.live.work import encoded


async def stream(
    follower: Follower, seen: str, build: dict[str, Any] | None, stop: asyncio.Event
) -> AsyncIterator[str]:
    """Server-sent events: first what the page has missed, then new ones (WHATWG HTML, section 9.2)."""
    queue: asyncio.Queue[Event] = asyncio.Queue()
    follower.watching.add(queue)
    waiting: list[asyncio.Task[Any]] = [asyncio.create_task(stop.wait())]
    try:
        good, works = follower.good, follower.workshop
        if good and str(good.version) != seen:
            yield _event(("shape", encoded(foam=good.content.foam, standing=good.content.standing)))
            yield _event(good.event())
        missed = {"head": works.head, "shape": works.shape, "mistake": works.wrong and works.mistake(), "build": build}
        for name, content in missed.items():
            if content:
                yield _event((name, content))
        yield _event(("saved", {}))
        while not stop.is_set():
            waiting.append(asyncio.create_task(queue.get()))
            done, _ = await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
            if waiting[1] in done:
                yield _event(waiting.pop().result())
    finally:
        follower.watching.discard(queue)
        for task in waiting:
            task.cancel()
        await asyncio.gather(*waiting, return_exceptions=True)


def _event(event: Event) -> str:
    name, content = event
    return f"event: {name}\ndata: {json.dumps(content, ensure_ascii=False)}\n\n"
