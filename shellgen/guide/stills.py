"""Pictures for a page or a booklet: read once, and much smaller than as PNG."""

from __future__ import annotations

import base64
import io
from functools import lru_cache

from PIL import Image

from shellgen.core.memory import remembered


@remembered
def webp(png: bytes, *, quality: int, method: int) -> str:
    """A picture as a data URL. method : 0 to 6, higher is smaller and slower. Works in any thread."""
    return f"data:image/webp;base64,{base64.b64encode(_written(png, 'WEBP', quality=quality, method=method)).decode()}"


@remembered
def jpeg(png: bytes, *, quality: int) -> tuple[bytes, tuple[int, int]]:
    """A picture for PDF, and its width and height in pixels."""
    return _written(png, "JPEG", quality=quality), _read(png).size


def _written(png: bytes, form: str, **how: int) -> bytes:
    out = io.BytesIO()
    _read(png).copy().save(out, form, **how)  # PIL changes a picture while it writes it
    return out.getvalue()


@lru_cache(maxsize=2)  # the picture of the finished shell is used three times
def _read(png: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(png))
    image.load()
    return image if image.mode == "RGB" else image.convert("RGB")
