"""The panels of a preset's page: what it says, sliders, the text to edit, checks, and the pack."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from importlib import resources
from urllib.parse import quote

from shellgen import page
from shellgen.live.follow import Follower
from shellgen.live.sliders import markup


def text(name: str) -> str:
    """A file of this folder."""
    return resources.files("shellgen.live").joinpath(name).read_text("utf-8")


def waiting(follower: Follower) -> page.PageContent:
    """The page before there is a shell."""
    words = '<p class="size">The first shell is being computed. Its shape is shown first, then its figures.</p>'
    return page.PageContent(follower.path.stem, f"<h1>{escape(follower.path.stem)}</h1>{words}", "")


def of(follower: Follower, token: str, packs: Iterable[str]) -> page.LivePart:
    """token : needed for a change; packs : names of those in the folder"""
    good, name = follower.good, follower.path.name
    state = "Up to date." if good else "The first shell is being computed."
    checks = good.checks if good else "<p>They come with the first shell.</p>"
    panels = (
        f'<section class="live" id="live" data-version="{good.version if good else 0}" data-token="{token}" '
        f'data-preset="/presets/{quote(name)}" aria-labelledby="live-title">'
        f'<p class="up"><a href="/">All presets</a></p><h2 id="live-title">{escape(name)}</h2>'
        f'<p class="state" id="state" role="status">{state}</p>'
        '<div id="news" hidden><h3>Changed by the last save</h3><ul id="changes"></ul></div></section>'
        '<section class="measures" aria-labelledby="measures-title"><h2 id="measures-title">Main measures</h2>'
        f'<div id="sliders">{markup(good.sliders) if good else ""}</div></section>'
        f"{EDITOR}"
        '<section class="checks" aria-labelledby="checks-title"><h2 id="checks-title">Checks</h2>'
        f'<div id="checks" tabindex="0" role="group" aria-labelledby="checks-title">{checks}</div></section>'
        f"{BUILD}{packed(packs)}</section>"
    )
    return page.LivePart(panels, text("live.css"), text("workbench.js"))


EDITOR = """
<section class="writing" aria-labelledby="writing-title"><h2 id="writing-title">Text of the preset</h2>
<p class="note" id="writing-note">Saved as you type. Ctrl+Space offers lines and words, F1 reads the help for a line,
Ctrl+Z undoes, Tab leaves the text.</p>
<div id="editor"></div>
<div class="mistake" role="alert" id="mistake" hidden></div><button type="button" id="go" hidden></button>
<p class="about" id="about"></p><p class="unseen" id="spoken" role="status"></p>
<p class="saved" id="saved" role="status"></p>
<div class="both" id="both" role="alertdialog" aria-labelledby="both-title" hidden>
<h3 id="both-title">The file was changed elsewhere in the same place</h3>
<p>Choose the text to go on with. The other one is kept in a file of its own.</p>
<h4>Your text</h4><pre id="mine" tabindex="0" aria-label="Your text"></pre>
<button type="button" id="keep">Keep your text</button>
<h4>In the file</h4><pre id="theirs" tabindex="0" aria-label="In the file"></pre>
<button type="button" id="take">Take the text of the file</button></div></section>
"""

BUILD = """
<section class="build" id="build" aria-labelledby="build-title"><h2 id="build-title">Pack</h2>
<p class="note">Templates, guide, lists and pictures, in one folder.</p>
<p class="buttons"><button type="button" id="begin" class="main">Build the pack</button>
<button type="button" id="cancel" hidden>Cancel</button></p>
<p class="spite" id="spite" hidden><label><input type="checkbox" id="accept"> Write the pack in spite of these
faults</label></p>
<p class="bar" id="bar" hidden><progress id="progress" max="1" value="0" aria-label="Progress of the build"></progress>
<span id="left"></span></p>
<p id="stage" role="status"></p>
<div id="made" hidden></div>
"""


def packed(packs: Iterable[str]) -> str:
    """Links to packs."""
    rows = "".join(
        f'<li><a href="/packs/{quote(name)}/index.html">{escape(name)}</a> '
        f'<a href="/packs/{quote(name)}.zip" download aria-label="{escape(name)} as a zip">zip</a></li>'
        for name in packs
    )
    return f'<div id="packs"{"" if rows else " hidden"}><h3>Packs in this folder</h3><ul>{rows}</ul></div>'
