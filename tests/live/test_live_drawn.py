"""The preview of a drawn shell follows its drawing, and outlives a mistake in it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import charts
import pytest

from shellgen.live import work
from shellgen.live.work import Errand, Superseded, Workshop

LINES = '<path d="M60 -3V400M-80 -3V400" />'
PRESET = """
name: newt
mesh: {edge: 30}
plates: {layout: drawn, file: lines.svg}
spikes: []
"""


def test_a_change_of_the_drawing_is_shown_as_one_of_the_preset_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[tuple[str, Mapping[str, Any]]] = []
    computed: list[int] = []

    def counted(*of: Any) -> None:  # what comes after the plates is not the matter here
        computed.append(len(work.plated(*of)[1].plates))
        raise Superseded

    monkeypatch.setattr(work, "shell_of", counted)
    drawing, path = tmp_path / "lines.svg", tmp_path / "newt.yaml"
    drawing.write_text(charts.drawing(LINES), encoding="utf-8")
    path.write_text(PRESET, encoding="utf-8")
    shop = Workshop(path, lambda *event: seen.append(event))

    def saved(body: str) -> bool:
        """Whether the drawing, saved so, shows another shape."""
        seen.clear()
        drawing.write_text(charts.drawing(body), encoding="utf-8")
        shop.do(Errand())
        return "shape" in [name for name, _ in seen]

    assert saved(LINES) and drawing in shop.files and computed == [3]
    assert not saved(LINES) and computed == [3, 3]  # the same plates are not shown again
    assert saved(LINES + '<path d="M0 0V400" />') and computed == [3, 3, 4]
    assert not saved(LINES + '<path d="M0 150H30" />') and computed == [3, 3, 4]
    assert "a line ends here" in shop.wrong and drawing in shop.files
    assert (tmp_path / "lines-problem.svg").exists()
    assert saved(LINES) and computed[-1] == 3
