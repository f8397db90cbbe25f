"""Who the shell is for, in the record: the measures are included only if the preset allows others to read them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from shellgen.pipeline.shell import Shell
from shellgen.record.rounding import rounded
from shellgen.wear.wearer.survey import MEASURES


@dataclass(frozen=True, slots=True)
class FitEntry:
    """How the shell fits, a sentence with its level: "ok", "caution" or "fault"."""

    level: str
    text: str


@dataclass(frozen=True, slots=True)
class WearerEntry:
    """Whether the shell fits. The other keys are present only if the preset shares the measures.

    measures : mm and kg; measured : those that the preset states; neck_x_mm, seat_x_mm, back_z_mm : where the bone at
    the base of the neck, the seat of a chair and the back are; advised_mm : length, width and height that would fit
    """

    measures_given: bool
    fits: bool
    findings: tuple[FitEntry, ...]
    group: str | None = None
    measures: Mapping[str, float] | None = None
    measured: tuple[str, ...] | None = None
    neck_x_mm: float | None = None
    seat_x_mm: float | None = None
    back_z_mm: float | None = None
    advised_mm: tuple[float, ...] | None = None


def wearer(shell: Shell) -> WearerEntry | None:
    body, fit = shell.worn.body, shell.worn.fit
    if body is None or fit is None:
        return None
    public = WearerEntry(
        measures_given=bool(body.stated),
        fits=fit.fits,
        findings=tuple(FitEntry(one.level, one.text) for one in fit.findings),
    )
    if not shell.worn.share:
        return public
    return replace(
        public,
        group=body.group,
        measures={name: rounded(getattr(body, name), 1) for name in MEASURES},
        measured=tuple(body.stated),
        neck_x_mm=rounded(fit.neck, 1),
        seat_x_mm=rounded(fit.seat, 1),
        back_z_mm=rounded(fit.back, 1),
        advised_mm=(fit.advised.length, fit.advised.width, fit.advised.height),
    )
