"""Templates: print, check, join and cut out."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit, listed, plural
from shellgen.guide.leaf import Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import KNIFE

PLACE = 40
BUILT = "only if you mark the score lines on the built dome, from a browser or a spreadsheet"


def steps(kit: Kit) -> Iterator[Step]:
    paper = kit.preset.print.paper
    sheets = sorted({page for pages in kit.pages["templates"].values() for page in pages})
    square = "100 mm both ways; the bar is 4 in" if kit.inches else "100 mm both ways"
    yield kit.step(
        "paper",
        "Print and cut out the templates",
        needs=("materials", "tools"),
        makes=("templates",),
        equipment=("printer", "knife", "cutting mat", "long steel rule", "masking tape"),
        tasks=("print and cut out templates",),
        blocks=(
            Ticks(
                (
                    f"Print templates-{paper}.pdf at 100 %, with “fit to page” switched off: a cover and "
                    f"{plural(len(sheets), 'page')}. Print key.svg too, from a browser: it explains every "
                    "line.",
                    f"Measure the square on the cover with a steel rule: {square}. If it differs, correct the printer "
                    "settings and print again before you go on. Every page has 100 mm at its left and its foot.",
                    "Trim each page along its trim lines at the left and the top. The line at its foot names the pages "
                    "that it goes on. Put it there so that the crosses meet, and tape it. The large letter and number "
                    "give the row and the column.",
                    "Cut along the wide black line. Prick through the registration marks, or cut a small notch at "
                    "each.",
                    "Every piece is drawn with the textured side up: the outside of the shell. " + _sides(kit),
                )
            ),
            Rows(("template", "pages", "plates"), tuple(_rows(kit))),
            Words(f"What to print, and when: {plural(sum(of.pages for of in kit.prints), 'page')} in all."),
            Rows(
                ("what", "file", "pages", "print it"),
                (
                    *((of.name, of.file, str(of.pages), of.when) for of in kit.prints),
                    ("Signs on the templates", "key.svg", "1", "with the templates, from a browser"),
                    ("Map for the built dome", "guides/measuring-map.svg", "1", BUILT),
                    ("Its figures", "tables/measuring.csv", "", BUILT),
                ),
            ),
            KNIFE,
        ),
    )  # fmt: skip


def _sides(kit: Kit) -> str:
    if not kit.preset.print.halves:
        return "Left and right pieces have their own templates, so do not turn any over."
    pairs, halves = twice(kit)
    words = ["A name with L/R stands for two pieces: the paper as it lies, and flipped over."] if pairs else []
    if halves:
        words.append(f"Printed as a half: {listed(halves)}. Use the paper as it lies, and flipped over on the midline.")
    if words:
        words.append("Of two numbers such as 3/7 the second is for the paper flipped over.")
    return " ".join(words)


def twice(kit: Kit) -> tuple[bool, list[str]]:
    """Whether there are pieces that mirror each other, and the names of those printed as a half."""
    if not kit.preset.print.halves:
        return False, []
    pairs = any(piece.mirror != piece.id for piece in kit.figures.pieces)
    return pairs, [piece.id for piece in kit.figures.pieces if piece.mirror == piece.id]


def _rows(kit: Kit) -> Iterator[tuple[str, str, str]]:
    for piece in kit.figures.pieces:
        plates = piece.plates
        shown = ", ".join(plates) if len(plates) <= 6 else f"{len(plates)} plates"
        yield piece.id, " ".join(kit.pages["templates"][piece.id]), shown
