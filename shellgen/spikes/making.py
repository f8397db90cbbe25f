"""What a preset may say about how spikes are made."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.fields import params as field


@dataclass(frozen=True, slots=True, eq=False)
class Mould:
    """A press mould in two halves, with a foot that shapes the underside."""

    wall: float = field.length(10.0, 6, 40, "Least thickness of a mould round the spike.")
    vent: float = field.length(3.0, 1, 10, "Diameter of the channel at the tip by which surplus clay leaves.")
    fit: float = field.length(0.2, 0.05, 1.0, "Play of keys, pins and foot (a slip fit in printed parts).")


@dataclass(frozen=True, slots=True, eq=False)
class Printer:
    """The 3D printer and its filament."""

    bed_x: float = field.length(220.0, 60, 1000, "Printable width.")
    bed_y: float = field.length(220.0, 60, 1000, "Printable depth.")
    bed_z: float = field.length(220.0, 60, 1000, "Printable height.")
    wall: float = field.length(1.2, 0.4, 5, "Thickness of the printed skin: lines times line width.")
    infill: float = field.ratio(0.15, 0.0, 1.0, "Share of the inside that is filled.")
    flow: float = field.number(6.0, 0.5, 40, "Plastic laid down per second, stops included.", "mm3/s")
    density: float = field.number(1.24, 0.8, 2.0, "Of the filament; 1.24 for PLA (common practice).", "g/cm3")
    overhang: float = field.angle(45.0, 20, 80, "Steepest overhang from the vertical that prints clean unsupported.")
    pin: float = field.length(3.0, 1, 8, "Diameter of the pins that line up the parts of a split master.")


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    """How spikes are made."""

    way: str = field.choice(
        "clay",
        ("clay", "printed", "bought"),
        "What the spikes are: clay, shaped with printed masters and moulds; printed, each as it is; or bought ready.",
    )
    glue_line: float = field.length(0.1, 0.0, 0.25, "Room left for the glue between spike and shell.")
    base_agreement: float = field.length(
        0.3, 0.05, 1.0, "Spikes of one size share a master where their bases differ by no more than this."
    )
    tip_floor: float = field.length(5.0, 1, 30, "A smaller tip radius is pointed out, never changed.")
    shrinkage: float | None = field.ratio(
        None, 0.0, 0.3, "How much shorter your clay gets in drying; measure it with the test cube."
    )
    core: float | None = field.length(None, 1, 12, "Foam thickness of hollow cores that save clay; none if left out.")
    clay: float = field.length(7.0, 2, 40, "Least thickness of clay over a core.")
    moulds: bool = field.flag(True, "Whether to make press moulds as well as masters.")
    mould: Mould = field.group(Mould, "Press moulds.")
    printer: Printer = field.group(Printer, "The 3D printer, for bed size, amounts and time.")

    @property
    def shrinks(self) -> float | None:
        """How much shorter what the spikes are made of gets in drying; None if that is still to be measured."""
        return self.shrinkage if self.way == "clay" else 0.0
