"""How findings are worded: counts, names of several pieces, and numbers with enough digits to differ."""

from __future__ import annotations

from collections.abc import Iterable

NAMED = 3
"""So many of several pieces or seams are named (chosen: the lists of a pack show all)."""
MOST_DIGITS = 6
"""Numbers that are still the same then are shown as the same."""


def count(number: int, what: str) -> str:
    """Such as "1 piece" or "2 pieces"."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def together(names: Iterable[str]) -> str:
    """All of them: "a", "a and b" or "a, b and c"."""
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def several(names: Iterable[str], what: str = "") -> str:
    """Such as "seam a", "seams a and b", or "seams a, b, c and 4 more"."""
    listed = list(names)
    kind = f"{what}{'s' if len(listed) > 1 else ''} " if what else ""
    if len(listed) > NAMED + 1:
        return f"{kind}{', '.join(listed[:NAMED])} and {len(listed) - NAMED} more"
    return kind + together(listed)


def apart(*values: float, digits: int = 0) -> tuple[str, ...]:
    """Numbers that are compared, with at least so many decimals and as many more as make all of them differ.

    >>> apart(3.04, 3.0, digits=1)
    ('3.04', '3.00')
    """
    shown: tuple[str, ...] = ()
    for more in range(digits, MOST_DIGITS + 1):
        shown = tuple(f"{value:.{more}f}" for value in values)
        if len(set(shown)) == len(set(values)):
            break
    return shown


def shares_apart(*values: float) -> tuple[str, ...]:
    """The same of shares, in percent."""
    return tuple(f"{shown} %" for shown in apart(*(100 * value for value in values), digits=1))


def three(value: float) -> str:
    """Three digits that count, and never a power of ten.

    >>> three(2031.4), three(88.72), three(0.856)
    ('2031', '88.7', '0.856')
    """
    return f"{value:.3g}" if abs(value) < 999.5 else f"{value:.0f}"
