"""The cautions of the guide: those that stand on the sheets too, and a few more."""

from __future__ import annotations

from shellgen.draw import notes
from shellgen.guide.leaf import Warn

KNIFE = Warn(("knife",), notes.KNIFE)
HEAT = Warn(("heat", "fumes", "air"), notes.HEAT)
BURN = Warn(("heat", "fumes", "air", "mask"), notes.BURN)
CARVE = Warn(("knife", "dust", "goggles", "mask"), notes.CARVE)
GLUE = Warn(("fumes", "fire", "air", "gloves"), notes.GLUE)
SPRAY = Warn(("fumes", "mask", "air"), notes.SPRAY)
DUST = Warn(
    ("dust", "mask", "goggles"),
    "Caution, dust: sanding and drilling dry clay, filler, foam or primer makes fine dust. Work outdoors or with "
    "extraction, with the mask and goggles that suit it, and wipe up wet.",
)
RAGS = Warn(
    ("fire", "fumes", "air", "gloves"),
    "Caution, oily rags: cloths wet with oil paint or drying oil can heat up and catch fire by themselves. Lay them "
    "flat outdoors to dry, or keep them under water in a closed metal can, and hand them in as your place asks. "
    "Thinners and solvents: fresh air, no flame, gloves, as their labels say.",
)
POINTS = Warn(
    ("point",),
    "Caution, tips: dry clay is hard. Keep tips round and blunt, press one against your own palm and cheekbone before "
    "you glue it on, and ask the event what it allows.",
)
NECK = Warn(
    ("neck",),
    "Caution, neck: hang nothing from the neck, and tie no cord round it. Whatever passes near it must come apart by "
    "itself at a pull. For a child leave it out altogether.",
)
FLAME = Warn(
    ("fire",),
    "Caution, fire: the foam burns, drips and smokes. Keep candles, torches, stage flames, grills and cigarettes away "
    "from the shell and from whoever wears it, and never light foam to seal or shape it.",
)
LOAD = Warn(
    ("load",),
    "Caution, weight: numb hands, tingling, hard breathing or pain mean off with it at once. Somebody who knows how it "
    "opens stays near the wearer.",
)
READ = Warn(
    ("general", "read"),
    "This guide shows the usual way. The labels and safety sheets of your products, and the rules of your place and of "
    "the event, come before it.",
)
