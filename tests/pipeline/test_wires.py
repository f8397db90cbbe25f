"""Every wire of the pipeline, read from its source: each stage is given all that it takes, nothing is computed on the
way, and whatever could be mistaken for another value of its type arrives under its own name.

The type checker sees a wrong type; it does not see one length given for another. So a call of a stage may hold names
only, and two values of one type, or a plain number, must end on the name of the parameter that takes them.
"""

from __future__ import annotations

import ast
import importlib
import inspect
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, is_dataclass
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2] / "shellgen" / "pipeline"
FILES = sorted(ROOT.glob("*.py"))

OTHER_NAMES = {
    ("paint.zoned", "coats"): "preset.materials.paint_coats",
    ("paint.zoned", "coverage"): "preset.materials.paint",
    ("paint.zoned", "edging"): "edging.face(preset.edging)",
    ("paint.zoned", "groove"): "scores.groove(preset.scores, preset.foam.thickness)",
    ("paint.zoned", "rim"): "trim.edging.length",
    ("paint.shaded", "groove"): "scores.groove(preset.scores, preset.foam.thickness)",
    ("materials.build", "clay_cube"): "top.clay.cube",
    ("materials.build", "clay_dry"): "top.clay.dry",
    ("materials.build", "clay_wet"): "top.clay.wet",
    ("materials.build", "edging"): "(preset.edging.width, preset.edging.thickness)",
    ("beneath.build", "ring_thickness"): "preset.rings.thickness",
    ("place.build", "ring_thickness"): "preset.rings.thickness",
    ("rest.form", "limits"): "_both(limits)",
    ("proof.judge", "limits"): "_both(limits)",
    ("paint.build", "kind"): "kind",
    ("paint.build", "shade_ml"): "amount",
    ("paint.build", "spray_grooves"): "preset.paint.spray_grooves",
    ("wear.build", "assumed"): "not worn.named",
    ("checks.build", "sheet"): "(limits.sheet_length, limits.sheet_width)",
    ("Shell", "name"): "preset.name or 'shell'",
    ("Worn", "body"): "of.body if of.named else None",
    ("Worn", "fit"): "of.fit if of.named else None",
    ("wear.build", "said"): "preset.wearer.group is not None",
    ("findings.ordered", "stated"): "findings.stated(preset)",
    ("checks.build", "least_neck"): "limits.neck",
    ("usual_neck", "plate_area"): "dome / plates",
    ("Other", "plan"): "preset.seams.name",
    ("Other", "seams"): "len(parts.seams)",
    ("Other", "length"): "sum((seam.design_length for seam in parts.seams))",
    ("checks.stretched", "limit"): "limits.stretch_limit",
    ("params.Chosen", "common"): "limits",
    ("wear.together", "more"): "hung.amounts",
    ("work.size", "moulds"): "top.moulds.result().prints",
    ("work.size", "whole"): "top.whole.result().prints",
}
"""Where a value does not end on the parameter's name, or is put together: each read once, by a person."""
LEFT_AT_DEFAULT = {
    ("_added", "overlay", "snap"),
    ("_corrected", "shape.correct", "compression_limit"),
    ("_edging_stock", "stock.cut_list", "lost"),
    ("_nested", "nest.build", "progress"),
    ("fitted", "fit.build", "notes"),
}
"""By the function that calls, the stage and the parameter."""
PLUMBING = {"Flow", "Preset", "area", "registry.load", "Finding", "lettering.unset", "Fitted"}
PLAIN = ("float", "int", "str", "bool")


@dataclass(frozen=True)
class Wire:
    """stage : as the source names it; takes : the parameter; value : the source of what it is given"""

    file: str
    stage: str
    takes: str
    kind: str
    value: str
    alone: bool


def functions(path: Path) -> dict[str, Any]:
    return vars(
        importlib.import_module(f"shellgen.pipeline.{path.stem}" if path.stem != "__init__" else "shellgen.pipeline")
    )


