"""The upkeep calendar, read back by another library."""

from __future__ import annotations

import datetime as dt
from urllib.parse import quote, urlencode

import pytest
import vobject

from asgi import get
from dosewright.engine.run import run


def upkeep_address(**changed: str) -> str:
    query = {"installed": "2026-05-04", "daily_use": "180 gal/d", "lamp_price": "95", **changed}
    return f"/v1/site/upkeep?format=ics&{urlencode(query, quote_via=quote)}"


def test_the_calendar_is_read_back_by_another_library() -> None:
    reply = get(upkeep_address())
    assert reply.headers["content-type"] == "text/calendar; charset=utf-8"
    assert "max-age" in reply.headers["cache-control"]
    calendar = vobject.readOne(reply.body.decode())
    expected = run("site/upkeep", {"installed": "2026-05-04", "daily_use": "180 gal/d", "lamp_price": "95"})
    found = [(event.dtstart.value.isoformat(), event.summary.value) for event in calendar.vevent_list]
    assert found == [(event.day, event.meaning) for event in expected.events]
    assert len(found) >= 5
    assert all(event.dtend.value - event.dtstart.value == dt.timedelta(days=1) for event in calendar.vevent_list)
    assert len({event.uid.value for event in calendar.vevent_list}) == len(found)
    assert all(caution.message in calendar.vevent_list[0].description.value for caution in expected.cautions)
    assert max(map(len, reply.body.split(b"\r\n"))) <= 75


def test_a_reloaded_calendar_has_the_same_identifiers() -> None:
    first, again = get(upkeep_address()), get(upkeep_address())
    assert first.body == again.body
    assert get(upkeep_address(), {"if-none-match": first.headers["etag"]}).status == 304
    longer = vobject.readOne(get(upkeep_address(years="4")).body.decode())
    names = {event.uid.value for event in vobject.readOne(first.body.decode()).vevent_list}
    assert names < {event.uid.value for event in longer.vevent_list}


@pytest.mark.parametrize("form", ["ics", "pdf"])
def test_other_calculations_have_no_calendar_and_no_page(form: str) -> None:
    reply = get(f"/v1/pipe/velocity?flow=9%20gal/min&bore=20%20mm&format={form}")
    assert reply.status == 406
    assert reply.headers["content-type"] == "application/problem+json"
