"""The doctor: what is missing, and how to cure it."""

from __future__ import annotations

import pytest
from click.testing import CliRunner, Result

from shellgen.cli import doctor, main


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def test_doctor_tells_how_to_cure(monkeypatch: pytest.MonkeyPatch) -> None:
    checks = (
        doctor.Check("python", True, True, "3.11"),
        doctor.Check("cadquery", False, False, "2.8, but it cannot load libGL", "apt-get install libgl1"),
    )
    monkeypatch.setattr(doctor, "examine", lambda: checks)
    result = run("doctor")
    assert result.exit_code == 0 and "without  cadquery" in result.stdout and "libgl1" in result.stdout
    monkeypatch.setattr(doctor, "examine", lambda: (doctor.Check("numpy", False, True, "not installed", "pip"),))
    assert run("doctor").exit_code == 2


def test_doctor_catches_both_ways_a_library_can_be_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> None:
        raise {"shapely": OSError, "cadquery": ImportError, "yaml": ImportError}[name](f"lib behind {name}\nmore")

    monkeypatch.setattr(doctor.importlib, "import_module", missing)
    monkeypatch.setattr(doctor, "_declared", lambda: ("shapely", "cadquery", "pyyaml", "no-such-package"))
    _, shapes, cad, yaml, none = doctor.examine()
    assert "libgl1" in cad.cure and not (cad.good or cad.needed)
    assert shapes.needed and not shapes.good and "lib behind shapely" in shapes.found
    assert yaml.needed and "lib behind yaml" in yaml.found and "\n" not in yaml.found
    assert none.needed and none.found == "not installed"


def test_the_doctor_knows_every_declared_package() -> None:
    assert {"numpy", "pyyaml", "cadquery", "click"} <= set(doctor._declared())
    assert not {"pytest", "mypy"} & set(doctor._declared())
