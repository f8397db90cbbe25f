"""Published values, by the file in which they stand with their sources."""

from pathlib import Path
from typing import Any

import yaml


def rows(name: str) -> dict[str, dict[str, Any]]:
    """Rows of `published/NAME.yaml` by their id."""
    text = (Path(__file__).parent / "published" / f"{name}.yaml").read_text("utf-8")
    return {row["id"]: row for row in yaml.safe_load(text)}
