"""The one place that reaches into reportlab: how it encodes the streams of a file.

`benchmarks/writers.py` measures what that brings.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from reportlab import rl_config
from reportlab.pdfbase import pdfdoc

from shellgen.core.memory import remembered


class _Deflate(pdfdoc.PDFStreamFilterZCompress):  # type: ignore[misc]  # reportlab has no types
    """The library's own filter, memoised: most streams of a rebuilt file are as they were."""

    encode = staticmethod(remembered(pdfdoc.PDFZCompress.encode))


@contextmanager
def compact() -> Iterator[None]:
    """While a file is written: compressed streams stay bytes, not spelled out in letters (the library's setting
    `useA85`, which it reads from its module alone), and a stream that was compressed before is not compressed again."""
    before = rl_config.useA85, pdfdoc.PDFZCompress
    rl_config.useA85, pdfdoc.PDFZCompress = 0, _Deflate()
    try:
        yield
    finally:
        rl_config.useA85, pdfdoc.PDFZCompress = before
