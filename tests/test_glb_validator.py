"""GLB files against the Khronos validator, where Node and the npm package gltf-validator are at hand (NODE_PATH)."""

import json
import shutil
import subprocess

import export_samples
import pytest

from shellgen.export import glb

PROGRAM = """
const fs = require("fs"), validator = require("gltf-validator");
validator.validateBytes(new Uint8Array(fs.readFileSync(0))).then((r) => console.log(JSON.stringify(r.issues)));
"""


@pytest.fixture(scope="module")
def validated():
    node = shutil.which("node")
    if (
        not node
        or subprocess.run([node, "-e", "require('gltf-validator')"], capture_output=True, check=False).returncode
    ):
        pytest.skip("needs Node with gltf-validator: npm install gltf-validator, and NODE_PATH to it")

    def issues(data):
        done = subprocess.run([node, "-e", PROGRAM], input=data, capture_output=True, check=True)
        return json.loads(done.stdout)

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
