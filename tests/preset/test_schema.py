"""The JSON Schema agrees with the reader: what one takes the other takes."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from shellgen.errors import PresetError
from shellgen.fields import bind, yamltree
from shellgen.fields.yamltree import Node, Scalar, YamlList
from shellgen.preset import Preset, starter
from shellgen.preset.schema import schema

ROOT = Path(__file__).parents[2]
DEMOS = sorted((ROOT / "presets").glob("*.yaml"))
SCHEMA = schema(Preset)
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)

GOOD = [
    "name: pond",
    "dome: plan",
    "dome:",
    "dome: {length: 560}",
    "dome: {length: 22 1/2 in, height: 18cm, taper: -5 %}",
    'dome: {length: "560"}',
    "plates: {layout: hexes, size: 3 in}",
    "plates: {vertebrals: 5}",
    "spikes: [{profile: horn, plates: vertebral, bend: 40 deg, base_width: none, ring: no}]",
    "spikes: [{by_hand: [{plate: nuchal, forward: 1/2 in}, {forward: 12 cm, outward: 40}]}]",
    "spikes: [{place: corners}, {place: {at: line, along: vertebral / pleural, count: 9}}]",
    "spikes: []",
    "foam: {thickness: 3/8 in}",
    "title: 1984",
    "dome: null\nplates: ~\nspikes: null\nrings: Null",
]
BAD = [
    "name: Marsh Warden",
    "nmae: pond",
    "dome: plam",
    "dome: 560",
    "dome: {lenght: 560}",
    "dome: {length: 5}",
    "dome: {length: 560 kg}",
    "dome: {length: [560]}",
    "dome: {length: 12:30}",
    "dome: {length: .nan}",
    "plates: {layout: turtle, size: 3 in}",
    "plates: {layout: hexes, vertebrals: 5}",
    "plates: {size: 75}",
    "plates: {vertebrals: 4.5}",
    "spikes: {profile: cone}",
    "spikes: [{profile: spire}]",
    "paint: {colours: [{hex: 45506a}]}",
    "spikes: [{place: {at: corners, every: 60}}]",
    "spikes: [{place: middle}]",
    "spikes: [{ring: 2}]",
    "foam: {thickness: 0}",
    "title: ''",
    "title: " + "x" * 81,
    "spikes: [" + "{}, " * 201 + "]",
]


def plain(node: Node) -> Any:
    """The tree as an editor sees it, by the core schema of YAML 1.2.2, section 10.3.2."""
    if isinstance(node, YamlList):
        return [plain(item) for item in node.items]
    if not isinstance(node, Scalar):
        return {key: plain(value) for key, value in node.entries.items()}
    if not node.plain:
        return node.text
    if node.text in ("", "~", "null", "Null", "NULL"):
        return None
    if node.text in ("true", "True", "TRUE", "false", "False", "FALSE"):
        return node.text.lower() == "true"
    if re.fullmatch(r"[-+]?[0-9]+", node.text):
        return int(node.text)
    if re.fullmatch(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", node.text):
        return float(node.text)
    return node.text


def is_read(text: str) -> bool:
    try:
        bind.bind(yamltree.parse(text.encode()), Preset)
    except PresetError:
        return False
    return True


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("text", GOOD)
def test_both_take_what_is_good(text: str) -> None:
    VALIDATOR.validate(plain(yamltree.parse(text.encode())))
    assert is_read(text)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_both_take_the_demos(path: Path) -> None:
    VALIDATOR.validate(plain(yamltree.read(path)))
    bind.bind(yamltree.read(path), Preset, file=str(path))  # a drawing is looked for in the folder of its preset


@pytest.mark.parametrize("text", BAD)
def test_both_refuse_what_is_bad(text: str) -> None:
    assert not VALIDATOR.is_valid(plain(yamltree.parse(text.encode())))
    assert not is_read(text)


def test_every_default_is_valid_where_it_stands() -> None:
    def walk(at: Any) -> None:
        if isinstance(at, dict):
            if "default" in at and "description" in at:
                jsonschema.validate(at["default"], {**at, "$defs": SCHEMA["$defs"]})
            for inner in at.values():
                walk(inner)
        elif isinstance(at, list):
            for inner in at:
                walk(inner)

    walk(SCHEMA["properties"])


def test_every_field_teaches() -> None:
    def walk(properties: dict[str, Any]) -> None:
        for name, body in properties.items():
            assert "const" in body or len(body["description"]) > 8, name
            for shape in (body, *body.get("anyOf", ()), body.get("items", {})):
                walk(shape.get("properties", {}))

    walk(SCHEMA["properties"])


def test_the_schema_of_an_editor_is_this_one(tmp_path: Path) -> None:
    starter.write(tmp_path / "mere.yaml")
    starter.write(tmp_path / "tarn.yaml", like=str(DEMOS[0]))
    stored = json.loads((tmp_path / starter.SCHEMA_FILE).read_bytes())
    assert stored == SCHEMA and stored["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    for path in tmp_path.glob("*.yaml"):
        first = path.read_text(encoding="utf-8").splitlines()[0]
        assert first == f"# yaml-language-server: $schema={starter.SCHEMA_FILE}"
