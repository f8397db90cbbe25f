"""The viewer's script in the package is what its source gives."""

import json
import re
import subprocess

import node


def test_the_committed_script_is_what_its_source_gives(tmp_path):
    made = tmp_path / "viewer.js"
    subprocess.run([node.program(), "build.mjs", made], cwd=node.FOLDER, check=True, capture_output=True)
    assert made.read_bytes() == (node.FOLDER.parent / "viewer.js").read_bytes(), "run: npm run build"


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
