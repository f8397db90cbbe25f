"""The plan as calendar, picture and table, read back."""

import io
import re
from datetime import date, datetime
from pathlib import Path

import icalendar
import numpy as np
import pymupdf
import pytest
import yaml

from shellgen.canvas import Path as Line
from shellgen.canvas import Text
from shellgen.canvas.lettering import box
from shellgen.canvas.paper import PAPERS
from shellgen.draw.agenda import agenda
from shellgen.draw.plan import plan_picture
from shellgen.export import ics, pdf
from shellgen.workshop import schedule
from shellgen.workshop.schedule import Params, ToPrint, WorkAmounts

SIZE = WorkAmounts(
    12, 9.0, 6.0, 4.0, 30, 8, 3.5, 1.7, 0.35, 6, (("plates", 3), ("rim", 2)),
    prints=(ToPrint(True, 0, 3e4, 9e4, 90.0, 60.0),) * 20
)  # fmt: skip
DAY = date(2027, 6, 20)
ROWS = yaml.safe_load((Path(__file__).parents[1] / "published/guide.yaml").read_text("utf-8"))
LINE = next(row["value"] for row in ROWS if row["id"] == "calendar-line")
TITLE = "Schildkröte, die große; \\ Älteste 🐢 of the marsh and of all the reeds that stand there"


@pytest.fixture(scope="module")
def plan():
    return schedule.build(SIZE, Params(event=DAY))


@pytest.fixture(scope="module")
def written(plan):
    return ics.write(agenda("marsh-warden", TITLE, plan))


def test_calendar_keeps_the_rules_of_rfc_5545(written):
    """RFC 5545: 3.1 lines end in CRLF and hold at most 75 octets, whole letters on either side of a fold; 3.6 PRODID
    and VERSION once; 3.6.1 UID and DTSTAMP in every VEVENT, DTSTAMP in UTC (3.8.7.2); 3.3.5 form 1: times that float.
    """
    assert written.endswith(b"END:VCALENDAR\r\n")
    lines = written.split(b"\r\n")
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) <= LINE and any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode("utf-8")
    whole = written.decode("utf-8").replace("\r\n ", "").split("\r\n")
    assert whole[0] == "BEGIN:VCALENDAR"
    assert whole.count("VERSION:2.0") == 1 and sum(line.startswith("PRODID:") for line in whole) == 1
    events = "\n".join(whole).split("BEGIN:VEVENT")[1:]
    for event in events:
        assert len(re.findall(r"^UID:", event, re.M)) == 1
        assert re.search(r"^DTSTAMP:\d{8}T\d{6}Z$", event, re.M)
        assert re.search(r"^DTSTART(:\d{8}T\d{6}|;VALUE=DATE:\d{8})$", event, re.M)
        assert re.search(r"^DTEND(:\d{8}T\d{6}|;VALUE=DATE:\d{8})$", event, re.M)
    assert "VALARM" not in written.decode() and "TZID" not in written.decode()


def test_calendar_read_back_holds_the_plan(written, plan):
    read = icalendar.Calendar.from_ical(written)
    events = read.walk("VEVENT")
    spans = sorted((e["DTSTART"].dt, e["DTEND"].dt) for e in events if isinstance(e["DTSTART"].dt, datetime))
    assert spans == sorted(span for job in plan.jobs for span in job.spans)
    assert all(start.tzinfo is None for start, _ in spans)
    assert len({str(e["UID"]) for e in events}) == len(events)
    day = [e for e in events if not isinstance(e["DTSTART"].dt, datetime)]
    assert [(e["DTSTART"].dt, str(e["SUMMARY"])) for e in day] == [(DAY, f"{TITLE}: day of the event")]


def test_calendar_is_the_same_every_time_and_moves_with_the_plan(written, plan):
    assert ics.write(agenda("marsh-warden", TITLE, schedule.build(SIZE, Params(event=DAY)))) == written
    moved = ics.write(agenda("marsh-warden", TITLE, schedule.build(SIZE, Params(event=date(2027, 6, 27)))))
    assert set(re.findall(rb"UID:.*", moved)) == set(re.findall(rb"UID:.*", written)), "same entries a week later"
    other = ics.write(agenda("reed-knight", TITLE, plan))
    assert not set(re.findall(rb"UID:.*", other)) & set(re.findall(rb"UID:.*", written))


def test_no_calendar_without_a_day():
    assert agenda("a", "a", schedule.build(SIZE, Params())) is None


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    "params",
    [
        Params(event=DAY),
        Params(),
        Params(event=DAY, start=date(2027, 6, 10)),
        Params(event=DAY, weekday_hours=0.3, weekend_hours=0.5),
        Params(event=DAY, start=date(2027, 5, 1), prefer="early", printers=2),
    ],
)
def test_picture_stays_on_the_sheet_and_nothing_is_written_over(paper, params):
    sheet = plan_picture("The Marsh Warden", schedule.build(SIZE, params), PAPERS[paper])
    assert {sheet.width, sheet.height} == set(PAPERS[paper])
    words = [item for item in sheet.items if isinstance(item, Text)]
    boxes = np.array([[box(w).min(axis=0), box(w).max(axis=0)] for w in words])
    assert boxes.min() > 8 and (boxes.max(axis=(0, 1)) < (sheet.width - 8, sheet.height - 8)).all()
    low, high = boxes[:, 0], boxes[:, 1]
    over = (low[:, None] < high[None] - 0.3).all(axis=2) & (low[None] < high[:, None] - 0.3).all(axis=2)
    np.fill_diagonal(over, False)
    assert not over.any(), [(words[a].text, words[b].text) for a, b in np.argwhere(over)[:4]]
    assert min(w.height for w in words) >= 1.8


def test_picture_shows_every_hour_of_work_and_hatches_all_drying(plan):
    sheet = plan_picture("The Marsh Warden", plan, PAPERS["A4"])
    shown = [float(p.data["hours"]) for p in sheet.items if isinstance(p, Line) and "hours" in p.data]
    assert sum(shown) == pytest.approx(plan.hands_h, abs=0.01)
    days = np.array([p.points for p in sheet.items if isinstance(p, Line) and "hours" in p.data])[0]
    day = np.ptp(days[:, 0])
    dried = [np.ptp(p.points[:, 0]) / day * 24 for p in sheet.items if isinstance(p, Line) and "drying" in p.data]
    longest = max(job.task.dry_h for job in plan.jobs)
    assert max(dried) == pytest.approx(longest, rel=1e-6), "drying is drawn true to time"
    prints = [np.ptp(p.points[:, 0]) / day * 24 for p in sheet.items if isinstance(p, Line) and "printing" in p.data]
    assert sum(prints) == pytest.approx(sum(job.task.printer_h for job in plan.jobs), rel=1e-6) and len(prints) > 1


def test_picture_is_searchable_as_a_page(plan):
    data = pdf.write(plan_picture("The Marsh Warden", plan, PAPERS["Letter"]))
    page = pymupdf.open(stream=io.BytesIO(data), filetype="pdf")[0]
    assert (round(page.rect.width), round(page.rect.height)) == (792, 612), "11 x 8.5 in"
    assert "shade the grooves" in page.get_text()
