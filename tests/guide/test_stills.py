"""Pictures within a page, read back."""

import base64
import io
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from PIL import Image

from shellgen.core.memory import MEMORY
from shellgen.guide import stills


def picture() -> bytes:
    x, y = np.meshgrid(np.linspace(0, 9, 300), np.linspace(0, 6, 200))
    waves = np.stack([np.sin(x * y), np.cos(x + y * y), np.sin(x - 2 * y)], axis=2)
    out = io.BytesIO()
    Image.fromarray((127.5 * (waves + 1)).astype(np.uint8)).save(out, "PNG")
    return out.getvalue()


def test_a_still_is_the_picture_but_smaller():
    png = picture()
    head, _, data = stills.webp(png, quality=82, method=2).partition(",")
    jpeg, size = stills.jpeg(png, quality=82)
    assert head == "data:image/webp;base64"
    was = np.asarray(Image.open(io.BytesIO(png)), float)
    for kind, written in (("WEBP", base64.b64decode(data)), ("JPEG", jpeg)):
        read = Image.open(io.BytesIO(written))
        assert (read.format, read.size) == (kind, (300, 200)) == (kind, size)
        assert len(written) < len(png)
        assert np.abs(np.asarray(read, float) - was).mean() < 4


def test_one_picture_is_written_in_many_ways_at_once_as_one_after_the_other():
    png, ways = picture(), [(quality, method) for quality in (20, 50, 80, 95) for method in (0, 2, 4)] * 3
    in_turn = [stills.webp(png, quality=q, method=m) for q, m in ways]
    MEMORY.clear()
    with ThreadPoolExecutor(8) as beside:
        at_once = list(beside.map(lambda way: stills.webp(png, quality=way[0], method=way[1]), ways))
    assert at_once == in_turn
    assert len(set(in_turn)) > 6
