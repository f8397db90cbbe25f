"""The buying list: whole packs, spares, prices, and paint against published spreading rates."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
import yaml

from shellgen import preset
from shellgen.errors import PresetError
from shellgen.fields import bind, yamltree
from shellgen.finish.paint.zones import volume_ml
from shellgen.model import Amount
from shellgen.model.said import three
from shellgen.pipeline import dome
from shellgen.workshop import buying, prices
from shellgen.workshop.nest import Stock
from shellgen.workshop.stock import cut_list

ROWS = {row["id"]: row for row in yaml.safe_load(Path("tests/published/buying.yaml").read_text("utf-8"))}
SQUARE_FOOT, GALLON = 0.3048**2, 3.785411784  # m2; L, NIST SP 811 appendix B
CLAY = Amount("foam clay", 700.0, 810.0, "g", "clay as laid 2000 cm3 x 0.35 g/cm3")
RINGS = Amount("ring strip", 2.6, 3.0, "m", "rings 2.60 m")
BLUE = Amount("paint, plates", 80.0, 92.0, "mL", "0.267 m2 x 3 coats / 10 m2/L")
BUCKLE = Amount("buckle 25 mm", 2.0, 2.0, "", "one for each strap")


def said(text):
    """What a preset says under `prices`."""
    return bind.bind(yamltree.parse(text.encode(), file="p.yaml"), prices.Params, file="p.yaml")


def bought(params=None, amounts=(CLAY, RINGS, BLUE, BUCKLE), sheets=(), plastic=()):
    made = buying.build(
        amounts,
        SimpleNamespace(sheets=sheets),
        cut_list({f"r{n}": 650.0 for n in range(4)}, stock=1000.0),
        cut_list({}, stock=1000.0),
        SimpleNamespace(prints=[SimpleNamespace(plastic_g=grams, copies=1) for grams in plastic]),
        params or prices.Params(),
        0.15,
    )
    return made, {line.item: line for line in made.lines}


def test_packs_are_whole_and_hold_the_amount_with_its_spare():
    _, lines = bought()
    clay = lines["foam clay"]
    assert (clay.packs, clay.buy) == (3, 900.0), "700 g x 1.15 = 805 g out of tubs of 300 g"
    assert clay.how == "clay as laid 2000 cm3 x 0.35 g/cm3 = 700 g x 1.15 spare = 805 g; 3 of 300 g"
    assert (lines["paint, plates"].packs, lines["buckle 25 mm"].packs) == (2, 2)
    assert lines["ring strip"].packs == 4, "650 mm twice does not come out of a metre, though 2.6 m would out of three"
    for line in lines.values():
        assert line.buy >= line.amount * (1 + line.spare) - 1e-9


def test_strips_leave_enough_over_for_a_miscut():
    """2.6 m x 1.15 = 2.99 m come out of the four lengths; with 60 % more, 4.16 m need a fifth."""
    _, lines = bought(said("items: [{item: ring strip, spare: 60 %}]"))
    assert lines["ring strip"].packs == 5 and "2.60 m x 1.6 spare = 4.16 m" in lines["ring strip"].how


def test_no_amount_is_a_power_of_ten():
    assert [three(value) for value in (2031.4, 999.7, 88.72, 0.856)] == ["2031", "1000", "88.7", "0.856"]


def test_exactly_full_packs_are_not_rounded_up():
    _, lines = bought(said("items: [{item: foam clay, pack: 70, spare: 10 %}]"))
    assert lines["foam clay"].packs == 11, "770 g, though 700 x 1.1 is 770.0000000000001"


def test_the_longest_name_wins_and_first_words_cover_many():
    params = said("items:\n- {item: paint, pack: 50}\n- {item: 'paint, plates', pack: 200}")
    _, lines = bought(params, (BLUE, replace(BLUE, item="paint, rings"), replace(BLUE, item="paintbrush")))
    assert [lines[f"paint{n}"].pack for n in (", plates", ", rings", "brush")] == [200, 50, 92]


def test_money_by_hand():
    sheets = [SimpleNamespace(thickness=10.0, stock=s, utilisation=0.5, placements=[1, 2]) for s in
              (Stock(1000, 1000, price=18.4), Stock(1000, 1000, price=18.4), Stock(600, 600, price=0.0))]  # fmt: skip
    params = said("currency: kr\nitems:\n- {item: foam clay, price: 9.95}\n- {item: print filament, price: 20}")
    made, lines = bought(params, sheets=sheets, plastic=(400.0, 500.0))
    assert lines["foam 10 mm, 1000 x 1000 mm"].cost == 36.8 and lines["foam 10 mm, 600 x 600 mm"].cost == 0
    assert lines["print filament"].packs == 2, "900 g x 1.15 out of spools of a kilogram"
    assert made.total == pytest.approx(2 * 18.4 + 0 + 3 * 9.95 + 2 * 20) and lines["ring strip"].cost is None
    table = buying.table(made)
    assert table.columns[5:7] == ("price (kr)", "cost (kr)") and table.rows[-1][6] == made.total
    assert table.rows[-1][-1] == "3 lines without a price not counted"
    assert all(len(row) == len(table.columns) for row in table.rows)


def test_without_prices_no_column_speaks_of_money():
    made, _ = bought()
    table = buying.table(made)
    assert made.total is None and table.columns == ("item", "needed", "buy", "unit", "packs", "how computed")
    assert all(len(row) == len(table.columns) for row in table.rows)


def test_every_new_item_has_a_price_and_errors_part_names_by_semicolons():
    names = ("clear varnish", "thinner", "brush", "brush for paint", "strong thread", "thick needle", "shoulder pad",
             "soft foam for pads")  # fmt: skip
    prices.check(said(f"items: [{', '.join(f'{{item: {name}, price: 3}}' for name in names)}]"), ())
    with pytest.raises(PresetError) as caught:
        prices.check(said("items: [{item: rope}]"), ("buckle, ladder-lock, 40 mm", "a, b"))
    listed = caught.value.remedy
    assert "a, b; " in listed and "buckle, ladder-lock, 40 mm; " in listed and listed.count(";") >= 11
    assert listed.endswith("more: shellgen list items.")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("items: [{item: foam cley, price: 3}]", 'prices.items[1].item: "foam cley" .*Did you mean foam clay'),
        ("items: [{item: paint}, {item: paint}]", r"prices.items\[2\].item: \"paint\" stands here twice"),
        ("items: [{price: 3}]", r"p.yaml:1: items\[1\].item: This line is missing"),
        ("items: [{item: paint, price: -1}]", r'p.yaml:1: items\[1\].price: "-1"'),
        ("items: [{item: paint, pack: 0}]", r'p.yaml:1: items\[1\].pack: "0"'),
        ("items: [{item: paint, spare: 400 %}]", r'p.yaml:1: items\[1\].spare: "400 %"'),
    ],
)
def test_mistakes_are_named(text, words):
    with pytest.raises(PresetError, match=words.replace("[1]", r"\[1\]") if r"\[" not in words else words):
        prices.check(said(text), ("paint, plates",))


@pytest.mark.parametrize("name", [name for name in ROWS if name.startswith("spreading")])
def test_paint_agrees_with_published_spreading_rates(name):
    """Wet paint times its solids is the dry film: no other way for a litre to go as far as the table says."""
    row = ROWS[name]
    unit = SQUARE_FOOT / GALLON if row["unit"] == "ft2/gal" else 1.0
    wanted = 2.0 * 3 * row["film_um"] / 1000 * 1000 / row.get("transfer", 1.0)  # mL of dry film: 2 m2, 3 coats
    litres = volume_ml(2e6, 3, row["value"] * unit) / 1000
    assert litres * 1000 * row["solids"] == pytest.approx(wanted, rel=row["tolerance"] / row["value"])


def test_every_amount_says_how(packs):
    _, record = packs("puddle-hatchling")
    assert record["cost"] == {"currency": "", "total": None}
    items = [line["item"] for line in record["materials"]]
    for wanted in ("foam 6 mm", "ring strip", "edging", "foam clay", "contact adhesive", "gap filler", "PVA wood glue",
                   "paint", "oil paint for shading", "masking tape", "print filament", "clear varnish",
                   "thinner for shading", "brush for glue", "brush for primer", "brush for paint", "brush for varnish",
                   "brush for shading", "strong thread", "thick needle", "soft foam for pads"):  # fmt: skip
        assert any(item.startswith(wanted) for item in items), wanted
    for line in record["materials"]:
        assert line["buy"] == pytest.approx(line["packs"] * line["pack"]) and line["how"]
        if line["spare"]:
            assert f"x {1 + line['spare']:g} spare" in line["how"]


def test_a_price_can_name_every_line_of_the_list(packs, demo):
    """But for sheets of foam, which have theirs under nest.sheets."""
    _, record = packs(demo)
    names = [line["item"] for line in record["materials"] if not line["unit"].startswith("sheet")]
    items = tuple(prices.Item(name, price=1.0) for name in names)
    dome._priced(replace(preset.read(Path(f"presets/{demo}.yaml")), prices=prices.Params(items=items)))
    assert len(names) > 15
