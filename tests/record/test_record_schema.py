"""The schema of `shell.json` knows every key of a pack and refuses others; what is written can be read back."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import fields
from typing import Any

import jsonschema
import pytest
from empty_record import empty

import shellgen
from shellgen.record import Record
from shellgen.record.plain import plain, typed
from shellgen.record.plan import NoPlanEntry
from shellgen.record.schema import schema
from shellgen.record.spikes import PrintEntry
from shellgen.record.wearer import WearerEntry

SCHEMA = schema()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)
FREE = {"mass_parts_g", "buckles", "tones", "measures"}
"""Objects whose keys are names, so that any is allowed."""


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Where there is an object whose keys are fixed; of a list the first entry stands for all."""
    if isinstance(value, dict):
        if not path or path[-1] not in FREE:
            yield path
        for name, item in value.items():
            yield from places(item, (*path, name))
    elif isinstance(value, list) and value:
        yield from places(value[0], (*path, 0))


def inside(value: Any, path: tuple[Any, ...]) -> Any:
    for step in path:
        value = value[step]
    return value


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert all(part["description"] for part in SCHEMA["$defs"].values())


def test_every_demo_is_as_the_schema_says_and_is_read_back(packs: Any, demo: str) -> None:
    _, record = packs(demo)
    VALIDATOR.validate(record)
    assert list(record) == [f.name for f in fields(Record) if f.name != "graded"]
    assert record["program_version"] == shellgen.__version__
    assert plain(typed(Record, record)) == record


def test_an_unknown_or_a_missing_key_is_refused_wherever_it_stands(packs: Any) -> None:
    record = copy.deepcopy(packs("marsh-warden")[1])  # changed, and changed back
    found = list(places(record))
    assert len(found) > 30 and ("dome", "mid_surface") in found and ("pieces", 0) in found
    for path in found:
        here = inside(record, path)
        here["unheard_of"] = 1
        assert not VALIDATOR.is_valid(record), path
        with pytest.raises(ValueError, match=r"cannot have unheard_of\.|is not a value of any of"):
            typed(Record, record)
        del here["unheard_of"]
    for path in found:
        here = inside(record, path)
        for name in tuple(here):
            if path in ((), ("wearer",)) and name not in ("name", "dome", "findings", "fits"):
                continue  # some of these may be missing
            kept = here.pop(name)
            assert not VALIDATOR.is_valid(record), (*path, name)
            here[name] = kept
    VALIDATOR.validate(record)


def test_a_value_of_another_kind_is_refused(packs: Any) -> None:
    _, record = packs("puddle-hatchling")
    for name in record:
        wrong = {**record, name: object}
        with pytest.raises(ValueError, match="A type is not a value of"):
            typed(Record, wrong)
    assert not VALIDATOR.is_valid({**record, "mass_g": "850"})
    assert not VALIDATOR.is_valid({**record, "sheets_at_least": 1.5})


def test_keys_are_the_names_of_fields_and_what_is_unset_is_left_out() -> None:
    record = plain(empty(Record, prints=(empty(PrintEntry, id="a", for_="b"),)))
    assert record["prints"][0]["for"] == "b" and "for_" not in record["prints"][0]
    assert not {"readback", "left_out", "graded", "files"} & set(record)
    assert record["wearer"] is None and record["plan"] == {}, "null and nothing are values where they say something"
    assert plain(WearerEntry(True, True, ())) == {"measures_given": True, "fits": True, "findings": []}
    VALIDATOR.validate(record)
    assert typed(Record, record).plan == NoPlanEntry()
