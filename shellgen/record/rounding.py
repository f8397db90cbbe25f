"""How figures are rounded in the record."""

from __future__ import annotations


def rounded(value: float, digits: int = 4) -> float:
    return round(float(value), digits) + 0.0  # no minus before a zero
