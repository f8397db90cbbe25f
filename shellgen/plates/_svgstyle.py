"""Style sheets in a drawing, as far as they decide what is seen.

References: CSS Syntax 3; Selectors 4 (specificity, 17); SVG 2, section 6, Styling. Of the selectors those that drawing
programs write: a kind of element, an id, classes and lists of these. Others are left out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from shellgen.plates._sketch import Unreadable
from shellgen.plates._svgtree import SvgElement

RULES = 500
"""Chosen: more than drawing programs write by far."""
_SIMPLE = re.compile(r"(\*|[\w-]+)?((?:[.#][\w-]+)*)")


def declared(text: str) -> dict[str, str]:
    """Properties and values of a list of declarations."""
    pairs = (part.partition(":") for part in _uncommented(text).split(";"))
    return {key.strip().lower(): value.lower().replace("!important", "").strip() for key, _, value in pairs if value}


def unseen(style: Mapping[str, str]) -> bool:
    """Whether a shape with this style leaves no trace: hidden, or with neither line nor filling."""
    painted = {style.get("fill", "black"), style.get("stroke", "none")} - {"none", "transparent"}
    return style.get("visibility") in ("hidden", "collapse") or not painted


def _uncommented(text: str) -> str:
    first, *more = text.split("/*")
    return first + "".join(part.partition("*/")[2] for part in more)


class StyleRules:
    """Rules of all style sheets of a drawing. Unreadable for more than RULES."""

    def __init__(self, text: str) -> None:
        self.rules: list[tuple[tuple[int, int, int], str, frozenset[str], dict[str, str]]] = []
        for part in _uncommented(text).replace("<!--", "").replace("-->", "").split("}")[:-1]:
            before, _, rules = part.rpartition("{")
            own, selectors = declared(rules), re.split("[{;]", before)[-1].split(",")
            if len(self.rules) + len(selectors) > RULES:
                raise Unreadable(f"its style sheets have more than {RULES} rules")
            for selector in selectors:
                found = _SIMPLE.fullmatch(selector.strip())
                if found is not None and selector.strip():
                    marks = re.findall(r"[.#][\w-]+", found[2])
                    kind = "" if found[1] in (None, "*") else found[1]
                    ids = sum(mark[0] == "#" for mark in marks)
                    self.rules.append(((ids, len(marks) - ids, bool(kind)), kind, frozenset(marks), own))
        self.rules.sort(key=lambda rule: rule[0])

    def of(self, element: SvgElement) -> dict[str, str]:
        """What they say of an element; the most specific has the last word."""
        marks = {f".{name}" for name in element.attributes.get("class", "").split()}
        marks.add(f"#{element.attributes.get('id', '')}")
        found: dict[str, str] = {}
        for _, kind, wanted, own in self.rules:
            if kind in ("", element.name) and wanted <= marks:
                found |= own
        return found
