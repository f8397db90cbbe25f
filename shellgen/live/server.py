"""Serves a folder of presets on this computer only: start page, one page for each preset, and what both ask for."""

from __future__ import annotations

import asyncio
import contextlib
import mimetypes
import socket
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import quote

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp
from threadpoolctl import threadpool_limits

from shellgen import page, share
from shellgen.core import worker
from shellgen.errors import FitError, ShellgenError
from shellgen.fields import yamltree
from shellgen.live import door, events, panels, rewrite, starting, texts, work
from shellgen.live.door import HOST, Doorkeeper, Refused
from shellgen.live.texts import OvertakenError
from shellgen.live.workbench import Workbench
from shellgen.live.workplace import MissingError, Workplace
from shellgen.preset import starter

SHORT = 1000
"""Most bytes of a slider's message (chosen: it has about 40)."""
LONG = 6 * yamltree.LARGEST + SHORT
"""Most bytes of a message with a preset in it: JSON may write a byte as six."""

SANDBOX = {"Content-Security-Policy": "sandbox allow-scripts allow-popups allow-downloads; frame-ancestors 'none'"}
"""For files of a pack, which may be a stranger's: their scripts get no access to the presets."""
UNBOXED = "application/pdf"
"""Browsers show no PDF in a sandbox, and none gives it access to pages."""

Answer = Callable[[Workbench, Request], Awaitable[Response]]


def app(bench: Workbench, port: int) -> ASGIApp:
    """The folder's pages as an ASGI application."""

    @contextlib.asynccontextmanager
    async def running(_: Starlette) -> AsyncIterator[None]:
        yield
        await bench.ended()

    def route(path: str, answer: Answer, method: str = "GET") -> Route:
        return Route(path, partial(answer, bench), methods=[method], name=answer.__name__)

    one = "/presets/{name}"
    routes = [
        route("/", _start),
        route("/presets", _new, "POST"),
        route("/presets.json", _listed),
        route("/schema.json", _schema),
        route(one, _page),
        route(f"{one}/events", _follow),
        route(f"{one}/text", _read),
        route(f"{one}/text", _write, "PUT"),
        route(f"{one}/other", _set_aside, "POST"),
        route(f"{one}/figure", _figure, "POST"),
        route(f"{one}/check", _check),
        route(f"{one}/build", _build, "POST"),
        route(f"{one}/build", _state),
        route(f"{one}/build", _cancel, "DELETE"),
        route(f"{one}/picture", _picture),
        route("/packs/{name}.zip", _zip),
        route("/packs/{name}/{path:path}", _file),
    ]
    errors: dict[Any, Any] = dict.fromkeys((Refused, ShellgenError, OSError), door.refused)
    errors |= {MissingError: _missing, OvertakenError: _overtaken}
    return Doorkeeper(Starlette(routes=routes, lifespan=running, exception_handlers=errors), port, bench.token)


async def _missing(request: Request, error: Exception) -> Response:
    return await door.refused(request, Refused(404, str(error)))


async def _overtaken(request: Request, error: Exception) -> Response:
    more = asdict(error.now) if isinstance(error, OvertakenError) else {}
    return await door.refused(request, Refused(409, str(error), **more))


# ---- pages ---------------------------------------------------------------------------------------------------------


async def _start(bench: Workbench, _: Request) -> Response:
    return HTMLResponse(starting.page(bench.place, bench.token))


async def _page(bench: Workbench, request: Request) -> Response:
    follower = bench.follower(request.path_params["name"])
    packs = tuple(bench.place.packs())
    content = follower.good.content if follower.good else panels.waiting(follower)
    return HTMLResponse(page.page(content, live=panels.of(follower, bench.token, packs)))


async def _new(bench: Workbench, request: Request) -> Response:
    sent = await door.message(request, longest=SHORT * 10, name=str, like=str, unit=str, answers=dict)
    name = starting.begin(bench.place, sent["name"], sent["like"], sent["unit"], sent["answers"])
    return JSONResponse({"address": f"/presets/{quote(name)}"}, 201)


async def _listed(bench: Workbench, _: Request) -> Response:
    presets = [starting.listed(path) for path in bench.place.presets().values()]
    return JSONResponse({"presets": presets, "packs": list(bench.place.packs())})


async def _schema(_: Workbench, __: Request) -> Response:
    return Response(starter.schema_bytes(), media_type="application/json")


async def _picture(bench: Workbench, request: Request) -> Response:
    found = bench.place.picture(request.path_params["name"])
    if found is None:
        raise MissingError("There is no picture of this preset yet. Build its pack.")
    return Response(found.read_bytes(), media_type="image/png")


# ---- text ----------------------------------------------------------------------------------------------------------


async def _read(bench: Workbench, request: Request) -> Response:
    found = texts.read(bench.place.preset(request.path_params["name"]))
    return JSONResponse({"text": found.text, "digest": found.digest})


async def _write(bench: Workbench, request: Request) -> Response:
    """A preset that a page has opened and that is gone can be written again."""
    sent = await door.message(request, longest=LONG, text=str, digest=str)
    name = request.path_params["name"]
    gone = sent["digest"] == texts.GONE and name in bench.followers
    path = bench.followers[name].path if gone else bench.place.preset(name)
    return JSONResponse({"digest": texts.write(path, sent["text"], sent["digest"]).digest})


