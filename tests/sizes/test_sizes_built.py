"""Many sizes side by side, here and on a cluster: same bytes, broken off, failing, lost; the command and its chart."""

import os
from pathlib import Path
from types import SimpleNamespace

import joblib
import pytest
from click.testing import CliRunner
from empty_record import empty
from test_sizes import NAMES, SMALL, worn
from written import preset_of

from shellgen.cli import main, sizes
from shellgen.core.flow import Flow
from shellgen.dome import mesh
from shellgen.errors import FitError
from shellgen.pack import contents
from shellgen.pipeline import dome
from shellgen.record import Record
from shellgen.sizes import batch, chart, grade, wearers


def company(*names):
    return tuple(wearers.Wearer(name, worn(years=8 + n)) for n, name in enumerate(names))


def quick(of):
    """A pack in a second: the mesh of the graded dome, to the last bit."""
    surface, layout = dome.plated(of, Flow())
    grid = mesh.build(surface, layout, of.mesh)
    return SimpleNamespace(record=empty(Record, name=of.name), files={"mesh.bin": grid.points.tobytes()})


def contents_of(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_bytes_do_not_depend_on_the_workers(tmp_path):
    for workers in (1, 2):
        made = batch.build(preset_of(SMALL), company(*NAMES), tmp_path / str(workers), workers=workers, make=quick)
        assert [(size.name, size.state) for size in made] == [(name, "built") for name in NAMES]
    one, two = (contents_of(tmp_path / folder) for folder in ("1", "2"))
    assert one == two and set(one) == {f"{name}/{file}" for name in NAMES for file in ("shell.json", "mesh.bin")}


def test_an_interruption_loses_only_what_was_being_made(tmp_path):
    tried = []

    def broken_off(of):
        tried.append(of.name)
        if len(tried) == 2:
            raise KeyboardInterrupt
        return quick(of)

    with pytest.raises(KeyboardInterrupt):
        batch.build(preset_of(SMALL), company(*NAMES), tmp_path, workers=1, make=broken_off)
    made = batch.build(preset_of(SMALL), company(*NAMES), tmp_path, workers=1, make=broken_off)
    assert [size.state for size in made] == ["kept", "built", "built"]
    assert tried == ["small-heron", "small-newt", "small-newt", "small-toad"]
    (tmp_path / "newt" / "mesh.bin").write_bytes(b"cut short")
    again = batch.build(preset_of(SMALL), company(*NAMES), tmp_path, workers=1, make=quick)
    assert [size.state for size in again] == ["kept", "built", "kept"], "a damaged pack is built anew"
    assert again[0].changed == made[0].changed != ()
    ringed = preset_of(SMALL.replace("ring: no", "ring: yes"))
    other = batch.build(ringed, company("heron"), tmp_path, workers=1, make=quick)
    assert other[0].state == "built", "another design"


def test_one_failing_size_stops_no_other(tmp_path):
    def brittle(of):
        return quick(of) if of.name != "small-newt" else 1 // 0

    people = (*company(*NAMES), wearers.Wearer("giant", worn(stature=2290, sitting_height=1190, shoulder_breadth=590)))
    wide = preset_of(SMALL.replace("width: 320", "width: 560"))
    made = batch.build(wide, people, tmp_path, workers=1, make=brittle)
    assert [size.state for size in made] == ["built", "failed", "built", "failed"]
    assert "ZeroDivisionError" in made[1].trouble
    assert "dome.width comes to" in made[3].trouble
    assert sorted(p.name for p in tmp_path.iterdir()) == ["heron", "toad"], "no rubble"


def test_a_dask_cluster_does_the_same(tmp_path):
    import distributed

    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster),
        joblib.parallel_config("dask"),
    ):
        made = batch.build(preset_of(SMALL), company(*NAMES), tmp_path / "dask", make=quick)
    assert [size.state for size in made] == ["built"] * 3
    batch.build(preset_of(SMALL), company(*NAMES), tmp_path / "here", workers=1, make=quick)
    assert contents_of(tmp_path / "dask") == contents_of(tmp_path / "here")


def test_a_worker_that_is_lost_is_told_and_the_rest_made_by_the_same_call(tmp_path):
    def deadly(of):
        return quick(of) if of.name != "small-newt" else os._exit(1)

    made = {one.name: one for one in batch.build(preset_of(SMALL), company(*NAMES), tmp_path, workers=2, make=deadly)}
    assert made["newt"].state == "failed" and made["newt"].trouble == batch.LOST
    again = batch.build(preset_of(SMALL), company(*NAMES), tmp_path, workers=1, make=quick)
    assert [one.state for one in again].count("built") == [one.state for one in made.values()].count("failed")


def test_a_cluster_without_scheduler_or_workers_is_one_clear_error(tmp_path):
    import distributed

    with pytest.raises(FitError, match="No Dask scheduler answers at nowhere"):
        sizes.run(preset_of(SMALL), company("heron"), tmp_path, cluster="nowhere")
    with (
        distributed.LocalCluster(n_workers=0, processes=False, dashboard_address=None) as cluster,
        pytest.raises(FitError, match=r"has no workers\. Start one: dask worker inproc"),
    ):
        sizes.run(preset_of(SMALL), company("heron"), tmp_path, cluster=cluster.scheduler_address)


def test_the_command_builds_whole_packs_and_a_chart(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    few = SMALL.replace("plan: plates", "plan: gores, gores: 6")
    Path("small.yaml").write_text(few, encoding="utf-8")
    Path("w.yaml").write_text("wearers:\n- {name: heron, years: 9}\n- {name: newt, years: 12}\n", encoding="utf-8")
    words = ["sizes", "small.yaml", "--for", "w.yaml", "--workers", "2"]
    first = CliRunner().invoke(main, words)
    assert first.exit_code == 0, first.output
    assert "2 of 2 sizes built in out/small-sizes" in first.stdout and "2 of 2  " in first.stderr
    made = contents_of(Path("out/small-sizes"))
    rows = made["size-chart.csv"].decode().splitlines()
    assert rows[0].startswith("wearer,dome.length,") and [row.split(",")[0] for row in rows[1:]] == [
        "design",
        "heron",
        "newt",
    ]
    of = preset_of(few)
    alone = contents.build(grade.grade(grade.design(of), "newt", worn(years=12)))
    for path, data in alone.files.items():
        assert made[f"newt/{path}"] == data, path
    again = CliRunner().invoke(main, words)
    assert again.exit_code == 0 and again.stderr.count("already complete") == 2
    assert contents_of(Path("out/small-sizes")) == made


def test_a_failure_is_told_and_sets_the_exit_code(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("small.yaml").write_text(SMALL.replace("width: 320", "width: 900"), encoding="utf-8")
    Path("w.yaml").write_text("wearers:\n- {name: heron, stature: 2000}\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["sizes", "small.yaml", "--for", "w.yaml", "--workers", "1"])
    assert result.exit_code == 1 and "FAILED: heron: dome.width comes to" in result.stdout
    assert "0 of 1 size built" in result.stdout and Path("out/small-sizes/sizes.json").is_file()


def test_a_failed_size_has_an_empty_line_in_the_chart():
    table = chart.chart(
        [batch.Size("a", "failed", trouble="x"), batch.Size("b", "failed", (("dome.length", "1 mm", "2 mm"),))]
    )
    assert table.rows == (("design", "1 mm"), ("a", ""), ("b", "2 mm"))
