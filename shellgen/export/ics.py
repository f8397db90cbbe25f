"""A Calendar as iCalendar (RFC 5545), for the calendar of any telephone or computer."""

from __future__ import annotations

from datetime import UTC
from uuid import NAMESPACE_URL, uuid5

from icalendar import Calendar as File
from icalendar import Event

from shellgen.canvas import Calendar
from shellgen.core.memory import remembered


@remembered
def write(calendar: Calendar) -> bytes:
    """iCalendar of `calendar`, without alarms. Times float: six in the evening is so wherever the reader is.

    Entries keep their UID from build to build, so that a calendar moves them and does not show them twice.

    References: RFC 5545; RFC 9562, version 5 of UUIDs (from a name).
    """
    file = File()
    file.add("prodid", "-//shellgen//time plan//EN")
    file.add("version", "2.0")
    file.add("calscale", "GREGORIAN")
    for entry in calendar.entries:
        event = Event()
        event.add("uid", str(uuid5(NAMESPACE_URL, f"shellgen:{calendar.name}:{entry.key}")))
        event.add("dtstamp", calendar.stamp.replace(tzinfo=UTC))
        event.add("dtstart", entry.begin)
        event.add("dtend", entry.end)
        event.add("summary", entry.title)
        if entry.words:
            event.add("description", entry.words)
        file.add_component(event)
    result: bytes = file.to_ical()
    return result
