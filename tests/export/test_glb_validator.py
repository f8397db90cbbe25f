"""GLB files against the Khronos validator, where Node and its packages are installed."""

import json
import subprocess

import export_samples
import node
import pytest

from shellgen.export import glb

PROGRAM = """
const fs = require("fs"), validator = require("gltf-validator");
validator.validateBytes(new Uint8Array(fs.readFileSync(0))).then((r) => console.log(JSON.stringify(r.issues)));
"""


@pytest.fixture(scope="module")
def validated():
    words = [node.program(), "--input-type=commonjs", "-e", PROGRAM]

    def issues(data):
        return json.loads(subprocess.run(words, cwd=node.FOLDER, input=data, capture_output=True, check=True).stdout)

    return issues


@pytest.mark.parametrize("quantised", (False, True))
@pytest.mark.parametrize("scene", (export_samples.shell, export_samples.masters))
def test_the_khronos_validator_finds_nothing(validated, scene, quantised):
    found = validated(glb.write(scene(), quantised=quantised))
    assert (found["numErrors"], found["numWarnings"]) == (0, 0), found["messages"][:3]


def test_the_validator_can_fail(validated):
    data = bytearray(glb.write(export_samples.masters()))
    at = data.index(b'"componentType":5126')
    data[at : at + 20] = b'"componentType":5127'
    assert validated(bytes(data))["numErrors"] > 0