async def _set_aside(bench: Workbench, request: Request) -> Response:
    sent = await door.message(request, longest=LONG, text=str)
    path = bench.place.preset(request.path_params["name"])
    return JSONResponse({"file": texts.set_aside(path, sent["text"]).name}, 201)


async def _figure(bench: Workbench, request: Request) -> Response:
    """Writes one slider's figure into the preset; nothing else can be written."""
    sent = await door.message(request, longest=SHORT, field=str, value=(int | float))  # type: ignore[arg-type]
    try:
        value = float(sent["value"])
    except OverflowError as error:
        raise Refused(400, f"{sent['field'][:40]} is out of range.") from error
    follower = bench.follower(request.path_params["name"])
    known = {slider.field: slider for slider in follower.good.sliders} if follower.good else {}
    slider = known.get(sent["field"])
    if slider is None:
        raise Refused(404, f"{sent['field'][:40]} is not on a slider.")
    low, high = slider.bounds
    if not low <= value <= high:
        raise Refused(400, f"{sent['field']} is out of range.")
    rewrite.put(follower.path, slider.steps, value)
    return Response(status_code=204)


async def _check(bench: Workbench, request: Request) -> Response:
    """What the checks found in the last good shell, and the mistake since then."""
    works = bench.follower(request.path_params["name"]).workshop
    good = works.good
    findings = [] if good is None else [{"level": f.level, "text": f.sentence} for f in good.record.findings]
    return JSONResponse(
        {
            "version": good.version if good else 0,
            "findings": findings,
            "mistake": works.mistake() if works.wrong else None,
        }
    )


# ---- packs ---------------------------------------------------------------------------------------------------------


async def _build(bench: Workbench, request: Request) -> Response:
    sent = await door.message(request, longest=SHORT, accept_faults=bool)
    return JSONResponse(bench.build(request.path_params["name"], accept_faults=sent["accept_faults"]), 202)


async def _state(bench: Workbench, request: Request) -> Response:
    build = bench.builds.get(request.path_params["name"])
    return JSONResponse(build.report if build else {"state": "none"})


async def _cancel(bench: Workbench, request: Request) -> Response:
    bench.cancel(request.path_params["name"])
    return Response(status_code=204)


async def _zip(bench: Workbench, request: Request) -> Response:
    name = request.path_params["name"]
    data = await asyncio.to_thread(lambda: share.zipped(bench.place.files(name), name))
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(name)}.zip"}
    return Response(data, media_type="application/zip", headers=headers)


async def _file(bench: Workbench, request: Request) -> Response:
    path = request.path_params["path"]
    data = bench.place.file(request.path_params["name"], path)
    kind = mimetypes.guess_type(path)[0] or "application/octet-stream"
    return Response(data, media_type=kind, headers=None if kind == UNBOXED else SANDBOX)


# ---- events --------------------------------------------------------------------------------------------------------


async def _follow(bench: Workbench, request: Request) -> Response:
    name, seen = request.path_params["name"], request.query_params.get("version", "")
    build = bench.builds.get(name)
    stream = events.stream(bench.follower(name), seen, build.report if build else None, bench.stop)
    return StreamingResponse(stream, media_type="text/event-stream")


# ---- running -------------------------------------------------------------------------------------------------------


def serve(folder: Path, preset: Path | None, port: int, *, ready: Callable[[str], object] = lambda _: None) -> None:
    """Serves the folder until Ctrl-C. preset : the one to open; its folder is served then
    ready : called with the address. FitError if the port is taken
    """
    opened = preset.resolve() if preset else None
    place = Workplace((opened.parent if opened else folder).resolve(), opened.name if opened else "")
    listening = socket.socket()
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HOST, port))
        listening.listen()
    except OSError as error:
        raise FitError(f"Port {port} is taken: {error.strerror}. Use a free one, or 0 for any.") from error
    port = listening.getsockname()[1]
    ready(f"http://{HOST}:{port}/{f'presets/{quote(place.opened)}' if opened else ''}")
    with contextlib.suppress(KeyboardInterrupt), threadpool_limits(1):  # as for `build`, whose results are the same
        asyncio.run(_serve(place, port, listening))


async def _serve(place: Workplace, port: int, listening: Any) -> None:
    with worker.started(work.__name__) as other:
        bench = Workbench(place, other)
        if place.opened:
            bench.follower(place.opened)
        config = uvicorn.Config(
            app(bench, port), log_level="warning", access_log=False, server_header=False, timeout_graceful_shutdown=2
        )
        await _Server(config, bench).serve(sockets=[listening])


class _Server(uvicorn.Server):
    """Ends the open event streams first, so that Ctrl-C does not wait for them."""

    def __init__(self, config: uvicorn.Config, bench: Workbench) -> None:
        super().__init__(config)
        self._bench = bench

    def handle_exit(self, sig: int, frame: Any) -> None:
        self._bench.halt()
        super().handle_exit(sig, frame)
