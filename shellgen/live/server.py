"""Serves the preview on this computer only: the page, its events, and the address that sliders write to."""

from __future__ import annotations

import asyncio
import contextlib
import json
import math
import secrets
import socket
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from shellgen import page
from shellgen.core import worker
from shellgen.errors import FitError, PresetError
from shellgen.live import rewrite, work
from shellgen.live.follow import Event, Follower
from shellgen.live.sliders import markup
from shellgen.live.work import encoded

HOST = "127.0.0.1"
NAMES = (HOST, "localhost")
HTTP = 80
LARGEST = 1000
"""Most bytes of a slider's message (chosen: it has about 40)."""

HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "frame-ancestors 'none'",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


@dataclass(slots=True, eq=False)
class Doorkeeper:
    """Answers requests for this address only: a page of another site, even under a name that its owner has pointed at
    this computer, gets nothing and can change nothing.

    A change also needs the token, which only the page has: any process can invent an Origin.

    References: RFC 9110, sections 7.2 (Host) and 4.2.1 (port 80 is left out); RFC 6454 (Origin).
    """

    app: ASGIApp
    port: int
    token: str

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        hosts = [f"{name}:{self.port}" for name in NAMES] + ([*NAMES] if self.port == HTTP else [])
        sent = [(name, value.decode("latin-1")) for name, value in scope["headers"]]
        host, origin, token = (
            [value for name, value in sent if name == wanted] for wanted in (b"host", b"origin", b"x-token")
        )
        same = [f"http://{name}" for name in hosts]
        good = len(host) == 1 and host[0] in hosts and all(o in same for o in origin) and len(origin) <= 1
        if not good or (scope["method"] not in ("GET", "HEAD") and not (origin and self._knows(token))):
            await PlainTextResponse("only the page of this preview may send requests", 403)(scope, receive, send)
            return

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message["headers"], *((k.encode(), v.encode()) for k, v in HEADERS.items())]
            await send(message)

        await self.app(scope, receive, sending)

    def _knows(self, token: list[str]) -> bool:
        return len(token) == 1 and secrets.compare_digest(token[0].encode(), self.token.encode())


def app(follower: Follower, port: int, stop: asyncio.Event) -> ASGIApp:
    """The preview of one preset as an ASGI application."""
    token = secrets.token_urlsafe(32)

    async def show(_: Request) -> Response:
        return HTMLResponse(page.page(_content(follower), live=panel(follower, token)))

    async def events(request: Request) -> Response:
        seen = request.query_params.get("version", "")
        stream = _events(follower, seen, stop)
        return StreamingResponse(stream, media_type="text/event-stream")

    async def write(request: Request) -> Response:
        return await _write(follower, request)

    @contextlib.asynccontextmanager
    async def running(_: Starlette) -> AsyncIterator[None]:
        task = asyncio.create_task(follower.run(stop))
        yield
        stop.set()
        follower.halt()
        await task

    routes = [Route("/", show), Route("/events", events), Route("/figure", write, methods=["POST"])]
    return Doorkeeper(Starlette(routes=routes, lifespan=running), port, token)


def _content(follower: Follower) -> page.PageContent:
    if follower.good:
        return follower.good.content
    title = follower.path.stem
    words = '<p class="size">The first shell is being computed. Its shape is shown first, then its figures.</p>'
    return page.PageContent(title, f"<h1>{escape(title)}</h1>{words}", "")


def panel(follower: Follower, token: str) -> str:
    """The panel of the preview: state, mistakes, changes, sliders. token : needed for a change"""
    good = follower.good
    return (
        f'<section class="live" id="live" data-version="{good.version if good else 0}" '
        f'data-token="{token}" aria-labelledby="live-title">'
        f'<h2 id="live-title">Following {escape(follower.path.name)}</h2>'
        '<p class="state" id="state" role="status">Save the file to update this page.</p>'
        '<div class="mistake" id="mistake" role="alert" hidden></div>'
        '<div id="news" hidden><h3>Changed by the last save</h3><ul id="changes"></ul></div>'
        f'<div id="sliders">{markup(good.sliders) if good else ""}</div>'
        '<p class="note">A slider writes its figure into the file and changes nothing else in it.</p></section>'
    )


