"""Paragraphs in any script that there is a font for: standard fonts for Western text, the embedded one for the rest.

References: ISO 32000-1, annex D: the standard fonts take the characters of code page 1252.
"""

from __future__ import annotations

import re
from functools import lru_cache
from html import escape
from io import BytesIO

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from shellgen.canvas import fonts, lettering

NAME = "sheet"


def western(text: str) -> bool:
    """Whether the standard fonts can show it."""
    return text.encode("cp1252", "ignore").decode("cp1252") == text


@lru_cache(maxsize=1)
def face() -> str:
    """Name of the embedded font; of what a book holds, only the letters in use."""
    pdfmetrics.registerFont(TTFont(NAME, BytesIO(fonts.data())))
    return NAME


def marked(text: str) -> str:
    """The text as a Paragraph takes it; what no font has becomes a question mark."""
    if western(text):
        return escape(text, quote=False)
    unknown = lettering.unset(text)
    known = "".join("?" if char in unknown else char for char in text)
    parts = re.split(r"([^\x00-\xff]+(?:[ ]+[^\x00-\xff]+)*)", known)
    return "".join(
        escape(part, quote=False) if western(part) else f'<font name="{face()}">{escape(part, quote=False)}</font>'
        for part in parts
    )
