"""What each test reaches, and how long it takes: a plugin of pytest, for `mutants.py`.

    PYTHONPATH=benchmarks coverage run -m pytest -p reached; coverage combine

Every test becomes a context of its own in coverage's data; the seconds they took are left in `.seconds.json`
beside those data (the environment may name their file: COVERAGE_FILE).
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from pathlib import Path

import coverage
import pytest

SECONDS: dict[str, float] = {}


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    running, start = coverage.Coverage.current(), time.process_time()
    assert running is not None, "to be run under coverage"
    running.switch_context(item.nodeid)
    try:
        return (yield)
    finally:
        SECONDS[item.nodeid] = time.process_time() - start


def pytest_sessionfinish() -> None:
    data = Path(os.environ.get("COVERAGE_FILE", ".coverage"))
    data.with_name(".seconds.json").write_text(json.dumps(SECONDS), encoding="utf-8")
