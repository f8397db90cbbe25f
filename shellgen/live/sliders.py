"""Sliders of the preview, for the main measures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from html import escape
from typing import Any

from shellgen.canvas import rule
from shellgen.errors import PresetError
from shellgen.fields import params
from shellgen.live import rewrite
from shellgen.preset import Preset

DOME = 3
"""The first lengths of the dome that have a slider; they are its main measures (chosen)."""

REACH = (0.6, 1.5)
"""Range of a slider below and above the figure (chosen: fine enough to set one millimetre)."""


@dataclass(frozen=True, slots=True)
class Slider:
    """A length, mm. bounds : limits in a preset. shown : how it is written"""

    label: str
    steps: rewrite.Steps
    value: float
    bounds: tuple[float, float]
    shown: rule.Rule

    @property
    def field(self) -> str:
        return rewrite.dotted(self.steps)

    @property
    def ends(self) -> tuple[int, int]:
        low, high = self.bounds
        return round(max(low, REACH[0] * self.value)), round(min(high, REACH[1] * self.value))


def sliders(preset: Preset, text: str) -> tuple[Slider, ...]:
    """Sliders for figures that the preset's `text` has, or could have."""
    return tuple(slider for slider in _all(preset) if _can_be_written(slider, text))


def _all(preset: Preset) -> Iterator[Slider]:
    shown = rule.of(preset.print.paper)
    dome = [name for name, spec in params.specs(type(preset.dome.own)).items() if spec.metadata["kind"] == "length"]
    for name in dome[:DOME]:
        yield _slider(f"Dome {name.replace('_', ' ')}", ("dome", name), preset.dome.own, shown)
    for number, group in enumerate(preset.spikes[:1]):
        yield _slider("Spike height", ("spikes", number, "height"), group, shown)
        yield _slider("Spike base", ("spikes", number, "base_diameter"), group, shown)


def _slider(label: str, steps: rewrite.Steps, owner: Any, shown: rule.Rule) -> Slider:
    name = str(steps[-1])
    spec = params.specs(type(owner))[name].metadata
    return Slider(label, steps, getattr(owner, name), (spec["low"], spec["high"]), shown)


def _can_be_written(slider: Slider, text: str) -> bool:
    try:
        rewrite.put_in(text, slider.steps, slider.value)
    except PresetError:
        return False
    return slider.value is not None


def markup(shown: Iterable[Slider]) -> str:
    """One labelled slider each."""
    rows = []
    for slider in shown:
        low, high = slider.ends
        name = f"figure-{slider.field.replace('.', '-').replace('[', '-').replace(']', '')}"
        rows.append(
            f'<div class="slider"{" data-inches" if slider.shown.inches else ""}><label for="{name}">'
            f'{escape(slider.label)}</label><output for="{name}">{slider.shown.mm(float(f"{slider.value:.4g}"), None)}'
            f'</output><input type="range" id="{name}" min="{low}" '
            f'max="{high}" step="1" value="{slider.value:.4g}" data-field="{slider.field}"></div>'
        )
    return "".join(rows)
