"""An upkeep schedule as a calendar (RFC 5545): one all-day event a task, the same bytes for the same request."""

import datetime as dt
import hashlib

from dosewright import __version__
from dosewright.present.library import library
from dosewright.present.rounding import measured
from dosewright.topics.site.contracts.upkeep import UpkeepAnswer, UpkeepEvent

__all__ = ["as_calendar"]

_REFRESH = dt.timedelta(days=1)


def as_calendar(answer: UpkeepAnswer[float]) -> bytes:
    """Return the schedule as a calendar file, to open or to subscribe to.

    The identifier of an event depends only on its day and task, so that a calendar that reloads it updates the event
    and does not duplicate it. Its time stamp is the day of installation, since an answer does not depend on the clock.

    Raises
    ------
    MissingLibraryError
        The library is not installed.
    """
    icalendar = library("icalendar", "Calendars")
    calendar = icalendar.Calendar()
    calendar.add("prodid", f"-//Dosewright//{__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", "Water treatment upkeep")
    calendar.add("refresh-interval", _REFRESH, parameters={"value": "DURATION"})
    stamp = dt.datetime.fromisoformat(f"{answer.inputs['installed']}T00:00:00+00:00")
    cautions = "\n".join(caution.message for caution in answer.cautions)
    twins: dict[str, int] = {}
    for event in answer.events:
        entry = icalendar.Event()
        twin = twins[event.day + event.meaning] = twins.get(event.day + event.meaning, 0) + 1
        entry.add("uid", _name(answer.inputs["installed"], event, twin))
        entry.add("dtstamp", stamp)
        day = dt.date.fromisoformat(event.day)
        entry.add("dtstart", day)
        entry.add("dtend", day + dt.timedelta(days=1))
        entry.add("summary", event.meaning)
        entry.add("description", f"{_reported(answer, event)}\n{cautions}")
        entry.add("transp", "TRANSPARENT")
        calendar.add_component(entry)
    return bytes(calendar.to_ical())


def _name(installed: str, event: UpkeepEvent[float], twin: int) -> str:
    texts = f"{installed} {event.day} {event.task} {event.meaning} {twin}"
    return f"{hashlib.blake2b(texts.encode(), digest_size=12).hexdigest()}@dosewright"


def _reported(answer: UpkeepAnswer[float], event: UpkeepEvent[float]) -> str:
    parts = [f"Due by {event.due_by_measure.replace('_', ' ')}."]
    if event.derated_flow is not None:
        flow = measured(event.derated_flow, answer.units["events.derated_flow"], "down")
        parts.append(f"Derated flow on this day: {flow}.")
    if event.covers_peak_flow is False:
        parts.append("That is less than the peak flow: change the lamp.")
    return " ".join(parts)
