"""Node and the packages of the viewer's folder, for tests of what is meant for JavaScript."""

import shutil
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent.parent / "shellgen" / "page" / "viewer"


def program():
    """Node, run in FOLDER; the test is skipped where Node or the packages are missing."""
    found = shutil.which("node")
    if found is None or not (FOLDER / "node_modules").is_dir():
        pytest.skip(f"needs Node and its packages: npm ci --prefix {FOLDER}")
    return found
