"""A photo as grey values, the right way up."""

from __future__ import annotations

import io
import warnings

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

Grey = NDArray[np.uint8]

LARGEST = 64 * 2**20
"""Bytes of a file."""
MOST = 120e6
"""Pixels (chosen: the largest phones take 108 million)."""
ACROSS = 4600
"""Pixels along the longer side that are used: more than this only adds noise and time."""
FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP")


class UnreadPhoto(Exception):
    """A photo that gives no lines. The message says why and what to do."""


def grey(data: bytes) -> Grey:
    """The photo in `data`, turned as its EXIF orientation says. UnreadPhoto with one sentence for anything else."""
    if len(data) > LARGEST:
        raise UnreadPhoto(f"it has {len(data) / 2**20:.0f} MB; up to {LARGEST / 2**20:.0f} MB are read")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of Pillow: odd metadata, and sizes that are refused below
            with Image.open(io.BytesIO(data), formats=FORMATS) as image:
                if image.width * image.height > MOST:
                    raise UnreadPhoto(f"it has more than {MOST / 1e6:.0f} million pixels; save it smaller")
                image.draft("L", (ACROSS, ACROSS))
                upright = ImageOps.exif_transpose(image.convert("L"))
    except UnidentifiedImageError as error:
        raise UnreadPhoto("it is no photo. Save it as JPEG or PNG") from error
    except Image.DecompressionBombError as error:
        raise UnreadPhoto(f"it has more than {MOST / 1e6:.0f} million pixels; save it smaller") from error
    except (OSError, SyntaxError, ValueError, EOFError) as error:
        raise UnreadPhoto("it breaks off or is damaged. Copy it from the camera again") from error
    upright.thumbnail((ACROSS, ACROSS), Image.Resampling.BOX)
    return np.asarray(upright)
