"""Answers this computer's own page only, and reads what it sends."""

from __future__ import annotations

import json
import secrets
from dataclasses import dataclass
from typing import Any, NoReturn

from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from shellgen.errors import PresetError

HOST = "127.0.0.1"
NAMES = (HOST, "localhost")
HTTP = 80

HEADERS = {
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
ALONE = {"Content-Security-Policy": "frame-ancestors 'none'"}
"""Unless the answer has a stricter policy of its own."""


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
                given = {name.lower() for name, _ in message["headers"]}
                more = ((k.lower().encode(), v.encode()) for k, v in (HEADERS | ALONE).items())
                message["headers"] = [*message["headers"], *((k, v) for k, v in more if k not in given)]
            await send(message)

        await self.app(scope, receive, sending)

    def _knows(self, token: list[str]) -> bool:
        return len(token) == 1 and secrets.compare_digest(token[0].encode(), self.token.encode())


class Refused(Exception):
    """A request that cannot be met. status : of HTTP; more : goes with the text"""

    def __init__(self, status: int, text: str, /, **more: Any) -> None:
        super().__init__(text)
        self.status, self.more = status, more


async def refused(_: Request, error: Exception) -> Response:
    """The answer to `Refused`, to a mistake of the maker with its line and field, and where the system refuses."""
    if isinstance(error, Refused):
        return JSONResponse({"error": str(error), **error.more}, error.status)
    if isinstance(error, OSError):
        return JSONResponse({"error": f"The folder cannot be read: {error.strerror}."}, 422)
    place = {"line": error.line, "field": error.where} if isinstance(error, PresetError) else {}
    return JSONResponse({"error": str(error), **place}, 422)


async def message(request: Request, *, longest: int, **wanted: type) -> dict[str, Any]:
    """The request's JSON. Refused unless it is an object with a value of each of the `wanted` kinds.

    longest : bytes
    """
    if request.headers.get("content-type", "").partition(";")[0] != "application/json":
        raise Refused(415, "Send JSON.")
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > longest:
            raise Refused(413, "The message is too long.")
    try:
        found: Any = json.loads(body.decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise Refused(400, "The message is not JSON.") from error
    if not isinstance(found, dict):
        raise Refused(400, "The message is not an object of JSON.")
    for name, kind in wanted.items():
        if not isinstance(found.get(name), kind):
            raise Refused(400, f"The message has no {name}, or not as it should be.")
    try:
        json.dumps(found, ensure_ascii=False).encode("utf-8")
    except (UnicodeEncodeError, RecursionError) as error:
        raise Refused(400, "The message has half a character.") from error
    return found


def _no_number(word: str) -> NoReturn:
    raise ValueError(word)
