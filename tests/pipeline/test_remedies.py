"""A shell that deviates from its dome: the remedy that is named works."""

import re
from dataclasses import replace

import pytest
from written import preset_of

from shellgen.core.flow import Flow
from shellgen.pattern.proof.findings import DEVIATION
from shellgen.pipeline import dome, foam, remedies

THIN = """
dome: {length: 320, width: 280, height: 110}
mesh: {edge: 25}
shape: {rounds: 0}
foam: {thickness: 2}
proof: {glued_limit: 3.7}
"""
"""Deviates by 3.9 mm as glued."""


def proved(of):
    flow = Flow()
    on = dome.ground(of, flow)
    return foam.proved(of, flow, on, foam.foam(of, flow, on))


def faulty(findings):
    return [finding.text for finding in findings if finding.level == "fault"]


@pytest.fixture(scope="module")
def proof():
    return proved(preset_of(THIN))


def test_the_remedy_that_is_named_keeps_the_limits(proof):
    first, *others = remedies.deviations(preset_of(THIN), Flow(), proof).result()
    assert first.level == "fault" and not any(" it keeps its limits" in finding.text for finding in others)
    line = re.search(r"With (\w+: \w+): (\S+ \S+) it keeps its limits\.$", first.text)
    section, key = line[1].split(": ")
    cured = (
        preset_of(THIN.replace("thickness: 2}", f"thickness: {line[2]}}}"))
        if section == "foam"
        else preset_of(f"{THIN}{section}: {{{key}: {line[2]}}}\n")
    )
    assert not faulty(proved(cured).findings)


def test_where_nothing_helps_that_is_said(proof):
    """A limit that no shell keeps, on a plan whose pieces do not follow the stretch limit."""
    of = preset_of(THIN.replace("3.7", "0.5") + "seams: plates\n")
    (text,) = faulty(remedies.deviations(of, Flow(), proved(of)).result())
    assert text.endswith(remedies.NONE)


def test_nothing_is_tried_where_the_limits_are_kept(proof, monkeypatch):
    kept = replace(proof, findings=tuple(replace(f, level="ok") for f in proof.findings if f.stage == DEVIATION))
    monkeypatch.setattr(remedies, "_tried", None)
    assert remedies.deviations(preset_of(THIN), Flow(), kept).result() == ()
