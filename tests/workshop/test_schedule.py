"""The plan against a general graph library, and against a week worked out by hand."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import networkx
import numpy as np
import pytest
import yaml

from shellgen.errors import PresetError
from shellgen.model import Task
from shellgen.workshop import schedule
from shellgen.workshop.schedule import Params, WorkAmounts, runs

COATS = (("plates", 3), ("grooves", 1), ("rings", 3), ("spikes", 3), ("rim", 3))
SIZE = WorkAmounts(12, 9.0, 6.0, 4.0, 30, 8, 3.5, 1.7, 0.35, 6, COATS, masks=68, straps=3, trial=True)


def test_critical_chain_is_the_longest_path_of_a_graph_library():
    """networkx.dag_longest_path_length on the same net (networkx 3)."""
    listed = schedule.tasks(SIZE, Params())
    net = networkx.DiGraph()
    for task in listed:
        net.add_edge(("in", task.name), ("out", task.name), weight=task.hands_h + task.dry_h)
        for name in task.after:
            net.add_edge(("out", name), ("in", task.name), weight=0.0)
    chain, hours = schedule.critical(listed)
    assert hours == pytest.approx(networkx.dag_longest_path_length(net))
    path = networkx.dag_longest_path(net)
    assert [name for kind, name in path if kind == "in"] == list(chain)


def test_textbook_network():
    """Vanhoucke (2014), see published/schedule.yaml: seventeen activities that need no hands, an hour for each week.

    An activity finishes no earlier than its own longest chain; laid back from the end, all are as late as they can be;
    the difference is the float printed.
    """
    rows = yaml.safe_load((Path(__file__).parents[1] / "published" / "schedule.yaml").read_text(encoding="utf-8"))
    told = {row["id"]: row["value"] for row in rows}
    whole = [
        Task(str(k), 0.0, float(hours), tuple(map(str, after)))
        for k, (hours, after) in enumerate(zip(told["durations"], told["after"], strict=True), 1)
    ]
    chain, hours = schedule.critical(whole)
    assert [int(name) for name in chain] == told["critical"] and hours == told["duration"]

    def before(task):
        """A task and all that it comes after, in their order."""
        needed = {task.name}
        for other in reversed(whole):
            needed |= set(other.after) if other.name in needed else set()
        return [other for other in whole if other.name in needed]

    early = [schedule.critical(before(task))[1] for task in whole]
    assert early == told["early-finish"]
    end = date(2027, 5, 7)
    jobs = schedule.backward(whole, Params(reserve=0), end)
    opens = datetime(2027, 5, 7) - timedelta(hours=told["duration"])
    of = {int(job.task.name): job for job in jobs}
    late = [
        ((of[k].begin - opens).total_seconds() / 3600, (of[k].dry - opens).total_seconds() / 3600) for k in sorted(of)
    ]
    assert late == list(zip(told["late-start"], told["late-finish"], strict=True))
    floats = [b - a for a, (_, b) in zip(early, late, strict=True)]
    assert [k for k, left in enumerate(floats, 1) if not left] == told["critical"]


def test_a_week_by_hand():
    """Glue three hours and a day to dry, then an hour of paint; two free hours a day from 18:00; event on a Friday.

    Ready by Thursday 00:00 with a day's reserve, so the paint, two hours to dry, is on Wednesday... 21:00 is too late:
    its hour is 19:00 to 20:00 (free until 20:00). Glue must be dry by then, so it ends on Tuesday by 19:00, an hour of
    it on Tuesday from 18:00 and the others on Monday evening. Two hours of glue would fit into one evening, so all of
    them are on Monday. Worked early from Monday, glue takes Monday and an hour of Tuesday; paint follows on Wednesday
    at 19:00, when the glue is dry.
    """
    listed = (Task("glue", 3, 24, ()), Task("paint", 1, 2, ("glue",)))
    friday, hours = date(2027, 5, 7), Params(weekday_hours=2, weekend_hours=0, begin_at=18, reserve=1)
    jobs = schedule.backward(listed, hours, friday)
    assert [job.task.name for job in jobs] == ["glue", "paint"]
    assert jobs[1].spans == ((datetime(2027, 5, 5, 19), datetime(2027, 5, 5, 20)),)
    assert jobs[0].spans == (
        (datetime(2027, 5, 3, 18), datetime(2027, 5, 3, 20)),
        (datetime(2027, 5, 4, 18), datetime(2027, 5, 4, 19)),
    )
    short = schedule.backward((replace(listed[0], hands_h=2), listed[1]), hours, friday)
    assert short[0].spans == ((datetime(2027, 5, 3, 18), datetime(2027, 5, 3, 20)),)
    early = schedule.forward(listed, hours, date(2027, 5, 3))
    assert early[0].spans == jobs[0].spans, "the same two evenings"
    assert early[1].spans == ((datetime(2027, 5, 5, 19), datetime(2027, 5, 5, 20)),)


def test_a_printer_runs_beside_the_work_and_by_night():
    """A print of 15 hours, started at 18:00 and at 24 hours a day, is done at 9:10 next day; work on foam goes on. With
    16 hours a day it must start by 19:00 to end by 10:00; with 12 it cannot end in time, and runs on all the same."""
    listed = (Task("print", 1 / 6, 0, (), 15), Task("foam", 1, 0, ()), Task("use", 1, 0, ("print", "foam")))
    monday = date(2027, 5, 3)
    for hours in (24, 16, 12):
        of = {j.task.name: j for j in schedule.forward(listed, Params(printer_hours=hours), monday)}
        assert of["print"].spans == ((datetime(2027, 5, 3, 18), datetime(2027, 5, 3, 18, 10)),)
        assert of["print"].dry == datetime(2027, 5, 4, 9, 10)
        assert of["foam"].spans == ((datetime(2027, 5, 3, 18, 10), datetime(2027, 5, 3, 19, 10)),)
        assert of["use"].begin == datetime(2027, 5, 4, 18)
        late = {j.task.name: j for j in schedule.backward(listed, Params(printer_hours=hours), date(2027, 5, 8))}
        until = {24: datetime(2027, 5, 5, 20), 16: datetime(2027, 5, 5, 19), 12: datetime(2027, 5, 5, 20)}[hours]
        assert late["use"].begin == datetime(2027, 5, 6, 19)
        assert late["print"].end == until


@pytest.mark.parametrize("hours", [24, 12, 5])
@pytest.mark.parametrize("printers", [1, 2, 3])
def test_every_part_is_printed_once_and_runs_keep_to_the_bed_and_the_hours(hours, printers):
    """Area and time by hand: no run is longer than the printer may run, unless it is one part; no bed holds more than
    its area; the hours of all runs are those of all parts."""
    parts = tuple(schedule.ToPrint(k % 3 > 0, k % 3 == 0, 2e4, 6e4 + 1e4 * k, 40.0 + 5 * k, 60.0) for k in range(14))
    size = replace(SIZE, prints=parts)
    found = runs.runs(size, Params(printer_hours=hours, printers=printers))
    each = [(2e4 + 0.15 * (part.space - 2e4)) / 6 / 3600 for part in parts]
    assert sum(map(sum, found)) == pytest.approx(sum(each))
    assert len(found) == printers
    room = 24 if hours == 24 else hours - 1 / 6
    assert all(run <= room + 1e-9 or any(run == pytest.approx(one) for one in each) for own in found for run in own)
    assert sum(map(len, found)) >= sum(p.across * p.along for p in parts) / (220 * 220)
    printed = [task for task in schedule.tasks(size, Params(printer_hours=hours, printers=printers)) if task.printer_h]
    assert sum(task.printer_h for task in printed) == pytest.approx(sum(each), abs=len(printed) / 12)
    assert all(task.hands_h <= 0.25 for task in printed), "minutes at the printer"


def test_a_print_of_more_than_a_day_is_a_job_of_its_own():
    """30 hours at 6 mm3/s are 648 cm3; the small part has a run of its own, though the bed has room for both."""
    long, small = (schedule.ToPrint(True, 0, hours * 3600 * 6.0, hours * 3600 * 6.0, 60.0, 60.0) for hours in (30, 2))
    size, params = replace(SIZE, prints=(small, long)), Params(event=date(2027, 6, 20))
    assert runs.runs(size, params) == ((pytest.approx(30), pytest.approx(2)),)
    of = {job.task.name: job for job in schedule.build(size, params).jobs}
    first, second = (of[f"print masters and moulds, run {k} of 2"] for k in (1, 2))
    assert first.dry - first.end == timedelta(hours=30) and first.dry <= second.begin, "one printer"
    assert len(runs.runs(size, replace(params, printers=2))) == 2


@pytest.mark.parametrize("prefer", ["late", "early"])
@pytest.mark.parametrize("hours", [(2, 5), (3, 1), (1, 8), (0.5, 0)])
def test_a_job_that_fits_into_an_evening_is_done_in_one(prefer, hours):
    params = Params(
        event=date(2027, 6, 20), start=date(2027, 1, 4), prefer=prefer, weekday_hours=hours[0], weekend_hours=hours[1]
    )
    plan = schedule.build(SIZE, params)
    short = [job for job in plan.jobs if job.task.hands_h <= hours[0]]
    assert short and all(len(job.spans) == 1 for job in short)


def test_early_and_late_do_the_same_work_at_either_end_of_the_time():
    """Slack lies before the event, or before the work."""
    params = Params(event=date(2027, 6, 20), start=date(2027, 4, 5))
    late, early = schedule.build(SIZE, params), schedule.build(SIZE, replace(params, prefer="early"))
    assert early.begin.date() == params.start and early.ready < late.ready and late.begin > early.begin
    assert late.ready.date() == date(2027, 6, 18) and early.fits and late.fits, "the last evening before the reserve"
    assert {j.task.name for j in early.jobs} == {j.task.name for j in late.jobs} and early.hands_h == late.hands_h
    with pytest.raises(PresetError, match="needs a first day"):
        schedule.build(SIZE, replace(params, prefer="early", start=None))


def test_weekends_follow_the_hours_of_working_days():
    assert [Params(weekday_hours=h).weekend for h in (1, 2, 3, 8, 0)] == [2.5, 5, 7.5, 10, 5]
    assert Params(weekday_hours=1, weekend_hours=0).weekend == 0


@pytest.mark.parametrize("hours", [(2, 5), (0, 8), (1, 0), (6, 6)])
@pytest.mark.parametrize("late", [True, False])
def test_no_task_begins_before_what_it_needs_is_dry_and_hands_do_one_thing_at_a_time(hours, late):
    params = Params(weekday_hours=hours[0], weekend_hours=hours[1])
    listed = schedule.tasks(SIZE, params)
    day = date(2027, 6, 20)
    jobs = schedule.backward(listed, params, day) if late else schedule.forward(listed, params, date(2027, 3, 1))
    of = {job.task.name: job for job in jobs}
    for job in jobs:
        assert all(of[name].dry <= job.begin for name in job.task.after)
        worked = sum((b - a for a, b in job.spans), timedelta())
        assert worked.total_seconds() / 3600 == pytest.approx(job.task.hands_h, abs=1e-3)
    spans = sorted(span for job in jobs for span in job.spans)
    assert all(a[1] <= b[0] for a, b in pairwise(spans))
    assert max(job.dry for job in jobs) <= datetime(2027, 6, 19)


def test_critical_chain_worked_by_hand():
    """A net of six tasks as textbooks of operations research set them, here computed by hand: A 3, B 5 after A, C 2
    after A, D 4 after B and C, E 6 after C, F 1 after D and E. Earliest finishes A 3, B 8, C 5, D 12, E 11, F 13, so
    A-B-D-F in 13.
    """
    hours = {"A": 3, "B": 5, "C": 2, "D": 4, "E": 6, "F": 1}
    needs = {"A": "", "B": "A", "C": "A", "D": "BC", "E": "C", "F": "DE"}
    listed = tuple(Task(name, hours[name], 0, tuple(needs[name])) for name in hours)
    assert schedule.critical(listed) == (("A", "B", "D", "F"), 13)


def test_a_plan_that_cannot_be_done_says_what_would_help():
    event = date(2027, 5, 7)
    plan = schedule.build(SIZE, Params(event=event))
    assert plan.findings[0].level == "ok"
    late = replace(Params(event=event), start=plan.begin.date() + timedelta(days=2))
    fault = schedule.build(SIZE, late).findings[0]
    assert fault.level == "fault" and "shade with" in fault.text
    hopeless = schedule.build(SIZE, replace(late, start=event - timedelta(days=1)))
    assert "No change makes it possible" in hopeless.findings[0].text and not hopeless.offers
    for day, size in zip(hopeless.earliest, (None, SIZE), strict=True):
        assert day > event
        if size is not None:
            times = replace(late, start=event - timedelta(days=1), event=day)
            assert schedule.build(size, times).fits
            assert not schedule.build(size, replace(times, event=day - timedelta(days=1))).fits, "the first such day"


def test_days_gained_are_those_of_the_plan_laid_again_with_the_change():
    """Each change made in the preset itself, where that can be said, and the two plans compared."""
    before = schedule.build(SIZE, Params(event=date(2027, 6, 20)))
    changed = {
        "shade with acrylic paint": (SIZE, Params(event=date(2027, 6, 20), shading="acrylic")),
        "three coats of primer": (replace(SIZE, primer_coats=3), Params(event=date(2027, 6, 20))),
        "two coats of paint": (
            replace(SIZE, coats=tuple((zone, min(many, 2)) for zone, many in COATS)),
            Params(event=date(2027, 6, 20)),
        ),
        "one more hour every day": (SIZE, Params(event=date(2027, 6, 20), weekday_hours=3, weekend_hours=6)),
    }
    gained = {way.change: way.gained_days for way in before.ways}
    assert len(before.ways) == len(gained)
    for change, (size, params) in changed.items():
        after = schedule.build(size, params)
        assert gained.get(change, 0) == max((after.begin.date() - before.begin.date()).days, 0), change
    assert len(gained) >= 4


def test_a_change_that_changes_nothing_is_not_offered():
    ways = schedule.build(replace(SIZE, spikes=0, primer_coats=3), Params(shading="acrylic")).ways
    assert not {"buy the spikes", "three coats of primer", "shade with acrylic paint"} & {w.change for w in ways}
    assert "shade with alkyd paint" not in {w.change for w in ways}, "slower than what was chosen"


def test_clay_that_is_not_measured_dries_as_a_cube_before_the_spikes():
    size, params = replace(SIZE, test_cube=True), Params(event=date(2027, 6, 20), cube_dry=100)
    plan, measured = schedule.build(size, params), schedule.build(SIZE, params)
    of = {job.task.name: job for job in plan.jobs}
    cube = of[schedule.CUBE]
    assert (cube.dry - cube.end).total_seconds() == 100 * 3600 and cube.dry <= of["make the spikes"].begin
    assert schedule.CUBE in plan.chain and schedule.CUBE not in {job.task.name for job in measured.jobs}
    gained = {way.change: way.gained_days for way in plan.ways}
    assert gained["no test cube"] == (measured.begin.date() - plan.begin.date()).days > 0
    for bare in (schedule.tasks(replace(size, **other), params) for other in ({"way": "bought"}, {"spikes": 0})):
        assert schedule.CUBE not in {task.name for task in bare}


def test_without_a_day_the_days_are_only_counted():
    plan = schedule.build(SIZE, Params())
    assert plan.event is None and plan.findings == () and plan.day(plan.begin) == 1
    same = schedule.build(SIZE, Params(event=schedule.SOME_DAY))
    assert [j.begin for j in plan.jobs] == [j.begin for j in same.jobs]


def test_no_free_hour_in_the_week():
    none = Params(weekday_hours=0, weekend_hours=0)
    assert schedule.build(SIZE, none) is None
    with pytest.raises(PresetError, match="The week has no free hour"):
        schedule.build(SIZE, replace(none, event=date(2027, 6, 20)))


@pytest.mark.parametrize("pace", [0.7, 1.0, 1.37])
def test_work_is_counted_in_whole_five_minutes(pace):
    hours = np.array([task.hands_h for task in schedule.tasks(SIZE, Params(pace=pace))])
    assert np.abs(hours * 12 - np.round(hours * 12)).max() < 1e-9
