"""Pictures as they stand within a page or a booklet: read once, and a fraction of their size as PNG."""

from __future__ import annotations

import base64
import io
from functools import lru_cache

from PIL import Image

from shellgen.core.memory import remembered


@remembered
def webp(png: bytes, *, quality: int, method: int) -> str:
    """A picture as a data URL. method : 0 to 6, how long smaller files are looked for. Works beside other threads."""
    return f"data:image/webp;base64,{base64.b64encode(_written(png, 'WEBP', quality=quality, method=method)).decode()}"


@remembered
def jpeg(png: bytes, *, quality: int) -> tuple[bytes, tuple[int, int]]:
    """A picture for PDF, and its width and height in pixels."""
    return _written(png, "JPEG", quality=quality), _read(png).size


def _written(png: bytes, form: str, **how: int) -> bytes:
    out = io.BytesIO()
    _read(png).copy().save(out, form, **how)  # PIL notes down in a picture how it is being written
    return out.getvalue()


@lru_cache(maxsize=2)  # the finished shell is asked for three times
def _read(png: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(png))
    image.load()
    return image if image.mode == "RGB" else image.convert("RGB")
