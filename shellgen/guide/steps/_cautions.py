"""The cautions of the guide: those of the sheets, and a few more."""

from __future__ import annotations

from shellgen.draw import notes
from shellgen.guide.leaf import Warn

KNIFE = Warn(("knife",), notes.KNIFE)
HEAT = Warn(("heat", "fumes", "air"), notes.HEAT)
FORM = Warn(
    ("heat", "fumes", "fire", "air", "gloves"),
    f"{notes.HEAT} Open a window, allow no open flame near the foam, and wear gloves that stand the heat.",
)
GLUED = Warn(
    ("heat", "fumes", "fire", "air", "mask"),
    "Caution, heat on glued seams: contact adhesive and filler that are not dry right through can catch fire under a "
    "hot tool or a heat gun; dry, they still soften and give off harmful vapours. Wait until both have set as long as "
    "their labels say, at least a day (common practice, no source). Work outdoors or with extraction, keep water "
    "within reach and the tool moving, and stop if it smokes. If a seam opens, let it cool, then glue it again.",
)
BURN = Warn(("heat", "fumes", "air", "mask", "gloves"), notes.BURN)
CARVE = Warn(("knife", "dust", "goggles", "mask"), notes.CARVE)
GLUE = Warn(("fumes", "fire", "air", "gloves"), notes.GLUE)
SPRAY = Warn(("fumes", "fire", "mask", "air"), notes.SPRAY)
DUST = Warn(
    ("dust", "mask", "goggles"),
    "Caution, dust: sanding and drilling dry clay, filler, foam or primer makes fine dust. Work outdoors or with "
    "extraction, with the mask and goggles that suit it, and wipe up wet.",
)
SOLVENT = Warn(
    ("fumes", "fire", "air"),
    "Caution, solvents: contact adhesive, thinner and many varnishes and spray paints give off harmful vapours that "
    "catch fire. Buy small cans, keep them closed, cool and out of children's reach, and buy the respirator and gloves "
    "that their labels name.",
)
RAGS = Warn(
    ("fire", "fumes", "air", "gloves"),
    "Caution, oily rags: cloths wet with oil paint or drying oil can heat up and catch fire by themselves. Lay them "
    "flat outdoors to dry, or keep them under water in a closed metal can, and dispose of them by your local rules. "
    "Thinners and solvents: fresh air, no flame, gloves, as their labels say.",
)
PRINTER = Warn(
    ("fire", "heat", "fumes"),
    "Caution, 3D printer: its nozzle and bed burn skin, and a printer that runs by itself can catch fire. Stand it on "
    "something that does not burn, away from curtains, with a smoke alarm in the room and the room aired. Keep "
    "children away.",
)
WATCHED = Warn(
    PRINTER.signs,
    f"{PRINTER.text} If its maker forbids that it runs while nobody watches, write the hours in which somebody does "
    "into the preset (schedule: printer_hours), such as 5.",
)
POINTS = Warn(
    ("point",),
    "Caution, tips: dry clay and plastic are hard, and broken plastic is sharp. Keep tips round and blunt, take off "
    "any spike that cracks, and press one against your own palm and cheekbone before you glue it on. For a child, use "
    "soft ones. Ask the event what it allows.",
)
NECK = Warn(
    ("neck",),
    "Caution, neck: do not hang anything from the neck or tie a cord around it. Anything that passes near the neck "
    "must come apart by itself when it is pulled. For a child, leave it out completely.",
)
FLAME = Warn(
    ("fire",),
    "Caution, fire: the foam burns, drips and smokes. Keep candles, torches, stage flames, grills and cigarettes away "
    "from the shell and its wearer. Never use a flame to seal or shape foam.",
)
LOAD = Warn(
    ("load",),
    "Caution, weight: take the shell off at once if hands go numb or tingle, if breathing is hard or if anything "
    "hurts. Someone who knows how to open it stays near the wearer.",
)
READ = Warn(
    ("general", "read"),
    "This guide shows the usual way. Local rules, the rules of the event, and the labels and safety sheets of your "
    "products come first.",
)
