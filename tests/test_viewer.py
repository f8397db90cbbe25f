"""The scripts in the package are what their source gives."""

import json
import re
import subprocess

import node


def test_the_committed_scripts_are_what_their_source_gives(tmp_path):
    subprocess.run([node.program(), "build.mjs", tmp_path], cwd=node.FOLDER, check=True, capture_output=True)
    package = node.FOLDER.parents[1]
    for path in (package / "page" / "viewer.js", package / "live" / "workbench.js"):
        assert (tmp_path / path.name).read_bytes() == path.read_bytes(), "run: npm run build"
        assert "MIT" in path.read_text("utf-8")[:200] and "</script" not in path.read_text("utf-8").lower()


def test_every_package_in_a_script_has_its_licence_named():
    """esbuild's own words on what went in, so that none is forgotten."""
    ask = (
        'import { build } from "esbuild"; const made = await build({ entryPoints: ["src/bench.js"], bundle: true, '
        'write: false, metafile: true, format: "iife" }); console.log(Object.keys(made.metafile.inputs).join("\\n"))'
    )
    words = [node.program(), "--input-type=module", "-e", ask]
    shown = subprocess.run(words, cwd=node.FOLDER, check=True, capture_output=True, text=True).stdout
    held = set(re.findall(r"node_modules/((?:@[^/]+/)?[^/]+)/", shown))
    named = (node.FOLDER / "LICENSES.txt").read_text("utf-8")
    versions = json.loads((node.FOLDER / "package-lock.json").read_text("utf-8"))["packages"]
    assert {"three", "@codemirror/view"} <= held
    assert not [p for p in held if f"{p} {versions[f'node_modules/{p}']['version']}" not in named]


def test_the_lock_file_names_each_package_by_content_and_no_private_registry():
    wanted = json.loads((node.FOLDER / "package.json").read_text(encoding="utf-8"))["devDependencies"]
    text = (node.FOLDER / "package-lock.json").read_text(encoding="utf-8")
    packages = json.loads(text)["packages"]
    assert packages[""]["devDependencies"] == wanted
    assert all(re.fullmatch(r"\d[\w.-]*", version) for version in wanted.values()), "exact versions"
    others = {name: package for name, package in packages.items() if name}
    assert {f"node_modules/{name}" for name in wanted} <= set(others)
    assert all(package["integrity"].startswith("sha512-") for package in others.values())
    addresses = re.findall(r"https?://[^/\"]+", text)
    assert set(addresses) <= {"https://registry.npmjs.org"}