async def _events(follower: Follower, seen: str, stop: asyncio.Event) -> AsyncIterator[str]:
    """Server-sent events: first what the page has missed, then new ones (WHATWG HTML, section 9.2)."""
    queue: asyncio.Queue[Event] = asyncio.Queue()
    follower.watching.add(queue)
    try:
        good = follower.good
        if good and str(good.version) != seen:
            yield _message(("shape", encoded(foam=good.content.foam, standing=good.content.standing)))
            yield _message(good.event())
        if follower.workshop.head:
            yield _message(("head", follower.workshop.head))
        if follower.workshop.shape:
            yield _message(("shape", follower.workshop.shape))
        if follower.workshop.wrong:
            yield _message(("mistake", {"text": follower.workshop.wrong}))
        ended = asyncio.create_task(stop.wait())
        while not stop.is_set():
            waiting = asyncio.create_task(queue.get())
            done, _ = await asyncio.wait({waiting, ended}, return_when=asyncio.FIRST_COMPLETED)
            if waiting in done:
                yield _message(waiting.result())
            else:
                waiting.cancel()
    finally:
        follower.watching.discard(queue)


def _message(event: Event) -> str:
    name, content = event
    return f"event: {name}\ndata: {json.dumps(content, ensure_ascii=False)}\n\n"


async def _write(follower: Follower, request: Request) -> Response:
    """Writes one slider's figure into the preset; nothing else can be written."""
    if request.headers.get("content-type", "").partition(";")[0] != "application/json":
        return PlainTextResponse("send JSON", 415)
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > LARGEST:
            return PlainTextResponse("the message is too long", 413)
    try:
        message: Any = json.loads(body)
        field, value = str(message["field"]), float(message["value"])
    except (ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return PlainTextResponse("send a field and a value", 400)
    shown = follower.good.sliders if follower.good else ()
    slider = next((s for s in shown if s.field == field), None)
    if slider is None:
        return PlainTextResponse(f"there is no slider for {field[:40]}", 404)
    low, high = slider.bounds
    if not (math.isfinite(value) and low <= value <= high):
        return PlainTextResponse(f"{field}: {value:g} mm is not possible. Give {low:g} to {high:g} mm.", 422)
    try:
        await asyncio.to_thread(rewrite.put, follower.path, slider.steps, value)
    except PresetError as error:
        return PlainTextResponse(str(error), 409)
    return Response(status_code=204)


def serve(path: Path, port: int, *, ready: Callable[[str], object] = lambda _: None) -> None:
    """Follows the preset at `path` until Ctrl-C. ready : called with the address. FitError if the port is taken."""
    listening = socket.socket()
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HOST, port))
        listening.listen()
    except OSError as error:
        raise FitError(f"Port {port} is taken: {error.strerror}. Use a free one, or 0 for any.") from error
    port = listening.getsockname()[1]
    ready(f"http://{HOST}:{port}/")
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_serve(path, port, listening))


async def _serve(path: Path, port: int, listening: Any) -> None:
    with worker.started(work.__name__) as other:
        await _follow(Follower(path.resolve(), other), port, listening)


async def _follow(follower: Follower, port: int, listening: Any) -> None:
    stop = asyncio.Event()
    config = uvicorn.Config(
        app(follower, port, stop),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=2,
    )
    server = _Server(config, stop, follower)
    await server.serve(sockets=[listening])


class _Server(uvicorn.Server):
    """Ends the open event streams first, so that Ctrl-C does not wait for them."""

    def __init__(self, config: uvicorn.Config, stop: asyncio.Event, follower: Follower) -> None:
        super().__init__(config)
        self._stop, self._follower = stop, follower

    def handle_exit(self, sig: int, frame: Any) -> None:
        self._stop.set()
        self._follower.halt()
        super().handle_exit(sig, frame)