def called(call: ast.Call, names: dict[str, Any]) -> tuple[str, Callable[..., Any], list[ast.expr]] | None:
    """Name, function and arguments of what a call runs, through the flow or at once, if it is this package's own."""
    function, args = call.func, call.args
    if isinstance(function, ast.Attribute) and function.attr in ("run", "start") and args:
        function, args = args[0], args[1:]
    try:
        made = eval(compile(ast.Expression(function), "stage", "eval"), names)  # a dotted name of our own source
    except (NameError, AttributeError):
        return None
    ours = inspect.isfunction(made) or is_dataclass(made)
    return (ast.unparse(function), made, args) if ours and made.__module__.startswith("shellgen.") else None


def spread(scope: ast.FunctionDef, args: list[ast.expr]) -> list[ast.expr]:
    """The arguments, with those that stand in a tuple of the same function written out."""
    tuples = {
        node.targets[0].id: node.value.elts
        for node in ast.walk(scope)
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and isinstance(node.value, ast.Tuple)
    }
    out = list[ast.expr]()
    for arg in args:
        if isinstance(arg, ast.Starred) and isinstance(arg.value, ast.Name) and arg.value.id in tuples:
            out += tuples[arg.value.id]
        else:
            out.append(arg)
    return out


def calls(path: Path) -> Iterator[tuple[str, str, inspect.Signature, inspect.BoundArguments]]:
    """Who calls, the stage as it is named there, and what it takes and is given."""
    names = functions(path)
    for scope in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(scope, ast.FunctionDef):
            continue
        for call in (node for node in ast.walk(scope) if isinstance(node, ast.Call)):
            found = called(call, names)
            if found is None or found[0] in PLUMBING:
                continue
            stage, function, args = found
            signature = inspect.signature(function)
            given = {word.arg: word.value for word in call.keywords if word.arg}
            yield scope.name, stage, signature, signature.bind(*spread(scope, args), **given)


def wires(path: Path) -> Iterator[Wire]:
    for _, stage, signature, bound in calls(path):
        kinds = Counter(str(signature.parameters[name].annotation) for name in bound.arguments)
        for name, value in bound.arguments.items():
            parts = value if isinstance(value, tuple) else (value,)
            kind = str(signature.parameters[name].annotation)
            alone = kinds[kind] == 1 and not any(word in kind.replace("|", " ").split() for word in PLAIN)
            for part in parts:
                yield Wire(path.name, stage, name, kind, ast.unparse(part), alone)


def computed(node: ast.AST) -> bool:
    """Whether a value is put together where it is passed on; what calls of stages are given is read by itself."""
    if isinstance(node, ast.Call):
        return False
    return isinstance(node, ast.BinOp | ast.Constant) or any(map(computed, ast.iter_child_nodes(node)))


def last_name(value: str) -> str:
    return value.removesuffix(".result()").rpartition(".")[2]


EVERY = [wire for path in FILES for wire in wires(path)]


def test_nearly_every_stage_is_seen():
    assert len({wire.stage for wire in EVERY}) > 30 and len(EVERY) > 120


@pytest.mark.parametrize("wire", EVERY, ids=lambda wire: f"{wire.stage}-{wire.takes}")
def test_what_could_be_mistaken_arrives_under_its_own_name(wire):
    if (wire.stage, wire.takes) in OTHER_NAMES:
        assert wire.value == OTHER_NAMES[wire.stage, wire.takes]
        return
    assert not computed(ast.parse(wire.value, mode="eval").body), "computed on the way"
    assert wire.alone or last_name(wire.value) == wire.takes, f"{wire.stage}({wire.takes}) is given {wire.value}"


def test_no_exception_has_outlived_its_wire():
    assert OTHER_NAMES.keys() <= {(wire.stage, wire.takes) for wire in EVERY}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_stage_is_given_all_that_it_takes(path):
    for scope, stage, signature, bound in calls(path):
        for name, parameter in signature.parameters.items():
            variable = parameter.kind in (parameter.VAR_POSITIONAL, parameter.VAR_KEYWORD)
            choice = stage.endswith("Params")  # the rest of a choice is as declared
            assert name in bound.arguments or variable or choice or (scope, stage, name) in LEFT_AT_DEFAULT, (
                f"{stage} gets no {name}"
            )
