"""Presets made up from what the stages declare, each figure between its bounds, a part of them on a bound."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import Field, dataclass

from shellgen import params, preset, registry, units

WRITTEN = 0.2  # share of the lines that are written at all; the rest take their defaults
ON_A_BOUND = 0.25  # share of the figures that lie on a bound: that is where things break
ON_A_BOUND_NEAR = 0.1
NEAR = 3  # power by which a figure made to go with the others keeps near its default
LEFT_OUT = ("name", "print", "paint", "wearer")  # sections whose lines go together in ways of their own
NOT_MADE_UP = ("scan", "girths", "listed", "kept")  # members that need a file, or a list that goes with the dome
PLATES = ("all", "vertebral", "pleural", "marginal", "nuchal", "hex", "vertebral-3")
SCAN = "scan.ply"  # the file of a dome from a scan, for whoever reads the preset to put beside it
FEW = {
    "turtle": ("vertebral-2", "nuchal", "pleural-L-1", "marginal-R-3"),
    "hexes": ("hex-1", "hex-L-2", "marginal-R-2"),
}


def preset_text(rng: random.Random) -> str:
    """A preset with any figure between its bounds."""
    return _Writer(rng, {}, near=False).text()


def small_text(rng: random.Random, *, only: Collection[str] = ()) -> str:
    """A preset whose figures mostly go together, of a shell that is soon computed.

    only : the sections that are written at all
    """
    return _Writer(rng, dict(_small(rng)), near=True).text(only)


@dataclass(frozen=True, slots=True)
class _Writer:
    """fixed : lines that are written in any case, by their dotted path; near : figures mostly near their defaults."""

    rng: random.Random
    fixed: Mapping[str, str]
    near: bool

    def text(self, only: Collection[str] = ()) -> str:
        specs = params.specs(preset.Preset)
        return "\n".join(self._lines({k: specs[k] for k in only or specs}, "")) + "\n"

    def _lines(self, specs: dict[str, Field], where: str, skip: str = "") -> Iterator[str]:
        for name, spec in specs.items():
            path = f"{where}{name}"
            if name == skip or name in LEFT_OUT:
                continue
            wanted = params.is_required(spec) or any(f"{at}.".startswith(f"{path}.") for at in self.fixed)
            if wanted or self.rng.random() < (WRITTEN if where else 0.8):
                yield from self._line(name, spec, path)

    def _line(self, name: str, field: Field, path: str) -> Iterator[str]:
        spec = field.metadata
        indent, deeper = "  " * path.count("."), f"{path}."
        if path in self.fixed:
            yield f"{indent}{name}: {self.fixed[path]}"
        elif spec["kind"] == "group":
            yield f"{indent}{name}:"
            yield from self._lines(params.specs(spec["of"]), deeper)
        elif spec["kind"] == "family":
            members = [m for m in registry.names(spec["package"]) if m not in NOT_MADE_UP]
            member = self.fixed.get(deeper + spec["key"]) or self.rng.choice(members)
            yield f"{indent}{name}:"
            yield f"{indent}  {spec['key']}: {member}"
            yield from self._lines(params.specs(spec["common"]), deeper, skip=spec["key"])
            yield from self._lines(params.specs(params.own_params(spec["package"], member)), deeper)
        elif spec["kind"] == "many" and isinstance(spec["of"], type):
            yield f"{indent}{name}:"
            for _ in range(self.rng.randrange(1, 3)):
                item = list(self._lines(params.specs(spec["of"]), f"{deeper}item.")) or [f"{indent}    profile: cone"]
                yield f"{indent}  - {item[0].strip()}"
                yield from item[1:]
        else:
            yield f"{indent}{name}: {self._value(spec['of'] if spec['kind'] == 'many' else field)}"

    def _value(self, field: Field) -> str:
        spec, rng = field.metadata, self.rng
        kind = spec["kind"]
        if kind in units.SCALES or kind in ("number", "count"):
            figure = self._figure(field)
            return str(round(figure)) if kind == "count" else repr(figure)
        makers: dict[str, Callable[[], str]] = {
            "choice": lambda: rng.choice(spec["options"]),
            "member": lambda: rng.choice(registry.names(spec["package"])),
            "flag": lambda: rng.choice(("yes", "no")),
            "text": lambda: rng.choice(PLATES),
            "date": lambda: f"20{rng.randrange(10, 99)}-0{rng.randrange(1, 10)}-15",
            "file": lambda: "no-such-scan.stl",
        }
        return makers[kind]()

    def _figure(self, field: Field) -> float:
        spec, rng = field.metadata, self.rng
        low, high = spec["low"], spec["high"]
        if rng.random() < (ON_A_BOUND_NEAR if self.near else ON_A_BOUND):
            return float(rng.choice((low, high)))
        if self.near and isinstance(field.default, float | int):
            usual = math.degrees(field.default) if spec["kind"] == "angle" else field.default
            return float(usual + (rng.choice((low, high)) - usual) * rng.random() ** NEAR)
        return rng.uniform(low, high)


def _small(rng: random.Random) -> Iterator[tuple[str, str]]:
    """Lines of a small dome with few plates, cut simply, on a coarse mesh; other domes of any size now and then."""
    kind = rng.choices(("plan", "girths", "scan"), (65, 33, 2))[0]
    length = rng.choice((120.0 if kind != "scan" else 200.0, rng.uniform(120, 300), rng.uniform(120, 700)))
    width = max(100.0, length * rng.uniform(0.6, 1.0))
    area = length * width
    layout = rng.choice(("turtle", "turtle", "hexes"))
    triangles = rng.choice((100, 200, rng.uniform(80, 400)))
    yield "mesh.edge", f"{min(40.0, max(2.0, math.sqrt(2.5 * area / triangles))):.2f}"
    yield "plates.layout", layout
    if layout == "hexes":
        yield "plates.size", f"{min(300.0, max(15.0, math.sqrt(1.5 * area / rng.uniform(7, 25)))):.1f}"
    else:
        vertebrals = rng.randint(3, 5)
        yield "plates.vertebrals", str(vertebrals)
        yield "plates.pleurals", str(max(2, vertebrals + rng.randint(-1, 1)))
        yield "plates.marginals", str(rng.randint(6, 9))
    yield "dome.kind", kind
    yield "dome.length", f"{length:.1f}"
    if kind == "scan":
        yield "dome.file", SCAN
    elif kind == "girths":
        yield "dome.stations", _stations(rng, length, width)
    elif rng.random() < 0.9:
        yield "dome.width", f"{width:.1f}"
        yield "dome.height", f"{max(30.0, width * rng.uniform(0.2, 0.6)):.1f}"
        yield "dome.keel", f"{rng.uniform(0, 0.02) * width:.1f}"
        yield "dome.flare", f"{rng.uniform(0, 0.05) * width:.1f}"
    yield "seams.plan", (plan := rng.choices(("plates", "gores", "least", "petals"), (89, 6, 4, 1))[0])  # by how quick
    if plan == "gores":
        yield "seams.gores", str(rng.randint(2, 9))
    elif plan == "petals":
        yield "seams.walks", "2"
    yield "shape.rounds", str(rng.randint(0, 1))
    yield "spikes", _spikes(rng, FEW[layout], area)
    yield "nest.sheets", "[{length: 1500, width: 1500}]"
    yield "nest.effort", "quick"


def _stations(rng: random.Random, length: float, width: float) -> str:
    """One to four girths, of a dome that is near an ellipsoid."""
    count, bulge = rng.randint(1, 4), rng.uniform(1.1, 1.8)
    items = []
    for k in range(1, count + 1):
        at = length * k / (count + 1)
        across = width * math.sqrt(1 - (2 * at / length - 1) ** 2) * rng.uniform(0.97, 1.03)
        items.append(f"{{at: {at:.1f}, girth: {across * bulge * rng.uniform(0.98, 1.02):.1f}, width: {across:.1f}}}")
    return f"[{', '.join(items)}]"


def _spikes(rng: random.Random, plates: tuple[str, ...], area: float) -> str:
    """None, one or two groups of spikes, of sizes that the plates may bear."""
    base = math.sqrt(area) / 10
    items = [
        f"{{plates: {plate}, profile: {rng.choice(registry.names('shellgen.spikes.profiles'))}, "
        f"base_diameter: {max(6.0, base * rng.uniform(0.5, 1.5)):.1f}, "
        f"height: {max(4.0, base * rng.uniform(0.5, 2.0)):.1f}, tip_radius: {rng.uniform(0.5, 5):.1f}, "
        f"lean: {rng.choice((0, 0, rng.uniform(0, 30))):.0f}, may_shrink: {rng.choice(('yes', 'no'))}}}"
        for plate in rng.sample(plates, rng.choice((0, 1, 1, 2)))
    ]
    return f"[{', '.join(items)}]"
