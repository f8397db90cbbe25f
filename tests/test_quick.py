"""The preview's quick look: what it keeps, what it makes coarser, and what it says of itself."""

from dataclasses import replace
from types import SimpleNamespace

import browsers
import pytest

from shellgen import pipeline, preset
from shellgen.flow import Flow
from shellgen.live.quick import MOST_EDGE, quick
from shellgen.live.work import Errand, Superseded, Workshop
from shellgen.plans import listed


@pytest.fixture(scope="module")
def toad(tmp_path_factory):
    path = tmp_path_factory.mktemp("toad") / "toad.yaml"
    path.write_text(browsers.TOAD.replace("plan: plates", "plan: least").replace("rounds: 0", "rounds: 3"))
    wanted = preset.read(path)
    return path, wanted, pipeline.dome(wanted, Flow())[1].value


def before(wanted, plates, skipped=3):
    """A last exact result in which all plate lines but a few, and their images, are cut."""
    lines = [i for i, line in enumerate(plates.lines) if line.kind == "plate"]
    left = {i for k in lines[:skipped] for i in (k, plates.lines[k].mirror)}
    return wanted, SimpleNamespace(layout=plates, cut=SimpleNamespace(cut_lines=tuple(sorted(set(lines) - left))))


def test_same_plates_keep_their_seams(toad):
    _, wanted, plates = toad
    last = before(wanted, plates)
    look = quick(wanted, plates, last)
    assert look.preset.seams.name == "listed" and look.preset.seams.common is wanted.seams.common
    kept = listed.choose(SimpleNamespace(layout=plates), look.preset.seams.own)
    assert set(kept) == set(last[1].cut.cut_lines)
    assert "the seams of before" in look.told and "one correction" in look.told


def test_other_plates_other_limits_or_nothing_before_search_anew(toad):
    _, wanted, plates = toad
    common = replace(wanted.seams.common, stretch_limit=0.07)
    stricter = replace(wanted, seams=replace(wanted.seams, common=common))
    assert quick(stricter, plates, before(wanted, plates)).preset.seams is stricter.seams
    more = replace(wanted, plates=replace(wanted.plates, own=replace(wanted.plates.own, marginals=8)))
    others = pipeline.dome(more, Flow())[1].value
    assert quick(more, others, before(wanted, plates)).preset.seams is more.seams
    assert quick(wanted, plates, None).preset.seams is wanted.seams


def test_it_is_coarser_within_what_a_preset_may_ask_and_says_so(toad):
    _, wanted, plates = toad
    look = quick(replace(wanted, mesh=replace(wanted.mesh, edge=12.0)), plates, None)
    assert look.preset.mesh.edge == 24 and look.told.startswith("a mesh of 24 mm")
    assert quick(replace(wanted, mesh=replace(wanted.mesh, edge=30.0)), plates, None).preset.mesh.edge == MOST_EDGE
    untouched = ("dome", "plates", "foam", "spikes", "rings", "marks", "materials")
    assert all(getattr(look.preset, name) is getattr(wanted, name) for name in untouched)


def test_a_stale_errand_tells_nothing_more(toad):
    told = []
    shop = Workshop(toad[0], lambda *event: told.append(event))
    errand = Errand()
    errand.stale.set()
    with pytest.raises(Superseded):
        errand.check()
    shop.do(errand)
    assert told == [] and shop.good is None
    toad[0].write_text("dome: 7\n")
    shop.do(errand)
    assert told == [] and shop.wrong == ""
    shop.do(Errand())
    assert [name for name, _ in told] == ["mistake"] and "toad.yaml:1" in shop.wrong
