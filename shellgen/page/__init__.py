"""The whole pack on one page: a single file that opens from disk without a network, with or without 3-D."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from importlib import resources
from string import Template

from shellgen.canvas import Drawing, Table
from shellgen.canvas.rule import Rule
from shellgen.draw.order import PaperEntry
from shellgen.draw.pictures import with_wearer
from shellgen.draw.shell_scene import shell_scene
from shellgen.guide.stills import webp
from shellgen.model import Paint, Proof, Ring, Solid, Spike
from shellgen.page import sections, solid
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.pipeline.wear import Worn
from shellgen.record import Record

QUALITY, METHOD = 82, 2
"""Quality and method of WebP for the pictures on the page (chosen: no difference is visible at arm's length)."""
FINISHED = "preview.png"

GALLERY = {
    "views.png": "From all sides, at one scale",
    "worn.png": "On the wearer",
    "shading.png": "Where to shade",
    "exploded.png": "Taken apart: pieces, edging, rings and spikes",
    "stretch.png": "Where forming stretches and compresses the foam",
    "spikes.png": "Every size of spike, at one scale",
}
"""Pictures of the page in this order, if the pack has them; the finished shell is shown above."""

POLICY = (
    "default-src 'none'; script-src 'sha256-{digest}'; style-src 'unsafe-inline'; img-src data:; "
    "connect-src {connect}; base-uri 'none'; form-action 'none'"
)
"""The page may run its own script and fetch nothing; the preview may fetch from its own server (W3C CSP Level 3)."""


@dataclass(frozen=True, slots=True, eq=False)
class PageContent:
    """What differs from shell to shell.

    head, body : markup above and below the 3-D view
    foam, standing : as `solid` makes them, or empty
    picture    : data URL of a picture of the finished shell, or empty
    """

    title: str
    head: str
    body: str
    foam: bytes = b""
    standing: bytes = b""
    picture: str = ""


@dataclass(frozen=True, slots=True)
class LivePart:
    """What a page has that follows a file: markup of its panels, their style, and the script in place of the usual."""

    markup: str
    style: str
    script: str


def of(
    figures: Record,
    tables: Sequence[Table],
    templates: Sequence[Drawing],
    overview: Drawing,
    solids: tuple[bytes, bytes],
    *,
    title: str,
    rule: Rule,
    pictures: Mapping[str, str] | None = None,
    files: Iterable[str] = (),
    prints: Sequence[PaperEntry] = (),
) -> PageContent:
    """The content of the page for a shell.

    figures   : its record; templates : of the pieces; solids : as `solids_of` makes them
    pictures  : as `stills` makes them; files : paths in the pack to link to
    prints    : the papers in the order of printing
    """
    listed, shown, sheets = tuple(files), pictures or {}, {sheet.name: sheet for sheet in templates}
    foam, standing = solids
    gallery = [(words, shown[path]) for path, words in GALLERY.items() if path in shown]
    body = sections.body(figures, sheets, overview, tables, listed, gallery, rule, prints)
    return PageContent(
        title, sections.head(title, figures, rule, listed), body, foam, standing, shown.get(FINISHED, "")
    )


def stills(files: Mapping[str, bytes]) -> dict[str, str]:
    """Data URLs by path, of the pictures (PNG) that the page shows."""
    shown = {path: png for path, png in files.items() if path in GALLERY or path == FINISHED}
    return {path: webp(png, quality=QUALITY, method=METHOD) for path, png in shown.items()}


def solids_of(
    ground: Ground, foam: Foam, proof: Proof, spikes: tuple[Spike, ...], rings: tuple[Ring, ...],
    edging: tuple[Solid, ...], paint: Paint, worn: Worn | None,
) -> tuple[bytes, bytes]:  # fmt: skip
    """The foam and what is on it, for the viewer. worn : None if the wearer must not be shown"""
    scene = shell_scene("shell", ground, foam.thickness, spikes, rings, edging, smooth=False)
    scene = with_wearer(worn, scene) if worn else scene
    return (
        solid.pieces(ground, foam, proof, spikes, paint, scene),
        solid.standing(ground.mesh, foam.pattern, proof.formed, paint.zones, scene),
    )


def page(content: PageContent, *, live: LivePart | None = None) -> bytes:
    """The page as HTML. live : of the preview, if the page follows a file"""
    script = live.script if live else _text("viewer.js")
    html = Template(_text("page.html")).substitute(
        title=escape(content.title),
        policy=policy(script, connect="'self'" if live else "'none'"),
        style=style() + (live.style if live else ""),
        head=content.head,
        picture=_picture(content.picture, content.title),
        body=content.body,
        live=live.markup if live else "",
        foam=base64.b64encode(content.foam).decode(),
        standing=base64.b64encode(content.standing).decode(),
        script=script,
    )
    return html.encode()


def style() -> str:
    """The look of all pages."""
    return _text("page.css")


def policy(script: str, *, connect: str) -> str:
    """What a page with this script may do. connect : where it may send requests"""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return POLICY.format(digest=digest, connect=connect)


def _text(name: str) -> str:
    return resources.files("shellgen.page").joinpath(name).read_text("utf-8")


def _picture(address: str, title: str) -> str:
    """The shell as a still picture, for browsers without WebGL and for print."""
    return f'<img class="still" alt="{escape(title)}, the finished shell" src="{address}">' if address else ""
