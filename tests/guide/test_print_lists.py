"""What the guide lists for the 3D printer."""

import pond_guide
import pytest

from shellgen import guide
from shellgen.guide.leaf import Rows


def test_the_lists_for_the_printer_add_up():
    """To cast: every part of a mould once. To print: every part of a master as often as there are spikes."""
    small = pond_guide.kit()
    figures = small.figures
    (sculpt,) = (step for step in guide.all_steps(small) if step.key == "sculpt")
    cast, printed = (block for block in sculpt.blocks if isinstance(block, Rows) and block.columns[-1] == "plastic")
    wanted = {
        "cast": [p for p in figures.prints if p.role != "master"],
        "printed": [p for s in figures.spikes for p in figures.prints if p.for_ == s.master],
    }
    for table, parts in ((cast, wanted["cast"]), (printed, wanted["printed"])):
        *rows, total = table.rows
        assert int(total[2]) == len(parts) == sum(int(row[2]) for row in rows)
        assert float(total[3].removesuffix(" h")) == pytest.approx(sum(p.minutes for p in parts) / 60, abs=0.051)
        assert total[4] == small.grams(sum(p.plastic_g for p in parts))
        said = " ".join(row[1].replace("…", row[0]) for row in rows)
        assert all(p.id in said for p in parts)
